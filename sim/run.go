package sim

import (
	"math"
	"math/bits"
)

// piece is a stretch of a run inside one cell: v² and time with their slopes
// at both ends, so that both can be read in between by cubic Hermite
// interpolation (fourth order, like the step itself).
type piece struct {
	cell   int32
	gear   int8 // index, 0 = first
	phase  Phase
	to     int8    // index of the gear that a shift leads to
	along  bool    // it follows the envelope: v² between its ends is capAt
	s0, s1 float64 // m, unwrapped distance
	u0, u1 float64 // m²/s²
	d0, d1 float64 // m/s², slopes du/ds
	t0, t1 float64 // s
}

// state is a moment of the run.
type state struct {
	cell int
	x    float64 // m into the cell
	s    float64 // m, unwrapped
	u    float64 // m²/s²
	t    float64 // s
}

// hermite interpolates between two values with slopes, h apart, at fraction f.
func hermite(y0, d0, y1, d1, h, f float64) float64 {
	g := 1 - f
	return g*g*(1+2*f)*y0 + f*f*(3-2*f)*y1 + h*f*g*(g*d0-f*d1)
}

func (p *piece) uAt(s float64) float64 {
	h := p.s1 - p.s0
	return hermite(p.u0, p.d0, p.u1, p.d1, h, (s-p.s0)/h)
}

func (p *piece) tAt(s float64) float64 {
	h := p.s1 - p.s0
	if p.u0 < leastU {
		// From a standstill: as far in time as in speed (an even push).
		v0 := math.Sqrt(p.u0)
		return p.t0 + (p.t1-p.t0)*(math.Sqrt(p.uAt(s))-v0)/(math.Sqrt(p.u1)-v0)
	}
	return hermite(p.t0, 1/math.Sqrt(p.u0), p.t1, 1/math.Sqrt(p.u1), h, (s-p.s0)/h)
}

// where returns the distance (m) at which v² first equals u inside a piece
// that rises from below u to above it.
func (p *piece) where(u float64) float64 {
	lo, hi := p.s0, p.s1
	if p.u0 >= u {
		return lo
	}
	s := lo + (hi-lo)*(u-p.u0)/(p.u1-p.u0)
	for range 40 {
		e := p.uAt(s) - u
		if e >= 0 {
			hi = s
		} else {
			lo = s
		}
		if math.Abs(e) < 1e-11*u || hi-lo < 1e-10 {
			return s
		}
		// Newton with the mean slope, kept inside the bracket.
		d := (p.d0 + p.d1) / 2
		n := s - e/d
		if !(n > lo && n < hi) {
			n = 0.5 * (lo + hi)
		}
		s = n
	}
	return s
}

// readPiece reads v² and time inside a piece: on the envelope from the envelope,
// elsewhere by interpolation.
func (m *Model) readPiece(p *piece, s float64) (u, t float64) {
	if !p.along {
		return p.uAt(s), p.tAt(s)
	}
	c := &m.cells[p.cell]
	x0 := c.inside(m.wrap(p.s0))
	x := min(x0+s-p.s0, c.h)
	return c.capAt(x), p.t0 + c.capTimeFrom(x0) - c.capTimeFrom(x)
}

// whereOn is where, for a piece that may lie on the envelope.
func (m *Model) whereOn(p *piece, u float64) float64 {
	if !p.along || p.u0 >= u {
		return p.where(u)
	}
	lo, hi := p.s0, p.s1
	for hi-lo > 1e-10 {
		mid := 0.5 * (lo + hi)
		if v2, _ := m.readPiece(p, mid); v2 < u {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// ending says why a run in one gear ended.
type ending uint8

const (
	arrived  ending = iota + 1 // on the envelope at an apex
	finished                   // reached the end of the stretch
	shiftDue                   // past the shift speed where a shift may begin
	timedOut                   // held for as long as was asked
	dropped                    // slowed down until the gear below pulls harder
	stalled                    // the gear cannot move the car
)

// watch is what a run looks out for, and what it met.
type watch struct {
	uShift float64 // (m/s)², end after the piece in which it is reached and a shift may begin; +Inf never
	uDrop  float64 // (m/s)², end when slower than this and slowing; 0 never
	tStop  float64 // s, end after that time; +Inf never
	// pick is the gear for a speed² after braking. With it, a run on the envelope
	// ends at the next apex; one that has come upon it from below also where even
	// that gear cannot follow it.
	pick func(u float64) *drive
	keep bool // append every piece, also those that only serve the trace

	away    bool  // has been below the envelope
	touched bool  // and has come upon it, since
	touch   state // here
	resting bool  // on the envelope, and not because the tyres take all the drive
	rest    state // since here
	freed   bool  // never away, but it has braked: the gear is free
	on      state // where full throttle began, the first time
	onSet   bool
	entry   state // where the last no-shift place was entered below the shift speed
	entered bool
}

// gripHalvings bounds how often a step at the edge of grip is halved, strayShare
// how far (share of v²) it may be from what its slopes say.
const (
	gripHalvings = 7
	strayShare   = 5e-6
)

// onShare is how near (share of v²) to the envelope a car counts as on it.
const onShare = 2e-6

// awayShare is how far (share of v²) below it counts as having left it.
const awayShare = 1e-4

// limiterShare is how near (share of v²) to the speed at the limiter a car
// counts as on it.
const limiterShare = 1e-10

// run drives in one gear from st at full throttle, on the envelope where the
// car would otherwise rise above it, until one of the things in w happens or
// sEnd is reached. The pieces are appended to out; st becomes the end.
func (m *Model) run(st *state, gear int, d *drive, sEnd float64, w *watch, out []piece) ([]piece, ending) {
	var last carry
	for {
		if st.s >= sEnd-1e-9 {
			return out, finished
		}
		if st.t > w.tStop {
			return out, timedOut
		}
		if st.u <= leastU*1.0001 {
			return out, stalled
		}
		c := &m.cells[st.cell]
		if c.noShift && st.x == 0 && st.u < w.uShift && !m.before(st.cell).noShift {
			w.entry, w.entered = *st, true
		}
		limit := c.cap0
		if st.x > 0 && st.u >= c.capLow*(1-awayShare) {
			limit = c.capAt(st.x)
		}
		if st.u < limit*(1-awayShare) {
			w.away, w.touched, w.resting, w.freed = true, false, false, false
		} else if !c.free && st.u >= limit*(1-onShare) {
			by := d
			m.restOn(st, c, w)
			if w.pick != nil && w.away {
				if !w.touched {
					w.touched, w.touch = true, *st
				}
				by = w.pick(st.u)
			} else if w.freed = w.freed || c.falls; w.freed && w.pick != nil {
				by = w.pick(st.u)
			}
			if c.ride > 0 && st.x == 0 && !w.keep {
				if m.rideOn(st, sEnd) {
					last.u = 0
					if w.pick != nil && m.least[m.prev(st.cell)] {
						return out, arrived
					}
					continue
				}
			}
			x := m.lean(st, c, by)
			changed := false // it is the next gear's turn
			if !c.sure && (w.touched || w.freed) {
				x, changed = w.turn(st, c, by, x)
			}
			if left := st.x + sEnd - st.s; x > left {
				x = left
			}
			if x > st.x+1e-7 {
				if !w.onSet && c.pulling != 0 {
					w.on, w.onSet = *st, true
				}
				out = append(out, m.along(st, c, gear, x))
				last.u = 0
				end := x >= c.h-1e-10
				i := st.cell
				p := &out[len(out)-1]
				if w.touched || w.freed {
					p.phase = Capped // it has braked: whatever gear serves
				}
				m.advance(st, p.s1-p.s0, p.u1, p.t1)
				if end && m.least[i] && w.pick != nil || w.touched && !end && !changed {
					return out, arrived
				}
				if w.touched {
					continue
				}
				if p.u1 >= w.uShift && p.u1 >= p.u0 && !c.noShift {
					return out, shiftDue
				}
				continue
			}
			if w.touched {
				return out, arrived
			}
		}
		if !w.onSet {
			w.on, w.onSet = *st, true
		}
		pc := m.pull(st, c, gear, d, sEnd, &last)
		out = append(out, pc)
		m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
		if pc.u1 >= w.uShift && !c.noShift {
			return out, shiftDue
		}
		if pc.u1 < w.uDrop && pc.d1 < 0 && pc.phase != Capped {
			return out, dropped
		}
	}
}

// turn is how far the envelope, up to x (m into the cell), stays in the range of
// the gear picked for its start; changed says that it is not as far as x.
func (w *watch) turn(st *state, c *cell, by *drive, x float64) (to float64, changed bool) {
	if w.pick == nil || w.pick(c.capAt(x)) == by || w.pick(st.u) != by {
		return x, false
	}
	lo, hi := st.x, x
	for hi-lo > 1e-9 {
		if mid := 0.5 * (lo + hi); w.pick(c.capAt(mid)) == by {
			lo = mid
		} else {
			hi = mid
		}
	}
	return min(hi+1e-6, x), true // past it for good
}

// restOn notes whether a car on the envelope in a cell rests there without the
// tyres taking all the drive, and since where: past the last part in which they
// do; in a cell with an apex, before the first.
func (m *Model) restOn(st *state, c *cell, w *watch) {
	if c.pulling == 0 || m.least[st.cell] && c.pulling&1 == 0 {
		if !w.resting {
			w.resting, w.rest = true, *st
		}
		return
	}
	w.resting = false
	j := bits.Len32(c.pulling)
	x := c.h * float64(j) / envSub
	if j == envSub || x < st.x || m.least[st.cell] {
		return
	}
	w.resting, w.rest = true, *st
	w.rest.x, w.rest.s, w.rest.u = x, st.s+x-st.x, c.env[j]
	w.rest.t += c.capTimeFrom(st.x) - c.capTimeFrom(x)
}

func (m *Model) prev(i int) int {
	if i == 0 {
		return len(m.cells) - 1
	}
	return i - 1
}

func (m *Model) before(i int) *cell { return &m.cells[m.prev(i)] }

// rideOn takes st along the cells that any car stays on the envelope of, as far
// as the next apex or the end of the stretch. It says whether it made way.
func (m *Model) rideOn(st *state, sEnd float64) bool {
	from := *st
	for n := m.cells[st.cell].ride; n > 0; n-- {
		c := &m.cells[st.cell]
		if st.s+c.h > sEnd+1e-9 {
			break
		}
		i := st.cell
		m.advance(st, c.h, c.cap1, st.t+c.capTime)
		if m.least[i] {
			break
		}
	}
	return st.s > from.s
}

// along is the piece that follows the envelope from st to x (m into the cell).
func (m *Model) along(st *state, c *cell, gear int, x float64) piece {
	h := x - st.x
	u1 := c.cap1
	if x < c.h-1e-10 {
		u1 = c.capAt(x)
	}
	p := piece{
		cell: int32(st.cell), gear: int8(gear), phase: Capped, along: true, s0: st.s, s1: st.s + h,
		u0: st.u, u1: u1, t0: st.t,
	}
	if st.x == 0 && x >= c.h-1e-10 {
		p.t1 = st.t + c.capTime
	} else {
		p.t1 = st.t + c.capTimeFrom(st.x) - c.capTimeFrom(x)
	}
	j0, _ := c.span(st.x)
	j1, _ := c.span(x * (1 - 1e-12))
	p.d0, p.d1 = c.capSlope(j0, st.x), c.capSlope(j1, x)
	if c.pulling>>int(st.x/c.h*envSub+1e-6)&1 == 1 {
		p.phase = Driving // the tyres take all that they can
	}
	return p
}

// lean is how far into its cell (m) a car on the envelope can stay on it in
// this gear: to the end, or to where the engine cannot follow the slope.
func (m *Model) lean(st *state, c *cell, d *drive) float64 {
	if c.sure {
		return c.h
	}
	b := m.body
	spare := func(j int, x float64) float64 {
		u := c.capAt(x)
		p := c.at(x)
		return 2*b.pullOnly(&p, u, d) - c.capSlope(j, x)
	}
	limited := d.ideal == nil && c.capHigh > d.uLimit
	const comfort = 1.0 // m/s², a cell with so much to spare at both ends is not looked into
	if st.x == 0 && !limited && spare(0, 0) > comfort && spare(envSub-2, c.h) > comfort {
		return c.h
	}
	h := c.h / envSub
	j0, _ := c.span(st.x)
	for j := j0; j < envSub; j += 2 {
		x0 := max(st.x, float64(j)*h)
		for q := 1; q <= 2; q++ {
			x1 := float64(j+q) * h
			if x1 <= x0 {
				continue
			}
			if limited && c.env[j+q] > d.uLimit && c.env[j+q] > c.env[j] {
				// Rising past the limiter of the gear.
				return m.limiterAt(c, x0, x1, d.uLimit)
			}
			if f1 := spare(j, x1); f1 < 0 {
				f0 := spare(j, x0)
				if f0 <= 0 {
					return x0
				}
				return x0 + (x1-x0)*f0/(f0-f1)
			}
			x0 = x1
		}
		if j+2 < envSub && spare(j+2, x0) < 0 {
			return x0 // a kink of the envelope
		}
	}
	return c.h
}

// limiterAt is where between x0 and x1 (m into the cell) the envelope passes u.
func (m *Model) limiterAt(c *cell, x0, x1, u float64) float64 {
	if c.capAt(x0) >= u {
		return x0
	}
	for x1-x0 > 1e-10 {
		mid := 0.5 * (x0 + x1)
		if c.capAt(mid) < u {
			x0 = mid
		} else {
			x1 = mid
		}
	}
	return x0
}

// pull makes one piece at full throttle below the envelope: to the end of the
// cell, the limiter, a hand-over between tyres and engine, or the envelope.
func (m *Model) pull(st *state, c *cell, gear int, d *drive, sEnd float64, last *carry) piece {
	h := c.h - st.x
	if left := sEnd - st.s; left < h-1e-9 {
		h = left
	}
	pc := piece{cell: int32(st.cell), gear: int8(gear), phase: Driving, s0: st.s, u0: st.u, t0: st.t}
	over := d.ideal == nil && st.u > d.uLimit*(1+1e-9)
	if d.ideal == nil && !over && st.u >= d.uLimit*(1-limiterShare) {
		p := c.at(st.x)
		if a, _ := m.body.accel(&p, d.uLimit*(1-1e-9), d); a >= 0 {
			// (7.7) the limiter holds the speed.
			pc.phase = Limiting
			pc.u1 = st.u
			pc.s1, pc.t1 = st.s+h, st.t+h/math.Sqrt(st.u)
			m.touch(&pc, c, st.x, h)
			return pc
		}
	}
	by := d
	if over {
		// Faster than the limiter lets the gear turn (a start from above, a
		// fall after a long descent): no drive until it is not.
		off := *d
		off.off = true
		by = &off
		last.u = 0
	}
	if d.ideal == nil && !over && !d.slips && st.u < d.uLow*(1-1e-10) {
		low := *d
		low.below = true
		by = &low
		last.u = 0
	}
	closing := math.Inf(1) // v² at which a slipping clutch closes
	if d.slips && !over {
		v := m.body.speedAt(d.hold, d.perV)
		if st.u < v*v*(1-1e-12) {
			closing = v * v
			slip := *d
			slip.slipped = true
			by = &slip
			last.u = 0
		}
		h = m.slowStep(st, c, by, h)
	}
	u1, dt, d0, d1, g0, g1 := m.step(st, h, by, last)
	if g0 != g1 && h > 1e-2 {
		// Tyres hand over to the engine, or back, inside the step: end it
		// there, so that no step crosses the kink.
		if x := m.regimeChange(st, h, u1, d0, d1, g0, by); x > 1e-3 && x < h-1e-3 {
			h = x
			u1, dt, d0, d1, _, _ = m.step(st, h, by, last)
		}
	}
	if g0 || g1 || !c.straight {
		// At the edge of grip the speed settles within centimetres: shorter
		// steps until they tell the same story as their slopes.
		for range gripHalvings {
			if !m.strays(st, h, u1, d0, d1, by) {
				break
			}
			h *= 0.5
			last.u = 0
			u1, dt, d0, d1, _, _ = m.step(st, h, by, last)
		}
	}
	if over {
		last.u = 0 // the next step may drive again
	}
	pc.s1, pc.u1, pc.d0, pc.d1, pc.t1 = st.s+h, u1, d0, d1, st.t+dt
	if u1 > closing {
		if s := pc.where(closing); s-pc.s0 > 1e-9 {
			cut(&pc, s, closing)
			h = s - pc.s0
		}
		u1 = pc.u1
	}
	if by.below {
		last.u = 0 // the next step may have torque
		if u1 > d.uLow {
			if s := pc.where(d.uLow); s-pc.s0 > 1e-9 {
				cut(&pc, s, d.uLow)
				h = s - pc.s0
			}
			u1 = pc.u1
		}
	}
	if !math.IsInf(closing, 1) {
		last.u = 0 // the next step may have the clutch closed
	}
	if d.ideal == nil && u1 > d.uLimit && st.u < d.uLimit*(1-limiterShare) {
		s := pc.where(d.uLimit)
		cut(&pc, s, d.uLimit)
		h = s - pc.s0
	}
	m.touch(&pc, c, st.x, h)
	return pc
}

// strays says whether a step's end is not where the slopes at its ends and its
// middle lead by Simpson's rule.
func (m *Model) strays(st *state, h, u1, d0, d1 float64, d *drive) bool {
	if off := math.Abs(u1 - st.u - 0.5*h*(d0+d1)); off < strayShare*u1 {
		return false // even by the rule of two points
	}
	u := max(hermite(st.u, d0, u1, d1, h, 0.5), leastU)
	p := m.cells[st.cell].at(st.x + 0.5*h)
	a, _ := m.body.accel(&p, u, d)
	return math.Abs(u1-st.u-h/6*(d0+8*a+d1)) > strayShare*u1
}

// touch cuts the piece, which begins x0 into its cell and is h long, where it
// meets the envelope.
func (m *Model) touch(p *piece, c *cell, x0, h float64) {
	if c.free || max(p.u0, p.u1) < c.capLow*(1-1e-9) {
		return
	}
	part := c.h / envSub
	lo := 0.0
	for j := int(x0/part+1e-9) + 1; ; j++ {
		x := float64(j)*part - x0
		var limit float64
		if x >= h-1e-9 {
			x = h
			limit = c.capAt(min(x0+h, c.h))
		} else {
			limit = c.env[j]
		}
		if p.uAt(p.s0+x) > limit*(1+1e-10) {
			m.meet(p, c, x0, lo, x)
			return
		}
		if x == h {
			return
		}
		lo = x
	}
}

// meet ends the piece where it meets the envelope between lo and hi (m from its
// start). A piece that begins on the envelope follows it to hi, so that every
// piece makes way.
func (m *Model) meet(p *piece, c *cell, x0, lo, hi float64) {
	if lo == 0 && p.u0 >= c.capAt(x0)*(1-onShare) {
		p.phase, p.along = Capped, true
		p.u1 = c.capAt(x0 + hi)
		p.s1 = p.s0 + hi
		p.t1 = p.t0 + c.capTimeFrom(x0) - c.capTimeFrom(x0+hi)
		p.d0 = (p.u1 - p.u0) / hi
		p.d1 = p.d0
		return
	}
	for hi-lo > 1e-10 {
		mid := 0.5 * (lo + hi)
		if p.uAt(p.s0+mid) > c.capAt(x0+mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	cut(p, p.s0+hi, c.capAt(x0+hi))
}
