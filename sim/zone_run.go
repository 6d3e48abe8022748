package sim

import "math"

// Trajectory is a run in one gear through the rest of a zone, as a search uses
// it: driven once, read at many shift speeds.
type Trajectory struct {
	ps    []piece
	from  state
	last  state
	final bool // it ended at the end of the zone
}

// Run drives in gear g from a moment to the end of the zone. From where it
// comes upon the envelope, or slows down so far that the lap would shift down,
// the ideal car takes over, which on the envelope is what any car does: there
// the time is a lower bound. Once the car is past the shift speed² uLast, give
// is asked a few times a second whether to go on; nil = to the end.
func (m *Model) Run(t *Trajectory, from Moment, g *Gear, z *Zone, e *Ideal, uLast float64, give func(s, u, clock float64) bool) {
	t.ps, t.from, t.final = t.ps[:0], from.state, false
	st := from.state
	w := watch{uShift: uLast, tStop: math.Inf(1), uDrop: fadeShare * from.u, pick: e.pickSelf, keep: true}
	for {
		var end ending
		t.ps, end = m.run(&st, g.g, &g.d, z.End, &w, t.ps)
		t.last = st
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

// fadeShare is the share of v² at the beginning of a run below which a gear
// that cannot hold its speed is given up. It lies above the share at which the
// lap shifts down (8.5), so the ideal car takes over no later.
const fadeShare = 0.955

// Held is the time (s) from the start of the zone to its end when the gear is
// held all the way; +Inf when it was given up.
func (t *Trajectory) Held() float64 {
	if !t.final {
		return math.Inf(1)
	}
	return t.last.t
}

// Crosses is the first moment at or above the shift speed² at which a shift is
// allowed; late says that a no-shift place held it up, entry then is where that
// place was entered below the shift speed, if it was.
func (m *Model) Crosses(t *Trajectory, uShift float64) (at Moment, ok bool, entry Moment, late bool) {
	in := -1 // piece with which a no-shift place was entered
	for i := range t.ps {
		p := &t.ps[i]
		c := &m.cells[p.cell]
		if c.noShift && (i == 0 || !m.cells[t.ps[i-1].cell].noShift) {
			in = i
		}
		if p.u1 < uShift && p.u0 < uShift {
			continue
		}
		if c.noShift {
			late = true
			continue
		}
		s, u, clock := p.s0, p.u0, p.t0
		if p.u0 < uShift && p.phase != Capped {
			s = p.where(uShift)
			u, clock = p.uAt(s), p.tAt(s)
		} else if p.u0 < uShift {
			s, u, clock = p.s1, p.u1, p.t1
		}
		at, ok = m.moment(s, u, clock), true
		break
	}
	if late && in > 0 && t.ps[in].u0 < uShift {
		p := &t.ps[in]
		return at, ok, m.moment(p.s0, p.u0, p.t0), true
	}
	return at, ok, Moment{}, late
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

// TwoBefore is the moment, after both, of two shifts from gear a over b to c of
// which the first is over where the second begins, at entry: in front of a
// no-shift place.
func (m *Model) TwoBefore(t *Trajectory, entry Moment, a, b, c *Gear, z *Zone) (Moment, bool) {
	s := entry.s - m.shiftTime[a.g]*math.Sqrt(entry.u)
	for range 4 {
		at, ok := m.At(t, s)
		if !ok || m.cells[at.cell].noShift {
			return Moment{}, false
		}
		st := at.state
		m.coast(&st, a.g, m.shiftTime[a.g], m.returned(math.Sqrt(st.u), a.d.perV, b.d.perV))
		miss := entry.s - st.s
		if math.Abs(miss) < 1e-3 {
			return m.After(Moment{st}, b, c, z)
		}
		s += miss
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
	st.u = math.Min(st.u, m.cells[st.cell].capAt(st.x))
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
