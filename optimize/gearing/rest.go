package gearing

import (
	"math"

	"layshaft/sim"
)

// restTable is the time to go after a shift, for a lap that is one zone: there
// the best completion of a prefix is a backward dynamic programme over gears
// with the place of the shift as state, and no chain has to serve two zones.
//
// to[g][p][i][d] is the least time (s) from the moment at which gear g-1's
// candidate p reaches its shift speed into gear g's candidate i, delays[d]
// behind the ideal car, to the end of the lap. Between the nodes it is read by
// straight lines; they are off by less than restSlack (the search checks every
// score against its bound).
type restTable struct {
	a     *account
	limit float64 // s, loss of the cars that matter
	to    [][][][]float64
}

// restSlack (s) is taken off what the table says, beside what its bends let
// expect. At a fixed speed the time to go is nearly straight in the place; it bends
// where a banked turn begins, and where few pairs make an ideal car whose pull
// jumps.
const restSlack = 0.0003

// restRoom (s) is by how much more than matters a car has to lose at two neighbouring
// nodes for what lies between them not to matter either.
const restRoom = 0.002

// newRestTable fills the table from the last gear down, for cars that have lost
// at most limit (s): behind that, the ideal car's time serves. usable says which
// candidates of a gear may stand in a set at all.
func newRestTable(a *account, limit float64, workers int, usable func(g, i int) bool) *restTable {
	f := a.f
	t := &restTable{a: a, limit: limit + restRoom, to: make([][][][]float64, f.n)}
	za := a.zones[0]
	for g := f.n - 1; g >= 1; g-- {
		t.to[g] = make([][][]float64, len(f.cand[g-1]))
		f.parallel(workers, len(f.cand[g-1]), func(p int) {
			rows := make([][]float64, len(f.cand[g]))
			var tr sim.Trajectory
			for _, i := range f.next[g-1][p] {
				if usable(g, int(i)) {
					rows[i] = t.row(&tr, za, g, p, int(i))
				}
			}
			t.to[g][p] = rows
		})
	}
	return t
}

// row is one entry of the table; nil when the shift speed lies outside the ideal
// car's first climb.
func (t *restTable) row(tr *sim.Trajectory, za *zoneAcct, g, p, i int) []float64 {
	r := t.rowOf(g, p, i)
	if r.v <= za.v0 || r.v >= za.v1 {
		return nil
	}
	row := make([]float64, nDelay)
	for d := range nDelay {
		row[d] = math.Inf(1)
		if d > 1 && za.at(r.v, delays[d-1]) > t.limit {
			continue // the node before is already beyond what matters
		}
		row[d] = r.value(tr, delays[d])
	}
	return row
}

// restRow is what the values of an entry have in common.
type restRow struct {
	t      *restTable
	g, i   int
	ga, gb sim.Gear
	v      float64 // m/s, at the shift
	s, at  float64 // m and s, where and when the ideal car has that speed
}

func (t *restTable) rowOf(g, p, i int) restRow {
	cross := t.a.f.cross[g-1][p][i]
	r := restRow{t: t, g: g, i: i, ga: t.a.gearOf(g-1, p), gb: t.a.gearOf(g, i), v: math.Sqrt(cross)}
	if za := t.a.zones[0]; r.v > za.v0 && r.v < za.v1 {
		r.s, r.at = za.climb.At(cross)
	}
	return r
}

// value is the time to go (s) from the shift, behind metres behind the ideal car;
// +Inf past the end of the lap.
func (r *restRow) value(tr *sim.Trajectory, behind float64) float64 {
	f, m, za := r.t.a.f, r.t.a.m, r.t.a.zones[0]
	s := r.s + behind
	if s >= za.z.End {
		return math.Inf(1)
	}
	at, ok := m.After(m.MomentAt(s, r.v*r.v), &r.ga, &r.gb, &za.z)
	if !ok {
		return (za.z.End - s) / r.v // over the line in the pause
	}
	za.drive(r.t.a, tr, at, &r.gb, f.most[r.g][r.i], r.ga.LimitSq(), r.t.limit, r.at+behind/r.v)
	best := tr.Held()
	if r.g+1 < f.n {
		for _, j := range f.next[r.g][r.i] {
			best = min(best, r.t.onward(tr, r.g, r.i, int(j)))
		}
	}
	return best
}

// onward is a lower bound of the clock (s) at the end of the lap for a run in
// gear g's candidate i that goes on with candidate j, less restSlack, which the
// caller takes off; +Inf where the run does not come to the shift.
func (t *restTable) onward(tr *sim.Trajectory, g, i, j int) float64 {
	m, za := t.a.m, t.a.zones[0]
	at, ok := m.Crosses(tr, t.a.f.cross[g][i][j])
	best := math.Inf(1)
	if ok {
		best = at.Clock() + t.after(g+1, i, j, at.Distance())
		best -= t.a.moveGain(0, g, i, j)
	}
	for _, gate := range tr.Gates() {
		// A shift before a no-shift place: nothing is quicker than the ideal car.
		if at, ok := m.At(tr, gate); ok {
			best = min(best, at.Clock()+m.IdealTime(&za.z, at.Distance(), at.SpeedSq(), t.a.e))
		}
	}
	return best
}

// after is a lower bound of the time to go (s) from a shift at s into gear g's
// candidate i, less restSlack, which the caller takes off.
func (t *restTable) after(g, p, i int, s float64) float64 {
	f, m := t.a.f, t.a.m
	row := t.to[g][p][i]
	za := t.a.zones[0]
	cross := f.cross[g-1][p][i]
	if v := math.Sqrt(cross); row == nil && (v <= za.v0 || v >= za.v1) {
		// Outside the first climb, as where wind makes a later one faster.
		return t.drive(g, p, i, s)
	}
	if row == nil {
		return math.Inf(1) // no set of interest has them
	}
	s0, _ := za.climb.At(cross)
	d := max(s-s0, 0)
	k := nDelay - 2
	for j := 1; j < nDelay-1; j++ {
		if d < delays[j] {
			k = j - 1
			break
		}
	}
	if d <= delays[nDelay-1] && math.IsInf(row[k], 1) && math.IsInf(row[k+1], 1) {
		return math.Inf(1) // whatever follows, more is lost than matters
	}
	if d > delays[nDelay-1] || math.IsInf(row[k+1], 1) || math.IsInf(row[k], 1) {
		// Past the table: nothing is quicker than the ideal car.
		return m.IdealTime(&za.z, s, cross, t.a.e)
	}
	y := (d - delays[k]) / (delays[k+1] - delays[k])
	return row[k] + (row[k+1]-row[k])*y - bend(row, k)
}

// drive is after by a run: the table tells only of the first climb.
func (t *restTable) drive(g, p, i int, s float64) float64 {
	f, m, za := t.a.f, t.a.m, t.a.zones[0]
	ga, gb, cross := t.a.gearOf(g-1, p), t.a.gearOf(g, i), f.cross[g-1][p][i]
	at, ok := m.After(m.MomentAt(s, cross), &ga, &gb, &za.z)
	if !ok {
		return (za.z.End - s) / math.Sqrt(cross)
	}
	var tr sim.Trajectory
	za.drive(t.a, &tr, at, &gb, math.Inf(1), ga.LimitSq(), math.Inf(1), 0)
	best := tr.Held()
	if g+1 < f.n {
		for _, j := range f.next[g][i] {
			best = min(best, t.onward(&tr, g, i, int(j)))
		}
	}
	return best
}

// bend is what a row may be off between its nodes k and k+1: twice what the
// change of its slope there makes half way.
func bend(row []float64, k int) float64 {
	slope := func(k int) float64 { return (row[k+1] - row[k]) / (delays[k+1] - delays[k]) }
	most, here := 0.0, slope(k)
	for _, n := range [2]int{k - 1, k + 1} {
		if n >= 0 && n+1 < len(row) && !math.IsInf(row[n], 1) && !math.IsInf(row[n+1], 1) {
			most = max(most, math.Abs(slope(n)-here))
		}
	}
	return 0.25 * most * (delays[k+1] - delays[k])
}
