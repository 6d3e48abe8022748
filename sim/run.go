package sim

import "math"

// piece is a stretch of a run inside one cell: v² and time with their slopes
// at both ends, so that both can be read in between by cubic Hermite
// interpolation (fourth order, like the step itself).
type piece struct {
	cell   int32
	gear   int8 // index, 0 = first
	phase  Phase
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

// ending says why a run in one gear ended.
type ending uint8

const (
	touched  ending = iota + 1 // reached the corner or braking limit
	finished                   // reached the end of the stretch
	timedOut                   // held past the shift for as long as holding is considered
	dropped                    // slowed down until the gear below pulls harder
	stalled                    // the gear cannot move the car
)

// holdLimit is how long (s) past its shift speed a gear may be held when the
// braking point comes first; beyond about a second the trade shifts up
// (common practice). See (8.4).
const holdLimit = 1.0

// step makes one fourth-order step of length h (m) from st and returns v², the
// time it took, both end slopes and whether tyres rule at either end.
//
// last carries the acceleration at the end of one step to the start of the
// next, where the place has not jumped in between; nil = do not.
func (m *Model) step(st *state, h float64, d *drive, last *carry) (u1, dt, d0, d1 float64, g0, g1 bool) {
	c := &m.cells[st.cell]
	var p0, pm, p1 *place
	if c.uniform {
		p0, pm, p1 = &c.p0, &c.p0, &c.p0
	} else {
		a, b, e := c.at(st.x), c.at(st.x+0.5*h), c.at(st.x+h)
		p0, pm, p1 = &a, &b, &e
	}
	b := m.body
	var a1 float64
	if last != nil && last.u == st.u && last.place == *p0 {
		a1, g0 = last.a, last.grip
	} else {
		a1, g0 = b.accel(p0, st.u, d)
	}
	k1 := 2 * a1
	u2 := math.Max(st.u+0.5*h*k1, leastU)
	a2, _ := b.accel(pm, u2, d)
	k2 := 2 * a2
	u3 := math.Max(st.u+0.5*h*k2, leastU)
	a3, _ := b.accel(pm, u3, d)
	k3 := 2 * a3
	u4 := math.Max(st.u+h*k3, leastU)
	a4, _ := b.accel(p1, u4, d)
	k4 := 2 * a4
	u1 = math.Max(st.u+h/6*(k1+2*k2+2*k3+k4), leastU)
	dt = h / 6 * (1/math.Sqrt(st.u) + 2/math.Sqrt(u2) + 2/math.Sqrt(u3) + 1/math.Sqrt(u4))
	ae, g1 := b.accel(p1, u1, d)
	if last != nil {
		last.u, last.place, last.a, last.grip = u1, *p1, ae, g1
	}
	return u1, dt, k1, 2 * ae, g0, g1
}

// carry is what one step hands to the next.
type carry struct {
	u     float64
	place place
	a     float64
	grip  bool
}

// leastU is the square of the speed (m²/s²) under which a run counts as
// stalled.
const leastU = 1.0

// advance moves st to the end of a piece inside its cell.
func (m *Model) advance(st *state, h, u, t float64) {
	c := &m.cells[st.cell]
	st.x += h
	st.s += h
	st.u = u
	st.t = t
	if st.x >= c.h-1e-10 {
		st.x = 0
		st.cell++
		if st.cell == len(m.cells) {
			st.cell = 0
		}
	}
}

// run drives in one gear at full throttle from st until it touches the limit,
// reaches sEnd, has held holdLimit seconds past the shift speed, or cannot go
// on. The pieces are appended to out; st becomes the end of the run. uShift
// and uDrop are squares of speeds (m²/s²): +Inf and 0 for none.
func (m *Model) run(st *state, gear int, d *drive, sEnd, uShift, uDrop float64, out []piece) ([]piece, ending) {
	tStop := math.Inf(1)
	var last carry
	for {
		if st.s >= sEnd-1e-9 {
			return out, finished
		}
		if st.t > tStop {
			return out, timedOut
		}
		if st.u <= leastU*1.0001 {
			return out, stalled
		}
		c := &m.cells[st.cell]
		if st.u >= uShift && math.IsInf(tStop, 1) && !c.noShift {
			tStop = st.t + holdLimit
		}
		h := c.h - st.x
		if left := sEnd - st.s; left < h-1e-9 {
			h = left
		}
		pc := piece{cell: int32(st.cell), gear: int8(gear), phase: Driving, s0: st.s, u0: st.u, t0: st.t}
		over := d.ideal == nil && st.u > d.uLimit*(1+1e-9)
		if d.ideal == nil && !over && st.u >= d.uLimit*(1-1e-12) {
			p := c.at(st.x)
			if a, _ := m.body.accel(&p, d.uLimit*(1-1e-9), d); a >= 0 {
				// (7.7) the limiter holds the speed.
				pc.phase = Limiting
				pc.u1 = st.u
				pc.s1, pc.t1 = st.s+h, st.t+h/math.Sqrt(st.u)
				if m.touch(&pc, st, h) {
					out = append(out, pc)
					m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
					return out, touched
				}
				out = append(out, pc)
				m.advance(st, h, pc.u1, pc.t1)
				continue
			}
		}
		by := d
		if over {
			// Faster than the limiter lets the gear turn (a start from
			// above, a fall after a long descent): no drive until it is not.
			off := *d
			off.off = true
			by = &off
			last.u = 0
		}
		u1, dt, d0, d1, g0, g1 := m.step(st, h, by, &last)
		if g0 != g1 && h > 1e-2 {
			// Tyres hand over to the engine, or back, inside the step: end
			// it there, so that no step crosses the kink.
			if x := m.regimeChange(st, h, u1, d0, d1, g0, by); x > 1e-3 && x < h-1e-3 {
				h = x
				u1, dt, d0, d1, _, _ = m.step(st, h, by, &last)
			}
		}
		if over {
			last.u = 0 // the next step may drive again
		}
		pc.s1, pc.u1, pc.d0, pc.d1, pc.t1 = st.s+h, u1, d0, d1, st.t+dt
		if d.ideal == nil && u1 > d.uLimit && st.u < d.uLimit*(1-1e-12) {
			s := pc.where(d.uLimit)
			if s-pc.s0 > 1e-9 {
				cut(&pc, s, d.uLimit)
				h = s - pc.s0
			}
		}
		if m.touch(&pc, st, h) {
			out = append(out, pc)
			m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
			return out, touched
		}
		out = append(out, pc)
		m.advance(st, h, pc.u1, pc.t1)
		if pc.u1 < uDrop && pc.d1 < 0 {
			return out, dropped
		}
	}
}

// cut ends a piece early at s, where v² is u.
func cut(p *piece, s, u float64) {
	h := p.s1 - p.s0
	f := (s - p.s0) / h
	d := hermiteSlope(p.u0, p.d0, p.u1, p.d1, h, f)
	p.t1 = p.tAt(s)
	p.s1, p.u1, p.d1 = s, u, d
}

func hermiteSlope(y0, d0, y1, d1, h, f float64) float64 {
	return 6*f*(1-f)*(y1-y0)/h + (1-f)*(1-3*f)*d0 + f*(3*f-2)*d1
}

// regimeChange finds how far into the step (m) the tyres take over from the
// engine or hand over to it, by bisection on the step's own interpolation.
func (m *Model) regimeChange(st *state, h, u1, d0, d1 float64, g0 bool, d *drive) float64 {
	c := &m.cells[st.cell]
	lo, hi := 0.0, h
	for range 16 {
		x := 0.5 * (lo + hi)
		u := math.Max(hermite(st.u, d0, u1, d1, h, x/h), leastU)
		p := c.at(st.x + x)
		if _, g := m.body.accel(&p, u, d); g == g0 {
			lo = x
		} else {
			hi = x
		}
	}
	return hi
}

// touch cuts the piece where it meets the corner and braking limit and says
// whether it does.
func (m *Model) touch(p *piece, st *state, h float64) bool {
	c := &m.cells[p.cell]
	if c.cap0 >= topU && c.capM >= topU && c.cap1 >= topU {
		return false
	}
	x0 := st.x
	over := func(x float64) float64 { // x from the piece's start
		return p.uAt(p.s0+x) - c.capAt(x0+x)
	}
	if over(h) <= 0 && over(0.5*h) <= 0 {
		return false
	}
	onCap := over(0) > -1e-9*p.u0
	if over(h) <= 0 && onCap {
		return false // leaves the limit; the bulge between is interpolation
	}
	lo, hi := 0.0, h
	if over(h) <= 0 {
		hi = 0.5 * h
	}
	if onCap {
		hi = 0
	}
	for hi-lo > 1e-10 {
		mid := 0.5 * (lo + hi)
		if over(mid) > 0 {
			hi = mid
		} else {
			lo = mid
		}
	}
	if hi <= 1e-7 {
		// On the limit from the start and above it at the end: the piece
		// follows the limit, so that every piece makes way.
		p.phase = Capped
		p.s1, p.u1 = p.s0+h, c.capAt(x0+h)
		p.d0 = 0
		p.d1 = 0
		p.t1 = p.t0 + c.capTimeFrom(x0) - c.capTimeFrom(x0+h)
		return true
	}
	cut(p, p.s0+hi, c.capAt(x0+hi))
	return true
}

// follow keeps st on the limit for as long as full throttle in drive pick(u)
// would lift the car above it. Pieces are appended to out. It returns with st
// at the place where full throttle begins, or at sEnd.
func (m *Model) follow(st *state, sEnd float64, pick func(u float64) *drive, out []piece) []piece {
	for st.s < sEnd-1e-9 {
		c := &m.cells[st.cell]
		h := c.h - st.x
		here := c.capAt(st.x)
		if st.u < here*(1-2e-6) {
			return out
		}
		if c.cap1 >= here || here-c.cap1 < 4*h {
			// Not braking hard: could the car fall below the limit?
			u1, _, _, _, _, _ := m.step(st, h, pick(st.u), nil)
			if u1 < c.cap1*(1-1e-6) {
				return out
			}
		}
		dt := c.capTime
		if st.x > 0 {
			dt = c.capTimeFrom(st.x)
		}
		f0 := st.x / c.h
		slope := func(f float64) float64 {
			return (c.cap0*(4*f-3) + 4*c.capM*(1-2*f) + c.cap1*(4*f-1)) / c.h
		}
		out = append(out, piece{
			cell: int32(st.cell), phase: Capped, s0: st.s, s1: st.s + h,
			u0: st.u, u1: c.cap1, d0: slope(f0), d1: slope(1), t0: st.t, t1: st.t + dt,
		})
		m.advance(st, h, c.cap1, st.t+dt)
	}
	return out
}

// coast lets st roll without drive for the shift time tau (s) (9.1), (9.2):
// one fourth-order step in time. ret (J) is spin energy that the engine gives
// back, spread evenly over the time. It returns the piece.
func (m *Model) coast(st *state, gear int, tau, ret float64) piece {
	pc := piece{cell: int32(st.cell), gear: int8(gear), phase: Shifting, s0: st.s, u0: st.u, t0: st.t}
	v0 := math.Sqrt(st.u)
	acc := func(dist, v float64) float64 {
		p := m.placeAhead(st, dist)
		a := m.body.coastAccel(&p, v)
		if ret > 0 {
			a += ret / (tau * v * m.body.mass)
		}
		return a
	}
	a1 := acc(0, v0)
	v2 := v0 + 0.5*tau*a1
	a2 := acc(0.5*tau*v0, v2)
	v3 := v0 + 0.5*tau*a2
	a3 := acc(0.5*tau*v2, v3)
	v4 := v0 + tau*a3
	a4 := acc(tau*v3, v4)
	v1 := math.Max(v0+tau/6*(a1+2*a2+2*a3+a4), 1)
	dist := tau / 6 * (v0 + 2*v2 + 2*v3 + v4)
	pc.s1, pc.u1, pc.t1 = st.s+dist, v1*v1, st.t+tau
	pc.d0, pc.d1 = 2*a1, 2*a4
	m.jump(st, dist)
	st.u, st.t = pc.u1, pc.t1
	return pc
}

// placeAhead is the place dist (m) ahead of st.
func (m *Model) placeAhead(st *state, dist float64) place {
	i, x := st.cell, st.x+dist
	for x > m.cells[i].h {
		x -= m.cells[i].h
		i++
		if i == len(m.cells) {
			i = 0
		}
	}
	return m.cells[i].at(x)
}

// jump moves st forward by dist (m) without touching speed or time.
func (m *Model) jump(st *state, dist float64) {
	st.x += dist
	st.s += dist
	for st.x >= m.cells[st.cell].h-1e-10 {
		st.x = math.Max(st.x-m.cells[st.cell].h, 0)
		st.cell++
		if st.cell == len(m.cells) {
			st.cell = 0
		}
	}
}
