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
	return k.timeOf(passage{kind: Flying, total: total})
}

// OutTime is the out lap's time (s), +Inf where it cannot be driven.
func (k *Solver) OutTime(total []float64) float64 {
	return k.timeOf(passage{kind: Out, total: total})
}

// flying drives the lap whose end state is its start state (10.1). Where a
// corner resets the speed one passage is enough; elsewhere the passage is
// repeated until the speed repeats itself.
func (k *Solver) flying(total []float64) (trip, bool) {
	k.set(total)
	m := k.m
	c := &m.cells[m.home]
	st := state{cell: m.home, s: c.s}
	if st.u = m.before(m.home).cap1; m.homeOnCap && st.u <= k.drives[k.n-1].uLimit {
		if t := k.fromHome(st); t.fail != "" || t.end.u >= st.u*(1-1e-7) {
			return t, false
		}
	}
	return k.flatOut(st), true
}

// flatOut is the lap of a circuit on which nothing resets the speed. A set can
// have several laps that repeat themselves: in one gear all round, in any gear
// that can, and with shifts. The driver takes the quickest.
func (k *Solver) flatOut(st state) trip {
	m := k.m
	c := &m.cells[m.home]
	record := k.record
	k.record, k.repeats = false, true
	defer func() { k.repeats = false }()
	v := math.Sqrt(k.drives[k.n-1].uShift)
	st.u = min(0.64*v*v, c.capAt(0))
	best := k.periodic(st, k.natural(st.u))
	alone := -1
	for g := k.n - 1; g >= 0; g-- {
		d := &k.drives[g]
		if best.fail == "" && m.length/math.Sqrt(d.uLimit) >= best.end.t-best.start.t {
			continue // not even at its limiter all round
		}
		k.only = g + 1
		st.u = min(d.uShift, c.capAt(0))
		t := k.periodic(st, g)
		k.only = 0
		if t.fail == "" && t.gear == g && (best.fail != "" || t.end.t-t.start.t < best.end.t-best.start.t) {
			best, alone = t, g
		}
	}
	k.record = record
	if record && best.fail != "" {
		return k.periodic(best.start, k.natural(best.start.u)) // with its reason
	}
	if record {
		k.only = alone + 1
		k.gears = append(k.gears[:0], best.gear)
		best = k.drive(best.start, k.gears, best.start.s+m.length, -1)
		k.only = 0
	}
	return best
}

// fromHome drives the lap from the slowest place, where the lap closes, in the
// best gear from which and to which the braking there leads.
func (k *Solver) fromHome(st state) trip {
	k.gears = k.gears[:0]
	nat := k.natural(st.u)
	for g := max(nat-1, 0); g < k.n && len(k.gears) < startGears; g++ {
		if k.pullsAt(st, g) && st.u <= k.drives[g].uLimit && (g >= nat || !k.pullsAt(st, nat)) {
			k.gears = append(k.gears, g)
		}
	}
	if len(k.gears) == 0 {
		t := trip{start: st, last: -1}
		on, _ := k.throttleOn(st, nat, st.s+k.m.length)
		k.why = ""
		k.because("at %s, throttle-on at %.1f km/h: gear %d would turn %.0f rpm, below the pulling rpm of %.0f", on, nat, k.m.body.rpmAt(math.Sqrt(on.u), k.drives[nat].perV), k.m.body.pulling)
		t.fail = k.failure(st)
		return t
	}
	end := st.s + k.m.length
	k.early = k.gears[len(k.gears)-1]+1 < k.n && len(k.gears) < startGears
	t := k.drive(st, k.gears, end, -1)
	if t.fail != "" || k.closes(t) {
		return t
	}
	// The quickest way ends in a gear from which the braking does not come
	// down to the gear it began in: each beginning by itself, taller ones too.
	best := trip{fail: k.notClosing(t)}
	lowest := k.gears[0]
	for g := lowest; g < k.n; g++ {
		k.gears = append(k.gears[:0], g)
		if !k.pullsAt(st, g) {
			break
		}
		on, _ := k.throttleOn(st, g, end)
		t := k.driveClosing(st, g, end, on.t-st.t)
		if t.fail == "" && (best.fail != "" || t.end.t < best.end.t) {
			best = t
		}
	}
	if best.fail != "" && t.gear < t.firstGear {
		// No set of gears in which it closes: it has come too short for the
		// natural gear, which is then taken.
		k.gears = append(k.gears[:0], lowest)
		return k.drive(st, k.gears, end, -1)
	}
	if best.fail == "" && k.record {
		on, _ := k.throttleOn(st, best.firstGear, end)
		best = k.driveClosing(st, best.firstGear, end, on.t-st.t)
	}
	return best
}

// pullsAt says whether gear g turns fast enough at throttle-on after st.
func (k *Solver) pullsAt(st state, g int) bool {
	on, full := k.throttleOn(st, g, st.s+k.m.length)
	return !full || k.m.body.rpmAt(math.Sqrt(on.u), k.drives[g].perV) >= k.m.body.pulling
}

// closes says whether the braking at the lap's end leads to the gear in which
// it began.
func (k *Solver) closes(t trip) bool {
	if t.gear < t.firstGear {
		return false // no gear taller than the one engaged
	}
	on, _ := k.throttleOn(t.start, t.firstGear, t.start.s+k.m.length)
	return k.comesDown(&k.arrivals[t.last], t.firstGear, t.end.t+on.t-t.start.t)
}

// driveClosing drives the lap that begins in gear g and may end in any gear from
// which the braking comes down to g within spare (s) of the apex.
func (k *Solver) driveClosing(st state, g int, end, spare float64) trip {
	k.gears = append(k.gears[:0], g)
	k.spare = spare
	t := k.drive(st, k.gears, end, g)
	k.spare = 0
	return t
}

func (k *Solver) notClosing(t trip) string {
	if !k.record {
		return "not feasible"
	}
	return fmt.Sprintf("at %s: the braking before it leaves no time to come down from gear %d to gear %d below the over-rev limit of %.0f rpm", k.m.track.Place(k.m.wrap(t.end.s)), k.first+t.gear+1, k.first+t.firstGear+1, k.m.body.overRev)
}

// periodic repeats the lap from st until it ends at the speed and in the gear
// in which it began. The passage is a contraction (drag forgets), so plain
// repetition converges; a secant step on the squared speed quickens it.
func (k *Solver) periodic(st state, gear int) trip {
	m := k.m
	c := &m.cells[m.home]
	var u0, f0 float64
	pass := func() trip {
		k.gears = append(k.gears[:0], gear)
		return k.drive(st, k.gears, st.s+m.length, -1)
	}
	for i := range 60 {
		t := pass()
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
		st.u, gear = min(min(next, k.drives[k.n-1].uLimit), c.capAt(0)), t.gear
	}
	t := pass()
	t.fail = fmt.Sprintf("the lap does not settle: speed at its end %.3f m/s after %.3f m/s at its start", math.Sqrt(t.end.u), math.Sqrt(t.start.u))
	return t
}

// out drives from the pit exit, at the pit-lane limit, to the start line
// (10.2).
func (k *Solver) out(total []float64) trip {
	k.set(total)
	k.drives[0].slips = true
	whole := k.m
	k.m = whole.open()
	defer func() { k.m = whole }()
	st := k.m.outStart()
	end := k.m.length
	if st.s >= end-1e-6 {
		end += k.m.length
	}
	return k.drive(st, k.anyFrom(st.u), end, -1)
}

// anyFrom lists the gears worth starting in at v² = u where none is engaged.
func (k *Solver) anyFrom(u float64) []int {
	k.gears = k.gears[:0]
	for g := k.natural(u); g < k.n && len(k.gears) < startGears; g++ {
		k.gears = append(k.gears, g)
	}
	return k.gears
}

// outStart is where an out lap begins.
func (m *Model) outStart() state {
	i := m.cellIndex(m.wrap(m.track.PitExit))
	s := m.wrap(m.track.PitExit)
	st := state{cell: i, x: max(s-m.cells[i].s, 0), s: s} // cells are found to 1 nm
	u := m.track.PitLimit * m.track.PitLimit
	st.u = min(u, m.cells[i].capAt(st.x))
	return st
}

// passage is what a solver is asked to drive.
type passage struct {
	kind  Kind
	total []float64 // engine turns per wheel turn by gear
	speed float64   // m/s, of a restart or of a lap that follows another
	next  bool      // a lap that begins as another ended, in gear
	gear  int       // index
}

// carryOut drives a passage; settled says that nothing on the lap resets the
// speed.
func (k *Solver) carryOut(p passage) (t trip, settled bool) {
	switch {
	case p.next:
		return k.follow(p.total, p.speed, p.gear), true
	case p.kind == Out:
		return k.out(p.total), false
	case p.kind == Start:
		return k.start(p.total), false
	case p.kind == Restart:
		return k.restart(p.total, p.speed), false
	}
	return k.flying(p.total)
}

// timeOf is the time (s) of a passage, +Inf where it cannot be driven.
func (k *Solver) timeOf(p passage) float64 {
	k.record = false
	t, _ := k.carryOut(p)
	if t.fail != "" {
		return math.Inf(1)
	}
	return t.end.t - t.start.t
}

// Lap simulates a flying lap with the total ratios by gear (engine turns per
// wheel turn, first gear first), with the numerical error from halving every
// step. A set that cannot drive the lap gives a Lap whose Infeasible says why.
func (m *Model) Lap(total []float64) *Lap {
	return m.report(passage{kind: Flying, total: total})
}

// LapOnly is Lap without the numerical error, which is NaN: it takes no second mesh.
func (m *Model) LapOnly(total []float64) *Lap {
	p := passage{kind: Flying, total: total}
	m.wantGears(total)
	lap := m.recorder().lapOf(p)
	lap.NumericalError = math.NaN()
	return lap
}

// OutLap simulates from the pit exit at the pit-lane limit to the start line.
func (m *Model) OutLap(total []float64) *Lap {
	return m.report(passage{kind: Out, total: total})
}

func (m *Model) report(p passage) *Lap {
	m.wantGears(p.total)
	lap := m.recorder().lapOf(p)
	if lap.Infeasible != "" {
		return lap
	}
	if fine, err := m.finer(); err == nil {
		t := fine.NewSolver().timeOf(p)
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

func (m *Model) wantGears(total []float64) {
	if len(total) != m.car.Box.Gears {
		panic("sim: number of ratios is not the box's number of gears")
	}
}

// recorder is a solver that keeps what a report needs.
func (m *Model) recorder() *Solver {
	k := m.NewSolver()
	k.record = true
	return k
}

// LapInGears is the flying lap's time (s) in gear g (from 1) and those after it,
// as many as there are total ratios, alone; +Inf where they cannot drive it.
func (k *Solver) LapInGears(g int, total ...float64) float64 {
	all := k.n
	defer func() { k.n, k.first = all, 0 }()
	k.first, k.n = g-1, len(total) // the solver sees a box of these gears
	return k.LapTime(total)
}
