package gearing

import "math"

// squeeze turns the tables of a zone into least charges for cars that lose at
// most budget (s) in it: prefix sums per gear over the speed cells, least shift
// losses per node, and the speed that every such car reaches.
func (a *zoneAcct) squeeze(budget float64) {
	n := len(a.s)
	a.sure = a.v0
	if n < 2 {
		return
	}
	for k := range n {
		if a.hold[k] <= budget+a.slack {
			break
		}
		a.sure = a.nodeV(a.k0 + k)
	}
	// Delays that the budget can pay for, at every node: L grows with d, so
	// the first node beyond the budget still bounds the interval.
	most := make([]int, n)
	for k := range n {
		most[k] = nDelay - 1
		for d := 1; d < nDelay; d++ {
			if a.loss[k][d] > budget+a.slack {
				most[k] = d
				break
			}
		}
	}
	least := func(row *[nDelay]float32, k int) float64 {
		best := float32(math.Inf(1))
		for d := 0; d <= most[k]; d++ {
			best = min(best, row[d])
		}
		return float64(best)
	}
	a.least = make([][][]float64, len(a.charge))
	a.shLow = make([][]float64, len(a.shift))
	for g := range a.charge {
		a.least[g] = make([][]float64, len(a.charge[g]))
		for i, rows := range a.charge[g] {
			if rows == nil {
				continue
			}
			sum := make([]float64, n)
			for k := range rows {
				c := least(&rows[k], k) * keepShare
				if math.IsInf(c, 1) {
					c = never
				}
				sum[k+1] = sum[k] + c
			}
			a.least[g][i] = sum
		}
		if a.shift[g] == nil {
			continue
		}
		low := make([]float64, n)
		for k := range n {
			low[k] = least(&a.shift[g][k], k) * keepShare
			if math.IsInf(low[k], 1) {
				low[k] = 0
			}
		}
		a.shLow[g] = low
	}
}

// never is the charge (s) of a cell that a gear cannot climb through: large
// against any lap's loss, small enough to keep sums exact.
const never = 1e3

// upTo is the least loss of gear g's candidate i from the zone's first node to
// v, cut off at the speed that is sure to be reached.
func (a *zoneAcct) upTo(g, i int, v float64) float64 {
	if len(a.s) < 2 || a.least[g][i] == nil {
		return 0
	}
	v = math.Min(v, a.sure)
	x := v/cellV - float64(a.k0)
	if x <= 0 {
		return 0
	}
	sum := a.least[g][i]
	k := int(x)
	if k >= len(sum)-1 {
		return sum[len(sum)-1]
	}
	return sum[k] + (x-float64(k))*(sum[k+1]-sum[k])
}

// shiftAt is the least loss of the shift out of gear g at v.
func (a *zoneAcct) shiftAt(g int, v float64) float64 {
	if len(a.s) < 2 || a.shLow[g] == nil {
		return 0
	}
	x := v/cellV - float64(a.k0)
	if x < 0 {
		return 0
	}
	k := int(x)
	low := a.shLow[g]
	if k >= len(low)-1 {
		return 0
	}
	return math.Min(low[k], low[k+1])
}

// triple is the least loss that the zone charges to gear g's candidate i when
// it follows candidate p of the gear before (p < 0: none) and hands over to
// candidate j of the next (j < 0: it is the last), the shift into that next
// gear included.
func (a *zoneAcct) triple(f *frame, g, p, i, j int) float64 {
	if len(a.s) < 2 {
		return 0
	}
	from := 0.0
	if p >= 0 {
		from = math.Sqrt(f.cross[g-1][p][i])
		if from > a.v0 {
			// The gear is entered by a shift, if the car does not hold the
			// gear before to the end of the zone.
			lim := math.Sqrt(f.gear[g-1][p].LimitSq())
			if lim >= a.sure {
				return 0
			}
			if a.delayNoShift {
				from = math.Max(from, lim)
			}
		}
	}
	if from >= a.sure {
		return 0
	}
	to := math.Inf(1)
	if j >= 0 {
		to = math.Sqrt(f.cross[g][i][j])
	}
	if to <= a.v0 {
		return 0 // the zone begins beyond this gear
	}
	first := from <= a.v0 // the natural gear at the zone's start
	own := math.Max(a.upTo(g, i, to)-a.upTo(g, i, from), 0)
	if j < 0 || to >= a.sure {
		if first && j >= 0 {
			// The next gear may have been taken at once.
			own = math.Min(own, a.upTo(g+1, j, to))
		}
		return own
	}
	lim := math.Sqrt(f.gear[g][i].LimitSq())
	sh := 0.0
	if lim < a.sure {
		sh = a.shiftAt(g, to)
	}
	if first {
		return math.Min(own+sh, a.upTo(g+1, j, to))
	}
	return own + sh
}

// budgets squeezes all zones for cars whose whole lap takes at most target
// (s): each zone may lose what the others leave. Each round raises the least
// losses of the zones, which lowers the budgets of the others.
func (a *account) budgets(target float64, workers int) {
	spare := target - a.ideal
	least := make([]float64, len(a.zones))
	for round := range 3 {
		sum := 0.0
		for _, l := range least {
			sum += l
		}
		parallel(workers, len(a.zones), func(z int) {
			b := spare - (sum - least[z])
			if math.IsInf(target, 1) {
				b = math.Inf(1)
			}
			a.zones[z].squeeze(b)
			if round < 2 {
				l := a.zoneLeast(z)
				least[z] = math.Max(0, l-a.zones[z].slack)
			}
		})
		if math.IsInf(target, 1) {
			break
		}
	}
	a.chainTable()
}

// zoneLeast is the least loss of any chain in one zone alone.
func (a *account) zoneLeast(z int) float64 {
	_, root := a.programme(func(g, p, i, j int) float64 { return a.zones[z].triple(a.f, g, p, i, j) })
	best := math.Inf(1)
	for _, v := range root {
		best = math.Min(best, v)
	}
	return best
}

// chainTable is the programme over all zones together: all of them must use
// the same chain of pairs.
func (a *account) chainTable() {
	a.togo, a.root = a.programme(func(g, p, i, j int) float64 {
		sum := 0.0
		for _, z := range a.zones {
			sum += z.triple(a.f, g, p, i, j)
		}
		return sum
	})
}

// programme is the backward dynamic programme over chains: togo[g][p][i] is
// the least sum of charges of gears g+1.. when candidate i of gear g+1 follows
// p of gear g; root[i] that of all gears when candidate i is first gear.
func (a *account) programme(charge func(g, p, i, j int) float64) (togo [][][]float64, root []float64) {
	f := a.f
	togo = make([][][]float64, f.n-1)
	for g := f.n - 2; g >= 0; g-- {
		togo[g] = make([][]float64, len(f.cand[g]))
		for p := range f.cand[g] {
			row := make([]float64, len(f.cand[g+1]))
			for i := range row {
				row[i] = math.Inf(1)
			}
			for _, i := range f.next[g][p] {
				row[i] = a.least(togo, charge, g+1, p, int(i))
			}
			togo[g][p] = row
		}
	}
	root = make([]float64, len(f.cand[0]))
	for i := range root {
		root[i] = a.least(togo, charge, 0, -1, i)
	}
	return togo, root
}

func (a *account) least(togo [][][]float64, charge func(g, p, i, j int) float64, g, p, i int) float64 {
	f := a.f
	if g == f.n-1 {
		return charge(g, p, i, -1)
	}
	best := math.Inf(1)
	for _, j := range f.next[g][i] {
		best = math.Min(best, charge(g, p, i, int(j))+togo[g][i][j])
	}
	return best
}
