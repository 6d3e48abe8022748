package gearing

import "math"

// walk goes down the tree of sets for one lap: what is known of the prefix is
// exact, what is free is bounded by the account. It belongs to one worker; what
// the zones come to (chain.go) is shared.
type walk struct {
	maker
	stack []level
	kids  []fork      // of the child looked at, by zone
	fresh []int       // zones in which it is not made yet
	togo  [][]float64 // scratch of join
	row   []float64
	use   []*zoneTable
}

// level is the state after choosing a gear.
type level struct {
	zones   []zoneState
	choice  int
	settled bool      // the rest is known
	over    bool      // no set of interest goes on from here
	sum     float64   // s, of what the zones have lost and of the charges of the pairs chosen
	onward  []float64 // s, by follower: least charges of the pair and of what comes after
	alone   float64   // s, lap in which every zone loses its least
}

// fork is what a zone has come to.
type fork struct {
	nat int      // index of the zone's natural gear; -1 not met yet
	at  []*chain // by gear that the zone is begun in
}

// zoneState is one zone at a level.
type zoneState struct {
	fork
	tight  int       // the tightest level of budgets that holds for the zone
	pre    []float64 // s, by level of budgets: charges of the pairs chosen
	excess float64   // s, what is known of the loss beyond what the tables of that level charge
	least  float64   // s, least loss of the zone, whatever gears follow
}

func newWalk(a *account) *walk {
	f := a.f
	w := &walk{maker: maker{a: a, m: a.memory}, stack: make([]level, f.n), kids: make([]fork, len(a.zones)), togo: make([][]float64, f.n)}
	for g := range w.stack {
		l := &w.stack[g]
		l.zones = make([]zoneState, len(a.zones))
		for z := range l.zones {
			l.zones[z].pre = make([]float64, len(a.levels))
		}
		w.togo[g] = make([]float64, len(f.cand[g]))
		l.onward = make([]float64, 0, 64)
	}
	return w
}

// enter descends to gear g (index) with candidate i, the n-th follower of
// candidate p of the gear before.
func (w *walk) enter(g, p, n, i int) {
	lv := &w.stack[g]
	lv.settled, lv.choice = false, i
	for z := range lv.zones {
		st := &lv.zones[z]
		if g == 0 {
			st.tight = 0
			w.start(z, i, &st.fork)
			for b := range st.pre {
				st.pre[b] = 0
			}
			continue
		}
		up := &w.stack[g-1].zones[z]
		st.tight = up.tight
		w.goOn(z, &up.fork, g-1, p, n, i, &st.fork)
		for b, level := range w.a.levels {
			st.pre[b] = up.pre[b] + level.zones[z].pairs[g-1][p][n]
		}
	}
}

// settle makes the runs of gear g's level, finds the tightest budgets that hold
// there for every set of interest, and what the zones have lost beyond their
// charges. It ends early, with over set, when nothing of interest is left.
func (w *walk) settle(g int, cutoff float64) {
	lv := &w.stack[g]
	lv.settled, lv.over = true, true
	for z := range lv.zones {
		w.measure(z, g)
	}
	if w.narrow(g, cutoff) {
		return
	}
	for z := range lv.zones {
		st := &lv.zones[z]
		if st.driven() {
			continue
		}
		for _, c := range st.at {
			w.onward(z, c)
		}
		before := st.excess
		w.measure(z, g)
		if st.excess > before && w.narrow(g, cutoff) {
			return
		}
	}
	lv.over = w.join(g) > cutoff
	lv.alone = w.a.ideal - aloneSlack
	for z := range lv.zones {
		lv.alone += lv.zones[z].least
	}
}

// least is the least loss of zone z when gear g's candidate i is the last chosen.
func (w *walk) least(fk *fork, z, g, i int) float64 {
	best := w.a.ends[z].later[g][i]
	for _, c := range fk.at {
		best = min(best, c.least)
	}
	return best
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

// table is zone z's table at gear g's level.
func (w *walk) table(z, g int) *zoneTable {
	return w.a.levels[w.stack[g].zones[z].tight].zones[z]
}

// measure finds the excess of zone z at gear g's level.
func (w *walk) measure(z, g int) {
	st := &w.stack[g].zones[z]
	i := w.stack[g].choice
	st.excess = max(0, w.over(&st.fork, z, w.table(z, g), g, i)-st.pre[st.tight])
	st.least = w.least(&st.fork, z, g, i)
}

// alone is the least loss of zone z at gear g's level, whatever gears follow.
func (w *walk) alone(z, g int) float64 {
	st := &w.stack[g].zones[z]
	return max(st.least, st.pre[st.tight]+st.excess+w.table(z, g).rest[g][w.stack[g].choice])
}

// narrow takes the tightest budgets that hold at gear g's level: what the other
// zones lose at least, each taken alone, leaves a zone no more. It says whether
// that leaves no set of interest.
func (w *walk) narrow(g int, cutoff float64) bool {
	a, lv := w.a, &w.stack[g]
	for again := true; again; {
		again = false
		room := cutoff - a.ideal + aloneSlack
		for z := range lv.zones {
			room -= w.alone(z, g)
		}
		if room < 0 {
			return true
		}
		for z := range lv.zones {
			st := &lv.zones[z]
			was, most := st.tight, room+w.alone(z, g)
			for st.tight+1 < len(a.levels) && most <= a.levels[st.tight+1].zones[z].limit {
				st.tight++
			}
			if st.tight != was {
				w.measure(z, g)
				again = true
			}
		}
	}
	return false
}

// join is a lower bound of the lap (s) of every set that goes on from gear g's
// level: all zones use one chain. It fills in sum and onward.
func (w *walk) join(g int) float64 {
	lv := &w.stack[g]
	lv.sum = w.a.ideal
	for z := range lv.zones {
		st := &lv.zones[z]
		lv.sum += st.pre[st.tight] + st.excess
	}
	lv.onward = w.chains(g, lv.onward[:0])
	best := math.Inf(1)
	for _, c := range lv.onward {
		best = min(best, c)
	}
	return lv.sum + best
}

// chains is, by follower, the least charge of what follows in all zones together.
func (w *walk) chains(g int, each []float64) []float64 {
	f := w.a.f
	for h := g + 1; h < f.n; h++ {
		for i := range w.togo[h] {
			w.togo[h][i] = math.Inf(1)
		}
	}
	w.use = w.use[:0]
	for z := range w.a.zones {
		w.use = append(w.use, w.table(z, g))
	}
	// Which candidates may follow, gear by gear; then back from the last.
	w.reach(g)
	for h := f.n - 1; h > g; h-- {
		for i := range w.togo[h] {
			if !math.IsInf(w.togo[h][i], 1) {
				w.togo[h][i] = w.leastOn(h, i)
			}
		}
	}
	return w.charges(g, w.stack[g].choice, each)
}

// reach marks the candidates that may stand in a set that goes on from gear g's
// level, with 0 in togo.
func (w *walk) reach(g int) {
	f := w.a.f
	for h := g; h < f.n-1; h++ {
		for i := range w.togo[h] {
			if h == g && i != w.stack[g].choice || h > g && math.IsInf(w.togo[h][i], 1) {
				continue
			}
			for _, j := range f.next[h][i] {
				w.togo[h+1][j] = 0
			}
		}
	}
}

// leastOn is the least charge of what follows candidate i of gear h.
func (w *walk) leastOn(h, i int) float64 {
	if h == w.a.f.n-1 {
		sum := 0.0
		for _, t := range w.use {
			sum += t.end(h, i)
		}
		return sum
	}
	w.row = w.charges(h, i, w.row[:0])
	best := math.Inf(1)
	for _, c := range w.row {
		best = min(best, c)
	}
	return best
}

// charges appends, by follower of candidate i of gear h, the charge of the pair
// and the least of what comes after.
func (w *walk) charges(h, i int, each []float64) []float64 {
	for _, j := range w.a.f.next[h][i] {
		each = append(each, w.togo[h+1][j])
	}
	for _, t := range w.use {
		for n, c := range t.pairs[h][i] {
			each[n] += c
		}
	}
	return each
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
// candidate i. A zone that begins in a gear yet to come has lost nothing so far, and
// is charged nothing: a shift costs nothing where the zone begins.
func (w *walk) over(fk *fork, z int, t *zoneTable, g, i int) float64 {
	least := math.Inf(1)
	if fk.nat < 0 || w.a.ends[z].later[g][i] <= t.limit {
		least = 0
	}
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
	// What is known at this level stays: of the zones together, and of each alone.
	bound, alone := lv.sum+lv.onward[n], lv.alone
	if max(bound, alone) > cutoff {
		return max(bound, alone)
	}
	add := func(z int) bool {
		st, kid := &lv.zones[z], &w.kids[z]
		w.goOn(z, &st.fork, g, i, n, j, kid)
		t := w.table(z, g)
		over := w.over(kid, z, t, g+1, j) - st.pre[st.tight] - t.pairs[g][i][n]
		bound += max(0, over-st.excess)
		alone += max(0, w.least(kid, z, g+1, j)-st.least)
		return max(bound, alone) > cutoff
	}
	// What costs nothing first.
	w.fresh = w.fresh[:0]
	for z := range a.zones {
		if !w.isMade(&lv.zones[z].fork, n) {
			w.fresh = append(w.fresh, z)
		} else if add(z) {
			return max(bound, alone)
		}
	}
	for _, z := range w.fresh {
		if add(z) {
			return max(bound, alone)
		}
	}
	return max(bound, alone)
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
	best := w.begunFrom(g+1, j)
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
	return best - restSlack
}

// begunFrom is a lower bound of the lap (s), less the slacks, that begins in gear
// g's candidate i or in any gear that may come after it, for a lap that is one zone.
func (w *walk) begunFrom(g, i int) float64 {
	p := &w.m.onwards[g][i]
	if bits := p.Load(); bits != 0 {
		return math.Float64frombits(bits)
	}
	best := math.Inf(1)
	if w.m.pulls[0][g][i] {
		best = w.atOnce(g, i)
	}
	if g+1 < w.a.f.n {
		for _, j := range w.a.f.next[g][i] {
			best = min(best, w.begunFrom(g+1, int(j)))
		}
	}
	p.Store(math.Float64bits(best))
	return best
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
