package sim

import (
	"fmt"
	"math"
)

// trip is one passage over a stretch of the track.
type trip struct {
	start, end state
	gear       int // index engaged at the end
	firstGear  int // index in which the passage began
	last       int // arrival at its end, -1 none
	fail       string
}

// drive takes the car from st to sEnd in the best way. gears are the indices
// that may be engaged at the start. Where final is not negative, only ends
// count from which the braking would leave time to come down to that gear.
func (k *Solver) drive(st state, gears []int, sEnd float64, final int) trip {
	t := trip{start: st, firstGear: -1, last: -1}
	k.labels, k.arena, k.arrivals = k.labels[:0], k.arena[:0], k.arrivals[:0]
	k.tooLong, k.why = false, ""
	k.rest, k.origin = gears, st
	k.nextStart(-1, sEnd)
	k.stretch(0, sEnd)
	k.early = false
	for {
		next := -1
		for i := range k.arrivals {
			if a := &k.arrivals[i]; !a.done && a.st.s < sEnd-1e-6 && (next < 0 || a.st.s < k.arrivals[next].st.s) {
				next = i
			}
		}
		if next < 0 {
			break
		}
		k.goOn(k.arrivals[next].st.s, sEnd)
	}
	for i := range k.arrivals {
		a := &k.arrivals[i]
		if a.st.s < sEnd-1e-6 || final >= 0 && (a.gear < final || !k.comesDown(a, final, a.st.t+k.spare)) {
			continue
		}
		if t.last < 0 || a.st.t < k.arrivals[t.last].st.t {
			t.last = i
		}
	}
	if t.last < 0 {
		t.fail = k.failure(st)
		return t
	}
	a := &k.arrivals[t.last]
	t.end, t.gear = a.st, a.gear
	t.firstGear = k.begun(t.last)
	return t
}

// begun is the gear index in which the passage to an arrival began.
func (k *Solver) begun(i int) int {
	for {
		l := &k.labels[k.arrivals[i].label]
		for l.parent >= 0 {
			l = &k.labels[l.parent]
		}
		if l.arrival < 0 {
			return l.gear
		}
		i = l.arrival
	}
}

// startGears is how many gears are tried at most to begin full throttle in,
// from the natural one (8.3) up. Beyond the first surelyTried a taller one is
// tried only where the one below it is not outrun (nextStart): a gear that is
// can be in the way of a taller one that saves two shifts.
const (
	startGears  = 16
	surelyTried = 3
)

// goOn takes up the passage at an apex: labels in the gears worth trying, each
// from the earliest arrival that leaves time to come down to it.
func (k *Solver) goOn(s, sEnd float64) {
	q := len(k.labels)
	most, u := -1, 0.0
	for i := range k.arrivals {
		if a := &k.arrivals[i]; !a.done && a.st.s <= s+1e-6 {
			a.done = true
			k.here = append(k.here, i)
			most, u = max(most, a.gear), a.st.u
		}
	}
	// Earliest first.
	for i := 1; i < len(k.here); i++ {
		for j := i; j > 0 && k.arrivals[k.here[j]].st.t < k.arrivals[k.here[j-1]].st.t; j-- {
			k.here[j], k.here[j-1] = k.here[j-1], k.here[j]
		}
	}
	nat := k.natural(u)
	lowest := nat
	if v := math.Sqrt(u); nat > 0 && k.m.body.rpmAt(v, k.drives[nat].perV) < k.m.body.pulling && u <= k.drives[nat-1].uLimit {
		lowest = nat - 1 // the natural one turns too slowly
	}
	alive, before := false, k.why
	k.why = ""
	k.nat, k.most = nat, most
	for g := lowest; g <= most && !alive; g++ {
		if alive = k.beginAt(g, sEnd); alive {
			k.mayLift(len(k.labels) - 1)
		}
	}
	for n, i := range k.here {
		// A gear too short, held into the braking, stays.
		if g := k.arrivals[i].gear; g < lowest && (n == 0 || !alive) {
			alive = k.beginAt(g, sEnd) || alive
		}
	}
	if alive || before != "" {
		k.why = before
	}
	if alive {
		k.stretch(q, sEnd)
	}
	k.here = k.here[:0]
}

// nextStart adds the label that begins where label i does, one gear up; i = -1
// for the first label of a passage.
func (k *Solver) nextStart(i int, sEnd float64) {
	if i < 0 || k.labels[i].arrival < 0 {
		if len(k.rest) == 0 {
			return
		}
		n := k.add(label{gear: k.rest[0], parent: -1, arrival: -1, from: k.origin, first: true})
		k.rest = k.rest[1:]
		k.labels[n].early = k.early && len(k.rest) == 0
		return
	}
	g, before := k.labels[i].gear, k.why
	if g < k.most && k.beginAt(g+1, sEnd) {
		k.mayLift(len(k.labels) - 1)
	} else if g < k.most && g <= k.nat {
		k.labels[i].early = true // the next one turns too slowly at first
	}
	k.why = before
}

// mayLift marks label i as the tallest tried so far at its apex. Where nothing
// taller is engaged, the shift out of it may come at once.
func (k *Solver) mayLift(i int) {
	l := &k.labels[i]
	l.first = true
	l.early = l.gear == k.most && l.gear <= k.nat && l.gear+1 < k.n
}

// beginAt adds the label that begins at the apex in gear g, if an arrival allows
// it and the engine turns fast enough; its run is made at once.
func (k *Solver) beginAt(g int, sEnd float64) bool {
	for _, i := range k.here {
		if k.arrivals[i].gear < g {
			continue
		}
		n := k.add(label{gear: g, parent: -1, arrival: i, from: k.arrivals[i].st})
		if a := &k.arrivals[i]; a.gear == g {
			k.labels[n].free, k.labels[n].touch, k.labels[n].touching = a.free, a.touch, true
		}
		ok, late := k.mayBegin(n, sEnd)
		if ok {
			return true
		}
		k.labels = k.labels[:n]
		if !late {
			return false
		}
	}
	return false
}

// mayBegin finds where full throttle begins in the label's gear and checks the
// rules that hold there; late says that the braking was too short to come down
// to the gear, so that another arrival may do.
func (k *Solver) mayBegin(n int, sEnd float64) (ok, late bool) {
	l := &k.labels[n]
	a := &k.arrivals[l.arrival]
	m := k.m
	on, full := k.throttleOn(l.from, l.gear, sEnd)
	d := &k.drives[l.gear]
	v := math.Sqrt(on.u)
	if rpm := m.body.rpmAt(v, d.perV); full && !d.slips && rpm < m.body.pulling {
		k.because("at %s, throttle-on at %.1f km/h: gear %d would turn %.0f rpm, below the pulling rpm of %.0f", on, l.gear, rpm, m.body.pulling)
		return false, false
	}
	if a.gear > l.gear && !k.comesDown(a, l.gear, on.t) {
		k.because("at %s (%.1f km/h): the braking before it leaves no time to come down to gear %d at or below the over-rev limit (%.0f rpm there, limit %.0f rpm)", on, l.gear, m.body.rpmAt(v, d.perV), m.body.overRev)
		return false, true
	}
	return true, false
}

// because notes why a gear cannot be used, for the case that none can.
func (k *Solver) because(format string, at state, g int, rpm, limit float64) {
	if k.why == "" && k.record {
		k.why = fmt.Sprintf(format, k.m.track.Place(k.m.wrap(at.s)), 3.6*math.Sqrt(at.u), k.first+g+1, rpm, limit)
	}
}

// throttleOn is the moment from an apex on at which full throttle begins: the
// tyres take all that they can, or the engine cannot follow the envelope. full
// is false where it does not begin before the next apex.
func (k *Solver) throttleOn(st state, g int, sEnd float64) (on state, full bool) {
	m := k.m
	freed := false // by braking
	for st.s < sEnd-1e-9 {
		c := &m.cells[st.cell]
		if c.pulling != 0 || c.free {
			return st, true
		}
		i := st.cell
		d := &k.drives[g]
		if freed = freed || c.falls; freed {
			d = k.easy(st.u)
		}
		x := m.lean(&st, c, d)
		if x <= st.x+1e-7 {
			return st, true
		}
		p := m.along(&st, c, g, x)
		m.advance(&st, p.s1-p.s0, p.u1, p.t1)
		if x < c.h-1e-10 {
			return st, true
		}
		if m.least[i] {
			break
		}
	}
	return st, false
}

// comesDown says whether the downshifts from an arrival's gear to gear g fit
// between where the envelope was met and time end (s) (8.6): each begins when
// the speed allows the gear below and takes its time.
func (k *Solver) comesDown(a *arrival, g int, end float64) bool {
	if a.gear <= g {
		return true
	}
	m := k.m
	st := a.touch
	t := max(st.t, a.free)
	for h := a.gear - 1; h >= g; h-- {
		v := m.body.speedAt(m.body.overRev, k.drives[h].perV)
		if !m.slowTo(&st, v*v, a.st.s) {
			return false
		}
		t = max(t, st.t) + k.m.downTime
	}
	return t <= end+1e-9
}

// slowTo moves st along the envelope to where v² is at most u; false when it
// never is before sEnd (m).
func (m *Model) slowTo(st *state, u, sEnd float64) bool {
	for st.u > u {
		if st.s >= sEnd-1e-9 {
			// Standing at the apex: a touch above the limit is rounding.
			return st.u <= u*(1+1e-9)
		}
		c := &m.cells[st.cell]
		if c.cap1 > u || c.h-st.x < 1e-9 {
			m.advance(st, c.h-st.x, c.cap1, st.t+c.capTimeFrom(st.x))
			continue
		}
		lo, hi := st.x, c.h
		for hi-lo > 1e-9 {
			mid := 0.5 * (lo + hi)
			if c.capAt(mid) > u {
				lo = mid
			} else {
				hi = mid
			}
		}
		m.advance(st, hi-st.x, min(u, c.capAt(hi)), st.t+c.capTimeFrom(st.x)-c.capTimeFrom(hi))
	}
	return true
}

// failure words why no passage reached the end.
func (k *Solver) failure(st state) string {
	if !k.record {
		return "not feasible"
	}
	if k.why != "" {
		return k.why
	}
	if k.tooLong {
		return fmt.Sprintf("no schedule of shifts keeps the time on the limiter within %g s in every gear", k.m.limiterMost)
	}
	for i := len(k.labels) - 1; i >= 0; i-- {
		if l := &k.labels[i]; l.end == stalled {
			return fmt.Sprintf("no gear pulls at %s: the car comes to a stop in gear %d", k.m.track.Place(k.m.wrap(l.cur.s)), k.first+l.gear+1)
		}
	}
	return fmt.Sprintf("no gear can be used at %s", k.m.track.Place(k.m.wrap(st.s)))
}

// trail collects the pieces of the passage that ends in an arrival, in order.
func (k *Solver) trail(i int) {
	k.path = append(k.path[:0], k.launch...)
	k.chain = k.chain[:0]
	for i >= 0 {
		j := k.arrivals[i].label
		for j >= 0 {
			k.chain = append(k.chain, j)
			l := &k.labels[j]
			if l.parent < 0 {
				i = l.arrival
			}
			j = l.parent
		}
	}
	for n := len(k.chain) - 1; n >= 0; n-- {
		l := &k.labels[k.chain[n]]
		k.path = append(k.path, k.arena[l.p0:l.p1]...)
		hi, cutAt := l.hi, state{}
		partly := false
		if n > 0 {
			if c := &k.labels[k.chain[n-1]]; c.parent == k.chain[n] && !c.hold {
				hi, cutAt, partly = c.cutAt, c.cut, true
			}
		}
		k.path = append(k.path, k.arena[l.lo:min(hi, l.hi)]...)
		if partly && hi < l.hi {
			p := k.arena[hi]
			if cutAt.s >= p.s1-1e-9 {
				k.path = append(k.path, p)
			} else if cutAt.s > p.s0+1e-9 {
				cut(&p, cutAt.s, cutAt.u)
				p.t1 = cutAt.t
				k.path = append(k.path, p)
			}
		}
	}
}

// wrap brings an unwrapped distance (m) into the lap.
func (m *Model) wrap(s float64) float64 {
	s = math.Mod(s, m.length)
	if s < 0 {
		s += m.length
	}
	return s
}

// clock is the time (s) along the envelope from the start line of the run's
// first lap to st.
func (m *Model) clock(st *state) float64 {
	c := &m.cells[st.cell]
	t := m.capClock[st.cell+1] - c.capTimeFrom(st.x)
	// Unwrapped distance tells the lap; cell starts are laps apart.
	k := math.Round((st.s - st.x - c.s) / m.length)
	return t + k*m.capClock[len(m.cells)]
}
