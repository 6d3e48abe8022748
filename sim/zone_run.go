package sim

import "math"

// Trajectory is a run in one gear through the rest of a zone, as a search uses
// it: driven once, read at many shift speeds.
type Trajectory struct {
	ps     []piece
	from   state
	last   state
	final  bool      // it ended at the end of the zone
	gates  []float64 // m, where it enters no-shift places
	slowed bool
	slows  []Moment // after a pause, where it slows at full throttle

	// Down is the least time (s) at the zone's end with a shift down at one of
	// the Slows. Run sets it to +Inf; who bounds the time to go fills it in.
	Down float64
}

// downEvery is the number of steps between the places at which a run that slows
// is thought to shift down.
const downEvery = 40

// paused is the moment after the shortest pause of a shift, with the most spin
// energy returned, that begins at the start of a piece: no shift down there
// (8.5) leaves a car sooner or faster.
func (m *Model) paused(p *piece, z *Zone) Moment {
	tau := math.Inf(1)
	for _, t := range m.shiftTime {
		tau = min(tau, t)
	}
	st := m.moment(p.s0, p.u0, p.t0).state
	m.coast(&st, int(p.gear), tau, m.bestReturn())
	if st.s < z.End {
		st.u = min(st.u, m.cells[st.cell].capAt(st.x))
	}
	return Moment{st}
}

// Run drives in gear g from a moment to the end of the zone. From where it
// comes upon the envelope the ideal car takes over, which there is what any car
// does: the time is a lower bound. Where it slows down at full throttle, so that
// the lap may shift down, to a gear that turns its limiter at uDown (m²/s²), the
// moments after a pause are kept (Slows). Once the car is past the shift
// speed² uLast, give is asked a few times a second whether to go on; nil = to
// the end.
func (m *Model) Run(t *Trajectory, from Moment, g *Gear, z *Zone, e *Ideal, uLast, uDown float64, give func(s, u, clock float64) bool) {
	t.ps, t.from, t.final, t.gates = t.ps[:0], from.state, false, t.gates[:0]
	st := from.state
	w := watch{uShift: uLast, tStop: math.Inf(1), pick: e.pickSelf, keep: true}
	slow := 0
	// Slowing from its beginning on, the gear had better not been taken.
	rose := false
	t.slows, t.slowed, t.Down = t.slows[:0], false, math.Inf(1)
	for {
		n := len(t.ps)
		var end ending
		t.ps, end = m.run(&st, g.g, &g.d, z.End, &w, t.ps)
		t.last = st
		for i := n; i < len(t.ps); i++ {
			p := &t.ps[i]
			if m.cells[p.cell].noShift && (i == 0 && from.x == 0 && !m.before(from.cell).noShift || i > 0 && !m.cells[t.ps[i-1].cell].noShift) {
				t.gates = append(t.gates, p.s0)
			}
			rose = rose || p.u1 > from.u*(1+1e-6)
			t.slowed = t.slowed || p.phase == Driving && p.u1 < p.u0*(1-1e-9)
			if !rose || p.phase != Driving || p.u1 >= p.u0*(1-1e-9) || p.u1 > uDown {
				slow = 0
				continue
			}
			if slow%downEvery == 0 {
				t.slows = append(t.slows, m.paused(p, z))
			}
			slow++
		}
		switch end {
		case shiftDue, timedOut:
			if give != nil && give(st.s, st.u, st.t) {
				return
			}
			w.uShift, w.tStop = math.Inf(1), st.t+0.25
			continue
		case finished:
			t.final = true
		case stalled:
			t.last.t = math.Inf(1)
		default:
			m.idealIn(&t.last, z, e)
			t.final = true
		}
		return
	}
}

// From is a copy of the run without what comes before it first reaches v² = u
// (m²/s²), which is kept all the same where it enters a no-shift place: less to
// remember.
func (t *Trajectory) From(u float64) *Trajectory {
	c := &Trajectory{from: t.from, last: t.last, final: t.final, slowed: t.slowed, Down: t.Down}
	first := 0
	if len(t.gates) > 0 {
		c.gates = append([]float64(nil), t.gates...)
	} else {
		for first < len(t.ps) && t.ps[first].u0 < u && t.ps[first].u1 < u {
			first++
		}
	}
	if first < len(t.ps) {
		c.ps = append([]piece(nil), t.ps[first:]...)
	}
	return c
}

// Pieces is how many pieces are kept of the run.
func (t *Trajectory) Pieces() int { return len(t.ps) }

// Slowed says whether the run slows down at full throttle anywhere.
func (t *Trajectory) Slowed() bool { return t.slowed }

// Slows are moments after a pause that begins where the run slows at full
// throttle.
func (t *Trajectory) Slows() []Moment { return t.slows }

// Gates are the places (m, unwrapped) at which the run enters no-shift places.
func (t *Trajectory) Gates() []float64 { return t.gates }

// Held is the time (s) from the start of the zone to its end when the gear is
// held all the way, or left for a shorter one; +Inf when it was given up.
func (t *Trajectory) Held() float64 {
	if !t.final {
		return t.Down
	}
	return min(t.last.t, t.Down)
}

// Crosses is the first moment at or above the shift speed² at which a shift is
// allowed.
func (m *Model) Crosses(t *Trajectory, uShift float64) (at Moment, ok bool) {
	for i := range t.ps {
		p := &t.ps[i]
		if p.u1 < uShift && p.u0 < uShift || m.cells[p.cell].noShift {
			continue
		}
		switch {
		case p.u0 >= uShift:
			return m.moment(p.s0, p.u0, p.t0), true
		case p.phase == Capped:
			return m.moment(p.s1, p.u1, p.t1), true
		}
		s := p.where(uShift)
		return m.moment(s, p.uAt(s), p.tAt(s)), true
	}
	return Moment{}, false
}

// Reaches is the first moment at or above v² = u, in a no-shift place too. For rising
// speeds, one after the other: from is where it goes on looking, 0 at first.
func (m *Model) Reaches(t *Trajectory, u float64, from *int) (at Moment, ok bool) {
	for ; *from < len(t.ps); *from++ {
		p := &t.ps[*from]
		switch {
		case p.u1 < u && p.u0 < u:
			continue
		case p.u0 >= u:
			return m.moment(p.s0, p.u0, p.t0), true
		}
		s := m.whereOn(p, u)
		v2, clock := m.readPiece(p, s)
		return m.moment(s, v2, clock), true
	}
	return Moment{}, false
}

// CrossesAgain is the next moment after s (m) at which a run that has fallen below
// the shift speed² comes up to it where a shift is allowed.
func (m *Model) CrossesAgain(t *Trajectory, uShift, s float64) (at Moment, ok bool) {
	for i := range t.ps {
		p := &t.ps[i]
		if p.s0 <= s || p.u0 >= uShift || p.u1 < uShift || m.cells[p.cell].noShift || p.phase == Capped {
			continue
		}
		x := p.where(uShift)
		return m.moment(x, p.uAt(x), p.tAt(x)), true
	}
	return Moment{}, false
}

// At is the moment of the run at s (m, unwrapped); ok is false outside of it.
func (m *Model) At(t *Trajectory, s float64) (Moment, bool) {
	lo, hi := 0, len(t.ps)
	if hi == 0 || s < t.ps[0].s0 || s > t.ps[hi-1].s1 {
		return Moment{}, false
	}
	for hi-lo > 1 {
		mid := (lo + hi) / 2
		if t.ps[mid].s0 <= s {
			lo = mid
		} else {
			hi = mid
		}
	}
	p := &t.ps[lo]
	return m.moment(s, p.uAt(s), p.tAt(s)), true
}

// Row is the moment after a row of shifts from gears[0] up to the last of gears,
// one after the other without a stretch between them, the last of which begins
// at gate (m), where a no-shift place begins.
func (m *Model) Row(t *Trajectory, gate float64, gears []Gear, z *Zone) (Moment, bool) {
	last := len(gears) - 1
	s := gate
	for range 12 {
		at, ok := m.At(t, s)
		if !ok {
			return Moment{}, false
		}
		st := at.state
		for n := range last - 1 {
			a, b := &gears[n], &gears[n+1]
			m.coast(&st, a.g, m.shiftTime[a.g], m.returned(math.Sqrt(st.u), a.d.perV, b.d.perV))
		}
		miss := gate - st.s
		if math.Abs(miss) < 1e-3 {
			return m.After(Moment{st}, &gears[last-1], &gears[last], z)
		}
		s += miss
	}
	return Moment{}, false
}

// RowAt is the moment, after the first k of them, of a row of n shifts from gear
// index g up, the last of which begins at gate (m). Where spin energy is given
// back it is the row's beginning, a little early.
func (m *Model) RowAt(t *Trajectory, gate float64, g, n, k int) (Moment, bool) {
	s := gate
	if m.body.inertiaReturn > 0 {
		at, ok := m.At(t, gate)
		for j := range n - 1 {
			s -= 1.1 * m.shiftTime[g+j] * math.Sqrt(at.u)
		}
		if early, found := m.At(t, s); found {
			at = early
		} else if ok && len(t.ps) > 0 {
			at = m.moment(t.ps[0].s0, t.ps[0].u0, t.ps[0].t0)
		}
		return at, ok
	}
	for range 12 {
		at, ok := m.At(t, s)
		if !ok {
			return Moment{}, false
		}
		st := at.state
		for j := range n - 1 {
			if j == k {
				at = Moment{st}
			}
			m.coast(&st, g+j, m.shiftTime[g+j], 0)
		}
		if miss := gate - st.s; math.Abs(miss) >= 1e-3 {
			s += miss
			continue
		}
		if k == n-1 {
			at = Moment{st}
		}
		return at, true
	}
	return Moment{}, false
}

// PullsIn is the first moment of the run at which gear b turns its pulling rpm
// and a shift may begin, below the shift speed² uShift.
func (m *Model) PullsIn(t *Trajectory, b *Gear, uShift float64) (Moment, bool) {
	v := m.body.speedAt(m.body.pulling, b.d.perV)
	u := v * v
	for i := range t.ps {
		p := &t.ps[i]
		if p.u1 < u || m.cells[p.cell].noShift {
			continue
		}
		s := p.s0
		if p.u0 < u {
			s = p.where(u)
		}
		at := m.moment(s, p.uAt(s), p.tAt(s))
		return at, at.u < uShift
	}
	return Moment{}, false
}

// After is the moment after a shift from gear a to gear b that begins at a
// moment; ok is false when the zone is over before.
func (m *Model) After(at Moment, a, b *Gear, z *Zone) (after Moment, ok bool) {
	st := at.state
	m.coast(&st, a.g, m.shiftTime[a.g], m.returned(math.Sqrt(st.u), a.d.perV, b.d.perV))
	if st.s >= z.End {
		return Moment{}, false
	}
	st.u = min(st.u, m.cells[st.cell].capAt(st.x))
	return Moment{st}, true
}

// MomentAt is a moment at s (m, unwrapped) at v² = u, at clock 0.
func (m *Model) MomentAt(s, u float64) Moment { return m.moment(s, u, 0) }

func (m *Model) moment(s, u, t float64) Moment {
	st := m.momentAt(s, u)
	st.u, st.t = u, t
	return Moment{st}
}

// Pulls says whether a gear turns fast enough to be used at throttle-on at the
// start of a zone (8.3), with half a percent to spare for the place at which
// full throttle begins.
func (m *Model) Pulls(g *Gear, z *Zone) bool {
	return g.d.slips || m.body.rpmAt(math.Sqrt(z.Start.u), g.d.perV)*1.005 >= m.body.pulling
}
