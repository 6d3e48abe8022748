package gearing

import (
	"math"

	"layshaft/sim"
)

// walk drives the zones of one lap along a prefix of gears: what is known of
// the prefix is exact, what is free is bounded by the account. It belongs to
// one worker.
type walk struct {
	a     *account
	apex  [][][]*sim.Trajectory // [z][g][i]: run from the zone's start in one gear; made when first needed
	stack []level
}

// level is the state after choosing a gear.
type level struct {
	zones []zoneState
	sum   float64 // s, what the zones' bounds exceed the ideal lap by
	ran   bool    // runs of this level are made
}

// zoneState is one zone at a level: up to two cars are under way, one that
// began in the natural gear, one that began in the next.
type zoneState struct {
	held    float64 // s, best time of ending in an earlier gear; +Inf none
	least   float64 // s, what is known of the zone's loss at this level, safe beside the chain table
	labels  int
	from    [2]sim.Moment
	atStart [2]bool // the label begins at the zone's start: its run is shared
	run     [2]*sim.Trajectory
	own     [2]sim.Trajectory
	started bool // the zone's first gear is at or before this one
}

func newWalk(a *account) *walk {
	f := a.f
	w := &walk{a: a, stack: make([]level, f.n+1)}
	for i := range w.stack {
		w.stack[i].zones = make([]zoneState, len(a.zones))
	}
	w.apex = make([][][]*sim.Trajectory, len(a.zones))
	for z := range w.apex {
		w.apex[z] = make([][]*sim.Trajectory, f.n)
		for g := range f.n {
			w.apex[z][g] = make([]*sim.Trajectory, len(f.cand[g]))
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

// enter descends to gear g (index) with candidate i; p is the candidate of the
// gear before.
func (w *walk) enter(g, p, i int) {
	lv := &w.stack[g]
	lv.ran = false
	lv.sum = 0
	for z, za := range w.a.zones {
		st := &lv.zones[z]
		w.enterZone(st, z, g, p, i, za)
		v := 0.0
		if g > 0 {
			v = math.Sqrt(w.a.f.cross[g-1][p][i])
		}
		st.least = za.safe(w.known(st, za)-za.z.Ideal, v, w.a.f.n-1-g)
		lv.sum += st.least
	}
}

// known is a lower bound of the zone's time at a level: of the cars under way
// and of those that ended in an earlier gear.
func (w *walk) known(st *zoneState, za *zoneAcct) float64 {
	least := st.held
	for l := range st.labels {
		if st.atStart[l] {
			return math.Min(least, za.z.Ideal)
		}
		at := &st.from[l]
		least = math.Min(least, za.bound(w.a.f.m, w.a.e, at.Distance(), at.SpeedSq(), at.Clock()))
	}
	return least
}

// enterZone is enter for one zone.
func (w *walk) enterZone(st *zoneState, z, g, p, i int, za *zoneAcct) {
	f := w.a.f
	m := f.m
	st.held, st.labels, st.started = math.Inf(1), 0, false
	start := za.z.Start
	if g == 0 {
		w.begin(st, g, i, za)
		return
	}
	up := &w.stack[g-1].zones[z]
	cross := f.cross[g-1][p][i]
	ga, gb := w.a.gearOf(g-1, p), w.a.gearOf(g, i)
	st.held = up.held
	u := start.SpeedSq()
	natural := up.started || u < cross // the zone's natural gear is g-1 or lower
	st.started = natural
	if !natural {
		// Still below the zone's first gear.
		w.begin(st, g, i, za)
		return
	}
	for l := range up.labels {
		r := up.run[l]
		if h := m.Held(r, cross); h < st.held {
			st.held = h
		}
		if at, ok := m.ShiftOut(r, &ga, &gb, cross, &za.z); ok && st.labels < 2 {
			if l == 1 && st.labels == 1 && behind(&at, &st.from[0]) {
				continue
			}
			st.from[st.labels], st.atStart[st.labels] = at, false
			st.labels++
			if st.labels == 2 && behind(&st.from[0], &st.from[1]) {
				st.from[0] = st.from[1]
				st.labels = 1
			}
		}
	}
	if !up.started && st.labels < 2 {
		// g-1 is the natural gear: this one may be taken at once.
		w.begin(st, g, i, za)
	}
}

// behind says whether car b can be forgotten beside car a, which runs in the
// same gear at practically the same speed: a was sooner at an earlier place and
// would pass b's place, no slower, at least a millisecond before b.
func behind(b, a *sim.Moment) bool {
	if math.Abs(a.SpeedSq()-b.SpeedSq()) > 1e-4*a.SpeedSq() || a.Distance() > b.Distance() {
		return false
	}
	return a.Clock()+(b.Distance()-a.Distance())/math.Sqrt(a.SpeedSq())+1e-3 <= b.Clock()
}

// begin adds the car that takes gear g at the start of the zone, if it pulls.
func (w *walk) begin(st *zoneState, g, i int, za *zoneAcct) {
	gear := w.a.gearOf(g, i)
	if !w.pulls(&gear, za) {
		return
	}
	st.from[st.labels], st.atStart[st.labels] = za.z.Start, true
	st.labels++
}

// pulls applies the pulling rpm where the zone begins at a throttle-on place;
// an out lap's first zone begins at the pit exit, where no rule binds.
func (w *walk) pulls(gear *sim.Gear, za *zoneAcct) bool {
	return za.free || w.a.f.m.Pulls(gear, &za.z)
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
		st := &lv.zones[z]
		for l := range st.labels {
			if st.atStart[l] {
				st.run[l] = w.fromStart(z, g, i, &gear)
				continue
			}
			w.a.f.m.Run(&st.own[l], st.from[l], &gear, &za.z, w.a.e, uLast)
			st.run[l] = &st.own[l]
		}
	}
}

func (w *walk) fromStart(z, g, i int, gear *sim.Gear) *sim.Trajectory {
	t := w.apex[z][g][i]
	if t == nil {
		t = &sim.Trajectory{}
		za := w.a.zones[z]
		w.a.f.m.Run(t, za.z.Start, gear, &za.z, w.a.e, math.Inf(1))
		w.apex[z][g][i] = t
	}
	return t
}

// childBound is a lower bound of the lap (s) when candidate j follows
// candidate i of gear g, whose runs are made.
func (w *walk) childBound(g, p, i, j int, cutoff float64) float64 {
	a := w.a
	f := a.f
	togo := a.togo[g][i][j]
	lv := &w.stack[g]
	// Cheap first: what is known at this level, and tables from here on.
	if a.rest != nil {
		return w.restBound(g, i, j)
	}
	if b := a.ideal + lv.sum + a.triples[g][p+1][i][j] + togo; b > cutoff || math.IsInf(togo, 1) {
		return b
	}
	cross := f.cross[g][i][j]
	vCross := math.Sqrt(cross)
	ga, gb := w.a.gearOf(g, i), w.a.gearOf(g+1, j)
	sum := a.ideal + lv.sum + togo
	for z, za := range a.zones {
		st := &lv.zones[z]
		u := za.z.Start.SpeedSq()
		if !st.started && u >= cross {
			continue // the zone still lies above: its ideal time stands
		}
		best := st.held
		for l := range st.labels {
			if h := f.m.Held(st.run[l], cross); h < best {
				best = h
			}
			if at, ok := f.m.ShiftOut(st.run[l], &ga, &gb, cross, &za.z); ok {
				b := za.bound(f.m, a.e, at.Distance(), at.SpeedSq(), at.Clock())
				best = math.Min(best, b)
			}
		}
		if !st.started && w.pulls(&gb, za) {
			best = za.z.Ideal // the next gear may be taken at once
		}
		known := za.safe(best-za.z.Ideal, vCross, f.n-2-g)
		sum += math.Max(known, st.least) - st.least
		if sum > cutoff {
			return sum
		}
	}
	return sum
}

// restBound is childBound for a lap that is one zone.
func (w *walk) restBound(g, i, j int) float64 {
	a := w.a
	f := a.f
	za := a.zones[0]
	st := &w.stack[g].zones[0]
	cross := f.cross[g][i][j]
	if !st.started && za.z.Start.SpeedSq() >= cross {
		return a.ideal
	}
	best := st.held
	for l := range st.labels {
		best = math.Min(best, f.m.Held(st.run[l], cross))
		if s, t, ok := f.m.Crosses(st.run[l], cross); ok {
			best = math.Min(best, t+a.rest.after(g+1, i, j, s)-restSlack)
		}
	}
	if gb := a.gearOf(g+1, j); !st.started && w.pulls(&gb, za) {
		best = a.ideal // the next gear may be taken at once
	}
	return best
}

// total is a lower bound of the lap (s) of a complete set, whose last gear g
// is candidate i: exact where every zone begins on its limit.
func (w *walk) total(g, i int, cutoff float64) float64 {
	w.drive(g, i, math.Inf(1))
	sum := w.a.ideal
	for z, za := range w.a.zones {
		st := &w.stack[g].zones[z]
		best := st.held
		for l := range st.labels {
			best = math.Min(best, w.a.f.m.Held(st.run[l], math.Inf(1)))
		}
		sum += best - za.z.Ideal
		if sum > cutoff {
			return sum
		}
	}
	return sum
}
