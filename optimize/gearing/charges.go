package gearing

import "math"

// A zone's cap bounds what it may be charged in all. It is what makes the
// charges hold for every set, however slow: either the car loses at least the
// cap in the zone, and then no sum of charges exceeds what it loses; or it
// loses less, and then it is never farther behind, and reaches every speed, as
// the charges assume. So the charges are cut down until no chain's sum can
// exceed the cap: those of the speed cells to a profile whose sum is cellShare
// of it, those of the shifts to equal parts of the rest.
const cellShare = 0.6

// rollSlack (s) widens the limit on delays: after a shift a car passes speeds
// a second time, having been up to half a metre per second faster before.
const rollSlack = 0.002

// squeeze turns the tables of a zone into least charges for cars that lose at
// most limit (s) in it: prefix sums per gear over the speed cells, least shift
// losses per node, and the speed that every such car reaches. profile is the
// shape of the cells' ceilings; nil = no ceilings (an estimate, no bound).
func (a *zoneAcct) squeeze(limit float64, profile []float64) {
	n := len(a.s)
	a.sure = a.v0
	if n < 2 {
		return
	}
	for k := range n {
		if a.hold[k] <= limit {
			break
		}
		a.sure = a.nodeV(a.k0 + k)
	}
	// Delays at which a car has lost no more than the limit, at every node: L
	// grows with d, so the first node beyond still bounds the interval.
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
		best := float32(math.Inf(1))
		for d := 0; d <= most[k]; d++ {
			best = min(best, row[d])
		}
		return float64(best)
	}
	ceiling := a.ceilings(limit, profile)
	a.limit = limit
	a.room = make([]float64, n)
	for k := n - 2; k >= 0; k-- {
		a.room[k] = a.room[k+1]
		if ceiling != nil && a.nodeV(a.k0+k) < a.sure {
			a.room[k] += ceiling[k]
		}
	}
	a.least = make([][][]float64, len(a.charge))
	a.shLow = make([][]float64, len(a.shift))
	a.shiftMost = math.Inf(1)
	if profile != nil {
		a.shiftMost = (1 - cellShare) * limit / math.Max(1, float64(len(a.charge)-1))
	}
	for g := range a.charge {
		a.least[g] = make([][]float64, len(a.charge[g]))
		for i, rows := range a.charge[g] {
			if rows == nil {
				continue
			}
			sum := make([]float64, n)
			for k := range rows {
				c := math.Min(least(&rows[k], k)*keepShare, never)
				if ceiling != nil {
					c = math.Min(c, ceiling[k])
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

// ceilings scales the profile so that its sum over the cells below the sure
// speed is cellShare of the limit.
func (a *zoneAcct) ceilings(limit float64, profile []float64) []float64 {
	if profile == nil {
		return nil
	}
	sum := 0.0
	for k, p := range profile {
		if a.nodeV(a.k0+k) < a.sure {
			sum += p
		}
	}
	out := make([]float64, len(profile))
	if sum <= 0 {
		return out
	}
	for k, p := range profile {
		out[k] = p * cellShare * limit / sum
	}
	return out
}

// profile is the shape of the ceilings: the charges of a good set, spread over
// neighbouring cells so that sets which change gear elsewhere find room too.
func (a *zoneAcct) profile(f *frame, idx []int) []float64 {
	n := len(a.s)
	if n < 2 {
		return nil
	}
	own, first := make([]float64, n-1), make([]float64, n-1)
	for k := range own {
		v := a.nodeV(a.k0+k) + 0.5*cellV
		g := 0
		for g+1 < f.n && v*v >= f.cross[g][idx[g]][idx[g+1]] {
			g++
		}
		own[k] = math.Min(a.least[g][idx[g]][k+1]-a.least[g][idx[g]][k], 0.01)
		if g+1 < f.n && v*v < f.cross[g][idx[g]][idx[g+1]] && a.v0*a.v0 < f.cross[g][idx[g]][idx[g+1]] && (g == 0 || a.v0*a.v0 >= f.cross[g-1][idx[g-1]][idx[g]]) {
			// Where the zone begins the next gear may be taken at once.
			next := a.least[g+1][idx[g+1]][k+1] - a.least[g+1][idx[g+1]][k]
			first[k] = math.Min(next, 0.01)
		}
	}
	const reach = 10 // cells, 5 m/s
	out := make([]float64, len(own))
	for k := range out {
		for j := max(0, k-reach); j <= min(len(own)-1, k+reach); j++ {
			out[k] = math.Max(out[k], own[j])
		}
		out[k] = math.Max(out[k], first[k]) + 1e-6
	}
	return out
}

// safe turns what is known of a zone into what may stand beside the chain
// table: known (s) is a lower bound of the zone's loss when a gear is entered
// at v with a number of shifts still to come, and the table goes on to charge
// at most rest from there. A car that loses more than the cap is only known to
// lose the greater of known and cap, so what known + rest has above that comes
// off.
func (a *zoneAcct) safe(known, v float64, shifts int) float64 {
	if len(a.room) == 0 || math.IsInf(known, 1) {
		return known
	}
	k := int(v/cellV) - a.k0
	rest := a.shiftMost * float64(shifts)
	if k < len(a.room) {
		rest += a.room[max(k, 0)]
	}
	return math.Min(known, math.Max(known, a.limit)-rest)
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
			if lim >= a.sure && !a.z.Last {
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
	if lim < a.sure || a.z.Last {
		// The pause, and the speed lost in it, gained again in the next gear.
		k := min(int(to/cellV)-a.k0, len(a.drop[g])-1)
		sh = a.shiftAt(g, to)
		if k >= 0 {
			sh += math.Max(a.upTo(g+1, j, to)-a.upTo(g+1, j, to-a.drop[g][k]), 0)
		}
		sh = math.Min(sh, a.shiftMost)
	}
	if first {
		return math.Min(own+sh, a.upTo(g+1, j, to))
	}
	return own + sh
}

// capFactors (read-only) are the multiples of a good set's loss in a zone that
// are tried as the zone's cap. A low one keeps delays short and so charges
// high, but leaves little to charge.
var capFactors = [...]float64{1.05, 1.25, 1.5, 1.8, 2.2, 2.7, 3.5, 5}

// calibrate sets every zone's cap from a good set, then makes the chain table.
// Any caps give a valid bound; those that charge the good set most in each
// zone are taken.
func (a *account) calibrate(idx []int, workers int) {
	f := a.f
	w := newWalk(a)
	for g := range f.n {
		p := -1
		if g > 0 {
			p = idx[g-1]
		}
		w.enter(g, p, idx[g])
		w.drive(g, idx[g], math.Inf(1))
	}
	last := &w.stack[f.n-1]
	parallel(workers, len(a.zones), func(z int) {
		za, st := a.zones[z], &last.zones[z]
		best := st.held
		for l := range st.labels {
			best = math.Min(best, f.m.Held(st.run[l], math.Inf(1)))
		}
		loss := best - za.z.Ideal
		if math.IsInf(loss, 1) || loss < 0.002 {
			loss = 0.002
		}
		charged := func() float64 {
			sum := 0.0
			for g := range f.n {
				p, j := -1, -1
				if g > 0 {
					p = idx[g-1]
				}
				if g+1 < f.n {
					j = idx[g+1]
				}
				sum += za.triple(f, g, p, idx[g], j)
			}
			return sum
		}
		most, pick := -1.0, 0.0
		for _, c := range capFactors {
			limit := c * loss
			za.squeeze(limit, nil)
			za.squeeze(limit, za.profile(f, idx))
			if got := charged(); got > most {
				most, pick = got, limit
			}
		}
		za.squeeze(pick, nil)
		za.squeeze(pick, za.profile(f, idx))
	})
	a.chainTable()
}

// chainTable is the programme over all zones together: all of them must use
// the same chain of pairs.
func (a *account) chainTable() {
	f := a.f
	a.triples = make([][][][]float64, f.n)
	for g := range f.n {
		before := 1
		if g > 0 {
			before = len(f.cand[g-1])
		}
		a.triples[g] = make([][][]float64, before+1)
	}
	parallel(a.workers, f.n, func(g int) {
		if g == 0 {
			a.triples[0][0] = a.rows(0, -1)
			return
		}
		for p := range f.cand[g-1] {
			a.triples[g][p+1] = a.rows(g, p)
		}
	})
	a.togo, a.root = a.programme()
}

// rows are the charges of gear g after candidate p of the gear before: by
// candidate and by candidate of the next gear (one entry for the last gear).
func (a *account) rows(g, p int) [][]float64 {
	f := a.f
	out := make([][]float64, len(f.cand[g]))
	fill := func(i int) {
		if g == f.n-1 {
			out[i] = []float64{a.charged(g, p, i, -1)}
			return
		}
		row := make([]float64, len(f.cand[g+1]))
		for _, j := range f.next[g][i] {
			row[j] = a.charged(g, p, i, int(j))
		}
		out[i] = row
	}
	if p < 0 {
		for i := range f.cand[0] {
			fill(i)
		}
		return out
	}
	for _, i := range f.next[g-1][p] {
		fill(int(i))
	}
	return out
}

func (a *account) charged(g, p, i, j int) float64 {
	sum := 0.0
	for _, z := range a.zones {
		sum += z.triple(a.f, g, p, i, j)
	}
	return sum
}

// programme is the backward dynamic programme over chains: togo[g][p][i] is
// the least sum of charges of gears g+1.. when candidate i of gear g+1 follows
// p of gear g; root[i] that of all gears when candidate i is first gear.
func (a *account) programme() (togo [][][]float64, root []float64) {
	f := a.f
	togo = make([][][]float64, f.n-1)
	least := func(g, p, i int) float64 {
		row := a.triples[g][p+1][i]
		if g == f.n-1 {
			return row[0]
		}
		best := math.Inf(1)
		for _, j := range f.next[g][i] {
			best = math.Min(best, row[j]+togo[g][i][j])
		}
		return best
	}
	for g := f.n - 2; g >= 0; g-- {
		togo[g] = make([][]float64, len(f.cand[g]))
		for p := range f.cand[g] {
			row := make([]float64, len(f.cand[g+1]))
			for i := range row {
				row[i] = math.Inf(1)
			}
			for _, i := range f.next[g][p] {
				row[i] = least(g+1, p, int(i))
			}
			togo[g][p] = row
		}
	}
	root = make([]float64, len(f.cand[0]))
	for i := range root {
		root[i] = least(0, -1, i)
	}
	return togo, root
}
