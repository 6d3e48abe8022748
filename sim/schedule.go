package sim

import "math"

// The schedule of shifts of one passage (8.3) to (8.6) is a search over labels.
// A label is a run in one gear that begins at an apex of the envelope or after
// a shift. It ends on the envelope at a later apex (an arrival), at the end of
// the passage, or where the shift into the next gear is due, and then begets a
// label in that gear. Labels that another one in the same gear is ahead of, in
// time and in speed, are dropped: from there on they stay behind. From an apex
// every passage goes on from the same state, so of all arrivals there the
// earliest that can be in the gear wanted is taken.

// label is one run in one gear.
type label struct {
	gear     int // index
	parent   int // label that it comes from; -1 = it begins at an apex or at the start
	arrival  int // the arrival that it goes on from; -1 = the start of the passage
	hold     bool
	first    bool    // begins full throttle; the next gear up may be tried beside it
	beaten   bool    // outrun by the gear below
	held     bool    // it was tried to hold the gear instead of the shift
	early    bool    // shift as soon as full throttle begins, beside the shift that is due
	due      bool    // the shift before it came at its shift speed
	links    int     // it follows from so many shifts in a row before a no-shift place, 0 none
	root     int     // from the run of this label
	gate     float64 // m, where the place begins, and the last of them
	cut      state   // where the parent is left
	cutAt    int     // in which piece
	p0, p1   int     // pieces of the shift before it
	lo, hi   int     // pieces of its run
	from     state
	cur      state // end of the run
	end      ending
	dead     float64 // m, another label of this gear is ahead from here on; +Inf
	free     float64 // s, no further shift before (the shift into it may end on the envelope)
	touch    state   // where the arrival that it goes on from met the envelope, in the same gear
	touching bool
	sag      float64 // m²/s², the least v² to which it slows down at full throttle; +Inf
	limiting float64 // s on the limiter in this gear
	w        watch
	tried    bool
}

// arrival is a way to be at an apex, on the envelope, or at the end.
type arrival struct {
	st    state
	gear  int
	label int
	touch state   // where the envelope was met
	free  float64 // s, downshifts begin no earlier
	done  bool
}

// stretch drives the labels from index q on until none is left, then tries to
// hold each gear instead of shifting out of it.
func (k *Solver) stretch(q int, sEnd float64) {
	a0 := len(k.arrivals)
	for more := true; more; {
		k.processAll(q, sEnd)
		more = false
		for i := len(k.labels) - 1; i >= q; i-- {
			if l := &k.labels[i]; l.end == shiftDue && !l.held {
				l.held = true
				more = k.hold(i, q, sEnd) || more
			}
		}
	}
	if k.only == 0 && !k.repeats {
		k.adjust(a0, sEnd)
	}
}

// processAll drives the labels from index q on until none is left.
func (k *Solver) processAll(q int, sEnd float64) {
	for {
		next := -1
		for i := q; i < len(k.labels); i++ {
			if l := &k.labels[i]; !l.tried && (next < 0 || l.before(&k.labels[next])) {
				next = i
			}
		}
		if next < 0 {
			return
		}
		k.process(next, q, sEnd)
	}
}

// before orders labels: lower gears first, so that what follows from them is
// known where they would be met; then by place.
func (l *label) before(o *label) bool {
	if l.gear != o.gear {
		return l.gear < o.gear
	}
	return l.from.s < o.from.s
}

// add appends a label.
func (k *Solver) add(l label) int {
	l.dead, l.sag = math.Inf(1), math.Inf(1)
	k.labels = append(k.labels, l)
	return len(k.labels) - 1
}

// process drives one label and begets those that follow from it.
func (k *Solver) process(i, q int, sEnd float64) {
	k.labels[i].tried = true
	if k.behind(i, q) {
		return
	}
	g := k.labels[i].gear
	l := &k.labels[i]
	cur := l.from
	// A hair below: the envelope meets the limiter by bisection.
	l.w = watch{uShift: k.cross[g] * (1 - 1e-10), tStop: math.Inf(1), pick: k.easy, keep: k.record}
	if k.only > 0 {
		l.w.uShift = math.Inf(1)
	}
	k.drive1(i, q, &cur, sEnd)
	l = &k.labels[i]
	if l.first && (!l.beaten || l.gear < k.nat+surelyTried-1) {
		k.nextStart(i, sEnd)
		l = &k.labels[i]
	}
	if k.limitAsked() {
		l.limiting += k.limiterTime(l.lo, l.hi)
	}
	late := false
	switch l.end {
	case arrived, finished:
		k.arrive(i)
	case shiftDue:
		if g+1 >= k.n {
			break
		}
		var at state
		at, late = k.due(i)
		if k.overLimiter(l.limiting) {
			k.tooLong = true // before the shift could come
		} else {
			k.shift(i, g+1, at, l.hi-1, sEnd)
			k.labels[len(k.labels)-1].due = !late && !k.own(g)
		}
	}
	k.alternatives(i, late, sEnd)
	if k.only == 0 {
		k.slowing(i, sEnd)
	}
}

// tie is how near (s, and share of v²) two labels count as equal: those that
// follow the envelope are, but for rounding. The one with fewer shifts stays.
const tie = 1e-9

// lookEvery is how often (s) a label is compared with others while it runs.
const lookEvery = 0.15

// drive1 makes label i's run. It ends early, with no ending, where the label is
// beaten: by another label of its gear that is ahead where it begins, or by one
// in the gear below that would be ahead if it shifted now.
func (k *Solver) drive1(i, q int, cur *state, sEnd float64) {
	l := &k.labels[i]
	d := &k.drives[l.gear]
	l.lo = len(k.arena)
	for {
		met, to := -1, sEnd
		for j := q; j < len(k.labels); j++ {
			if e := &k.labels[j]; !e.tried && e.gear == l.gear && e.from.s > cur.s+1e-6 && e.from.s < to {
				met, to = j, e.from.s
			}
		}
		if l.parent < 0 && i > q {
			l.w.tStop = cur.t + lookEvery
		}
		k.arena, l.end = k.m.run(cur, l.gear, d, to, &l.w, k.arena)
		l.hi, l.cur = len(k.arena), *cur
		switch {
		case l.end == timedOut:
			if k.outrun(i, q, cur) {
				l.beaten = true
				l.dead, l.end = cur.s, 0
				return
			}
		case l.end == finished && met >= 0:
			e := &k.labels[met]
			if cur.t <= e.from.t+tie && cur.u >= e.from.u*(1-tie) {
				e.tried = true // behind from its beginning
			} else if cur.t >= e.from.t && cur.u <= e.from.u {
				l.dead, l.end = cur.s, 0
				e.early = e.early || l.early
				return
			}
		default:
			return
		}
	}
}

// outrun says whether a label in the gear below, sooner here, is so much faster
// than label i that it would be ahead even after a shift at once. Its own shift,
// which comes later, is no worse.
func (k *Solver) outrun(i, q int, st *state) bool {
	l := &k.labels[i]
	c := &k.m.cells[st.cell]
	if c.noShift || l.hi <= l.lo {
		return false
	}
	for j := q; j < len(k.labels); j++ {
		e := &k.labels[j]
		if e.gear != l.gear-1 || e.hi <= e.lo || e.hold || !math.IsInf(e.dead, 1) {
			continue
		}
		p := k.pieceAt(e, st.s)
		if p == nil || p.tAt(st.s) > st.t {
			continue
		}
		v := math.Sqrt(st.u)
		at := c.at(st.x)
		// What a pause costs at most: the engine may be about to be let off by
		// the tyres, and down a hill the car may gain without it.
		d := &k.drives[l.gear]
		swing := max(max(0.5*k.arena[l.hi-1].d1, k.m.body.pullOnly(&at, st.u, d))-k.m.body.coastAccel(&at, v), 0)
		if p.uAt(st.s)-st.u > 1e-6*st.u+2.4*v*k.m.shiftTime[k.first+e.gear]*swing {
			return true
		}
	}
	return false
}

// behind says whether a label can be dropped because another in the same gear
// is ahead of it; where it is itself ahead, the other one is marked.
func (k *Solver) behind(i, q int) bool {
	l := &k.labels[i]
	if l.parent >= 0 && k.labels[l.parent].dead <= l.cut.s {
		l.end = 0
		return true
	}
	for j := q; j < len(k.labels); j++ {
		e := &k.labels[j]
		if j == i || l.hold && j == l.parent || e.gear != l.gear || !e.tried || e.hi <= e.lo || l.from.s < e.from.s || l.from.s > k.leaves(e, l.from.s) {
			continue
		}
		p := k.pieceAt(e, l.from.s)
		if p == nil {
			continue
		}
		t, u := p.tAt(l.from.s), p.uAt(l.from.s)
		if t <= l.from.t+tie && u >= l.from.u*(1-tie) {
			l.end = 0
			return true
		}
		if t >= l.from.t && u <= l.from.u {
			e.dead = min(e.dead, l.from.s)
		}
	}
	return false
}

// leaves is where (m) a label leaves its gear: its run goes on to the end of the
// step in which its shift is due. s tells what matters: a place before that step
// need not be looked for.
func (k *Solver) leaves(l *label, s float64) float64 {
	p := &k.arena[l.hi-1]
	if l.end != shiftDue || s <= p.s0 {
		return l.cur.s
	}
	return k.m.whereOn(p, l.w.uShift)
}

// pieceAt finds the piece of a label's run that covers s (m); nil when none.
func (k *Solver) pieceAt(l *label, s float64) *piece {
	lo, hi := l.lo, l.hi
	if lo >= hi || s < k.arena[lo].s0 || s > k.arena[hi-1].s1 {
		return nil
	}
	for hi-lo > 1 {
		mid := (lo + hi) / 2
		if k.arena[mid].s0 <= s {
			lo = mid
		} else {
			hi = mid
		}
	}
	if p := &k.arena[lo]; s <= p.s1 && p.s1 > p.s0 {
		return p
	}
	return nil
}

// due is where the shift that ended label i's run begins; late says that a
// no-shift place held it up.
func (k *Solver) due(i int) (at state, late bool) {
	l := &k.labels[i]
	p := &k.arena[l.hi-1]
	c := &k.m.cells[p.cell]
	x0 := c.h - (p.s1 - p.s0)
	if int(p.cell) == l.cur.cell {
		x0 = l.cur.x - (p.s1 - p.s0)
	}
	at = state{cell: int(p.cell), x: max(x0, 0), s: p.s0, u: p.u0, t: p.t0}
	if p.u0 >= l.w.uShift {
		return at, l.hi-1 > l.lo
	}
	s := k.m.whereOn(p, l.w.uShift)
	at.x, at.s = at.x+s-p.s0, s
	at.u, at.t = k.m.readPiece(p, s)
	return at, false
}

// shift begets the label that follows from label i by a shift at a moment of
// its run: the pause, then gear g. cutAt is the piece of the run in which the
// moment lies, -1 to look it up.
func (k *Solver) shift(i, g int, at state, cutAt int, sEnd float64) {
	l := &k.labels[i]
	if cutAt < 0 {
		cutAt = l.lo
		for cutAt < l.hi-1 && k.arena[cutAt].s1 < at.s-1e-9 {
			cutAt++
		}
	}
	tau, ret := k.m.shiftTime[k.first+min(l.gear, g)], 0.0
	if g > l.gear {
		ret = k.m.returned(math.Sqrt(at.u), k.drives[l.gear].perV, k.drives[g].perV)
	}
	n := label{gear: g, parent: i, arrival: -1, cut: at, cutAt: cutAt, p0: len(k.arena), free: at.t + tau}
	st := at
	k.arena = k.m.pause(&st, l.gear, tau, ret, sEnd, k.arena)
	n.p1, n.from = len(k.arena), st
	for j := n.p0; j < n.p1; j++ {
		k.arena[j].to = int8(g)
	}
	k.add(n)
}

// hold drives label i on past its shift, in the same gear, for as long as the
// shift does not pay. Where the car slows down below the shift speed again, the
// shift may come when it is next reached: hold then leaves a label to be driven
// and returns true.
func (k *Solver) hold(i, q int, sEnd float64) bool {
	l := &k.labels[i]
	if k.overLimiter(l.limiting) || k.own(l.gear) {
		return false
	}
	h := label{
		gear: l.gear, parent: i, arrival: -1, hold: true, tried: true, held: true, cut: l.cur, cutAt: l.hi,
		from: l.cur, free: l.free, limiting: l.limiting,
	}
	h.p0 = len(k.arena)
	h.p1, h.lo = h.p0, h.p0
	h.w = watch{uShift: math.Inf(1), pick: k.easy, keep: k.record, away: l.w.away, touched: l.w.touched, touch: l.w.touch}
	h.w.uDrop = k.cross[l.gear] * (1 - 1e-9)
	cur := h.from
	g := h.gear
	for {
		h.w.tStop = cur.t + lookEvery
		k.arena, h.end = k.m.run(&cur, g, &k.drives[g], sEnd, &h.w, k.arena)
		if h.end != timedOut {
			break
		}
		if k.limitAsked() && k.overLimiter(l.limiting+k.limiterTime(h.lo, len(k.arena))) {
			return false
		}
		if k.ahead(i, q, &cur) {
			k.arena = k.arena[:h.lo]
			return false
		}
	}
	h.hi, h.cur = len(k.arena), cur
	if k.limitAsked() {
		h.limiting += k.limiterTime(h.lo, h.hi)
		if k.overLimiter(h.limiting) {
			return false
		}
	}
	switch h.end {
	case arrived, finished:
		k.arrive(k.add(h))
	case dropped:
		n := label{
			gear: g, arrival: -1, hold: true, cut: cur, cutAt: h.hi, from: cur, free: h.free, limiting: h.limiting,
			p0: h.hi, p1: h.hi,
		}
		h.end = 0
		n.parent = k.add(h)
		k.add(n)
		return true
	}
	return false
}

// ahead says whether a label in a taller gear than label i's, or the line of
// labels from it on, has passed a moment's place sooner and no slower, or will
// have made up for it before the braking.
func (k *Solver) ahead(i, q int, st *state) bool {
	for j := q; j < len(k.labels); j++ {
		if e := &k.labels[j]; e.sag < st.u && e.cur.s > st.s {
			return false // it may yet fall behind
		}
	}
	for j := q; j < len(k.labels); j++ {
		e := &k.labels[j]
		if e.hold || e.hi <= e.lo || e.gear <= k.labels[i].gear || k.overLimiter(e.limiting) {
			continue
		}
		if p := k.pieceAt(e, st.s); p != nil {
			late, u := p.tAt(st.s)-st.t, p.uAt(st.s)
			if late <= 0 && u >= st.u {
				return true
			}
			// Behind in time but faster: the lead in speed grows, so what is
			// missing is made up within so many metres; if that is before
			// the braking, holding does not pay.
			if gain := math.Sqrt(u) - math.Sqrt(st.u); gain > 0 && 1.3*late*u/gain < k.lasts(j)-st.s {
				return true
			}
			continue
		}
		// It is on the envelope already: nothing catches up with it there.
		if e.end == arrived && e.w.touched && st.s >= e.w.touch.s && st.s <= e.cur.s &&
			st.t-k.m.clock(st) >= e.cur.t-k.m.clock(&e.cur) {
			return true
		}
	}
	return false
}

// lasts is where (m) the line of labels from j on comes upon the envelope, or
// ends.
func (k *Solver) lasts(j int) float64 {
	for i := len(k.labels) - 1; i > j; i-- {
		if l := &k.labels[i]; !l.hold && l.hi > l.lo && k.descends(i, j) {
			j = i
			break
		}
	}
	if l := &k.labels[j]; l.end == arrived {
		return l.w.touch.s
	} else if l.end == finished {
		return l.cur.s
	}
	return 0
}

// descends says whether label j follows from label i.
func (k *Solver) descends(j, i int) bool {
	for j > i {
		j = k.labels[j].parent
	}
	return j == i
}

// arrive records the end of label i's run.
func (k *Solver) arrive(i int) {
	l := &k.labels[i]
	if k.overLimiter(l.limiting) {
		k.tooLong = true
		return
	}
	a := arrival{st: l.cur, gear: l.gear, label: i, touch: l.cur, free: l.free}
	if l.w.touched {
		a.touch = l.w.touch
	} else if l.w.resting {
		a.touch = l.w.rest
		if l.touching && l.w.rest.s <= l.from.s {
			a.touch = l.touch
		}
	}
	k.arrivals = append(k.arrivals, a)
}

// own says whether the driver shifts out of gear index g at a speed of his own.
func (k *Solver) own(g int) bool {
	g += k.first
	return g < len(k.m.shiftRPM) && k.m.shiftRPM[g] > 0
}

func (k *Solver) limitAsked() bool { return k.m.limiterMost > 0 }

func (k *Solver) overLimiter(t float64) bool {
	return k.m.limiterMost > 0 && t > k.m.limiterMost+1e-9
}

// limiterTime is the time (s) on the limiter in some pieces.
func (k *Solver) limiterTime(lo, hi int) float64 {
	t := 0.0
	for j := lo; j < hi; j++ {
		if p := &k.arena[j]; p.phase == Limiting {
			t += p.t1 - p.t0
		}
	}
	return t
}
