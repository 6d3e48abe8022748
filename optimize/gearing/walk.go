package gearing

import (
	"math"

	"layshaft/sim"
)

// walk drives the zones of one lap along a prefix of gears: what is known of
// the prefix is exact, what is free is bounded by the account. It belongs to
// one worker.
type walk struct {
	a       *account
	fromTop [][][]*sim.Trajectory // [z][g][i]: run from the zone's start in one gear; made when first needed
	stack   []level
	child   []met       // of the child looked at, by zone
	begun   [][]float64 // [g][i]: s, lap of one zone that begins in a gear; 0 = not yet known
}

// level is the state after choosing a gear.
type level struct {
	zones  []zoneState
	choice int       // the candidate
	tight  int       // the tightest level of budgets that holds here
	sum    []float64 // s, by level of budgets: the zones' excess over what the tables charge
	step   []float64 // s, by level of budgets: charges of the pairs chosen
	ran    bool      // runs of this level are made
}

// zoneState is one zone at a level.
type zoneState struct {
	met
	pre    []float64 // s, by level of budgets: charges of the pairs chosen
	excess []float64 // s, what is known of the loss beyond them, 0 when less is
}

// met is what a zone has come to.
type met struct {
	held float64 // s, best time of ending in an earlier gear; +Inf none
	nat  int     // index of the zone's natural gear; -1 not met yet
	cars []car
	lost []float64 // s, by car: loss so far, at least
}

// car is one way to drive: under way in the gear of its level.
type car struct {
	from    sim.Moment
	atStart bool // it begins with the zone: its run is shared
	run     *sim.Trajectory
	own     *sim.Trajectory
}

// placeSlack (s) is taken off what runs say: they shift at the shift speeds of
// (8.2), while the lap moves the shifts of its best schedule to where its time
// does not change with them. Of some 800 sets within 20 ms of the best, on the
// embedded circuits, none gained more than 0.45 ms by that on a lap of many
// zones, 0.22 ms where the lap is one zone. Measured, not proved.
const (
	placeSlack    = 1e-3
	placeSlackOne = 3e-4 // where the lap is one zone
)

func newWalk(a *account) *walk {
	f := a.f
	w := &walk{a: a, stack: make([]level, f.n+1), child: make([]met, len(a.zones)), begun: make([][]float64, f.n)}
	for i := range w.stack {
		l := &w.stack[i]
		l.zones = make([]zoneState, len(a.zones))
		l.sum, l.step = make([]float64, len(a.levels)), make([]float64, len(a.levels))
		for z := range l.zones {
			l.zones[z].pre = make([]float64, len(a.levels))
			l.zones[z].excess = make([]float64, len(a.levels))
		}
	}
	w.fromTop = make([][][]*sim.Trajectory, len(a.zones))
	for z := range w.fromTop {
		w.fromTop[z] = make([][]*sim.Trajectory, f.n)
		for g := range f.n {
			w.fromTop[z][g] = make([]*sim.Trajectory, len(f.cand[g]))
		}
	}
	return w
}

// downTo is the greatest speed² (m²/s²) at the limiter of a gear below gear g's
// candidate i; 0 for first gear.
func (a *account) downTo(g, i int) float64 {
	most := 0.0
	if g > 0 {
		for p := range a.f.cand[g-1] {
			if !math.IsNaN(a.f.cross[g-1][p][i]) {
				most = max(most, a.f.gear[g-1][p].LimitSq())
			}
		}
	}
	return most
}

// gearOf is the gear as it runs in this lap.
func (a *account) gearOf(g, i int) sim.Gear {
	gear := a.f.gear[g][i]
	if a.slip && g == 0 {
		gear = gear.Slipping()
	}
	return gear
}

// enter descends to gear g (index) with candidate i, the n-th follower of
// candidate p of the gear before.
func (w *walk) enter(g, p, n, i int) {
	lv := &w.stack[g]
	lv.ran, lv.choice, lv.tight = false, i, 0
	for b, level := range w.a.levels {
		lv.sum[b], lv.step[b] = 0, 0
		if g > 0 {
			lv.step[b] = w.stack[g-1].step[b] + level.step[g-1][p][n]
		}
	}
	if g > 0 {
		lv.tight = w.stack[g-1].tight
	}
	for z := range w.a.zones {
		st := &lv.zones[z]
		kept := st.cars[:cap(st.cars)]
		m := &w.child[z]
		w.spawn(m, z, g, p, i)
		st.held, st.nat, st.lost = m.held, m.nat, append(st.lost[:0], m.lost...)
		st.cars = st.cars[:0]
		for _, c := range m.cars {
			if k := len(st.cars); k < len(kept) {
				c.own = kept[k].own // keep the memory of its run
			}
			if c.own == nil && !c.atStart {
				c.own = &sim.Trajectory{}
			}
			st.cars = append(st.cars, c)
		}
		for b, level := range w.a.levels {
			st.pre[b] = 0
			if g > 0 {
				st.pre[b] = w.stack[g-1].zones[z].pre[b] + level.zones[z].pairs[g-1][p][n]
			}
			st.excess[b] = max(0, w.over(level, z, m, g, i)-st.pre[b])
			lv.sum[b] += st.excess[b]
		}
	}
}

// over is the least of what cars and the end in an earlier gear have lost
// beyond what candidate i of gear g is charged for the speeds they have come
// through; +Inf when nothing is under way within the budget.
func (w *walk) over(level *budget, z int, m *met, g, i int) float64 {
	if m.nat < 0 {
		return 0 // the zone's gears are still to come
	}
	za, t := w.a.zones[z], level.zones[z]
	least := math.Inf(1)
	if !math.IsInf(m.held, 1) {
		least = m.held - za.z.Ideal - t.end(g, i)
	}
	for n := range m.cars {
		c := &m.cars[n]
		if c.atStart {
			least = min(least, 0)
			continue
		}
		least = min(least, m.lost[n]-t.upTo(za, g, i, math.Sqrt(c.from.SpeedSq())))
	}
	return least
}

// spawn lists the cars that run in gear g's candidate i after candidate p of
// the gear before, whose runs are made: after the shift that was due, after
// those that the lap tries beside it, and from the zone's start.
func (w *walk) spawn(out *met, z, g, p, i int) {
	a := w.a
	f, m, za := a.f, a.m, a.zones[z]
	gb := a.gearOf(g, i)
	out.held, out.nat, out.cars, out.lost = math.Inf(1), -1, out.cars[:0], out.lost[:0]
	if g == 0 {
		w.begin(out, za, &gb)
		return
	}
	up := &w.stack[g-1].zones[z]
	out.held, out.nat = up.held, up.nat
	cross, u := f.cross[g-1][p][i], za.z.Start.SpeedSq()
	if out.nat < 0 && u < cross {
		out.nat = g - 1
	}
	pulls := w.pulls(&gb, za)
	if out.nat < 0 && pulls {
		w.begin(out, za, &gb) // below the zone's natural gear so far
		return
	}
	ga := a.gearOf(g-1, p)
	add := func(at sim.Moment) {
		after, ok := m.After(at, &ga, &gb, &za.z)
		if !ok {
			// Over the end of the zone in the pause.
			out.held = min(out.held, at.Clock()+(za.z.End-at.Distance())/math.Sqrt(at.SpeedSq()))
			return
		}
		out.cars = keepAhead(out.cars, car{from: after})
	}
	for l := range up.cars {
		c := &up.cars[l]
		out.held = min(out.held, c.run.Held())
		at, ok := m.Crosses(c.run, cross)
		for ok {
			add(at)
			if !c.run.Slowed() {
				break
			}
			at, ok = m.CrossesAgain(c.run, cross, at.Distance())
		}
		if c.atStart && !pulls {
			if at, ok := m.PullsIn(c.run, &gb, cross); ok {
				add(at)
			}
		}
	}
	w.rows(out, z, g, i)
	if out.nat >= 0 && pulls {
		w.begin(out, za, &gb)
	}
	for n := range out.cars {
		c, lost := &out.cars[n], 0.0
		if !c.atStart {
			lost = za.bound(m, a.e, c.from.Distance(), c.from.SpeedSq(), c.from.Clock()) - za.z.Ideal
		}
		out.lost = append(out.lost, lost)
	}
}

// longestRow is how many shifts in a row the lap tries before a no-shift place.
const longestRow = 4

// rows adds the cars that come to gear g's candidate i by a row of shifts before
// a no-shift place.
func (w *walk) rows(out *met, z, g, i int) {
	a := w.a
	za := a.zones[z]
	var gears [longestRow + 1]sim.Gear
	for n := 1; n <= longestRow && n <= g; n++ {
		cars := w.stack[g-n].zones[z].cars
		for l := range cars {
			for _, gate := range cars[l].run.Gates() {
				for k := range n {
					gears[k] = a.gearOf(g-n+k, w.stack[g-n+k].choice)
				}
				gears[n] = a.gearOf(g, i)
				if after, ok := a.m.Row(cars[l].run, gate, gears[:n+1], &za.z); ok {
					out.cars = keepAhead(out.cars, car{from: after})
				}
			}
		}
	}
}

// keepAhead adds a car unless another in the same gear is ahead of it, and
// drops those that it is ahead of: a car that was no later at an earlier place,
// as fast, passes the other's place faster and no later.
func keepAhead(cars []car, c car) []car {
	ahead := func(a, b *car) bool {
		if a.atStart || a.from.SpeedSq() < b.from.SpeedSq() || a.from.Distance() > b.from.Distance() {
			return false
		}
		return a.from.Clock()+(b.from.Distance()-a.from.Distance())/math.Sqrt(a.from.SpeedSq()) <= b.from.Clock()
	}
	n := 0
	for k := range cars {
		if ahead(&cars[k], &c) {
			return cars
		}
		if !ahead(&c, &cars[k]) {
			cars[n] = cars[k]
			n++
		}
	}
	return append(cars[:n], c)
}

// begin adds the car that takes a gear at the start of the zone, if it pulls
// and does not over-rev there.
func (w *walk) begin(out *met, za *zoneAcct, gear *sim.Gear) {
	if w.pulls(gear, za) && gear.LimitSq() >= za.z.Start.SpeedSq()*(1-1e-9) {
		out.cars = append(out.cars, car{from: za.z.Start, atStart: true})
	}
}

// pulls applies the pulling rpm where the zone begins at a throttle-on place;
// an out lap's first zone begins at the pit exit, where no rule binds.
func (w *walk) pulls(gear *sim.Gear, za *zoneAcct) bool {
	return za.free || w.a.m.Pulls(gear, &za.z)
}

// drive makes the runs of gear g's candidate i; uLast is the greatest shift
// speed² among the children, +Inf for the last gear.
func (w *walk) drive(g, i int, uLast float64) {
	lv := &w.stack[g]
	if lv.ran {
		return
	}
	lv.ran = true
	gear := w.a.gearOf(g, i)
	for z, za := range w.a.zones {
		cars := lv.zones[z].cars
		limit := w.a.levels[lv.tight].zones[z].limit
		for l := range cars {
			c := &cars[l]
			if c.atStart {
				c.run = w.fromStart(z, g, i, &gear)
				continue
			}
			c.run = c.own
			za.drive(w.a, c.own, c.from, &gear, uLast, w.a.f.gear[g-1][w.stack[g-1].choice].LimitSq(), limit, 0)
		}
	}
}

// drive makes a run, with a bound of what shifts down on its way are
// worth.
func (a *zoneAcct) drive(lap *account, t *sim.Trajectory, from sim.Moment, gear *sim.Gear, uLast, uDown, limit, before float64) {
	lap.m.Run(t, from, gear, &a.z, lap.e, uLast, uDown, a.giveUp(lap, limit, before))
	for _, at := range t.Slows() {
		if at.Distance() >= a.z.End {
			t.Down = min(t.Down, at.Clock()-(at.Distance()-a.z.End)/math.Sqrt(at.SpeedSq()))
			continue
		}
		t.Down = min(t.Down, a.bound(lap.m, lap.e, at.Distance(), at.SpeedSq(), at.Clock()))
	}
}

// giveUp ends a run that has lost more than a budget (s); before is the time (s)
// that had passed in the zone when the run's clock began.
func (a *zoneAcct) giveUp(lap *account, limit, before float64) func(s, u, clock float64) bool {
	return func(s, u, clock float64) bool {
		return a.bound(lap.m, lap.e, s, u, clock+before)-a.z.Ideal > limit
	}
}

func (w *walk) fromStart(z, g, i int, gear *sim.Gear) *sim.Trajectory {
	t := w.fromTop[z][g][i]
	if t == nil {
		t = &sim.Trajectory{}
		za := w.a.zones[z]
		za.drive(w.a, t, za.z.Start, gear, 0, w.a.downTo(g, i), w.a.levels[0].zones[z].limit, 0)
		w.fromTop[z][g][i] = t
	}
	return t
}

// childBound is a lower bound of the lap (s) when candidate j, the n-th
// follower, follows candidate i of gear g, whose runs are made.
func (w *walk) childBound(g, i, n, j int, cutoff float64) float64 {
	a := w.a
	if a.rest != nil {
		return w.restBound(g, i, j)
	}
	lv := &w.stack[g]
	b := lv.tight
	level := a.levels[b]
	// Cheap first: what is known at this level stays.
	bound := a.ideal - placeSlack + lv.step[b] + level.step[g][i][n] + level.togo[g+1][j] + lv.sum[b]
	if bound > cutoff || math.IsInf(bound, 1) {
		return bound
	}
	for z := range a.zones {
		st := &lv.zones[z]
		w.spawn(&w.child[z], z, g+1, i, j)
		over := w.over(level, z, &w.child[z], g+1, j) - st.pre[b] - level.zones[z].pairs[g][i][n]
		bound += max(0, over-st.excess[b])
		if bound > cutoff {
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
		at := a.ideal - placeSlack + lv.step[b] + level.step[g][i][n] + level.togo[g+1][j]
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
	level := w.a.levels[b]
	over := w.over(level, z, &w.child[z], g+1, j) - st.pre[b] - level.zones[z].pairs[g][i][n]
	return max(max(0, over), st.excess[b])
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
	room := cutoff + placeSlack - a.ideal - sum
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
		w.drive(g, idx[g], math.Inf(1))
	}
	out := make([]float64, len(w.a.zones))
	for z, za := range w.a.zones {
		st := &w.stack[f.n-1].zones[z]
		best := st.held
		for l := range st.cars {
			best = min(best, st.cars[l].run.Held())
		}
		out[z] = max(best-za.z.Ideal, 0)
		if math.IsInf(best, 1) {
			out[z] = w.a.levels[0].zones[z].limit
		}
	}
	return out
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
	best := st.held
	if gb := a.gearOf(g+1, j); w.pulls(&gb, za) {
		best = min(best, w.atOnce(g+1, j, &gb)) // taken at once
	}
	for l := range st.cars {
		c := &st.cars[l]
		best = min(best, min(c.run.Held(), a.rest.onward(c.run, g, i, j)))
		if len(c.run.Gates()) > 0 {
			// Rows of shifts before a no-shift place are not in the table.
			best = min(best, za.bound(a.m, a.e, c.from.Distance(), c.from.SpeedSq(), c.from.Clock()))
		}
	}
	return best - restSlack - placeSlackOne
}

// atOnce is a lower bound of the lap (s), less the slacks, that begins in gear
// g's candidate i, for a lap that is one zone.
func (w *walk) atOnce(g, i int, gear *sim.Gear) float64 {
	if w.begun[g] == nil {
		w.begun[g] = make([]float64, len(w.a.f.cand[g]))
	}
	if w.begun[g][i] == 0 {
		run := w.fromStart(0, g, i, gear)
		best := run.Held()
		if g+1 < w.a.f.n {
			for _, j := range w.a.f.next[g][i] {
				best = min(best, w.a.rest.onward(run, g, i, int(j)))
			}
		}
		w.begun[g][i] = best
	}
	return w.begun[g][i]
}

// total is a lower bound of the lap (s) of a complete set, whose last gear g is
// candidate i: exact where every zone begins on its limit.
func (w *walk) total(g, i int, cutoff float64) float64 {
	w.drive(g, i, math.Inf(1))
	sum := w.a.ideal - placeSlack
	if len(w.a.zones) == 1 {
		sum = w.a.ideal - placeSlackOne
	}
	for z, za := range w.a.zones {
		st := &w.stack[g].zones[z]
		best := st.held
		for l := range st.cars {
			best = min(best, st.cars[l].run.Held())
		}
		sum += best - za.z.Ideal
		if sum > cutoff {
			return sum
		}
	}
	return sum
}

// ensure makes the runs of a level that was entered without asking for its
// children (a task that begins below the root).
func (w *walk) ensure(g, i int, f *frame) {
	uLast := 0.0
	for _, j := range f.next[g][i] {
		uLast = max(uLast, f.cross[g][i][j])
	}
	w.drive(g, i, uLast)
}
