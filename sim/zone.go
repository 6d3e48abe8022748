package sim

import "math"

// This file offers the pieces of a lap to a search: zones between corners that
// reset the speed, runs in one gear inside a zone, shifts, and the ideal car's
// time to go. They are the same functions that Solver.LapTime is made of.

// Moment is a moment of a run: place, speed and time.
type Moment struct{ state }

// Distance is unwrapped (m, grows past the lap's length), SpeedSq is v²
// (m²/s²), Clock the time (s) since the run began.
func (p *Moment) Distance() float64 { return p.s }

// SpeedSq is v² (m²/s²).
func (p *Moment) SpeedSq() float64 { return p.u }

// Clock is the time (s) since the zone began.
func (p *Moment) Clock() float64 { return p.t }

// Sooner takes dt (s) off the clock.
func (p *Moment) Sooner(dt float64) { p.t -= dt }

// Zone is a stretch that the ideal car begins at Start, on the limit or at the
// pit exit, and that ends at End, where the limit resets its speed or the lap
// is over.
type Zone struct {
	Start Moment  // Clock 0
	End   float64 // m, unwrapped
	Ideal float64 // s, the ideal car's time

	// From Brake (m, unwrapped) to the end the ideal car stays on the limit
	// once it is there; End when the zone does not end on the limit.
	Brake float64

	// Last says that the lap is over at End without braking: there no gear is
	// held in the hope of it (8.4).
	Last bool
}

// Gear is a gear made ready to run.
type Gear struct {
	d drive
	g int
}

// NewGear prepares gear g (from 1) with a total ratio.
func (m *Model) NewGear(g int, total float64) Gear {
	return Gear{d: m.body.newDrive(total, m.eta[g-1]), g: g - 1}
}

// Slipping returns the gear with a slipping clutch, as in an out lap (7.6).
func (g Gear) Slipping() Gear {
	g.d.slips = true
	return g
}

// LimitSq is the square of the speed (m²/s²) at the limiter.
func (g *Gear) LimitSq() float64 { return g.d.uLimit }

// ShiftSq is the square of the speed (m²/s²) at the limiter less the margin.
func (g *Gear) ShiftSq() float64 { return g.d.uShift }

// PullSq is the square of the speed (m²/s²) at which a gear turns its pulling rpm.
func (m *Model) PullSq(g *Gear) float64 {
	v := m.body.speedAt(m.body.pulling, g.d.perV)
	return v * v
}

// CrossSq is the square of the speed (m²/s²) at which the shift from a to the
// next gear b begins (8.2).
func (m *Model) CrossSq(a, b *Gear) float64 {
	return m.crossSpeed(&a.d, &b.d, m.shiftTime[a.g])
}

// FlyingZones cuts the flying lap where the ideal car is on a least limit. nil
// when it never is: then a lap has no place that resets the speed.
func (m *Model) FlyingZones(e *Ideal) []Zone {
	if !m.homeOnCap {
		return nil
	}
	st, ok := m.resets(e)
	if !ok {
		return nil
	}
	return m.zones(st, st.s+m.length, e)
}

// resets is the first least limit that the ideal car comes upon on its second lap
// from the slowest, where most cars are on it; on the first it may be faster there
// than it ever is again.
func (m *Model) resets(e *Ideal) (state, bool) {
	n := len(m.cells)
	home := m.cells[m.home].s
	st := state{cell: m.home, s: home, u: m.before(m.home).cap1}
	for st.s < home+2*m.length+1e-6 {
		if st.x == 0 && st.s > home+m.length-1e-6 {
			prev := (st.cell + n - 1) % n
			if limit := m.cells[prev].cap1; m.least[prev] && st.u >= limit*(1-onCapShare) {
				return state{cell: st.cell, s: st.s - m.length, u: limit}, true
			}
		}
		a := m.nextApex(st.cell)
		if a < 0 {
			return state{}, false
		}
		s := m.cells[a].s + m.cells[a].h
		s += m.length * math.Ceil((st.s-s)/m.length+1e-9)
		m.idealTo(&st, s, e)
		if math.IsInf(st.t, 1) {
			return state{}, false
		}
	}
	return state{}, false
}

// FromPits is the model for a car that comes out of the pits: OutZones and all
// that is asked about those zones belong to it.
func (m *Model) FromPits() *Model { return m.open() }

// OutZones cuts the out lap in the same way. The zones are those of FromPits.
func (m *Model) OutZones(e *Ideal) []Zone {
	m = m.open()
	st := m.outStart()
	end := m.length
	if st.s >= end-1e-6 {
		end += m.length
	}
	return m.zones(st, end, e)
}

// onCapShare is how far below the limit (share of v²) the ideal car may be and
// count as on it: the next zone then begins on the limit, a little sooner than
// any car could.
const onCapShare = 1e-4

func (m *Model) zones(st state, end float64, e *Ideal) []Zone {
	var zs []Zone
	n := len(m.cells)
	z := Zone{Start: Moment{st}}
	for st.s < end-1e-6 {
		// To the next least limit, or the end.
		next := end
		if a := m.nextApex(st.cell); a >= 0 {
			c := &m.cells[a]
			s := c.s + c.h
			s += m.length * math.Ceil((st.s-s)/m.length+1e-9)
			if s > st.s+1e-6 && s < next {
				next = s
			}
		}
		m.idealTo(&st, next, e)
		prev := (st.cell + n - 1) % n
		onCap := st.x == 0 && st.u >= m.cells[prev].cap1*(1-onCapShare)
		if next >= end-1e-6 || onCap {
			z.End, z.Ideal, z.Brake = next, st.t, next
			if onCap {
				z.Brake = m.brakeFrom(&st, z.Start.s, e)
			}
			z.Last = !onCap
			zs = append(zs, z)
			st.t = 0
			if onCap {
				st.u = m.cells[prev].cap1
			}
			z = Zone{Start: Moment{st}}
		}
	}
	return zs
}

// brakeFrom is where (m, unwrapped) the stretch of limit that ends at st
// begins, on which the ideal car stays once it is there; not before from.
func (m *Model) brakeFrom(st *state, from float64, e *Ideal) float64 {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	s, i := st.s, st.cell
	for {
		i--
		if i < 0 {
			i = len(m.cells) - 1
		}
		c := &m.cells[i]
		if s-c.h < from-1e-9 || c.cap0 >= topU {
			return s
		}
		if q := (state{cell: i, s: s - c.h, u: c.cap0}); m.lean(&q, c, &d) < c.h-1e-10 {
			return s
		}
		s -= c.h
	}
}

// nextApex is the first cell from i on at whose end the envelope has a least; -1
// where it has none.
func (m *Model) nextApex(i int) int {
	for range m.cells {
		if m.least[i] {
			return i
		}
		if i++; i == len(m.cells) {
			i = 0
		}
	}
	return -1
}

// alongside is a watch for nothing: a run to its end.
func alongside() watch { return watch{uShift: math.Inf(1), tStop: math.Inf(1)} }

// idealDrive is the ideal car as a drive.
func idealDrive(e *Ideal) drive {
	return drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
}

// idealTo drives the ideal car from st to sEnd.
func (m *Model) idealTo(st *state, sEnd float64, e *Ideal) {
	d, w := idealDrive(e), alongside()
	var buf [256]piece
	if _, end := m.run(st, 0, &d, sEnd, &w, buf[:0]); end == stalled {
		st.t = math.Inf(1)
	}
}

// IdealTime is the ideal car's time (s) from a place (m, unwrapped, inside the
// zone) at v² = u (m²/s²) to the end of the zone.
func (m *Model) IdealTime(z *Zone, s, u float64, e *Ideal) float64 {
	st := m.momentAt(s, u)
	m.idealIn(&st, z, e)
	return st.t
}

// LimitTime is the time (s) along the limit from a place (m, unwrapped) in the
// zone to its end: no car is quicker.
func (m *Model) LimitTime(z *Zone, s float64) float64 {
	st := m.momentAt(s, 0)
	return m.toEnd(&st, z)
}

// toEnd is the time (s) along the limit from st to the end of the zone.
func (m *Model) toEnd(st *state, z *Zone) float64 {
	end := m.momentAt(z.End, 0)
	if end.x > m.cells[end.cell].h-1e-6 || end.x < 1e-6 {
		end.x = math.Round(end.x/m.cells[end.cell].h) * m.cells[end.cell].h
	}
	return m.clock(&end) - m.clock(st)
}

// idealIn drives the ideal car from st to the end of the zone, taking the
// envelope's own clock from where it stays on it.
func (m *Model) idealIn(st *state, z *Zone, e *Ideal) {
	if st.s < z.Brake {
		m.idealTo(st, z.Brake, e)
	}
	if st.s >= z.End-1e-9 {
		return
	}
	if m.limits(st) {
		st.t += m.toEnd(st, z)
		st.s = z.End
		return
	}
	m.idealTo(st, z.End, e)
}

// limits says whether st is on the envelope.
func (m *Model) limits(st *state) bool {
	return st.u >= m.cells[st.cell].capAt(st.x)*(1-onShare)
}

func (m *Model) momentAt(s, u float64) state {
	w := m.wrap(s)
	i := m.cellIndex(w)
	st := state{cell: i, x: max(w-m.cells[i].s, 0), s: s}
	st.u = min(u, m.cells[i].capAt(st.x))
	return st
}

// Climb is the ideal car's first climb through a zone: from its start to the
// first place where it stops gaining speed.
type Climb struct{ ps []piece }

// Climb drives the ideal car from the start of the zone to the end of its
// first climb.
func (m *Model) Climb(z *Zone, e *Ideal) *Climb {
	d, w := idealDrive(e), alongside()
	w.keep = true
	st := z.Start.state
	c := &Climb{}
	c.ps, _ = m.run(&st, 0, &d, z.End, &w, nil)
	for i := range c.ps {
		if c.ps[i].u1 < c.ps[i].u0*(1-1e-9) {
			c.ps = c.ps[:i]
			break
		}
	}
	return c
}

// Top is the greatest v² (m²/s²) of the climb, 0 when there is none.
func (c *Climb) Top() float64 {
	if len(c.ps) == 0 {
		return 0
	}
	return c.ps[len(c.ps)-1].u1
}

// At returns where (m, unwrapped) and when (s into the zone) the climb first
// reaches v² = u; u must lie between the start's and Top.
func (c *Climb) At(u float64) (s, t float64) {
	lo, hi := 0, len(c.ps)-1
	for lo < hi {
		mid := (lo + hi) / 2
		if c.ps[mid].u1 < u {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	p := &c.ps[lo]
	if u <= p.u0 || p.u1 <= p.u0 {
		return p.s0, p.t0
	}
	if u >= p.u1 {
		return p.s1, p.t1
	}
	s = p.where(u)
	return s, p.tAt(s)
}

// LimitSq is the corner and braking limit (as v², m²/s²) at s (m).
func (m *Model) LimitSq(s float64) float64 {
	w := m.wrap(s)
	c := &m.cells[m.cellIndex(w)]
	return c.capAt(max(0, min(w-c.s, c.h)))
}

// NoShiftAt says whether a place (m) lies in a no-shift place, more than a step
// of the mesh from its ends.
func (m *Model) NoShiftAt(s float64) bool {
	i := m.cellIndex(m.wrap(s))
	return m.cells[i].noShift && m.before(i).noShift && m.cells[(i+1)%len(m.cells)].noShift
}

// Engine is the force (N) at the wheels and the equivalent mass (kg) of what
// turns, in a gear at v (m/s) (7.3), (7.4).
func (m *Model) Engine(g *Gear, v float64) (force, turning float64) {
	return m.body.engineForce(v, &g.d)
}

// Mass is the car's mass (kg) with the fuel of the run.
func (m *Model) Mass() float64 { return m.body.mass }

// Hold is what holds the car back (N) at a place (m) at v (m/s), and the
// greatest force (N) that the driven tyres can put down there.
func (m *Model) Hold(s, v float64) (resist, grip float64) {
	p := m.placeAt(s)
	l := m.body.at(&p, v)
	return l.resist, m.body.driveLimit(&p, &l)
}

// MostGain is an acceleration (m/s²) that no gear exceeds within some metres of a
// moment: twice what the driven tyres can put down there, and a tenth of g down
// a hill.
func (m *Model) MostGain(at *Moment) float64 {
	resist, grip := m.Hold(at.s, math.Sqrt(at.u))
	return 2*(grip-min(resist, 0))/m.body.mass + 1
}

// Coast rolls without drive for the upshift out of gear index g from s (m) at
// v² = u (m²/s²), giving where it ends and how fast.
func (m *Model) Coast(s, u float64, a, b *Gear) (s1, u1 float64) {
	st := m.momentAt(s, u)
	ret := m.returned(math.Sqrt(st.u), a.d.perV, b.d.perV)
	m.coast(&st, a.g, m.shiftTime[a.g], ret)
	return st.s, st.u
}

// UpshiftTime is the time (s) without drive of the shift out of gear g (from 1).
func (m *Model) UpshiftTime(g int) float64 { return m.shiftTime[g-1] }

func (m *Model) placeAt(s float64) place {
	w := m.wrap(s)
	c := &m.cells[m.cellIndex(w)]
	return c.at(max(0, min(w-c.s, c.h)))
}

// IdealTopSpeed is the ideal car's top speed on the flying lap (m/s): no set
// of the gears it was made of exceeds it.
func (m *Model) IdealTopSpeed(e *Ideal) float64 {
	d, w := idealDrive(e), alongside()
	w.keep = true
	st := state{cell: m.home, s: m.cells[m.home].s}
	st.u = min(m.before(m.home).cap1, 100*100)
	top := 0.0
	// The second lap is at the periodic speed or, from above, over it.
	for lap := range 3 {
		ps, end := m.run(&st, 0, &d, m.cells[m.home].s+float64(lap+1)*m.length, &w, nil)
		if end == stalled {
			break
		}
		if lap > 0 {
			for i := range ps {
				top = max(top, ps[i].u1)
			}
		}
	}
	return math.Sqrt(top)
}

// bestReturn is more spin energy (J) than any upshift gives back.
func (m *Model) bestReturn() float64 {
	if m.body.inertiaReturn == 0 {
		return 0
	}
	w := m.body.limiter * math.Pi / 30
	return m.body.inertiaReturn * 0.5 * m.body.engineInertia * w * w
}
