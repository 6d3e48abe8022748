package gearing

import "math"

// A zone's budget is the most that a set of interest can lose there: what the
// best set known loses on the whole lap, and the gap, less the least that any
// set loses in the other zones. Only cars within the budget are charged, so a
// charge is the least over the delays at which a car has lost no more than the
// budget. For sets that lose more than the target in all, charges may be too
// high; such sets are of no interest, and their bound only has to stay above
// the target.

// rollSlack (s) widens the limit on delays: after a shift a car passes speeds
// a second time, having been up to half a metre per second faster before.
const rollSlack = 0.002

// never is the charge (s) of a cell that a gear cannot climb through: large
// against any lap's loss, small enough to keep sums exact.
const never = 1e3

// squeeze turns the tables of a zone into least charges for cars that lose at
// most limit (s) in it: sums over the speed cells by gear and candidate, least
// shift losses by node, and the speed that every such car reaches.
func (a *zoneAcct) squeeze(limit float64) {
	n := len(a.s)
	a.limit, a.sure = limit, 0
	if n < 2 {
		return
	}
	// A car that never exceeds a node's speed loses its hold; within the limit
	// every car passes the nodes up to the last whose hold is above it.
	for k := 0; k < n && a.hold[k] > limit; k++ {
		a.sure = k
	}
	// Delays at which a car has lost no more than the limit: L grows with d, so
	// the first node beyond still bounds the interval.
	most := make([]int, n)
	for k := range n {
		most[k] = nDelay - 1
		for d := 1; d < nDelay; d++ {
			if a.loss[k][d] > limit+rollSlack {
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
	if a.sum == nil {
		a.sum = make([][][]float64, len(a.charge))
		a.shLow = make([][]float64, len(a.charge))
	}
	for g := range a.charge {
		if a.sum[g] == nil {
			a.sum[g] = make([][]float64, len(a.charge[g]))
		}
		for i, rows := range a.charge[g] {
			if rows == nil {
				continue
			}
			if a.sum[g][i] == nil {
				a.sum[g][i] = make([]float64, n)
			}
			sum := a.sum[g][i]
			for k := range a.sure {
				sum[k+1] = sum[k] + math.Min(least(&rows[k], k)*keepShare, never)
			}
		}
		if a.shift[g] == nil {
			continue
		}
		if a.shLow[g] == nil {
			a.shLow[g] = make([]float64, n)
		}
		for k := range n {
			a.shLow[g][k] = math.Min(least(&a.shift[g][k], k)*keepShare, never)
		}
	}
}

// upTo is the least loss of gear g's candidate i from the zone's first node to
// v, or to the speed that is sure to be reached.
func (a *zoneAcct) upTo(g, i int, v float64) float64 {
	if len(a.s) < 2 || a.sum[g][i] == nil {
		return 0
	}
	x := v/cellV - float64(a.k0)
	if x <= 0 {
		return 0
	}
	sum := a.sum[g][i]
	k := int(x)
	if k >= a.sure {
		return sum[a.sure]
	}
	return sum[k] + (x-float64(k))*(sum[k+1]-sum[k])
}

// pair is what the zone charges for the place of the shift from gear g's
// candidate i to the next gear's j: relative to a car that is in j from the
// zone's beginning, the least over all places of the shift of what i loses more
// than j up to there, and of the shift. A shift before the beginning or after
// the end costs nothing. The sum of pair over a chain, and upTo of the last gear
// to the end, is the least loss of the chain: the terms of the gears between
// cancel whatever the places are.
func (a *zoneAcct) pair(g, i, j int) float64 {
	if len(a.s) < 2 || a.sure == 0 {
		return 0
	}
	ci, cj := a.sum[g][i], a.sum[g+1][j]
	if ci == nil || cj == nil {
		return 0
	}
	sh := a.shLow[g]
	best := math.Min(0, ci[a.sure]-cj[a.sure])
	for k := range a.sure + 1 {
		d := ci[k] - cj[k]
		if d >= best {
			continue
		}
		// A shift that begins in the cell before or after the node; the speed
		// lost in it is gained a second time in the next gear.
		low := sh[k]
		if k > 0 {
			low = math.Min(low, sh[k-1])
		}
		again := 0.0
		if k > 0 {
			again = (cj[k] - cj[k-1]) * math.Min(a.drop[g][k]/cellV, 1)
			if k < a.sure {
				again = math.Min(again, (cj[k+1]-cj[k])*math.Min(a.drop[g][k]/cellV, 1))
			}
		}
		best = math.Min(best, d+low+again)
	}
	return best
}

// end is the last term of a chain's charges.
func (a *zoneAcct) end(g, i int) float64 {
	if len(a.s) < 2 || a.sum[g][i] == nil {
		return 0
	}
	return a.sum[g][i][a.sure]
}

// calibrate sets the zones' budgets for sets that lose at most target (s) in
// all, and makes the tables over chains.
func (a *account) calibrate(target float64) {
	a.target = target
	least := make([]float64, len(a.zones))
	sum := 0.0
	parallel(a.workers, len(a.zones), func(z int) { least[z] = a.zones[z].surely(a.f, target) })
	for _, l := range least {
		sum += l
	}
	parallel(a.workers, len(a.zones), func(z int) {
		za := a.zones[z]
		za.squeeze(math.Max(target-(sum-least[z]), 0))
		za.tables(a.f)
	})
	a.chainTable()
}

// surely is a loss (s) in the zone that no set goes below: a car loses at least
// a cap, or is within it and loses at least what cars within it are charged.
// The higher the cap, the less is charged; the best lies where both are equal.
func (a *zoneAcct) surely(f *frame, most float64) float64 {
	lo, hi, best := 0.0, most, 0.0
	for range 9 {
		limit := 0.5 * (lo + hi)
		if hi > 4*lo && lo > 0 {
			limit = math.Sqrt(lo * hi)
		} else if lo == 0 {
			limit = 0.25 * hi
		}
		a.squeeze(limit)
		a.tables(f)
		charged := a.least(f)
		best = math.Max(best, math.Min(limit, charged))
		if charged > limit {
			lo = limit
		} else {
			hi = limit
		}
	}
	return best
}

// tables fills in pair and end for all that may follow one another.
func (a *zoneAcct) tables(f *frame) {
	if a.pairs == nil {
		a.pairs = make([][][]float64, f.n-1)
		for g := range f.n - 1 {
			a.pairs[g] = make([][]float64, len(f.cand[g]))
			for i := range f.cand[g] {
				a.pairs[g][i] = make([]float64, len(f.next[g][i]))
			}
		}
	}
	for g := range f.n - 1 {
		for i := range f.cand[g] {
			for n, j := range f.next[g][i] {
				a.pairs[g][i][n] = a.pair(g, i, int(j))
			}
		}
	}
}

// least is the least loss of any chain in this zone alone.
func (a *zoneAcct) least(f *frame) float64 {
	cost := make([]float64, len(f.cand[f.n-1]))
	for i := range cost {
		cost[i] = a.end(f.n-1, i)
	}
	for g := f.n - 2; g >= 0; g-- {
		now := make([]float64, len(f.cand[g]))
		for i := range now {
			now[i] = math.Inf(1)
			for n, j := range f.next[g][i] {
				now[i] = math.Min(now[i], a.pairs[g][i][n]+cost[j])
			}
		}
		cost = now
	}
	best := math.Inf(1)
	for i, c := range cost {
		if f.n == 1 || len(f.next[0][i]) > 0 {
			best = math.Min(best, c)
		}
	}
	if math.IsInf(best, 1) {
		return 0
	}
	return math.Max(best, 0)
}

// chainTable is the programme over all zones together: all of them must use the
// same chain of pairs. togo[g][i] is the least sum of charges of a chain from
// gear g's candidate i on, step[g][i][n] that of the pair with its n-th
// follower.
func (a *account) chainTable() {
	f := a.f
	a.step = make([][][]float64, f.n-1)
	a.togo = make([][]float64, f.n)
	last := f.n - 1
	a.togo[last] = make([]float64, len(f.cand[last]))
	for i := range a.togo[last] {
		for _, z := range a.zones {
			a.togo[last][i] += z.end(last, i)
		}
	}
	for g := last - 1; g >= 0; g-- {
		a.togo[g] = make([]float64, len(f.cand[g]))
		a.step[g] = make([][]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			a.step[g][i] = make([]float64, len(f.next[g][i]))
			a.togo[g][i] = math.Inf(1)
			for n, j := range f.next[g][i] {
				sum := 0.0
				for _, z := range a.zones {
					sum += z.pairs[g][i][n]
				}
				a.step[g][i][n] = sum
				a.togo[g][i] = math.Min(a.togo[g][i], sum+a.togo[g+1][j])
			}
		}
	}
}
