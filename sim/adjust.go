package sim

import "math"

// The shift speeds of (8.2) know the pair of gears, but neither the road nor
// where the braking begins. Once a schedule of a stretch is known, its shifts
// are moved to where the time does not change when they are moved further
// (8.7), and the rest of the stretch is driven again.

// move is where a shift of a schedule had better come.
type move struct {
	to    float64 // m, unwrapped
	moved bool
}

const (
	adjustAbove  = 1e-6 // s, a schedule that has less to gain is left alone
	adjustWithin = 3e-3 // s, one that is so much behind the best is not looked at
)

// looseShare: a gear that has more than this share of its acceleration in hand
// over the next one at the limiter less margin is driven to it on any road: what
// holds the car back takes the same from both.
const looseShare = 0.02

// adjust moves the shifts of the schedules that end in the arrivals from index
// a0 on.
func (k *Solver) adjust(a0 int, sEnd float64) {
	for i, n := a0, len(k.arrivals); i < n; i++ {
		a := &k.arrivals[i]
		ahead := true
		for j := a0; j < n && ahead; j++ {
			b := &k.arrivals[j]
			ahead = math.Abs(a.st.s-b.st.s) > 1e-6 || b.st.t > a.st.t-adjustWithin
		}
		if ahead && k.wishes(a.label) {
			k.redrive(sEnd)
		}
	}
}

// wishes walks back along the schedule that ends with a label, with the worth of
// speed there, and notes in k.moves where the shift into each label of k.chain
// had better come. It says whether that promises to gain time.
func (k *Solver) wishes(last int) bool {
	k.chain, k.moves = k.chain[:0], k.moves[:0]
	first, row := -1, false // first: the earliest shift that may move
	for j := last; j >= 0; j = k.labels[j].parent {
		l := &k.labels[j]
		k.chain = append(k.chain, j)
		k.moves = append(k.moves, move{})
		row = row || l.links > 0
		if l.due && !row && k.loose[l.gear-1] {
			first = len(k.chain) - 1
		}
	}
	if first < 0 {
		return false
	}
	worth, gain := 0.0, 0.0 // worth of speed, -d(time to go)/d(v²), s per m²/s²
	row = false
	for n, j := range k.chain[:first+1] {
		l := &k.labels[j]
		hi := l.hi
		if n > 0 {
			if c := &k.labels[k.chain[n-1]]; !c.hold && c.cutAt < hi {
				hi = c.cutAt
				if p := k.arena[hi]; c.cut.s > p.s0+1e-9 {
					if c.cut.s < p.s1-1e-9 {
						cut(&p, c.cut.s, c.cut.u)
					}
					worth = k.worthBefore(&p, worth)
				}
			}
		}
		for i := hi - 1; i >= l.lo; i-- {
			worth = k.worthBefore(&k.arena[i], worth)
		}
		if l.parent < 0 || l.hold {
			continue
		}
		row = row || l.links > 0
		x := exchange{m: k.m, a: &k.drives[k.labels[l.parent].gear], b: &k.drives[l.gear], cut: l.cut, from: l.from, worth: worth, faster: 1}
		for i := l.p1 - 1; i >= l.p0; i-- {
			t, f := k.passing(&k.arena[i])
			x.time, x.faster = t+f*x.time, f*x.faster
		}
		if ret := k.m.returned(math.Sqrt(l.cut.u), x.a.perV, x.b.perV); ret > 0 {
			x.power = ret / (l.from.t - l.cut.t)
		}
		if hi > l.lo {
			x.rate = k.rate(&k.arena[l.lo])
		}
		if worth <= 0 {
			// The pause ended on the envelope: there is nothing to weigh.
			worth = x.time
			continue
		}
		e := x.weigh(0)
		worth = e.before
		if !l.due {
			continue
		}
		if !row && k.loose[l.gear-1] {
			if d := x.better(e); d != 0 {
				s := l.cut.s + d
				if s > k.labels[l.parent].from.s && !k.m.cellAt(k.m.wrap(s)).noShift {
					k.moves[n] = move{to: s, moved: true}
					gain += math.Abs(e.miss / e.v * d)
					continue
				}
			}
		}
		// A faster car comes sooner to the speed at which it shifts.
		if e.a > 0 {
			worth -= e.miss / (e.v * e.a)
		}
	}
	return gain > adjustAbove
}

// worthBefore is the worth of speed at the start of a piece whose end has worth.
func (k *Solver) worthBefore(p *piece, worth float64) float64 {
	if p.phase == Capped || p.phase == Limiting {
		return 0 // the speed is given
	}
	t, f := k.passing(p)
	return t + f*worth
}

// passing is what more speed (v², m²/s²) at the start of a piece saves on its
// way (s per m²/s²) and the share of it that is left at its end.
func (k *Solver) passing(p *piece) (saved, left float64) {
	h := p.s1 - p.s0
	if h <= 0 {
		return 0, 1
	}
	r := k.rate(p)
	half := math.Exp(0.5 * r * h)
	um := p.uAt(p.s0 + 0.5*h)
	slow := func(u float64) float64 { return 0.5 / (u * math.Sqrt(u)) }
	return h / 6 * (slow(p.u0) + 4*slow(um)*half + slow(p.u1)*half*half), half * half
}

// rate is by how much more a car gains in v² per metre for each more of v² that
// it has (1/m), on a piece.
func (k *Solver) rate(p *piece) float64 {
	if c := &k.m.cells[p.cell]; c.uniform && math.Abs(p.u1-p.u0) > 1e-6*p.u0 {
		return (p.d1 - p.d0) / (p.u1 - p.u0)
	}
	at := k.m.placeOf(p.s0)
	const more = 1.01
	if p.phase == Shifting {
		v := math.Sqrt(p.u0)
		return 2 * (k.m.body.coastAccel(&at, v*math.Sqrt(more)) - k.m.body.coastAccel(&at, v)) / ((more - 1) * p.u0)
	}
	a, _ := k.m.body.accel(&at, p.u0*more, &k.drives[p.gear])
	return (2*a - p.d0) / ((more - 1) * p.u0)
}

// placeOf is the place at s (m, unwrapped).
func (m *Model) placeOf(s float64) place {
	w := m.wrap(s)
	c := m.cellAt(w)
	return c.at(min(max(w-c.s, 0), c.h))
}

// exchange weighs one shift from gear a to gear b.
type exchange struct {
	m            *Model
	a, b         *drive
	cut, from    state   // begin and end of its pause
	worth        float64 // s per m²/s², of speed at the end of the pause
	rate         float64 // 1/m, of gear b there
	time, faster float64 // passing of the pause, all pieces
	power        float64 // W that the engine gives back in the pause (9.2)
}

// weighed is an exchange at some place.
type weighed struct {
	miss   float64 // > 0: better later; zero at the best place (8.7)
	v, a   float64 // m/s, m/s² at the beginning of the pause
	before float64 // s per m²/s², worth of speed there
	u      float64 // m²/s², at the beginning of the pause
}

// weigh weighs the shift moved by d (m). Between pause and gear a stands what is
// gained in speed while the pause is put off; between pause and gear b what is
// lost because it ends later:
//
//	worth0 v0 (a_a - a_c) = worth1 v1 (a_b - a_c).
func (x *exchange) weigh(d float64) weighed {
	b := x.m.body
	u := x.cut.u
	if d != 0 {
		at := x.m.placeOf(x.cut.s)
		a, _ := b.accel(&at, u, x.a)
		at = x.m.placeOf(x.cut.s + 0.5*d)
		a, _ = b.accel(&at, max(u+a*d, leastU), x.a)
		u = max(u+2*a*d, leastU)
	}
	v, v0 := math.Sqrt(u), math.Sqrt(x.cut.u)
	v1 := math.Sqrt(x.from.u) + v - v0
	at := x.m.placeOf(x.cut.s + d)
	aA, _ := b.accel(&at, u, x.a)
	gainA := aA - b.coastPushed(&at, v, x.power)
	d1 := d + (x.from.t-x.cut.t)*(v-v0)
	at = x.m.placeOf(x.from.s + d1)
	aB, _ := b.accel(&at, v1*v1, x.b)
	gainB := aB - b.coastPushed(&at, v1, x.power)
	// The worth of speed along gear b: d(worth)/ds = -1/(2 v³) - rate worth.
	worth := x.worth
	if d1 != 0 {
		slow := 0.5 / (x.from.u * math.Sqrt(x.from.u))
		if r := x.rate * d1; math.Abs(r) > 1e-8 {
			worth = (worth+slow/x.rate)*math.Exp(-r) - slow/x.rate
		} else {
			worth -= (slow + x.rate*worth) * d1
		}
	}
	wait := 2 * worth * v1 * gainB // what a second less of pause is worth
	before := (1-wait)*x.time*x.cut.u/u + worth*x.faster
	return weighed{miss: before*v*gainA - 0.5*wait, v: v, a: aA, before: before, u: u}
}

// better is how far (m) the shift had better be moved, 0 = not. Beyond the speed
// at the limiter less margin it may point: the run ends there.
func (x *exchange) better(e weighed) float64 {
	const most, stride = 150.0, 8.0
	d0, f0 := 0.0, e.miss
	d1, f1 := 0.0, e.miss
	if e.miss > 0 {
		last := x.a.uShift
		if e.u >= last*(1-1e-9) {
			return 0 // there already
		}
		at := e
		for range 4 {
			if at.a <= 0 {
				d1 = most
				break
			}
			d1 = min(d1+(last-at.u)/(2*at.a), most)
			at = x.weigh(d1)
		}
		if f1 = x.weigh(d1).miss; f1 >= 0 {
			return d1 + 1
		}
	} else {
		for f1 <= 0 {
			d0, f0 = d1, f1
			if d1 -= stride; d1 < -most {
				return 0
			}
			f1 = x.weigh(d1).miss
		}
	}
	// False position with the Illinois change.
	side := 0
	for range 20 {
		d := (d0*f1 - d1*f0) / (f1 - f0)
		if math.Abs(d1-d0) < 0.01 {
			return d
		}
		f := x.weigh(d).miss
		if math.Abs(f) < 1e-4*math.Abs(e.miss) {
			return d
		}
		if (f > 0) == (f0 > 0) {
			if d0, f0 = d, f; side == 1 {
				f1 *= 0.5
			}
			side = 1
		} else {
			if d1, f1 = d, f; side == -1 {
				f0 *= 0.5
			}
			side = -1
		}
	}
	return 0.5 * (d0 + d1)
}

// redrive drives the schedule in k.chain again with its shifts as in k.moves.
func (k *Solver) redrive(sEnd float64) {
	n := len(k.chain) - 1
	i := k.chain[n]
	fresh := false // label i is a new one
	for n--; n >= 0; n-- {
		l := k.labels[k.chain[n]]
		mv := k.moves[n]
		if !fresh && !mv.moved {
			i = k.chain[n]
			continue
		}
		if l.hold {
			continue // driven on below
		}
		to := l.cut.s
		if mv.moved {
			to = mv.to
		}
		w := watch{uShift: math.Inf(1), tStop: math.Inf(1), pick: k.easy, keep: k.record}
		if l.due && k.labels[k.chain[n+1]].hold {
			// Past its shift speed once: now at its place.
		} else if l.due && !mv.moved {
			to, w.uShift = sEnd, k.cross[k.labels[i].gear]
		} else if l.due {
			w.uShift = k.drives[k.labels[i].gear].uShift
		}
		if mv.moved && !fresh {
			to = min(to, k.lastPlace(i))
		}
		var at state
		if c := &k.labels[i]; !fresh && to <= c.cur.s {
			p := k.pieceAt(c, to)
			if p == nil {
				return
			}
			at = k.m.momentAt(to, p.uAt(to))
			at.t = p.tAt(to)
		} else {
			if !fresh {
				i = k.add(label{
					gear: c.gear, parent: i, arrival: -1, hold: true, cut: c.cur, cutAt: c.hi, from: c.cur, free: c.free, limiting: c.limiting,
					p0: len(k.arena), p1: len(k.arena),
				})
			}
			end := k.runOut(i, w, to)
			at = k.labels[i].cur
			switch {
			case end == shiftDue:
				at, _ = k.due(i)
			case end != finished || at.s >= sEnd-1e-6:
				return
			}
		}
		k.shift(i, l.gear, at, -1, sEnd)
		i, fresh = len(k.labels)-1, true
		if k.labels[i].from.s >= sEnd-1e-6 {
			return
		}
	}
	if !fresh {
		return
	}
	w := watch{uShift: math.Inf(1), tStop: math.Inf(1), pick: k.easy, keep: k.record}
	if end := k.runOut(i, w, sEnd); end == arrived || end == finished {
		k.arrive(i)
	}
}

// lastPlace is where (m) the run of label i, which ends with the step in which
// its shift is due, reaches the limiter less margin: no shift comes later; +Inf
// where it does not.
func (k *Solver) lastPlace(i int) float64 {
	l := &k.labels[i]
	last := k.drives[l.gear].uShift
	if l.hi <= l.lo || l.end != shiftDue || l.cur.u <= last*(1+1e-9) {
		return math.Inf(1)
	}
	return k.m.whereOn(&k.arena[l.hi-1], last)
}

// runOut makes label i's run with a watch of its own, up to a place (m).
func (k *Solver) runOut(i int, w watch, to float64) ending {
	l := &k.labels[i]
	l.w, l.tried, l.lo = w, true, len(k.arena)
	cur := l.from
	k.arena, l.end = k.m.run(&cur, l.gear, &k.drives[l.gear], to, &l.w, k.arena)
	l.hi, l.cur = len(k.arena), cur
	if k.limitAsked() {
		l.limiting += k.limiterTime(l.lo, l.hi)
	}
	return l.end
}
