package gearing

import (
	"math"
	"sync/atomic"

	"layshaft/sim"
)

// chain is what one zone has come to along a chain of gears, of which the first
// is taken at the zone's start: a node of a tree that all prefixes of sets share.
// Gears before the first make no difference, nor do those after one that is
// never left (closed). Once made a chain does not change, but for what goes on
// from it, which is made when first asked for; whoever makes it gets the same, so
// that workers need no lock.
type chain struct {
	up    *chain // the gear before; nil = this is the first
	g, i  int    // gear index and candidate
	held  float64
	cars  []car   // under way in gear g
	least float64 // s, least loss of the zone that goes on from it, whatever follows
	kept  bool    // it is remembered for all prefixes

	on atomic.Pointer[onward]
}

// car is one way to drive: under way in the last gear of its chain.
type car struct {
	mark
	from    sim.Moment
	atStart bool // it begins with the zone: its run is shared
}

// onward is how the cars of a chain go on.
type onward struct {
	runs   []*sim.Trajectory       // by car
	marks  []mark                  // where a run may first be left upwards
	best   float64                 // s, least time of the zone when the gear is not left upwards
	gated  bool                    // a run of this chain or of one before enters a no-shift place
	closed bool                    // the gear is never left upwards, whatever follows
	next   []atomic.Pointer[chain] // by follower; nil when closed
}

// mark is a moment of a run.
type mark struct {
	lost   float64 // s, so far, at least
	behind float64 // m, behind the ideal car at that speed
	spot   spot    // of its speed
}

// memory holds the chains of a lap's zones.
type memory struct {
	roots   [][][]atomic.Pointer[chain]          // [z][g][i]
	fromTop [][][]atomic.Pointer[sim.Trajectory] // [z][g][i]: run from the zone's start in one gear
	begun   [][]atomic.Uint64                    // [g][i]: bits of the time (s) of a lap of one zone that begins in a gear; 0 = not yet known
	onwards [][]atomic.Uint64                    // [g][i]: the least of begun from there on, likewise
	gains   [][][][]atomic.Uint32                // [z][g][i][j]: bits of what moving a shift may gain (s); 0 = not yet known
	held    atomic.Int64                         // bytes that the chains kept take, about
	most    int64                                // bytes that they may take
	pulls   [][][]bool                           // [z][g][i]: the gear may be engaged at the start of the zone
}

func newMemory(a *account) *memory {
	f := a.f
	m := &memory{most: memoryMost, begun: make([][]atomic.Uint64, f.n), onwards: make([][]atomic.Uint64, f.n)}
	if a.memoryMost > 0 {
		m.most = a.memoryMost
	}
	for g := range f.n {
		m.begun[g] = make([]atomic.Uint64, len(f.cand[g]))
		m.onwards[g] = make([]atomic.Uint64, len(f.cand[g]))
	}
	for _, za := range a.zones {
		roots, tops := make([][]atomic.Pointer[chain], f.n), make([][]atomic.Pointer[sim.Trajectory], f.n)
		pulls := make([][]bool, f.n)
		for g := range f.n {
			roots[g] = make([]atomic.Pointer[chain], len(f.cand[g]))
			tops[g] = make([]atomic.Pointer[sim.Trajectory], len(f.cand[g]))
			pulls[g] = make([]bool, len(f.cand[g]))
			for i := range pulls[g] {
				gear := a.gearOf(g, i)
				pulls[g][i] = a.pulls(&gear, za)
			}
		}
		gains := make([][][]atomic.Uint32, f.n-1)
		for g := range gains {
			gains[g] = make([][]atomic.Uint32, len(f.cand[g]))
			for i := range gains[g] {
				if len(f.next[g][i]) > 0 {
					gains[g][i] = make([]atomic.Uint32, len(f.cand[g+1]))
				}
			}
		}
		m.gains = append(m.gains, gains)
		m.roots, m.fromTop, m.pulls = append(m.roots, roots), append(m.fromTop, tops), append(m.pulls, pulls)
	}
	return m
}

// maker makes chains for one worker.
type maker struct {
	a       *account
	m       *memory
	scratch sim.Trajectory
}

// root is the chain of a zone that begins in gear g's candidate i; without cars
// where the gear over-revs there.
func (w *maker) root(z, g, i int) *chain {
	p := &w.m.roots[z][g][i]
	if c := p.Load(); c != nil {
		return c
	}
	c := &chain{g: g, i: i, held: math.Inf(1), kept: true}
	za, gear := w.a.zones[z], w.a.gearOf(g, i)
	if gear.LimitSq() >= za.z.Start.SpeedSq()*(1-1e-9) {
		c.cars = append(c.cars, car{from: za.z.Start, atStart: true})
	}
	c.least = w.a.ends[z].begins[g][i]
	p.CompareAndSwap(nil, c)
	return p.Load()
}

// known is the chain that goes on with the n-th follower, nil when it is not made
// yet.
func (c *chain) known(n int) *chain {
	o := c.on.Load()
	switch {
	case o == nil:
		return nil
	case o.closed:
		return c
	}
	return o.next[n].Load()
}

// follow is the chain that goes on with the n-th follower: itself when closed.
func (w *maker) follow(z int, up *chain, n int) *chain {
	o := w.onward(z, up)
	if o.closed {
		return up
	}
	p := &o.next[n]
	if c := p.Load(); c != nil {
		return c
	}
	c := w.spawn(z, up, o, int(w.a.f.next[up.g][up.i][n]))
	if c.kept = up.kept && w.m.held.Load() < w.m.most; up.kept && !c.kept {
		return c // made anew when wanted again
	}
	if p.CompareAndSwap(nil, c) && c.kept {
		w.m.held.Add(chainBytes + carBytes*int64(len(c.cars)))
	}
	return p.Load()
}

// What the memory of chains may take, and what its parts take, about. Beyond it new
// chains live as long as the prefix that they were made for.
const (
	memoryMost  = 96 << 20 // bytes
	chainBytes  = 112
	carBytes    = 88
	onwardBytes = 144
	pieceBytes  = 72
	linkBytes   = 8
)

// spawn lists the cars that run in candidate i of the next gear after those of a
// chain: after the shift that was due, and after those that the lap tries beside
// it.
func (w *maker) spawn(z int, up *chain, o *onward, i int) *chain {
	a := w.a
	f, m, za := a.f, a.m, a.zones[z]
	g := up.g + 1
	ga, gb := a.gearOf(up.g, up.i), a.gearOf(g, i)
	cross := f.cross[up.g][up.i][i]
	c := &chain{up: up, g: g, i: i, held: o.best}
	add := func(run *sim.Trajectory, at sim.Moment) {
		after, ok := m.After(at, &ga, &gb, &za.z)
		if !ok {
			// Over the end of the zone in the pause.
			c.held = min(c.held, at.Clock()+(za.z.End-at.Distance())/math.Sqrt(at.SpeedSq()))
			return
		}
		if run != nil {
			after.Sooner(a.moveGain(z, up.g, up.i, i))
		}
		c.cars = w.keepAhead(c.cars, car{from: after})
	}
	for l, run := range o.runs {
		at, ok := m.Crosses(run, cross)
		for ok {
			add(run, at)
			if !run.Slowed() {
				break
			}
			at, ok = m.CrossesAgain(run, cross, at.Distance())
		}
		if up.cars[l].atStart && !w.m.pulls[z][g][i] {
			if at, ok := m.PullsIn(run, &gb, cross); ok {
				add(nil, at)
			}
		}
	}
	if o.gated {
		w.rows(c, z)
	}
	c.least = c.held - za.z.Ideal
	for n := range c.cars {
		c.cars[n].mark = za.mark(a, &c.cars[n].from)
		c.least = min(c.least, a.ends[z].least(g, i, &c.cars[n].mark))
	}
	if o.gated {
		w.rowMarks(za, up, o.runs, 1, func(m mark) { c.least = min(c.least, a.ends[z].least(g, i, &m)) })
	}
	return c
}

// onward makes the runs of a chain's cars.
func (w *maker) onward(z int, c *chain) *onward {
	if o := c.on.Load(); o != nil {
		return o
	}
	a := w.a
	za, f := a.zones[z], a.f
	gear := a.gearOf(c.g, c.i)
	least, most := f.least[c.g][c.i], f.most[c.g][c.i]
	moved := least * movedLeast * movedLeast
	o := &onward{best: c.held, closed: true}
	if c.up != nil {
		o.gated = c.up.on.Load().gated
	}
	for n := range c.cars {
		var run *sim.Trajectory
		if c.cars[n].atStart {
			run = w.fromStart(z, c.g, c.i, &gear)
			if w.pullsLater(z, c, run) {
				o.closed = false
				o.marks = append(o.marks, mark{})
			}
		} else {
			za.drive(a, &w.scratch, c.cars[n].from, &gear, most, f.gear[c.g-1][c.up.i].LimitSq(), a.levels[0].zones[z].limit, 0)
			run = w.scratch.From(moved)
		}
		o.best = min(o.best, run.Held())
		o.gated = o.gated || len(run.Gates()) > 0
		if _, ok := a.m.Crosses(run, least); ok {
			o.closed = false
			at, _ := a.m.Crosses(run, moved) // the lap may shift so early
			o.marks = append(o.marks, za.mark(a, &at))
		}
		o.runs = append(o.runs, run)
	}
	if o.gated {
		w.rowMarks(za, c, o.runs, 0, func(m mark) { o.marks = append(o.marks, m) })
	}
	if o.closed = o.closed && !o.gated || c.g+1 == f.n; o.closed {
		o.runs = nil // what matters of them is known
	} else {
		o.next = make([]atomic.Pointer[chain], len(f.next[c.g][c.i]))
	}
	if c.on.CompareAndSwap(nil, o) && c.kept {
		bytes := onwardBytes + linkBytes*len(o.next)
		for _, run := range o.runs {
			bytes += pieceBytes * run.Pieces()
		}
		w.m.held.Add(int64(bytes))
	}
	return c.on.Load()
}

// rowMarks tells of the moments at which a row of shifts before a no-shift place
// may leave or pass through a gear, first gears above up, whose runs are given.
func (w *maker) rowMarks(za *zoneAcct, up *chain, runs []*sim.Trajectory, first int, tell func(mark)) {
	for k := first; k < longestRow; k++ {
		for _, run := range runs {
			for _, gate := range run.Gates() {
				for n := k + 1; n <= min(longestRow, w.a.f.n-1-up.g); n++ {
					if at, ok := w.a.m.RowAt(run, gate, up.g, n, k); ok {
						tell(za.mark(w.a, &at))
					}
				}
			}
		}
		if up = up.up; up == nil {
			return
		}
		runs = up.on.Load().runs
	}
}

// mark is what a car has come to at a moment.
func (a *zoneAcct) mark(lap *account, at *sim.Moment) mark {
	m := mark{
		lost: a.bound(lap.m, lap.e, at.Distance(), at.SpeedSq(), at.Clock()) - a.z.Ideal,
		spot: a.spotAt(math.Sqrt(at.SpeedSq())),
	}
	if len(a.s) >= 2 {
		m.behind = max(0, at.Distance()-a.place(float64(m.spot.k)+m.spot.f))
	}
	return m
}

// pullsLater says whether a run from the zone's start comes to the pulling rpm of
// a follower that may not be engaged at the start.
func (w *maker) pullsLater(z int, c *chain, run *sim.Trajectory) bool {
	if c.g+1 == w.a.f.n {
		return false
	}
	for _, j := range w.a.f.next[c.g][c.i] {
		if !w.m.pulls[z][c.g+1][j] {
			gb := w.a.gearOf(c.g+1, int(j))
			if _, ok := w.a.m.PullsIn(run, &gb, w.a.f.cross[c.g][c.i][j]); ok {
				return true
			}
		}
	}
	return false
}

// beyond is the least of what a chain's cars and the ends in its gears have lost
// beyond what gear g's candidate i, the prefix's last, is charged for the speeds
// they have come through; +Inf when nothing is under way within the budget. Cars
// whose runs are made count from where they may first leave the gear: up to there
// a run loses no less than it is charged.
func (c *chain) beyond(za *zoneAcct, t *zoneTable, g, i int) float64 {
	least, held := math.Inf(1), c.held
	most := t.limit + rollSlack
	if o := c.on.Load(); o != nil {
		held = o.best
		for n := range o.marks {
			least = min(least, o.marks[n].beyond(t, g, i, most))
		}
	} else {
		for n := range c.cars {
			least = min(least, c.cars[n].beyond(t, g, i, most))
		}
	}
	if held -= za.z.Ideal; held <= most {
		least = min(least, held-t.end(g, i))
	}
	return least
}

func (m *mark) beyond(t *zoneTable, g, i int, most float64) float64 {
	if m.lost > most {
		return math.Inf(1)
	}
	return m.lost - t.upTo(g, i, m.spot)
}

// longestRow is how many shifts in a row the lap tries before a no-shift place.
const longestRow = 4

// rows adds the cars that come to a chain's last gear by a row of shifts before a
// no-shift place.
func (w *maker) rows(c *chain, z int) {
	a := w.a
	var gears [longestRow + 1]sim.Gear
	n := 0
	for up := c.up; up != nil && n < longestRow; up = up.up {
		n++
		for _, run := range up.on.Load().runs {
			for _, gate := range run.Gates() {
				k := n
				for q := c; k >= 0; q = q.up {
					gears[k] = a.gearOf(q.g, q.i)
					k--
				}
				if after, ok := a.m.Row(run, gate, gears[:n+1], &a.zones[z].z); ok {
					c.cars = w.keepAhead(c.cars, car{from: after})
				}
			}
		}
	}
}

// keepAhead adds a car unless another in the same gear is ahead of it, and
// drops those that it is ahead of: what one cannot do better than the other
// need not be tried.
func (w *maker) keepAhead(cars []car, c car) []car {
	n := 0
	for k := range cars {
		if w.ahead(&cars[k].from, &c.from) {
			return cars
		}
		if !w.ahead(&c.from, &cars[k].from) {
			cars[n] = cars[k]
			n++
		}
	}
	return append(cars[:n], c)
}

// nearBy (m) is how far apart two cars may be to be compared by what the second
// can gain at most on the way to the first.
const nearBy = 25.0

// ahead says whether car a is surely ahead of car b in the same gear: at one
// place no later and no slower.
func (w *maker) ahead(a, b *sim.Moment) bool {
	gap := b.Distance() - a.Distance()
	if gap >= 0 {
		// At full throttle a is no slower at b's place than b is: as fast and
		// sooner there, or else b could pass a place twice.
		return a.SpeedSq() >= b.SpeedSq() && a.Clock()+gap/math.Sqrt(a.SpeedSq()) <= b.Clock()
	}
	if gap < -nearBy || a.SpeedSq() <= b.SpeedSq() {
		return false
	}
	// b has to come to a's place first. Whatever it does there, it gains no
	// more than twice what the tyres can put down where it is now.
	u := b.SpeedSq() - 2*gap*w.a.m.MostGain(b)
	return u <= a.SpeedSq() && a.Clock() <= b.Clock()-gap/math.Sqrt(u)
}

// pulls applies the pulling rpm where the zone begins at a throttle-on place;
// an out lap's first zone begins at the pit exit, where no rule binds.
func (a *account) pulls(gear *sim.Gear, za *zoneAcct) bool {
	return za.free || a.m.Pulls(gear, &za.z)
}

// fromStart is the run in gear g's candidate i from the start of a zone.
func (w *maker) fromStart(z, g, i int, gear *sim.Gear) *sim.Trajectory {
	p := &w.m.fromTop[z][g][i]
	if t := p.Load(); t != nil {
		return t
	}
	za := w.a.zones[z]
	t := &sim.Trajectory{}
	za.drive(w.a, t, za.z.Start, gear, 0, w.a.downTo(g, i), w.a.levels[0].zones[z].limit, 0)
	p.CompareAndSwap(nil, t)
	return p.Load()
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
		if v := math.Sqrt(u); v > a.nodeV(a.k1) || a.roughAt(v) {
			return false // to ask would take as long as to drive on
		}
		return a.bound(lap.m, lap.e, s, u, clock+before)-a.z.Ideal > limit
	}
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
