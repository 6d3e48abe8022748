package gearing

import (
	"cmp"
	"math"
	"slices"

	"layshaft/sim"
)

// ends is what a car still loses in a zone, at least, that is in a gear at some
// speed, some way behind the ideal car, whatever gears follow. Loss still to come
// hardly depends on the way behind, so a few runs in each gear tell it at all
// speeds: from the last gear down, each with the best that may follow it. Between
// two runs the lesser serves, less endsShare of it and endsSlack.
//
// What a zone loses alone is exact where the charges of charges.go lie some
// tenths below; but each zone may take followers of its own.
type ends struct {
	za     *zoneAcct
	limit  float64       // s, loss from which on a run is given up
	curves [][][]curve   // [g][i]; only while they are made
	points [][][][]point // [g][i][node]: the curves, the least behind first
	begins [][]float64   // [g][i]: s, least loss of the zone begun in the gear; +Inf where it may not be
	lowest [][]float64   // [g][i]: m/s, least speed at which the gear may be entered
	later  [][]float64   // [g][i]: s, least loss of a zone that begins in a gear after gear g's candidate i
}

// curve is one run: by node from k0 on how far behind it is (m), what it has lost
// (s), and the least that it loses in all when the gear is not left before (s).
type curve struct {
	k0      int
	behind  []float64
	lost    []float64
	all     []float64
	atStart bool // begun with the zone
}

// point is a curve in the cell after a node: at the node, and by how much more at
// its end. Tenths of a microsecond and of a millimetre are enough for it.
type point struct {
	behind, more float32 // m
	lost, growth float32 // s
	all          float32 // s
	bend         float32 // s, by how much lost may be off between the nodes
}

// Where the two runs next to a car are far apart, what it still loses may lie a
// little below both: endsWide of every metre beyond endsNear between them is taken
// off too. TestEnds drives between the runs.
const (
	endsShare = 0.015
	endsSlack = 2e-4 // s
	endsNear  = 6    // m
	endsWide  = 8e-5 // s/m
)

// aloneSlack (s) is how far off the ends of a zone may be after all: no state of
// TestEnds' thousands is off by more. It is taken off the sum over the zones, of which
// the others have room to spare.
const aloneSlack = 8e-4

// curveDelays (read-only) are how far behind (m) the runs begin.
var curveDelays = [...]float64{0, 2, 5, 10, 18, 30, 50, 85, 140, 230}

// curveEvery is how many nodes apart the runs begin.
const curveEvery = 16

// enteredLeast is the share of the least shift speed into a gear below which it is
// entered only at its pulling rpm or above.
const enteredLeast = 0.82

// oneZone says whether the lap is one zone that ends at the line: then the time to
// go has a table of its own (rest.go).
func (a *account) oneZone() bool { return len(a.zones) == 1 && a.zones[0].z.Last }

// prepare makes what the tree asks of the widest budgets.
func (a *account) prepare() {
	a.memory = newMemory(a)
	a.ends = make([]*ends, len(a.zones))
	for z := range a.zones {
		a.ends[z] = &ends{za: a.zones[z], limit: a.levels[0].zones[z].limit}
	}
	f := a.f
	reach := f.reachable()
	if a.oneZone() {
		reach = make([][]bool, f.n) // rest.go tells it
		for g := range reach {
			reach[g] = make([]bool, len(f.cand[g]))
		}
	}
	type job struct{ z, i int }
	for g := f.n - 1; g >= 0; g-- {
		var jobs []job
		for z, e := range a.ends {
			if e.curves == nil {
				e.curves, e.points = make([][][]curve, f.n), make([][][][]point, f.n)
				e.later, e.lowest, e.begins = make([][]float64, f.n), make([][]float64, f.n), make([][]float64, f.n)
			}
			e.curves[g], e.points[g] = make([][]curve, len(f.cand[g])), make([][][]point, len(f.cand[g]))
			e.begins[g] = make([]float64, len(f.cand[g]))
			e.later[g], e.lowest[g] = make([]float64, len(f.cand[g])), make([]float64, len(f.cand[g]))
			for i := range f.cand[g] {
				if !a.oneZone() {
					e.later[g][i], e.begins[g][i] = math.Inf(1), math.Inf(1)
				}
				if reach[g][i] {
					jobs = append(jobs, job{z, i})
				}
			}
		}
		workers := max(a.workers, 1)
		scratch := make(chan *sim.Trajectory, workers)
		for range workers {
			scratch <- &sim.Trajectory{}
		}
		f.parallel(workers, len(jobs), func(n int) {
			t := <-scratch
			a.ends[jobs[n].z].fill(a, jobs[n].z, g, jobs[n].i, t)
			scratch <- t
		})
	}
}

// fill makes the curves of gear g's candidate i and what may be begun in after it.
func (e *ends) fill(a *account, z, g, i int, t *sim.Trajectory) {
	f, za := a.f, e.za
	if g+1 < f.n {
		for _, j := range f.next[g][i] {
			e.later[g][i] = min(e.later[g][i], e.later[g+1][j], e.begins[g+1][j])
		}
	}
	pulls := a.memory.pulls[z][g][i]
	if len(za.s) < 2 {
		if pulls {
			e.begins[g][i] = 0
		}
		return
	}
	defer e.sort(g, i)
	gear := a.gearOf(g, i)
	if pulls && gear.LimitSq() >= za.z.Start.SpeedSq()*(1-1e-9) {
		c := e.run(a, g, i, &gear, za.z.Start, t)
		c.atStart = true
		e.begins[g][i] = max(0, c.all[0]*(1-endsShare)-endsSlack)
		e.curves[g][i] = append(e.curves[g][i], c)
	}
	if g == 0 {
		return
	}
	low := math.Inf(1)
	for p := range f.cand[g-1] {
		if u := f.cross[g-1][p][i]; !math.IsNaN(u) {
			low = min(low, math.Sqrt(u))
		}
	}
	low = min(enteredLeast*low, math.Sqrt(a.m.PullSq(&gear)))
	e.lowest[g][i] = low
	k := za.spotAt(max(low, za.v0)).k
	if low > za.v1 {
		return
	}
	for ; k < len(za.s); k += curveEvery {
		vk := za.nodeV(za.k0 + k)
		if vk*vk > gear.LimitSq() {
			break
		}
		next := za.nodeV(za.k0 + min(k+curveEvery, len(za.s)-1))
		for _, behind := range curveDelays {
			s := za.s[k] + behind
			if s >= za.z.End {
				break
			}
			if e.near(g, i, k, behind) || a.m.LimitSq(s) < vk*vk*(1-1e-4) {
				continue
			}
			at := a.m.MomentAt(s, vk*vk)
			at.Sooner(-(za.t[k] + behind/vk))
			e.curves[g][i] = append(e.curves[g][i], e.run(a, g, i, &gear, at, t))
			if za.low(next, behind) > e.limit {
				break // as far behind as matters where the next ones begin
			}
		}
	}
}

// near says whether a curve of a gear passes a node about so far behind (m).
func (e *ends) near(g, i, k int, behind float64) bool {
	for n := range e.curves[g][i] {
		c := &e.curves[g][i][n]
		if x := k - c.k0; x >= 0 && x < len(c.lost) && math.Abs(c.behind[x]-behind) <= 1+0.25*behind {
			return true
		}
	}
	return false
}

// run makes a curve from a moment whose clock is that of a car that has lost no
// more than it must.
func (e *ends) run(a *account, g, i int, gear *sim.Gear, from sim.Moment, t *sim.Trajectory) curve {
	f, za := a.f, e.za
	down := 0.0
	if g > 0 {
		down = a.downTo(g, i)
	}
	za.drive(a, t, from, gear, f.most[g][i], down, math.Inf(1), 0)
	total := t.Held() - za.z.Ideal // loss at the end
	v := math.Sqrt(from.SpeedSq())
	c := curve{}
	if v > za.nodeV(za.k0)+1e-9 {
		c.k0 = int(math.Ceil(v/cellV-1e-9)) - za.k0
	}
	room := make([]float64, 3*(len(za.s)-c.k0)+1)
	c.behind, c.lost = room[:0:len(za.s)-c.k0], room[len(za.s)-c.k0:len(za.s)-c.k0:2*(len(za.s)-c.k0)]
	next := 0
	for k := c.k0; k < len(za.s); k++ {
		vk := za.nodeV(za.k0 + k)
		at, ok := a.m.Reaches(t, vk*vk, &next)
		if !ok {
			break
		}
		c.behind = append(c.behind, at.Distance()-za.s[k])
		c.lost = append(c.lost, za.lostAt(a, k, &at))
	}
	// The best that may follow, shifted at any node from there on.
	c.all = room[2*(len(za.s)-c.k0):][:len(c.lost)+1]
	for n := range c.all {
		c.all[n] = total
	}
	if at, ok := a.m.Crosses(t, za.v1*za.v1); ok && g+1 < f.n && len(c.lost) > 0 {
		// Above the first climb's top, as on a later climb with the wind: there shifts
		// are not looked at.
		n := len(c.lost) - 1
		c.all[n] = min(c.all[n], za.mark(a, &at).lost)
	}
	if g+1 < f.n && za.shift[g] != nil {
		freed, out := false, 0.0
		if at, ok := a.m.Crosses(t, gear.ShiftSq()); ok {
			// The last place for a shift lies between two nodes.
			n := int(math.Sqrt(gear.ShiftSq())/cellV) - za.k0 - c.k0
			n = max(0, min(n, len(c.behind)-1))
			if n < len(c.all) {
				c.all[n] = min(c.all[n], e.freed(a, g, i, gear, at))
			}
		}
		for _, gate := range t.Gates() {
			// Before a no-shift place at whatever speed, which may lie between two nodes.
			if at, ok := a.m.At(t, gate); ok {
				n := max(0, min(int(math.Sqrt(at.SpeedSq())/cellV)-za.k0-c.k0, len(c.all)-1))
				c.all[n] = min(c.all[n], e.freed(a, g, i, gear, at))
			}
		}
		for n := range c.behind {
			k, d := c.k0+n, max(c.behind[n], 0)
			vk := za.nodeV(za.k0 + k)
			if a.m.NoShiftAt(za.s[k] + d) {
				if !freed {
					// Out of a no-shift place at whatever speed it has come to.
					out = math.Inf(1)
					if at, ok := a.m.Crosses(t, vk*vk); ok {
						out = e.freed(a, g, i, gear, at)
					}
					freed = true
				}
				c.all[n] = min(c.all[n], out)
				continue
			}
			freed = false
			s1, u1 := a.m.Coast(za.s[k]+d, vk*vk, gear, gear)
			v1 := math.Sqrt(u1)
			loss := across(&za.shift[g][k], d)
			if math.IsInf(loss, 1) {
				continue
			}
			sp := za.spotAt(v1)
			d1 := max(0, s1-za.place(float64(sp.k)+sp.f))
			least := math.Inf(1)
			for _, j := range f.next[g][i] {
				if least == 0 {
					break
				}
				if s1 >= za.z.End {
					least = 0
				} else if v1 >= e.lowest[g+1][j] {
					least = min(least, e.still(g+1, int(j), sp, d1))
				}
			}
			c.all[n] = min(c.all[n], c.lost[n]+loss+least)
		}
	}
	for n := len(c.lost) - 1; n >= 0; n-- {
		c.all[n] = min(c.all[n], c.all[n+1])
	}
	return c
}

// lostAt is what a car has lost that reaches the speed of node k at a moment.
func (a *zoneAcct) lostAt(lap *account, k int, at *sim.Moment) float64 {
	d, v := at.Distance()-a.s[k], a.nodeV(a.k0+k)
	if d >= 0 && d <= delays[nDelay-1] && math.Abs(at.SpeedSq()-v*v) < 1e-9*v*v {
		i := 0
		for d > delays[i+1] {
			i++
		}
		if hi := a.loss[k][i+1]; !math.IsInf(hi, 1) {
			lo := a.loss[k][i]
			return at.Clock() - a.t[k] - d/v + lo + (hi-lo)*(d-delays[i])/(delays[i+1]-delays[i]) + a.slack[k][i]
		}
	}
	return a.bound(lap.m, lap.e, at.Distance(), at.SpeedSq(), at.Clock()) - a.z.Ideal
}

// freed is the least loss of the zone with a shift out of gear g's candidate i at
// a moment.
func (e *ends) freed(a *account, g, i int, gear *sim.Gear, at sim.Moment) float64 {
	za := e.za
	after, ok := a.m.After(at, gear, gear, &za.z)
	if !ok {
		return za.mark(a, &at).lost
	}
	m := za.mark(a, &after)
	least := math.Inf(1)
	for _, j := range a.f.next[g][i] {
		if math.Sqrt(after.SpeedSq()) >= e.lowest[g+1][j] {
			least = min(least, e.least(g+1, int(j), &m))
		}
	}
	return least
}

// sort turns the curves of gear g's candidate i into points.
func (e *ends) sort(g, i int) {
	list := e.curves[g][i]
	e.curves[g][i] = nil
	if len(list) == 0 {
		return
	}
	nodes := make([][]point, len(e.za.s))
	for n := range list {
		c := &list[n]
		for x := range c.lost {
			p := point{behind: float32(c.behind[x]), lost: float32(c.lost[x]), all: float32(c.all[x]), growth: float32(math.Inf(1))}
			if x+1 < len(c.lost) {
				growth, bend := c.lost[x+1]-c.lost[x], 0.0
				// Where the ideal car changes gear its losses bend inside a cell.
				if x > 0 {
					bend = 0.5 * math.Abs(growth-(c.lost[x]-c.lost[x-1]))
				}
				if x+2 < len(c.lost) {
					bend = max(bend, 0.5*math.Abs(c.lost[x+2]-c.lost[x+1]-growth))
				}
				p.more, p.growth, p.bend = float32(c.behind[x+1]-c.behind[x]), float32(growth), float32(bend)
			} // else it does not come through the cell
			nodes[c.k0+x] = append(nodes[c.k0+x], p)
		}
	}
	for _, p := range nodes {
		slices.SortFunc(p, func(a, b point) int { return cmp.Compare(a.behind, b.behind) })
	}
	e.points[g][i] = nodes
}

// still is what is lost yet in gear g's candidate i, or in gears after it, from a
// spot on, d metres behind; +Inf where a car has lost more than matters.
func (e *ends) still(g, i int, at spot, d float64) float64 {
	nodes := e.points[g][i]
	if nodes == nil || at.f > 0 && e.za.rough[at.k] {
		return 0
	}
	points := nodes[at.k]
	less, last := math.Inf(1), math.Inf(1) // of the curve next ahead, and how far behind it is
	for n := range points {
		p := &points[n]
		to := float64(p.all - p.lost)
		if at.f > 0 {
			if math.IsInf(float64(p.growth), 1) {
				to = 0
			} else {
				to = max(0, to-at.f*float64(p.growth)-float64(p.bend))
			}
		}
		behind := float64(p.behind) + at.f*float64(p.more)
		if behind >= d {
			wide := max(0, behind-last-endsNear)
			return max(0, min(less, to)*(1-endsShare)-endsSlack-endsWide*wide)
		}
		less, last = to, behind
	}
	if za := e.za; za.low(za.nodeV(za.k0+at.k)+at.f*cellV, d) > e.limit {
		return math.Inf(1)
	}
	return 0 // further behind than any of them
}

// least is the least loss of the zone for a car at a mark in gear g's candidate i.
func (e *ends) least(g, i int, m *mark) float64 {
	return m.lost + e.still(g, i, m.spot, m.behind)
}
