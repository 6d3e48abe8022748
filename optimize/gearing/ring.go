package gearing

import (
	"math"

	"layshaft/sim"
)

// A circuit on which no corner resets the speed is lapped flat out. Two kinds
// of lap are possible there:
//
// In one gear all round. Such a lap depends on that gear alone, and any gear of
// a set may be the one. All of these laps are listed.
//
// With at least one upshift. Nowhere is a real car faster than the ideal one,
// so it leaves each upshift no faster than the ideal car would after rolling
// without drive for the shift time; the least lap of an ideal car that must
// make one such pause, wherever it likes, bounds every lap with an upshift.
type ringTable struct {
	f       *frame
	single  [][]ringLap // [g][i]
	shifted float64     // s, bound of laps with an upshift
	good    [][]bool    // [g][i]: laps alone within the time asked for
	leads   [][]bool    // [g][i]: good, or some follower leads to good
}

// ringLap is the lap in one gear all round.
type ringLap struct{ time float64 } // s

func newRingTable(f *frame, e *sim.Ideal, workers int) *ringTable {
	t := &ringTable{f: f, single: make([][]ringLap, f.n), shifted: f.m.LapWithPause(e)}
	reach := f.reachable()
	type job struct{ g, i int }
	var jobs []job
	for g := range f.n {
		t.single[g] = make([]ringLap, len(f.cand[g]))
		for i := range f.cand[g] {
			t.single[g][i].time = math.Inf(1)
			if reach[g][i] {
				jobs = append(jobs, job{g, i})
			}
		}
	}
	f.parallel(workers, len(jobs), func(n int) {
		k := f.m.NewSolver()
		g, i := jobs[n].g, jobs[n].i
		l := &t.single[g][i]
		l.time = k.SingleGearLap(g+1, f.total[g][i])
	})
	return t
}

// bound is a lower bound of the flying lap of a complete set; exact when it
// laps in one gear.
func (t *ringTable) bound(idx []int) float64 {
	return min(t.shifted, t.inOneGear(idx))
}

// inOneGear is the least lap of a complete set in one gear all round.
func (t *ringTable) inOneGear(idx []int) float64 {
	best := math.Inf(1)
	for g := range t.f.n {
		best = min(best, t.single[g][idx[g]].time)
	}
	return best
}

// best is the least lap in one gear that some set drives, with that set.
func (t *ringTable) best(accept func(idx []int) bool) (float64, []int) {
	f := t.f
	least, idx := math.Inf(1), []int(nil)
	for g := range f.n {
		for i := range f.cand[g] {
			if time := t.single[g][i].time; time < least {
				if s := t.setAround(g, i, accept); s != nil {
					least, idx = time, s
				}
			}
		}
	}
	return least, idx
}

// setAround is the first complete set, in order of choices, that laps in gear
// g's candidate i alone; nil when there is none.
func (t *ringTable) setAround(g, i int, accept func(idx []int) bool) []int {
	f := t.f
	idx := make([]int, f.n)
	idx[g] = i
	var up func(h int) bool
	up = func(h int) bool { // choose gear h > g
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
			return up(g + 1)
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
	t.good = make([][]bool, f.n)
	t.leads = make([][]bool, f.n)
	for g := f.n - 1; g >= 0; g-- {
		t.good[g] = make([]bool, len(f.cand[g]))
		t.leads[g] = make([]bool, len(f.cand[g]))
		for i := range f.cand[g] {
			t.good[g][i] = t.single[g][i].time <= most
			t.leads[g][i] = t.good[g][i] || t.shifted <= most
			if g+1 < f.n {
				for _, j := range f.next[g][i] {
					t.leads[g][i] = t.leads[g][i] || t.leads[g+1][j]
				}
			}
		}
	}
}

// mayBe says whether a prefix followed by candidate j can be within the time.
func (t *ringTable) mayBe(prefix []int, j int) bool {
	for g, i := range prefix {
		if t.good[g][i] {
			return true
		}
	}
	return t.leads[len(prefix)][j]
}

// anyGoodBefore says whether a set can lap within the time in a gear before g.
func (t *ringTable) anyGoodBefore(g int) bool {
	for h := range g {
		for _, ok := range t.good[h] {
			if ok {
				return true
			}
		}
	}
	return false
}
