package sim

import (
	"math"
	"sort"
)

// idealLap is the lap of the ideal car with which others are compared: pieces in
// a row, and the time to go from any other state against them.
type idealLap struct {
	m      *Model
	e      *Ideal
	ps     []piece
	end    float64 // m, where the lap is over
	time   float64 // s
	closed bool    // it goes on as it began
}

const (
	// mergedShare is how near (share of v²) to the ideal lap a car counts as on
	// it. What is left of the way that it lies behind falls off like the speed,
	// within some ten seconds at most: 0.05 µs.
	mergedShare = 1e-8

	// mostIdealLaps bounds the laps in which the ideal car settles, or one begun
	// elsewhere comes up to it.
	mostIdealLaps = 60

	// leastPiece (m) is what a run makes no piece of.
	leastPiece = 2e-9
)

// idealRound is the ideal car's flying lap, nil where it cannot drive one. Where
// no corner resets the speed it is the one that it comes down to from above.
func (m *Model) idealRound(e *Ideal) *idealLap {
	c := &m.cells[m.home]
	st := state{cell: m.home, s: c.s, u: min(m.before(m.home).cap1, c.cap0, 100*100)}
	for range mostIdealLaps {
		r := m.idealFrom(st, c.s+m.length, e)
		if r == nil {
			return nil
		}
		u := r.ps[len(r.ps)-1].u1
		if math.Abs(u-st.u) <= lapTolerance*st.u {
			r.closed = true
			return r
		}
		st.u = u
	}
	return nil
}

// idealFrom is the ideal car's way from st to end (m, unwrapped), nil where it
// cannot drive it.
func (m *Model) idealFrom(st state, end float64, e *Ideal) *idealLap {
	d, w := idealDrive(e), alongside()
	w.keep = true
	st.t = 0
	r := &idealLap{m: m, e: e, end: end}
	var why ending
	r.ps, why = m.run(&st, 0, &d, end, &w, nil)
	if why == stalled || len(r.ps) == 0 {
		return nil
	}
	r.time = st.t
	return r
}

// at reads v² and the clock of the ideal lap at s (m, unwrapped).
func (r *idealLap) at(s float64) (u, t float64) {
	from, laps := r.ps[0].s0, 0.0
	if r.closed {
		laps = math.Floor((s - from) / r.m.length)
		s -= laps * r.m.length
	}
	i := sort.Search(len(r.ps), func(i int) bool { return r.ps[i].s1 >= s })
	p := &r.ps[min(i, len(r.ps)-1)]
	switch {
	case s <= p.s0:
		u, t = p.u0, p.t0
	case s >= p.s1:
		u, t = p.u1, p.t1
	default:
		u, t = r.m.readPiece(p, s)
	}
	return u, t + laps*r.time
}

// clock is the time (s) at which the ideal lap is at s (m, unwrapped).
func (r *idealLap) clock(s float64) float64 {
	_, t := r.at(s)
	return t
}

// behind is how much more time (s) than the ideal lap the ideal car needs from s
// (m, unwrapped) on when it has v² = u there: to where it has come up to the
// ideal lap, or to the end (15.1). ok is false where it never comes up to it.
func (r *idealLap) behind(s, u float64) (dt float64, ok bool) {
	m := r.m
	st := m.momentAt(s, u)
	begun := r.clock(s)
	d, w := idealDrive(r.e), alongside()
	var buf [64]piece
	most := s + mostIdealLaps*m.length
	for st.s < most {
		ideal, clock := r.at(st.s)
		if math.Abs(st.u-ideal) <= mergedShare*ideal || !r.closed && st.s >= r.end-1e-9 {
			return st.t - (clock - begun), true
		}
		left := m.cells[st.cell].h - st.x
		if left <= leastPiece {
			m.jump(&st, left)
			continue
		}
		to := st.s + left
		if !r.closed {
			to = min(to, r.end)
		}
		if _, why := m.run(&st, 0, &d, to, &w, buf[:0]); why == stalled {
			return 0, false
		}
	}
	return 0, false
}
