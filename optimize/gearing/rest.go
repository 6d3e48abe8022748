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

// restSlack (s) is taken off what the table says. At a fixed speed the time to
// go is nearly straight in the place; it bends where a banked turn begins.
const restSlack = 0.0008

// placeSlack (s) is taken off beside it: the table's shifts come at the shift
// speeds of (8.2), while the lap moves them. Of the sets within 20 ms of the best
// out lap of saltmere none gained more than 0.22 ms by that. Measured, not proved.
const placeSlack = 3e-4

// newRestTable fills the table from the last gear down, for cars that have lost
// at most limit (s): behind that, the ideal car's time serves. usable says which
// candidates of a gear may stand in a set at all.
func newRestTable(a *account, limit float64, workers int, usable func(g, i int) bool) *restTable {
	f := a.f
	t := &restTable{a: a, limit: limit, to: make([][][][]float64, f.n)}
	za := a.zones[0]
	for g := f.n - 1; g >= 1; g-- {
		t.to[g] = make([][][]float64, len(f.cand[g-1]))
		parallel(workers, len(f.cand[g-1]), func(p int) {
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

// row is one entry of the table; nil when the shift speed lies beyond what
// even the ideal car reaches.
func (t *restTable) row(tr *sim.Trajectory, za *zoneAcct, g, p, i int) []float64 {
	f, m := t.a.f, t.a.m
	cross := f.cross[g-1][p][i]
	v := math.Sqrt(cross)
	if v <= za.v0 || v >= za.v1 {
		return nil
	}
	s0, t0 := za.climb.At(cross)
	ga, gb := t.a.gearOf(g-1, p), t.a.gearOf(g, i)
	uLast := math.Inf(1)
	if g+1 < f.n {
		uLast = 0
		for _, j := range f.next[g][i] {
			uLast = max(uLast, f.cross[g][i][j])
		}
	}
	row := make([]float64, nDelay)
	for d := range nDelay {
		row[d] = math.Inf(1)
		s := s0 + delays[d]
		if s >= za.z.End {
			continue
		}
		if d > 1 && za.at(v, delays[d-1]) > t.limit {
			continue // the node before is already beyond what matters
		}
		at, ok := m.After(m.MomentAt(s, cross), &ga, &gb, &za.z)
		if !ok {
			row[d] = (za.z.End - s) / v // over the line in the pause
			continue
		}
		za.drive(t.a, tr, at, &gb, uLast, ga.LimitSq(), t.limit, t0+delays[d]/v)
		best := tr.Held()
		if g+1 < f.n {
			for _, j := range f.next[g][i] {
				best = min(best, t.onward(tr, g, i, int(j)))
			}
		}
		row[d] = best
	}
	return row
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
	if row == nil {
		return math.Inf(1)
	}
	cross := f.cross[g-1][p][i]
	s0, _ := za.climb.At(cross)
	d := max(s-s0, 0)
	k := nDelay - 2
	for j := 1; j < nDelay-1; j++ {
		if d < delays[j] {
			k = j - 1
			break
		}
	}
	if d > delays[nDelay-1] || math.IsInf(row[k+1], 1) || math.IsInf(row[k], 1) {
		// Past the table: nothing is quicker than the ideal car.
		return m.IdealTime(&za.z, s, cross, t.a.e)
	}
	y := (d - delays[k]) / (delays[k+1] - delays[k])
	return row[k] + (row[k+1]-row[k])*y
}
