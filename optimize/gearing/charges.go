package gearing

import "math"

// A zone's budget is the most that a set of interest can lose there: what the
// best set known loses on the whole lap, and the gap, less the least that the
// set loses in the other zones. Only cars within the budget are charged, so a
// charge is the least over the delays at which a car has lost no more than the
// budget. For sets that lose more than the target in all, charges may be too
// high; such sets are of no interest, and their bound only has to stay above
// the target.
//
// Small budgets mean high charges. So tables are made for several levels of
// budgets. On the way down the tree more and more is known of what a set must
// lose; as soon as that leaves every zone a budget below those of a level, the
// level's charges hold (walk.go).

// rollSlack (s) widens the limit on delays: after a shift a car passes speeds
// a second time, having been up to half a metre per second faster before.
const rollSlack = 0.002

// never is the charge (s) of a shift that cannot begin: large against any lap's
// loss.
const never = 1e3

// zoneTable is what a budget makes of a zone's account.
type zoneTable struct {
	limit float64       // s, the budget
	sum   [][][]float64 // [g][i][node]: least charges up to the node
	low   [][]float64   // [g][node]: least shift losses
	pairs [][][]float64 // [g][i][n]: charge of the shift into the n-th follower
	rest  [][]float64   // [g][i]: least of the zone alone from candidate i on
}

// newZoneTable turns the account of a zone into least charges for cars that lose
// at most limit (s) in it. A car need not come through all cells: one that never
// exceeds a node's speed loses at least stay from there on. So no cell is
// charged more than stay falls over it: then the charges of the cells that such
// a car does not come through add up to no more than it loses.
func newZoneTable(a *zoneAcct, f *frame, limit float64) *zoneTable {
	t := &zoneTable{limit: limit}
	n := len(a.s)
	if n >= 2 {
		t.squeeze(a, n)
	}
	t.fill(a, f)
	return t
}

func (t *zoneTable) squeeze(a *zoneAcct, n int) {
	// Delays at which a car has lost no more than the limit: L grows with d, so
	// the first node beyond still bounds the interval.
	most := make([]int, n)
	for k := range n {
		most[k] = nDelay - 1
		for d := 1; d < nDelay; d++ {
			if a.loss[k][d] > t.limit+rollSlack {
				most[k] = d
				break
			}
		}
	}
	least := func(row *[nDelay]float32, k int) float64 {
		best := row[0]
		for d := 1; d <= most[k]; d++ {
			best = min(best, row[d])
		}
		return float64(best)
	}
	ceiling := make([]float64, n-1)
	above := 0.0 // the least stay of the nodes above
	for k := n - 2; k >= 0; k-- {
		here := math.Inf(1)
		for d := 0; d <= most[k]; d++ {
			if !math.IsInf(a.loss[k][d], 1) {
				here = min(here, a.stay[k][d])
			}
		}
		here = max(here, above)
		ceiling[k] = here - above
		above = here
	}
	t.sum = make([][][]float64, len(a.charge))
	t.low = make([][]float64, len(a.charge))
	for g := range a.charge {
		t.sum[g] = make([][]float64, len(a.charge[g]))
		for i, rows := range a.charge[g] {
			if rows == nil {
				continue
			}
			sum := make([]float64, n)
			for k := range n - 1 {
				sum[k+1] = sum[k] + min(least(&rows[k], k), ceiling[k])*keepShare
			}
			t.sum[g][i] = sum
		}
		if a.shift[g] == nil {
			continue
		}
		t.low[g] = make([]float64, n)
		for k := range n {
			t.low[g][k] = min(least(&a.shift[g][k], k)*keepShare, never)
		}
	}
}

// spot is a speed as the tables are read there.
type spot struct {
	k int     // node below
	f float64 // share of the way to the next, 0 to 1
}

// spotAt is the spot for v (m/s), held to the zone's nodes.
func (a *zoneAcct) spotAt(v float64) spot {
	x := v/cellV - float64(a.k0)
	if len(a.s) < 2 || x <= 0 {
		return spot{}
	}
	k := min(int(x), len(a.s)-2)
	return spot{k: k, f: min(x-float64(k), 1)}
}

// upTo is the least loss of gear g's candidate i from the zone's first node to a
// spot.
func (t *zoneTable) upTo(g, i int, at spot) float64 {
	if t.sum == nil || t.sum[g][i] == nil {
		return 0
	}
	sum := t.sum[g][i][at.k : at.k+2]
	if at.f == 0 || math.IsInf(sum[0], 1) {
		return sum[0]
	}
	return sum[0] + at.f*(sum[1]-sum[0])
}

// pair is what the zone charges for the place of the shift from gear g's
// candidate i to the next gear's j: relative to a car that is in j from the
// zone's beginning, the least over all places of the shift of what i loses more
// than j up to there, and of the shift. A shift before the beginning or after
// the end costs nothing. The sum of pair over a chain, and end of the last gear,
// is the least loss of the chain: the terms of the gears between cancel
// whatever the places are.
func (t *zoneTable) pair(a *zoneAcct, g, i, j int) float64 {
	if t.sum == nil || t.sum[g][i] == nil || t.sum[g+1][j] == nil {
		return 0
	}
	ci, cj, drop := t.sum[g][i], t.sum[g+1][j], a.drop[g]
	top := len(ci) - 1
	best := min(0, ci[top]-cj[top])
	for k := range ci {
		d := ci[k] - cj[k]
		if d >= best {
			continue
		}
		// A shift that begins in the cell before or after the node; the speed
		// lost in it is gained a second time in the next gear.
		low, again := t.lowAt(g, k), 0.0
		if k > 0 {
			again = cj[k] - cj[k-1]
			if k < top {
				again = min(again, cj[k+1]-cj[k])
			}
			again *= min(drop[k]/cellV, 1)
		}
		best = min(best, d+low+again)
	}
	return best
}

// end is the last term of a chain's charges.
func (t *zoneTable) end(g, i int) float64 {
	if t.sum == nil || t.sum[g][i] == nil {
		return 0
	}
	return t.sum[g][i][len(t.sum[g][i])-1]
}

// fill makes pairs and rest for all that may follow one another.
func (t *zoneTable) fill(a *zoneAcct, f *frame) {
	t.pairs = make([][][]float64, f.n-1)
	t.rest = make([][]float64, f.n)
	last := f.n - 1
	t.rest[last] = make([]float64, len(f.cand[last]))
	for i := range t.rest[last] {
		t.rest[last][i] = t.end(last, i)
	}
	for g := last - 1; g >= 0; g-- {
		t.pairs[g] = make([][]float64, len(f.cand[g]))
		t.rest[g] = make([]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			t.pairs[g][i] = make([]float64, len(f.next[g][i]))
			t.rest[g][i] = math.Inf(1)
			for n, j := range f.next[g][i] {
				c := t.pair(a, g, i, int(j))
				t.pairs[g][i][n] = c
				t.rest[g][i] = min(t.rest[g][i], c+t.rest[g+1][j])
			}
		}
	}
}

// lowAt is the least loss of a shift out of gear index g that begins in the cell
// before a node, or at it.
func (t *zoneTable) lowAt(g, k int) float64 {
	sh := t.low[g]
	switch {
	case sh == nil:
		return 0
	case k == 0:
		return sh[0]
	}
	return min(sh[k-1], sh[k])
}

// least is the least loss of any chain in the zone alone.
func (t *zoneTable) least() float64 {
	best := math.Inf(1)
	for _, c := range t.rest[0] {
		best = min(best, c)
	}
	if math.IsInf(best, 1) {
		return 0
	}
	return max(best, 0)
}

// surely is a loss (s) in the zone that no set goes below: a car loses at least
// a cap, or is within it and loses at least what cars within it are charged.
// The higher the cap, the less is charged; the best lies where both are equal.
func (a *zoneAcct) surely(f *frame, most float64) float64 {
	lo, hi, best := 0.0, most, 0.0
	for range 9 {
		limit := 0.5 * (lo + hi)
		if lo == 0 {
			limit = 0.25 * hi
		} else if hi > 4*lo {
			limit = math.Sqrt(lo * hi)
		}
		charged := newZoneTable(a, f, limit).least()
		best = max(best, min(limit, charged))
		if charged > limit {
			lo = limit
		} else {
			hi = limit
		}
	}
	return best
}

// budget is one level of budgets with its tables over chains.
type budget struct {
	zones []*zoneTable
	step  [][][]float64 // [g][i][n]: charges of a pair of neighbours, all zones
	togo  [][]float64   // [g][i]: least charges of a chain from candidate i on
}

// newBudget makes the tables for the zones' limits (s).
func (a *account) newBudget(limit func(z int) float64) *budget {
	b := &budget{zones: make([]*zoneTable, len(a.zones))}
	a.f.parallel(a.workers, len(a.zones), func(z int) {
		b.zones[z] = newZoneTable(a.zones[z], a.f, max(limit(z), 0))
	})
	b.step, b.togo = a.chains(b, -1)
	return b
}

// chains is the backward programme over chains of pairs, all zones but one
// together: all of them must use the same chain.
func (a *account) chains(b *budget, but int) (step [][][]float64, togo [][]float64) {
	f := a.f
	step, togo = make([][][]float64, f.n-1), make([][]float64, f.n)
	last := f.n - 1
	togo[last] = make([]float64, len(f.cand[last]))
	for i := range togo[last] {
		for z, t := range b.zones {
			if z != but {
				togo[last][i] += t.end(last, i)
			}
		}
	}
	for g := last - 1; g >= 0; g-- {
		togo[g] = make([]float64, len(f.cand[g]))
		step[g] = make([][]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			step[g][i] = make([]float64, len(f.next[g][i]))
			togo[g][i] = math.Inf(1)
			for n, j := range f.next[g][i] {
				sum := 0.0
				for z, t := range b.zones {
					if z != but {
						sum += t.pairs[g][i][n]
					}
				}
				step[g][i][n] = sum
				togo[g][i] = min(togo[g][i], sum+togo[g+1][j])
			}
		}
	}
	return step, togo
}

// narrow leaves out the links between candidates that no chain within the target (s)
// uses: most of them in a large stock.
func (a *account) narrow(b *budget, target float64) {
	f := a.f
	least := make([][]float64, f.n) // s, charges of a chain that ends in a candidate
	for g := range least {
		least[g] = make([]float64, len(f.cand[g]))
		if g == 0 {
			continue
		}
		for i := range least[g] {
			least[g][i] = math.Inf(1)
		}
		for p := range f.cand[g-1] {
			for n, i := range f.next[g-1][p] {
				least[g][i] = min(least[g][i], least[g-1][p]+b.step[g-1][p][n])
			}
		}
	}
	a.f = f.only(func(g, i, n int) bool {
		return least[g][i]+b.step[g][i][n]+b.togo[g+1][f.next[g][i][n]] <= target
	})
}

// tighter (read-only) are the levels of budgets below the widest, as shares of
// what the widest leaves above the best set's losses.
var tighter = [...]float64{0.7, 0.5, 0.35, 0.25, 0.17, 0.12, 0.08, 0.05}

// calibrate makes the levels of budgets for sets that lose at most target (s)
// in all. good is a set, whose losses shape the tighter budgets; nil = none,
// then there is the widest level only.
func (a *account) calibrate(target float64, good []int) {
	if math.IsInf(target, 1) {
		a.levels = []*budget{a.newBudget(func(int) float64 { return target })}
		a.prepare()
		return
	}
	least := make([]float64, len(a.zones))
	a.f.parallel(a.workers, len(a.zones), func(z int) { least[z] = a.zones[z].surely(a.f, target) })
	sum := 0.0
	for _, l := range least {
		sum += l
	}
	others := make([]float64, len(a.zones)) // s, least loss of all other zones together
	for z := range others {
		others[z] = sum - least[z]
	}
	var widest *budget
	for range 3 {
		widest = a.newBudget(func(z int) float64 { return target - others[z] })
		a.f.parallel(a.workers, len(a.zones), func(z int) {
			_, togo := a.chains(widest, z)
			best := math.Inf(1)
			for _, c := range togo[0] {
				best = min(best, c)
			}
			if !math.IsInf(best, 1) {
				others[z] = max(others[z], best)
			}
		})
	}
	if !a.fixed {
		a.narrow(widest, target)
	}
	limits := make([]float64, len(a.zones))
	for z := range limits {
		limits[z] = widest.zones[z].limit
	}
	widest = a.newBudget(func(z int) float64 { return limits[z] })
	a.levels = []*budget{widest}
	a.prepare()
	if good == nil || !a.f.chainOK(good) {
		return // or it is itself beyond the target
	}
	own := newWalk(a).losses(good)
	room := 0.0
	for z := range own {
		room = max(room, widest.zones[z].limit-own[z])
	}
	for _, share := range tighter {
		a.levels = append(a.levels, a.newBudget(func(z int) float64 {
			return min(own[z]+share*room, widest.zones[z].limit)
		}))
	}
	a.memory = newMemory(a) // the one so far knows of one level only
}
