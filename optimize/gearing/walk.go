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
	scratch []car
}

// level is the state after choosing a gear.
type level struct {
	zones  []zoneState
	sum    float64 // s, the zones' excess over what the tables charge
	step   float64 // s, charges of the pairs chosen
	choice int     // the candidate
	ran    bool    // runs of this level are made
}

// zoneState is one zone at a level.
type zoneState struct {
	held   float64 // s, best time of ending in an earlier gear; +Inf none
	pre    float64 // s, charges of the pairs chosen
	excess float64 // s, what is known of the loss beyond them, 0 when less is
	nat    int     // index of the zone's natural gear; -1 not met yet
	cars   []car
}

// car is one way to drive: under way in the gear of its level.
type car struct {
	from    sim.Moment
	atStart bool // it begins with the zone: its run is shared
	run     *sim.Trajectory
	own     *sim.Trajectory
	dead    float64 // m, another car of the level is ahead from there on

	// barred cars were shifted into where a no-shift place begins, at entry,
	// from car number parent of the level before.
	barred bool
	entry  sim.Moment
	parent int
}

// startGears is how many gears the lap tries at a throttle-on (8.3).
const startGears = 3

func newWalk(a *account) *walk {
	f := a.f
	w := &walk{a: a, stack: make([]level, f.n+1)}
	for i := range w.stack {
		w.stack[i].zones = make([]zoneState, len(a.zones))
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
	lv.ran, lv.sum, lv.step, lv.choice = false, 0, 0, i
	if g > 0 {
		lv.step = w.stack[g-1].step + w.a.step[g-1][p][n]
	}
	for z, za := range w.a.zones {
		st := &lv.zones[z]
		old := st.cars[:cap(st.cars)]
		st.pre = 0
		if g > 0 {
			st.pre = w.stack[g-1].zones[z].pre + za.pairs[g-1][p][n]
		}
		w.scratch, st.held, st.nat = w.spawn(w.scratch[:0], z, g, p, i)
		st.excess = math.Max(0, w.over(za, w.scratch, st.held, st.nat, g, i)-st.pre)
		lv.sum += st.excess
		st.cars = st.cars[:0]
		for _, c := range w.scratch {
			if k := len(st.cars); k < len(old) {
				c.own = old[k].own // keep the memory of its run
			}
			if c.own == nil && !c.atStart {
				c.own = &sim.Trajectory{}
			}
			st.cars = append(st.cars, c)
		}
	}
}

// over is the least of what cars and the end in an earlier gear have lost
// beyond what candidate i of gear g is charged for the speeds they have come
// through; +Inf when nothing is under way within the budget.
func (w *walk) over(za *zoneAcct, cars []car, held float64, nat, g, i int) float64 {
	if nat < 0 {
		return 0 // the zone's gears are still to come
	}
	least := math.Inf(1)
	if !math.IsInf(held, 1) {
		least = held - za.z.Ideal - za.end(g, i)
	}
	for n := range cars {
		c := &cars[n]
		if c.atStart {
			least = math.Min(least, 0)
			continue
		}
		known := za.bound(w.a.m, w.a.e, c.from.Distance(), c.from.SpeedSq(), c.from.Clock()) - za.z.Ideal
		least = math.Min(least, known-za.upTo(g, i, math.Sqrt(c.from.SpeedSq())))
	}
	return least
}

// spawn lists the cars that run in gear g's candidate i after candidate p of
// the gear before, whose runs are made: after the shift that was due, after
// those that the lap tries beside it, and from the zone's start.
func (w *walk) spawn(dst []car, z, g, p, i int) (cars []car, held float64, nat int) {
	a := w.a
	f, m, za := a.f, a.m, a.zones[z]
	gb := a.gearOf(g, i)
	held, nat = math.Inf(1), -1
	if g == 0 {
		return w.begin(dst, za, &gb), held, nat
	}
	up := &w.stack[g-1].zones[z]
	held, nat = up.held, up.nat
	cross, u := f.cross[g-1][p][i], za.z.Start.SpeedSq()
	if nat < 0 && u < cross {
		nat = g - 1
	}
	pulls := w.pulls(&gb, za)
	if nat < 0 && pulls {
		return w.begin(dst, za, &gb), held, nat // below the zone's natural gear so far
	}
	ga := a.gearOf(g-1, p)
	add := func(at sim.Moment, entry *sim.Moment, parent int) {
		after, ok := m.After(at, &ga, &gb, &za.z)
		if !ok {
			// Over the end of the zone in the pause.
			held = math.Min(held, at.Clock()+(za.z.End-at.Distance())/math.Sqrt(at.SpeedSq()))
			return
		}
		c := car{from: after, dead: math.Inf(1)}
		if entry != nil {
			c.barred, c.entry, c.parent = true, *entry, parent
		}
		dst = keepAhead(dst, c)
	}
	for l := range up.cars {
		c := &up.cars[l]
		if math.IsInf(c.dead, 1) {
			held = math.Min(held, c.run.Held())
		}
		at, ok, entry, late := m.Crosses(c.run, cross)
		if ok && at.Distance() < c.dead {
			add(at, nil, 0)
		}
		if late && entry.Distance() > 0 {
			add(entry, &entry, l)
		}
		if late && c.barred && g > 1 {
			before := &w.stack[g-2].zones[z].cars[c.parent]
			g2 := a.gearOf(g-2, w.pick(g-2))
			if after, ok := m.TwoBefore(before.run, c.entry, &g2, &ga, &gb, &za.z); ok {
				dst = keepAhead(dst, car{from: after, dead: math.Inf(1)})
			}
		}
		if c.atStart && !pulls {
			if at, ok := m.PullsIn(c.run, &gb, cross); ok {
				add(at, nil, 0)
			}
		}
	}
	if nat >= 0 && g < nat+startGears && pulls {
		dst = w.begin(dst, za, &gb)
	}
	return dst, held, nat
}

// pick is the candidate chosen for gear g.
func (w *walk) pick(g int) int { return w.stack[g].choice }

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
func (w *walk) begin(dst []car, za *zoneAcct, gear *sim.Gear) []car {
	if !w.pulls(gear, za) || gear.LimitSq() < za.z.Start.SpeedSq()*(1-1e-9) {
		return dst
	}
	return append(dst, car{from: za.z.Start, atStart: true, dead: math.Inf(1)})
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
		for l := range cars {
			c := &cars[l]
			if c.atStart {
				c.run = w.fromStart(z, g, i, &gear)
				continue
			}
			c.run = c.own
			w.a.m.Run(c.own, c.from, &gear, &za.z, w.a.e, uLast, za.giveUp(w.a))
		}
	}
}

// giveUp ends a run that has lost more than the zone's budget.
func (za *zoneAcct) giveUp(a *account) func(s, u, clock float64) bool {
	return func(s, u, clock float64) bool {
		return za.bound(a.m, a.e, s, u, clock)-za.z.Ideal > za.limit
	}
}

func (w *walk) fromStart(z, g, i int, gear *sim.Gear) *sim.Trajectory {
	t := w.fromTop[z][g][i]
	if t == nil {
		t = &sim.Trajectory{}
		za := w.a.zones[z]
		w.a.m.Run(t, za.z.Start, gear, &za.z, w.a.e, 0, za.giveUp(w.a))
		w.fromTop[z][g][i] = t
	}
	return t
}

// childBound is a lower bound of the lap (s) when candidate j, the n-th
// follower, follows candidate i of gear g, whose runs are made.
func (w *walk) childBound(g, i, n, j int, cutoff float64) float64 {
	a := w.a
	lv := &w.stack[g]
	base := a.ideal + lv.step + a.step[g][i][n] + a.togo[g+1][j]
	// Cheap first: what is known at this level stays.
	if base+lv.sum > cutoff || len(a.zones) == 0 {
		return base + lv.sum
	}
	sum := base + lv.sum
	for z, za := range a.zones {
		st := &lv.zones[z]
		cars, held, nat := w.spawn(w.scratch[:0], z, g+1, i, j)
		w.scratch = cars
		over := w.over(za, cars, held, nat, g+1, j) - st.pre - za.pairs[g][i][n]
		sum += math.Max(0, over-st.excess)
		if sum > cutoff {
			return sum
		}
	}
	return sum
}

// total is a lower bound of the lap (s) of a complete set, whose last gear g is
// candidate i: exact where every zone begins on its limit.
func (w *walk) total(g, i int, cutoff float64) float64 {
	w.drive(g, i, math.Inf(1))
	sum := w.a.ideal
	for z, za := range w.a.zones {
		st := &w.stack[g].zones[z]
		best := st.held
		for l := range st.cars {
			best = math.Min(best, st.cars[l].run.Held())
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
		uLast = math.Max(uLast, f.cross[g][i][j])
	}
	w.drive(g, i, uLast)
}
