package gearing

import "math"

// walk goes down the tree of sets for one lap: what is known of the prefix is
// exact, what is free is bounded by the account. It belongs to one worker; what
// the zones come to (chain.go) is shared.
type walk struct {
	maker
	stack []level
	kids  []fork // of the child looked at, by zone
	fresh []int  // zones in which it is not made yet
}

// level is the state after choosing a gear.
type level struct {
	zones   []zoneState
	choice  int
	step    []float64 // s, by level of budgets: charges of the pairs chosen
	settled bool      // tight, sum and the zones' excess are known
	tight   int       // the tightest level of budgets that holds here
	sum     float64   // s, the zones' excess together
	over    bool      // no set of interest goes on from here
}

// fork is what a zone has come to.
type fork struct {
	nat int      // index of the zone's natural gear; -1 not met yet
	at  []*chain // by gear that the zone is begun in
}

// zoneState is one zone at a level.
type zoneState struct {
	fork
	pre    []float64 // s, by level of budgets: charges of the pairs chosen
	excess float64   // s, what is known of the loss beyond what the tables of the tightest level charge
}

func newWalk(a *account) *walk {
	f := a.f
	w := &walk{maker: maker{a: a, m: a.memory}, stack: make([]level, f.n), kids: make([]fork, len(a.zones))}
	for i := range w.stack {
		l := &w.stack[i]
		l.zones = make([]zoneState, len(a.zones))
		l.step = make([]float64, len(a.levels))
		for z := range l.zones {
			l.zones[z].pre = make([]float64, len(a.levels))
		}
	}
	return w
}

// enter descends to gear g (index) with candidate i, the n-th follower of
// candidate p of the gear before.
func (w *walk) enter(g, p, n, i int) {
	lv := &w.stack[g]
	lv.settled, lv.choice = false, i
	if g == 0 {
		for b := range lv.step {
			lv.step[b] = 0
		}
		for z := range lv.zones {
			w.start(z, i, &lv.zones[z].fork)
			for b := range lv.step {
				lv.zones[z].pre[b] = 0
			}
		}
		return
	}
	up := &w.stack[g-1]
	for b, level := range w.a.levels {
		lv.step[b] = up.step[b] + level.step[g-1][p][n]
	}
	for z := range lv.zones {
		w.goOn(z, &up.zones[z].fork, g-1, p, n, i, &lv.zones[z].fork)
		for b, level := range w.a.levels {
			lv.zones[z].pre[b] = up.zones[z].pre[b] + level.zones[z].pairs[g-1][p][n]
		}
	}
}

// settle makes the runs of gear g's level and finds the tightest level of budgets
// that holds there for every set of interest, and what the zones have lost beyond
// its charges. It ends early, with over set, when nothing of interest is left.
func (w *walk) settle(g int, cutoff float64) {
	lv := &w.stack[g]
	lv.settled, lv.over, lv.tight, lv.sum = true, false, 0, 0
	if g > 0 && w.stack[g-1].settled {
		lv.tight = w.stack[g-1].tight
	}
	b := lv.tight
	w.fresh = w.fresh[:0]
	for z := range lv.zones {
		st := &lv.zones[z]
		st.excess = w.excess(z, g, b)
		lv.sum += st.excess
		if !st.driven() {
			w.fresh = append(w.fresh, z)
		}
	}
	for _, z := range w.fresh {
		if lv.over = w.least(g) > cutoff; lv.over {
			return
		}
		st := &lv.zones[z]
		for _, c := range st.at {
			w.onward(z, c)
		}
		more := w.excess(z, g, b)
		lv.sum += more - st.excess
		st.excess = more
	}
	for {
		if lv.over = w.least(g) > cutoff; lv.over {
			return
		}
		lv.tight = w.tighter(g, cutoff)
		if lv.tight == b {
			return
		}
		b, lv.sum = lv.tight, 0
		for z := range lv.zones {
			lv.zones[z].excess = w.excess(z, g, b)
			lv.sum += lv.zones[z].excess
		}
	}
}

// driven says whether the zone's runs are made.
func (f *fork) driven() bool {
	for _, c := range f.at {
		if c.on.Load() == nil {
			return false
		}
	}
	return true
}

// excess is what zone z has lost beyond its charges at gear g's level.
func (w *walk) excess(z, g, b int) float64 {
	st := &w.stack[g].zones[z]
	return max(0, w.over(&st.fork, z, w.a.levels[b].zones[z], g, w.stack[g].choice)-st.pre[b])
}

// least is a lower bound of the lap (s) of every set that goes on from gear g's
// level.
func (w *walk) least(g int) float64 {
	lv := &w.stack[g]
	return w.a.ideal + lv.step[lv.tight] + w.a.levels[lv.tight].togo[g][lv.choice] + lv.sum
}

// tighter is the tightest level of budgets that holds at gear g's level: what the
// other zones lose at least, each taken alone, leaves a zone no more.
func (w *walk) tighter(g int, cutoff float64) int {
	a, lv := w.a, &w.stack[g]
	b := lv.tight
	alone := func(z int) float64 {
		st := &lv.zones[z]
		return st.excess + st.pre[b] + a.levels[b].zones[z].rest[g][lv.choice]
	}
	room := cutoff - a.ideal
	for z := range lv.zones {
		room -= alone(z)
	}
	for c := b + 1; c < len(a.levels); c++ {
		for z := range lv.zones {
			if room+alone(z) > a.levels[c].zones[z].limit {
				return c - 1
			}
		}
	}
	return len(a.levels) - 1
}

// start is a zone's fork for first gear's candidate i.
func (w *walk) start(z, i int, out *fork) {
	out.nat, out.at = -1, out.at[:0]
	if w.m.pulls[z][0][i] {
		out.at = append(out.at, w.root(z, 0, i))
	}
}

// goOn is a zone's fork when candidate j, the n-th follower, follows candidate i
// of gear g.
func (w *walk) goOn(z int, up *fork, g, i, n, j int, out *fork) {
	out.nat, out.at = up.nat, out.at[:0]
	if out.nat < 0 && w.a.zones[z].z.Start.SpeedSq() < w.a.f.cross[g][i][j] {
		out.nat = g
	}
	pulls := w.m.pulls[z][g+1][j]
	if out.nat >= 0 || !pulls {
		for _, c := range up.at {
			out.at = append(out.at, w.follow(z, c, n))
		}
	} // else below the zone's natural gear so far
	if pulls {
		out.at = append(out.at, w.root(z, g+1, j))
	}
}

// isMade says whether goOn has nothing to make.
func (w *walk) isMade(up *fork, n int) bool {
	for _, c := range up.at {
		if c.known(n) == nil {
			return false
		}
	}
	return true
}

// over is the least excess of a zone's chains over the charges of gear g's
// candidate i.
func (w *walk) over(fk *fork, z int, t *zoneTable, g, i int) float64 {
	if fk.nat < 0 {
		return 0 // the zone's gears are still to come
	}
	least := math.Inf(1)
	for _, c := range fk.at {
		least = min(least, c.beyond(w.a.zones[z], t, g, i))
	}
	return least
}

// childBound is a lower bound of the lap (s) when candidate j, the n-th
// follower, follows candidate i of gear g.
func (w *walk) childBound(g, i, n, j int, cutoff float64) float64 {
	a := w.a
	if a.rest != nil {
		return w.restBound(g, i, j)
	}
	lv := &w.stack[g]
	if !lv.settled {
		w.settle(g, cutoff)
	}
	if lv.over {
		return math.Inf(1)
	}
	b := lv.tight
	level := a.levels[b]
	// Cheap first: what is known at this level stays.
	bound := a.ideal + lv.step[b] + level.step[g][i][n] + level.togo[g+1][j] + lv.sum
	if bound > cutoff || math.IsInf(bound, 1) {
		return bound
	}
	// What costs nothing first.
	w.fresh = w.fresh[:0]
	add := func(z int) bool {
		st := &lv.zones[z]
		w.goOn(z, &st.fork, g, i, n, j, &w.kids[z])
		over := w.over(&w.kids[z], z, level.zones[z], g+1, j) - st.pre[b] - level.zones[z].pairs[g][i][n]
		bound += max(0, over-st.excess)
		return bound > cutoff
	}
	for z := range a.zones {
		if !w.isMade(&lv.zones[z].fork, n) {
			w.fresh = append(w.fresh, z)
		} else if add(z) {
			return bound
		}
	}
	for _, z := range w.fresh {
		if add(z) {
			return bound
		}
	}
	// With what is known now, do the budgets of a tighter level hold?
	for {
		tight := w.holds(g, i, n, j, b, cutoff)
		if tight == b {
			return bound
		}
		b, level = tight, a.levels[tight]
		at := a.ideal + lv.step[b] + level.step[g][i][n] + level.togo[g+1][j]
		for z := range a.zones {
			at += w.known(z, g, i, n, j, b)
		}
		if bound = max(bound, at); bound > cutoff {
			return bound
		}
	}
}

// known is the excess of a zone of the child looked at over its charges.
func (w *walk) known(z, g, i, n, j, b int) float64 {
	st := &w.stack[g].zones[z]
	t := w.a.levels[b].zones[z]
	over := w.over(&w.kids[z], z, t, g+1, j) - st.pre[b] - t.pairs[g][i][n]
	if b == w.stack[g].tight {
		return max(over, st.excess)
	}
	return max(0, over)
}

// holds is the tightest level whose budgets hold for every set of interest that
// goes on from the child looked at: what the other zones lose at least, each
// taken alone, leaves a zone no more.
func (w *walk) holds(g, i, n, j, b int, cutoff float64) int {
	a := w.a
	if b+1 >= len(a.levels) {
		return b
	}
	sum := 0.0
	for z := range a.zones {
		sum += w.alone(z, g, i, n, j, b)
	}
	room := cutoff - a.ideal - sum
	tight := b
	for c := b + 1; c < len(a.levels); c++ {
		for z := range a.zones {
			if room+w.alone(z, g, i, n, j, b) > a.levels[c].zones[z].limit {
				return tight
			}
		}
		tight = c
	}
	return tight
}

// alone is the least loss of one zone of the child, whatever gears follow.
func (w *walk) alone(z, g, i, n, j, b int) float64 {
	t := w.a.levels[b].zones[z]
	return w.stack[g].zones[z].pre[b] + t.pairs[g][i][n] + t.rest[g+1][j] + w.known(z, g, i, n, j, b)
}

// losses are what a set loses in each zone (s).
func (w *walk) losses(idx []int) []float64 {
	f := w.a.f
	for g := range f.n {
		p, n := -1, 0
		if g > 0 {
			p = idx[g-1]
			for int(f.next[g-1][p][n]) != idx[g] {
				n++
			}
		}
		w.enter(g, p, n, idx[g])
	}
	out := make([]float64, len(w.a.zones))
	for z, za := range w.a.zones {
		best := w.best(z, &w.stack[f.n-1].zones[z].fork)
		out[z] = max(best-za.z.Ideal, 0)
		if math.IsInf(best, 1) {
			out[z] = w.a.levels[0].zones[z].limit
		}
	}
	return out
}

// best is the least time (s) of a zone in the gears chosen, when none follows.
func (w *walk) best(z int, fk *fork) float64 {
	best := math.Inf(1)
	for _, c := range fk.at {
		best = min(best, w.onward(z, c).best)
	}
	return best
}

// restBound is childBound for a lap that is one zone.
func (w *walk) restBound(g, i, j int) float64 {
	a := w.a
	f, za := a.f, a.zones[0]
	st := &w.stack[g].zones[0]
	cross := f.cross[g][i][j]
	nat := st.nat
	if nat < 0 && za.z.Start.SpeedSq() < cross {
		nat = g
	}
	if nat < 0 {
		return a.ideal // the zone's gears are still to come
	}
	best := math.Inf(1)
	if w.m.pulls[0][g+1][j] {
		best = w.atOnce(g+1, j) // taken at once
	}
	for _, c := range st.at {
		o := w.onward(0, c)
		best = min(best, o.best)
		for l, run := range o.runs {
			best = min(best, a.rest.onward(run, g, i, j))
			if len(run.Gates()) > 0 {
				// Rows of shifts before a no-shift place are not in the table.
				from := &c.cars[l].from
				best = min(best, za.bound(a.m, a.e, from.Distance(), from.SpeedSq(), from.Clock()))
			}
		}
	}
	return best - restSlack - placeSlack
}

// atOnce is a lower bound of the lap (s), less the slacks, that begins in gear
// g's candidate i, for a lap that is one zone.
func (w *walk) atOnce(g, i int) float64 {
	p := &w.m.begun[g][i]
	if bits := p.Load(); bits != 0 {
		return math.Float64frombits(bits)
	}
	gear := w.a.gearOf(g, i)
	run := w.fromStart(0, g, i, &gear)
	best := run.Held()
	if g+1 < w.a.f.n {
		for _, j := range w.a.f.next[g][i] {
			best = min(best, w.a.rest.onward(run, g, i, int(j)))
		}
	}
	p.Store(math.Float64bits(best))
	return best
}

// total is a lower bound of the lap (s) of a complete set: exact but for the
// places of its shifts where every zone begins on its limit.
func (w *walk) total(cutoff float64) float64 {
	sum := w.a.ideal
	for z, za := range w.a.zones {
		sum += w.best(z, &w.stack[w.a.f.n-1].zones[z].fork) - za.z.Ideal
		if sum > cutoff {
			return sum
		}
	}
	return sum
}
