package sim

import "math"

// Solver simulates laps of one model. It keeps its working memory, so one
// solver serves one goroutine.
type Solver struct {
	m      *Model
	n      int       // gears
	first  int       // index in the box of the lowest gear in use; 0 but for TailLap
	drives []drive   // by gear
	cross  []float64 // v² of the shift out of gear index g; +Inf for the last
	chains [2][]link // a chain of gears for each starting gear tried
	capped []piece   // pieces on the limit since the last touch
	path   []piece   // the lap as chosen
	record bool
}

// link is one gear of a chain: its run, and where the shift out of it begins.
type link struct {
	run      []piece
	end      ending
	last     state  // at the end of the run
	shiftAt  int    // index of the piece in which the shift begins; -1 = never
	at       state  // where the shift begins
	shift    piece  // the coast
	after    state  // after the coast
	inShift  bool   // the coast itself ran into the limit or the stretch's end
	shiftEnd ending // how, when inShift
}

// NewSolver returns a solver for m.
func (m *Model) NewSolver() *Solver {
	n := m.car.Box.Gears
	k := &Solver{m: m, n: n, drives: make([]drive, n), cross: make([]float64, n)}
	for i := range k.chains {
		k.chains[i] = make([]link, n)
	}
	return k
}

// set prepares the gears of a set.
func (k *Solver) set(total []float64) {
	for g := range k.n {
		k.drives[g] = k.m.body.newDrive(total[g], k.m.eta[k.first+g])
	}
	for g := range k.n {
		k.cross[g] = math.Inf(1)
		if g+1 < k.n {
			k.cross[g] = k.m.crossSpeed(&k.drives[g], &k.drives[g+1], k.m.shiftTime[k.first+g])
		}
	}
}

// natural is the index of the gear whose range holds the speed² u: above the
// shift into it, below the shift out of it (8.3).
func (k *Solver) natural(u float64) int {
	g := 0
	for g+1 < k.n && u >= k.cross[g] {
		g++
	}
	return g
}

func (k *Solver) pick(u float64) *drive { return &k.drives[k.natural(u)] }

// dropShare is the share of the up-shift speed below which a car that slows
// down at full throttle takes the gear below (8.5).
const dropShare = 0.97

// chain drives up through the gears from st, starting in gear index g0, until
// a gear reaches sEnd or the limit without wanting the next. It returns the
// number of links.
func (k *Solver) chain(links []link, st state, g0 int, sEnd float64) int {
	for g := g0; ; g++ {
		l := &links[g-g0]
		l.run, l.shiftAt, l.inShift = l.run[:0], -1, false
		drop := 0.0
		if g > g0 || g > 0 {
			drop = k.cross[max(g-1, 0)] * dropShare * dropShare
			if g == 0 || st.u < drop {
				drop = 0 // chosen knowingly below the usual range
			}
		}
		uShift := k.cross[g]
		cur := st
		l.run, l.end = k.m.run(&cur, g, &k.drives[g], sEnd, uShift, drop, l.run)
		l.last = cur
		if g+1 >= k.n {
			return g - g0 + 1
		}
		if !k.findShift(l, st, uShift) {
			return g - g0 + 1
		}
		st = l.at
		before := k.drives[g].perV
		ret := k.m.returned(math.Sqrt(st.u), before, k.drives[g+1].perV)
		l.shift = k.m.coast(&st, g, k.m.shiftTime[k.first+g], ret)
		if st.s >= sEnd-1e-9 || k.overCap(&st) {
			k.cutShift(l, sEnd)
			return g - g0 + 1
		}
		l.after = st
	}
}

// returned is the spin energy (J) that the engine gives back when the dogs
// pull it down at v (m/s) (9.2).
func (m *Model) returned(v, perVBefore, perVAfter float64) float64 {
	b := m.body
	if b.inertiaReturn == 0 {
		return 0
	}
	w0 := b.rpmAt(v, perVBefore) * math.Pi / 30
	w1 := b.rpmAt(v, perVAfter) * math.Pi / 30
	return b.inertiaReturn * 0.5 * b.engineInertia * (w0*w0 - w1*w1)
}

// findShift looks for the first moment of the run at or above the shift speed
// at which a shift is allowed.
func (k *Solver) findShift(l *link, start state, uShift float64) bool {
	for i := range l.run {
		p := &l.run[i]
		if p.u1 < uShift && p.u0 < uShift {
			continue
		}
		if k.m.cells[p.cell].noShift {
			continue // a no-shift place delays it
		}
		s := p.s0
		if p.u0 < uShift {
			s = p.where(uShift)
		}
		at := state{cell: int(p.cell), s: s, u: p.uAt(s), t: p.tAt(s)}
		at.x = s - p.s0
		if i == 0 {
			at.x += start.x
		} else {
			at.x += k.offset(l.run, i, start)
		}
		l.shiftAt, l.at = i, at
		return true
	}
	return false
}

// offset is how far into its cell piece i begins.
func (k *Solver) offset(run []piece, i int, start state) float64 {
	// Pieces of one cell follow each other; go back to the cell's first.
	x := 0.0
	for j := i - 1; j >= 0 && run[j].cell == run[i].cell; j-- {
		x += run[j].s1 - run[j].s0
		if j == 0 {
			x += start.x
		}
	}
	return x
}

func (k *Solver) overCap(st *state) bool {
	return st.u > k.m.cells[st.cell].capAt(st.x)
}

// cutShift ends a link whose coast ran into the limit or out of the stretch.
func (k *Solver) cutShift(l *link, sEnd float64) {
	lo, hi := 0.0, l.shift.s1-l.shift.s0
	if hi <= 0 {
		// No pause at all: the shift began on the limit or at the end.
		l.after, l.inShift, l.shiftEnd = l.at, true, touched
		if l.at.s >= sEnd-1e-6 {
			l.shiftEnd = finished
		}
		return
	}
	over := func(d float64) bool {
		q := l.at
		k.m.jump(&q, d)
		q.u = l.shift.uAt(l.shift.s0 + d)
		return q.s >= sEnd-1e-9 || k.overCap(&q)
	}
	for hi-lo > 1e-9 {
		mid := 0.5 * (lo + hi)
		if over(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	q := l.at
	k.m.jump(&q, hi)
	q.t = l.shift.tAt(l.shift.s0 + hi)
	q.u = l.shift.uAt(l.shift.s0 + hi)
	finishedHere := q.s >= sEnd-1e-6
	if !finishedHere {
		q.u = math.Min(q.u, k.m.cells[q.cell].capAt(q.x))
	}
	d := l.shift.s1 - l.shift.s0
	slope := hermiteSlope(l.shift.u0, l.shift.d0, l.shift.u1, l.shift.d1, d, hi/d)
	l.shift.s1, l.shift.t1, l.shift.u1, l.shift.d1 = q.s, q.t, q.u, slope
	l.after, l.inShift = q, true
	l.shiftEnd = touched
	if finishedHere {
		l.shiftEnd = finished
	}
}

// choice is how a stretch at full throttle ends.
type choice struct {
	links   int     // number of links of the chain that are used
	end     ending  // of the last one
	state   state   // there
	gear    int     // index engaged there
	key     float64 // s, time less the clock of the limit: comparable at one apex
	apex    int32   // the apex ahead, when end is touched
	inShift bool    // it ends inside the last link's shift
}

// settle picks where to stop shifting: of all gears that reach the same
// braking phase, the one that gets there first, measured on the limit's own
// clock (8.4). Equal times are settled for fewer shifts.
func (k *Solver) settle(links []link, n, g0 int) choice {
	l := &links[n-1]
	c := choice{links: n, end: l.end, state: l.last, gear: g0 + n - 1}
	if l.inShift {
		c.end, c.state, c.gear = l.shiftEnd, l.after, g0+n
		c.inShift = true
	}
	k.keyed(&c)
	if c.end != touched {
		return c
	}
	for i := n - 1; i >= 0; i-- {
		h := &links[i]
		if h.end != touched || (i == n-1 && !l.inShift) || h.last.t-h.at.t > holdLimit {
			continue
		}
		alt := choice{links: i + 1, end: touched, state: h.last, gear: g0 + i}
		k.keyed(&alt)
		if alt.apex == c.apex && alt.key <= c.key {
			c = alt
		}
	}
	return c
}

func (k *Solver) keyed(c *choice) {
	if c.end != touched {
		c.key = c.state.t
		return
	}
	c.apex = k.m.apexAhead[c.state.cell]
	c.key = c.state.t - k.m.clock(&c.state)
}

// clock is the time (s) along the limit from the start line of the run's first
// lap to st.
func (m *Model) clock(st *state) float64 {
	c := &m.cells[st.cell]
	t := m.capClock[st.cell+1] - c.capTimeFrom(st.x)
	// Unwrapped distance tells the lap; cell starts are laps apart.
	k := math.Round((st.s - st.x - c.s) / m.length)
	return t + k*m.capClock[len(m.cells)]
}
