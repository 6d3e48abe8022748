package gearing

import (
	"cmp"
	"math"
	"slices"

	"layshaft/sim"
)

// A circuit on which no corner resets the speed is lapped flat out. Two kinds of
// lap are possible there:
//
// In one gear all round. Such a lap depends on that gear alone, and any gear of
// a set may be the one. All of these laps are listed.
//
// In several gears. What goes up comes down, gear by gear, and where nobody brakes
// a shift down costs a pause like a shift up: two pauses for every gear but one.
// With them, and what each stretch loses at least in the best of these gears
// against the ideal car, chains of neighbours are bounded. Those that this leaves
// open are lapped.
type ringTable struct {
	f       *frame
	single  [][]float64 // [g][i]: s, lap in the gear alone
	open    []ringLap   // chains of two gears and more that may be quick, lapped
	shifted float64     // s, bound of laps with shifts that the chains do not tell; +Inf none
	good    [][]bool    // [g][i]: laps alone within the time asked for
	leads   [][]bool    // [g][i]: good, or some follower leads to good
	fair    []ringLap   // of open, those within the time asked for
}

// ringLap is a lap in neighbouring gears, or one, all round.
type ringLap struct {
	time  float64 // s
	bound float64 // s, least lap in all of its gears; 0 of a lap in one gear
	g     int     // lowest gear index
	idx   []int   // candidates from it on
}

// on says whether a set, or what is chosen of it, may have the lap's gears.
func (l *ringLap) on(idx []int) bool {
	for n, i := range l.idx {
		if h := l.g + n; h < len(idx) && idx[h] != i {
			return false
		}
	}
	return true
}

const (
	// openSlack is by how much (s) a set that shifts between the gears of a chain
	// may lap quicker than the solver's lap in a box of these alone: the schedule of
	// either is the best to within 0.1 ms (package sim).
	openSlack = 2e-4
	// openMost is the most chains that are lapped.
	openMost = 5000
)

// newRingTable lists the laps of a frame in which accept admits sets.
func newRingTable(f *frame, e *sim.Ideal, s *Settings, accept func(idx []int) bool) *ringTable {
	t := &ringTable{f: f, single: make([][]float64, f.n), shifted: math.Inf(1)}
	reach := f.reachable()
	type job struct{ g, i int }
	var jobs []job
	for g := range f.n {
		t.single[g] = make([]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			t.single[g][i] = math.Inf(1)
			if reach[g][i] {
				jobs = append(jobs, job{g, i})
			}
		}
	}
	f.parallel(s.Workers, len(jobs), func(n int) {
		k := f.m.NewSolver()
		g, i := jobs[n].g, jobs[n].i
		t.single[g][i] = k.LapInGears(g+1, f.total[g][i])
	})
	least, _ := t.best(accept)
	t.chains(e, least+s.Gap)
	f.parallel(s.Workers, len(t.open), func(n int) {
		l := &t.open[n]
		var totals []float64
		for h, i := range l.idx {
			totals = append(totals, f.total[l.g+h][i])
		}
		l.time = f.m.NewSolver().LapInGears(l.g+1, totals...)
	})
	return t
}

// chains finds the chains of gears in which a lap may take no more than most (s).
func (t *ringTable) chains(e *sim.Ideal, most float64) {
	f := t.f
	round := f.m.IdealRound(e)
	late := most - round.Time
	if round.Time == 0 {
		t.shifted = 0
		return
	}
	if late < 0 {
		return
	}
	x := round.Losses(late)
	pause := make([]float64, f.n-1) // by gear shifted out of
	for g := range pause {
		f.check()
		if pause[g] = math.NaN(); g > 0 && f.m.UpshiftTime(g) == f.m.UpshiftTime(g+1) {
			pause[g] = pause[g-1]
		} else {
			pause[g] = x.Pause(f.m.UpshiftTime(g + 1))
		}
	}
	if !round.Flat {
		t.shifted = round.Time + slices.Min(pause) // braking may bring a gear down for nothing
		return
	}
	n := len(x.Lengths)
	each := make([][][]float64, f.n) // loss by candidate and stretch
	after := make([][][]float64, f.n)
	for g := f.n - 1; g >= 0; g-- {
		each[g], after[g] = make([][]float64, len(f.cand[g])), make([][]float64, len(f.cand[g]))
		f.check()
		for i := range f.cand[g] {
			gear := f.gear[g][i]
			each[g][i] = x.Gear(&gear, nil)
			// The least of any gears that may come after.
			row := make([]float64, n)
			for k := range row {
				row[k] = math.Inf(1)
			}
			if g+1 < f.n {
				for _, j := range f.next[g][i] {
					for k := range row {
						row[k] = min(row[k], each[g+1][j][k], after[g+1][j][k])
					}
				}
			}
			after[g][i] = row
		}
	}
	// lost is what a lap loses with n pauses in gears of which the least losses are
	// given: a stretch loses nothing but in its pauses where one falls.
	lost := func(row []float64, pauses int, tau float64) float64 {
		sum, dear := 0.0, 0.0
		for k, loss := range row {
			sum += loss
			dear = max(dear, loss/x.Lengths[k]*x.Speeds[k])
		}
		return sum - float64(pauses)*tau*dear
	}
	var idx []int
	rows := make([][]float64, f.n)
	for g := range rows {
		rows[g] = make([]float64, n)
	}
	more := make([]float64, n)
	var down func(g, i, lowest int, paid, tau float64)
	down = func(g, i, lowest int, paid, tau float64) {
		if g+1 == f.n || len(t.open) > openMost {
			return
		}
		paid, tau = paid+2*pause[g], max(tau, f.m.UpshiftTime(g+1))
		row, depth := rows[g], g-lowest+1
		for _, j := range f.next[g][i] {
			own := each[g+1][j]
			if math.IsInf(slices.Min(own), 1) {
				continue // too short to be driven in anywhere
			}
			last := each[lowest][idx[0]]
			if g > lowest {
				last = rows[g-1]
			}
			for k := range row {
				row[k] = min(last[k], own[k])
				more[k] = min(row[k], after[g+1][j][k])
			}
			idx = append(idx, int(j))
			if all := paid + lost(row, 2*depth, tau); all <= late {
				t.open = append(t.open, ringLap{bound: round.Time + all, g: lowest, idx: slices.Clone(idx)})
			}
			// With gears beyond it there are pauses beyond these.
			if paid+2*slices.Min(pause)+lost(more, 2*depth, tau) <= late {
				down(g+1, int(j), lowest, paid, tau)
			}
			idx = idx[:len(idx)-1]
		}
	}
	for g := range f.n - 1 {
		f.check()
		for i := range f.cand[g] {
			idx = append(idx[:0], i)
			if len(f.next[g][i]) > 0 && !math.IsInf(slices.Min(each[g][i]), 1) {
				down(g, i, g, 0, 0)
			}
		}
	}
	if len(t.open) > openMost {
		t.open, t.shifted = nil, round.Time+2*slices.Min(pause)
	}
}

// bound is a lower bound of the flying lap of a complete set; exact when it
// laps in one gear.
func (t *ringTable) bound(idx []int) float64 {
	b := min(t.shifted, t.inOneGear(idx))
	for n := range t.open {
		if l := &t.open[n]; l.on(idx) {
			b = min(b, l.time-openSlack)
		}
	}
	return b
}

// least is a lower bound of the flying lap of every set in which a lap takes no
// more than best (s), and of the rest that it takes longer.
func (t *ringTable) least(best float64, accept func(idx []int) bool) float64 {
	b := min(t.shifted, best)
	for n := range t.open {
		if l := &t.open[n]; l.time-openSlack < b && t.setAround(*l, accept) != nil {
			b = l.time - openSlack
		}
	}
	return b
}

// inOneGear is the least lap of a complete set in one gear all round.
func (t *ringTable) inOneGear(idx []int) float64 {
	best := math.Inf(1)
	for g := range t.f.n {
		best = min(best, t.single[g][idx[g]])
	}
	return best
}

// best is the quickest set among those around the best gears and chains of gears,
// with its lap.
func (t *ringTable) best(accept func(idx []int) bool) (float64, []int) {
	f := t.f
	laps := slices.Clone(t.open)
	for g := range f.n {
		for i, time := range t.single[g] {
			if !math.IsInf(time, 1) {
				laps = append(laps, ringLap{time: time, g: g, idx: []int{i}})
			}
		}
	}
	slices.SortStableFunc(laps, func(a, b ringLap) int { return cmp.Compare(a.time, b.time) })
	least, idx := math.Inf(1), []int(nil)
	k := f.m.NewSolver()
	for _, l := range laps {
		if l.time-openSlack >= least {
			break
		}
		s := t.setAround(l, accept)
		if s == nil {
			continue
		}
		if time := k.LapTime(f.totals(s, nil)); time < least {
			least, idx = time, s
		}
	}
	return least, idx
}

// setAround is the first complete set, in order of choices, that can drive a lap;
// nil when there is none.
func (t *ringTable) setAround(l ringLap, accept func(idx []int) bool) []int {
	f, g := t.f, l.g
	idx := make([]int, f.n)
	copy(idx[g:], l.idx)
	var up func(h int) bool
	up = func(h int) bool { // choose gear h beyond the chain
		if h == f.n {
			return accept(idx)
		}
		for _, j := range f.next[h-1][idx[h-1]] {
			idx[h] = int(j)
			if up(h + 1) {
				return true
			}
		}
		return false
	}
	var down func(h int) bool
	down = func(h int) bool { // choose gear h < g
		if h < 0 {
			return up(g + len(l.idx))
		}
		for p := range f.cand[h] {
			if math.IsNaN(f.cross[h][p][idx[h+1]]) {
				continue
			}
			idx[h] = p
			if down(h - 1) {
				return true
			}
		}
		return false
	}
	if down(g - 1) {
		return idx
	}
	return nil
}

// accept marks the pairs through which sets within most may go.
func (t *ringTable) accept(most float64) {
	f := t.f
	t.good, t.leads, t.fair = make([][]bool, f.n), make([][]bool, f.n), nil
	for n := range t.open {
		if t.open[n].time-openSlack <= most {
			t.fair = append(t.fair, t.open[n])
		}
	}
	for g := f.n - 1; g >= 0; g-- {
		t.good[g], t.leads[g] = make([]bool, len(f.cand[g])), make([]bool, len(f.cand[g]))
		for i := range f.cand[g] {
			t.good[g][i] = t.single[g][i] <= most
			t.leads[g][i] = t.good[g][i] || t.shifted <= most
			if g+1 < f.n {
				for _, j := range f.next[g][i] {
					t.leads[g][i] = t.leads[g][i] || t.leads[g+1][j]
				}
			}
		}
	}
}

// mayBe says whether a set that begins with chosen can be within the time.
func (t *ringTable) mayBe(chosen []int) bool {
	for g, i := range chosen {
		if t.good[g][i] {
			return true
		}
	}
	for n := range t.fair {
		if t.fair[n].on(chosen) {
			return true
		}
	}
	last := len(chosen) - 1
	return t.leads[last][chosen[last]]
}

// usable says whether a set within the time may have candidate i of gear g.
func (t *ringTable) usable(g, i int) bool {
	if t.leads[g][i] || len(t.fair) > 0 {
		return true
	}
	for h := range g {
		if slices.Contains(t.good[h], true) {
			return true
		}
	}
	return false
}
