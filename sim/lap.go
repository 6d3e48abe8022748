package sim

import (
	"fmt"
	"math"
)

// lapTolerance is how well (m²/s², relative) a periodic lap closes.
const lapTolerance = 1e-10

// LapTime is the flying lap's time (s) for total ratios by gear, +Inf where
// the set cannot drive it. It is the inner loop of the search; Lap gives the
// same number with everything around it.
func (k *Solver) LapTime(total []float64) float64 {
	k.record = false
	t, _ := k.flying(total)
	if t.fail != "" {
		return math.Inf(1)
	}
	return t.end.t - t.start.t
}

// OutTime is the out lap's time (s), +Inf where it cannot be driven.
func (k *Solver) OutTime(total []float64) float64 {
	k.record = false
	t := k.out(total)
	if t.fail != "" {
		return math.Inf(1)
	}
	return t.end.t - t.start.t
}

// flying drives the lap whose end state is its start state (10.1). Where a
// corner resets the speed one passage is enough; elsewhere the passage is
// repeated until the speed repeats itself.
func (k *Solver) flying(total []float64) (trip, bool) {
	k.set(total)
	m := k.m
	c := &m.cells[m.home]
	st := state{cell: m.home, s: c.s}
	gear := -1
	if m.homeOnCap {
		prev := (m.home + len(m.cells) - 1) % len(m.cells)
		st.u = m.cells[prev].cap1
		t := k.drive(st, gear, st.s+m.length)
		if t.fail != "" {
			return t, false
		}
		if t.end.u >= st.u*(1-1e-7) {
			return k.closeGears(t, st), false
		}
		st.u, gear = t.end.u, t.gear
		return k.periodic(st, gear), true
	}
	// Nothing resets the speed. A set can have two laps that repeat
	// themselves, one in a gear too short and one in a gear too tall to be
	// left; the driver takes the quicker, so begin from below and from above.
	v := math.Sqrt(k.drives[k.n-1].uShift)
	st.u = math.Min(0.64*v*v, c.capAt(0))
	low := k.periodic(st, k.natural(st.u))
	st.u = math.Min(v*v, c.capAt(0))
	g := k.natural(st.u)
	if low.fail == "" && low.gear == g && low.end.u > 0.98*st.u {
		return low, true
	}
	record := k.record
	k.record = false
	high := k.periodic(st, g)
	k.record = record
	if low.fail == "" && (high.fail != "" || low.end.t-low.start.t <= high.end.t-high.start.t) {
		if record {
			low = k.drive(low.start, low.gear, low.start.s+m.length)
		}
		return low, true
	}
	if record && high.fail == "" {
		high = k.drive(high.start, high.gear, high.start.s+m.length)
	}
	return high, true
}

// periodic repeats the lap from st until it ends at the speed and in the gear
// in which it began. The passage is a contraction (drag forgets), so plain
// repetition converges; a secant step on the squared speed quickens it.
func (k *Solver) periodic(st state, gear int) trip {
	m := k.m
	c := &m.cells[m.home]
	var u0, f0 float64
	for i := range 60 {
		t := k.drive(st, gear, st.s+m.length)
		if t.fail != "" {
			return t
		}
		f := t.end.u - st.u
		if math.Abs(f) <= lapTolerance*st.u && t.gear == gear {
			return t
		}
		next := t.end.u
		if i > 1 && t.gear == gear && f != f0 {
			s := st.u - f*(st.u-u0)/(f-f0)
			if s > 0.25*next && s < 4*next {
				next = s
			}
		}
		u0, f0 = st.u, f
		st.u, gear = math.Min(math.Min(next, k.drives[k.n-1].uLimit), c.capAt(0)), t.gear
	}
	t := k.drive(st, gear, st.s+m.length)
	t.fail = fmt.Sprintf("the lap does not settle: speed at its end %.3f m/s after %.3f m/s at its start", math.Sqrt(t.end.u), math.Sqrt(t.start.u))
	return t
}

// closeGears makes sure that the gear in which the lap began can be reached by
// the braking at its end; if not, it drives again from the gear that can.
func (k *Solver) closeGears(t trip, st state) trip {
	end := st.s + k.m.length
	for range 3 {
		if t.firstGear < 0 || t.gear <= t.firstGear || k.fits(t.gear, t.firstGear) {
			return t
		}
		// Begin as if still braking: hand over the gear and let stretch
		// choose among those that fit.
		g := t.firstGear + 1
		for g < t.gear && !k.fits(t.gear, g) {
			g++
		}
		t = k.drive(st, g, end)
		if t.fail != "" {
			return t
		}
	}
	return t
}

// out drives from the pit exit, at the pit-lane limit, to the start line
// (10.2).
func (k *Solver) out(total []float64) trip {
	k.set(total)
	k.drives[0].slips = true
	st := k.m.outStart()
	end := k.m.length
	if st.s >= end-1e-6 {
		end += k.m.length
	}
	return k.drive(st, k.natural(st.u), end)
}

// outStart is where an out lap begins.
func (m *Model) outStart() state {
	i := m.cellIndex(m.wrap(m.track.PitExit))
	st := state{cell: i, x: m.wrap(m.track.PitExit) - m.cells[i].s, s: m.wrap(m.track.PitExit)}
	u := m.track.PitLimit * m.track.PitLimit
	st.u = math.Min(u, m.cells[i].capAt(st.x))
	return st
}

// Lap simulates a flying lap with the total ratios by gear (engine turns per
// wheel turn, first gear first), with the numerical error from halving every
// step. A set that cannot drive the lap gives a Lap whose Infeasible says why.
func (m *Model) Lap(total []float64) *Lap {
	return m.report(total, true)
}

// OutLap simulates from the pit exit at the pit-lane limit to the start line.
func (m *Model) OutLap(total []float64) *Lap {
	return m.report(total, false)
}

func (m *Model) report(total []float64, flying bool) *Lap {
	if len(total) != m.car.Box.Gears {
		panic("sim: number of ratios is not the box's number of gears")
	}
	k := m.NewSolver()
	k.record = true
	lap := k.lapOf(total, flying)
	if lap.Infeasible != "" {
		return lap
	}
	if fine, err := m.finer(); err == nil {
		f := fine.NewSolver()
		var t float64
		if flying {
			t = f.LapTime(total)
		} else {
			t = f.OutTime(total)
		}
		// Order two or better leaves at most 4/3 of the difference in the
		// coarse result; half as much again covers terms not yet in their
		// asymptotic order, and 10 µs the rounding of event places.
		lap.NumericalError = 2*math.Abs(t-lap.Time) + 1e-5
		if math.IsInf(t, 0) {
			lap.NumericalError = math.Inf(1)
			lap.Warnings = append(lap.Warnings, "on half the step the set cannot drive this lap: a rule is on the edge")
		}
	}
	return lap
}

// SingleGearLap is the flying lap's time (s) in gear g (from 1) alone, and the
// squares of the lowest and highest speeds (m²/s²) on it. The time is +Inf
// where the gear cannot drive it.
func (k *Solver) SingleGearLap(g int, total float64) (time, leastSq, mostSq float64) {
	all := k.n
	defer func() { k.n, k.first = all, 0 }()
	k.first, k.n = g-1, 1 // the solver sees a box of one gear
	k.record = true
	t, _ := k.flying([]float64{total})
	if t.fail != "" {
		return math.Inf(1), 0, 0
	}
	leastSq = math.Inf(1)
	for i := range k.path {
		leastSq = math.Min(leastSq, math.Min(k.path[i].u0, k.path[i].u1))
		mostSq = math.Max(mostSq, math.Max(k.path[i].u0, k.path[i].u1))
	}
	return t.end.t - t.start.t, leastSq, mostSq
}
