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
	n := len(m.cells)
	prev := (m.home + n - 1) % n
	st := state{cell: m.home, s: m.cells[m.home].s, u: m.cells[prev].cap1}
	end := st.s + m.length
	// The home is the slowest corner; if even the ideal car does not reach
	// its limit there, nothing resets the speed.
	q := st
	m.idealTo(&q, end, e)
	if q.u < st.u*(1-onCapShare) {
		return nil
	}
	return m.zones(st, end, e)
}

// OutZones cuts the out lap in the same way.
func (m *Model) OutZones(e *Ideal) []Zone {
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
		if a := m.apexAhead[st.cell]; a >= 0 {
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
		// The same question as in follow.
		if c.cap1 >= c.cap0 || c.cap0-c.cap1 < 4*c.h {
			q := state{cell: i, u: c.cap0}
			if u1, _, _, _, _, _ := m.step(&q, c.h, &d, nil); u1 < c.cap1*(1-1e-6) {
				return s
			}
		}
		s -= c.h
	}
}

// idealTo drives the ideal car from st to sEnd.
func (m *Model) idealTo(st *state, sEnd float64, e *Ideal) {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &d }
	var buf [256]piece
	for st.s < sEnd-1e-9 {
		m.follow(st, sEnd, pick, buf[:0])
		if st.s >= sEnd-1e-9 {
			return
		}
		if _, end := m.run(st, 0, &d, sEnd, math.Inf(1), 0, buf[:0]); end == stalled {
			st.t = math.Inf(1)
			return
		}
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
// limit's own clock from where it brakes.
func (m *Model) idealIn(st *state, z *Zone, e *Ideal) {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &d }
	var buf [256]piece
	for st.s < z.End-1e-9 {
		if st.s >= z.Brake && st.u >= m.cells[st.cell].capAt(st.x)*(1-2e-6) {
			st.t += m.toEnd(st, z)
			st.s = z.End
			return
		}
		m.follow(st, math.Min(z.End, math.Max(z.Brake, st.s+1e-6)), pick, buf[:0])
		if st.s >= z.Brake-1e-9 && st.u >= m.cells[st.cell].capAt(st.x)*(1-2e-6) {
			continue
		}
		if st.s >= z.End-1e-9 {
			return
		}
		if _, end := m.run(st, 0, &d, z.End, math.Inf(1), 0, buf[:0]); end == stalled {
			st.t = math.Inf(1)
			return
		}
	}
}

func (m *Model) momentAt(s, u float64) state {
	w := m.wrap(s)
	i := m.cellIndex(w)
	st := state{cell: i, x: math.Max(w-m.cells[i].s, 0), s: s}
	st.u = math.Min(u, m.cells[i].capAt(st.x))
	return st
}

// Climb is the ideal car's first climb through a zone: from its start to the
// first place where it stops gaining speed.
type Climb struct{ ps []piece }

// Climb drives the ideal car from the start of the zone to the end of its
// first climb.
func (m *Model) Climb(z *Zone, e *Ideal) *Climb {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &d }
	st := z.Start.state
	c := &Climb{}
	for st.s < z.End-1e-9 {
		before := len(c.ps)
		c.ps = m.follow(&st, z.End, pick, c.ps)
		if st.s < z.End-1e-9 {
			c.ps, _ = m.run(&st, 0, &d, z.End, math.Inf(1), 0, c.ps)
		}
		for i := before; i < len(c.ps); i++ {
			if c.ps[i].u1 < c.ps[i].u0*(1-1e-9) {
				c.ps = c.ps[:i]
				return c
			}
		}
		if st.u <= leastU*1.0001 {
			return c
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
	return c.capAt(math.Max(0, math.Min(w-c.s, c.h)))
}

// NoShiftIn says whether a no-shift place lies in the zone.
func (m *Model) NoShiftIn(z *Zone) bool {
	for s := z.Start.s; s < z.End; {
		w := m.wrap(s)
		c := &m.cells[m.cellIndex(w)]
		if c.noShift {
			return true
		}
		s += c.h - (w - c.s) + 1e-6
	}
	return false
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
	return c.at(math.Max(0, math.Min(w-c.s, c.h)))
}

// Trajectory is a run in one gear through the rest of a zone.
type Trajectory struct {
	ps    []piece
	from  state
	last  state
	final bool    // it ended on the limit, or at the end of the zone
	over  bool    // it ended with the lap
	held  float64 // s into the zone at which it last touched the limit
}

// fadeShare is the share of v² at the beginning of a run below which a gear
// that cannot hold its speed is given up. It lies above the share at which the
// lap shifts down (8.5), so the ideal car takes over no later.
const fadeShare = 0.955

// Run drives in gear g from a moment to where braking begins, or until it has
// been held past the shift speed uLast for longer than holding is considered.
// From the braking point on the ideal car takes over, which on the limit is
// what any car does; where the ideal car would leave the limit again before
// the zone ends, it makes the time a lower bound.
func (m *Model) Run(t *Trajectory, from Moment, g *Gear, z *Zone, e *Ideal, uLast float64) {
	t.ps, t.from, t.final, t.over = t.ps[:0], from.state, false, false
	st := from.state
	ideal := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &ideal }
	for {
		t.ps = m.follow(&st, z.End, pick, t.ps)
		t.last, t.held = st, st.t
		if st.s >= z.End-1e-9 {
			t.final = true
			return
		}
		var end ending
		t.ps, end = m.run(&st, g.g, &g.d, z.End, uLast, fadeShare*from.u, t.ps)
		t.last, t.held = st, st.t
		switch end {
		case touched:
			c := &m.cells[st.cell]
			if c.capAt(math.Min(st.x+0.1*c.h, c.h)) >= st.u {
				continue // leaning on an opening corner, not braking
			}
			m.idealIn(&t.last, z, e)
			t.final = true
		case finished:
			t.final, t.over = true, z.Last
		case dropped:
			// The car would shift down (8.5): the ideal car bounds the rest.
			m.idealIn(&t.last, z, e)
			t.final = true
		}
		return
	}
}

// Held is the time (s) from the start of the zone to its end when the gear is
// held all the way, given the shift speed² at which the next gear would have
// come; +Inf when that is too long before the braking.
func (m *Model) Held(t *Trajectory, uShift float64) float64 {
	if !t.final {
		return math.Inf(1)
	}
	if q, ok := m.cross(t, uShift); ok && (t.over || t.held-q.t > holdLimit) {
		return math.Inf(1)
	}
	return t.last.t
}

// cross is the first moment at or above the shift speed at which a shift is
// allowed.
func (m *Model) cross(t *Trajectory, uShift float64) (state, bool) {
	for i := range t.ps {
		p := &t.ps[i]
		if p.u1 < uShift && p.u0 < uShift || m.cells[p.cell].noShift {
			continue
		}
		if p.u0 >= uShift {
			return state{cell: int(p.cell), s: p.s0, u: p.u0, t: p.t0}, true
		}
		if p.phase == Capped {
			return state{cell: int(p.cell), s: p.s1, u: p.u1, t: p.t1}, true
		}
		s := p.where(uShift)
		return state{cell: int(p.cell), s: s, u: p.uAt(s), t: p.tAt(s)}, true
	}
	return state{}, false
}

// Crosses is where (m, unwrapped) and when (s into the zone) a trajectory
// reaches a shift speed² and may shift.
func (m *Model) Crosses(t *Trajectory, uShift float64) (s, at float64, ok bool) {
	q, ok := m.cross(t, uShift)
	return q.s, q.t, ok
}

// ShiftAt is the moment after a shift from gear a to gear b that begins at s
// (m, unwrapped) at v² = u, on a clock that begins with the shift; ok is false
// when the zone is over before.
func (m *Model) ShiftAt(s, u float64, a, b *Gear, z *Zone) (after Moment, ok bool) {
	st := m.momentAt(s, u)
	ret := m.returned(math.Sqrt(st.u), a.d.perV, b.d.perV)
	m.coast(&st, a.g, m.shiftTime[a.g], ret)
	if st.s >= z.End {
		return Moment{}, false
	}
	st.u = math.Min(st.u, m.cells[st.cell].capAt(st.x))
	return Moment{st}, true
}

// ShiftOut is the moment, after the shift is over, at which gear b runs on
// from the trajectory of gear a; ok is false when the shift speed is not
// reached before the end of the zone.
func (m *Model) ShiftOut(t *Trajectory, a, b *Gear, uShift float64, z *Zone) (after Moment, ok bool) {
	q, ok := m.cross(t, uShift)
	if !ok {
		return Moment{}, false
	}
	after, ok = m.ShiftAt(q.s, q.u, a, b, z)
	after.t += q.t
	return after, ok
}

// IdealTopSpeed is the ideal car's top speed on the flying lap (m/s): no set
// of the gears it was made of exceeds it.
func (m *Model) IdealTopSpeed(e *Ideal) float64 {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &d }
	st := state{cell: m.home, s: m.cells[m.home].s}
	prev := (m.home + len(m.cells) - 1) % len(m.cells)
	st.u = math.Min(m.cells[prev].cap1, 100*100)
	top := 0.0
	// The second lap is at the periodic speed or, from above, over it.
	for lap := range 3 {
		end := m.cells[m.home].s + float64(lap+1)*m.length
		for st.s < end-1e-9 {
			ps := m.follow(&st, end, pick, nil)
			if st.s < end-1e-9 {
				var e ending
				if ps, e = m.run(&st, 0, &d, end, math.Inf(1), 0, ps); e == stalled {
					return math.Sqrt(top)
				}
			}
			if lap > 0 {
				for i := range ps {
					top = math.Max(top, ps[i].u1)
				}
			}
		}
	}
	return math.Sqrt(top)
}

// Pulls says whether a gear turns fast enough to be used at throttle-on at the
// start of a zone (8.3), with half a percent to spare for the place at which
// full throttle begins.
func (m *Model) Pulls(g *Gear, z *Zone) bool {
	return g.d.slips || m.body.rpmAt(math.Sqrt(z.Start.u), g.d.perV)*1.005 >= m.body.pulling
}

// LapWithPause is the least lap time (s) of the ideal car when it must roll
// once without drive for the shortest upshift time, at the best place: a lower
// bound of every flying lap with an upshift on a circuit that nothing resets.
// Places are tried at every step of the mesh; between them the time changes
// smoothly, by less than the tenth of a millisecond taken off.
func (m *Model) LapWithPause(e *Ideal) float64 {
	d := drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	pick := func(float64) *drive { return &d }
	tau := math.Inf(1)
	for _, t := range m.shiftTime {
		tau = math.Min(tau, t)
	}
	// The periodic ideal lap, with its speed at every cell.
	n := len(m.cells)
	u := make([]float64, n)
	c := &m.cells[m.home]
	st := state{cell: m.home, s: c.s, u: math.Min(c.capAt(0), 100*100)}
	for lap := range 6 {
		end := c.s + float64(lap+1)*m.length
		for st.s < end-1e-9 {
			ps := m.follow(&st, end, pick, nil)
			if st.s < end-1e-9 {
				var x ending
				if ps, x = m.run(&st, 0, &d, end, math.Inf(1), 0, ps); x == stalled {
					return math.Inf(1)
				}
			}
			for i := range ps {
				w := m.wrap(ps[i].s0)
				if j := int(ps[i].cell); math.Abs(w-m.cells[j].s) < 1e-6 {
					u[j] = ps[i].u0
				}
			}
		}
	}
	best := math.Inf(1)
	for j := range n {
		if u[j] == 0 {
			continue
		}
		st := state{cell: j, s: m.cells[j].s, u: u[j]}
		end := st.s + m.length
		m.coast(&st, 0, tau, m.bestReturn())
		st.u = math.Min(st.u, m.cells[st.cell].capAt(st.x))
		m.idealTo(&st, end, e)
		best = math.Min(best, st.t)
	}
	return best - 1e-4
}

// bestReturn is more spin energy (J) than any upshift gives back.
func (m *Model) bestReturn() float64 {
	if m.body.inertiaReturn == 0 {
		return 0
	}
	w := m.body.limiter * math.Pi / 30
	return m.body.inertiaReturn * 0.5 * m.body.engineInertia * w * w
}
