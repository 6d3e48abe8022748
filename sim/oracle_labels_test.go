package sim

import (
	"math"
	"sort"
)

// oracleLabel is a car at a station, or between two while it moves on.
type oracleLabel struct {
	t, u   float64 // s since the lap's start, m²/s²
	gear   int
	locked bool // past the last shift speed: no upshift any more
	event  int32
}

// oracleEvent is a link of the chain that leads back from a label.
type oracleEvent struct {
	before   int32
	from, to int // gear indices; from -1: throttle on, to -1: met the limit
	s, v, t  float64
}

// oracleHeld is the earliest car on the limit at the start of a cell.
type oracleHeld struct {
	t     float64 // s, +Inf = none
	event int32
}

// oracleRules are readings of the rules of a schedule.
type oracleRules struct {
	noTaller bool // on the limit no gear taller than the engaged one may be taken
	mayLug   bool // the pulling rpm binds at throttle-on only, not after a shift
	keepAll  bool // no label is dropped: for the test of the dropping
}

// oracleRun finds the best schedule for one set on a fine road.
type oracleRun struct {
	*oracleRoad
	oracleRules
	b      *body
	drives []drive
	first  []float64 // m²/s², by gear: v² at the pulling rpm
	last   []float64 // m²/s², by gear: v² at the limiter less the margin
	below  []float64 // m²/s², by gear: the highest v² at which the gear below turns no faster than the limiter
	tau    []float64 // s without drive between gear g and g+1

	held   [][]oracleHeld    // by cell and engaged gear
	labels [][][]oracleLabel // by cell (stations only) and gear
	events []oracleEvent
	kept   int // labels that survived, all stations together
	most   int // at one station
}

// oraclePlan is what the oracle found.
type oraclePlan struct {
	time       float64 // s
	events     []oracleEvent
	kept, most int
}

// best finds the best flying lap for total ratios of the gears from index
// first of the box.
func (r *oracleRoad) best(total []float64, first int, rules oracleRules) oraclePlan {
	k := r.prepare(total, first, rules)
	k.held[0][len(total)-1] = oracleHeld{t: 0, event: -1}
	return k.travel(func(l oracleLabel) bool { return l.u >= k.limit[len(k.cells)]*(1-1e-9) })
}

// oneWay finds the quickest way over the road from v² = u (m²/s²) in any gear
// that pulls; first gear may slip its clutch (7.6).
func (r *oracleRoad) oneWay(total []float64, u float64, rules oracleRules) oraclePlan {
	k := r.prepare(total, 0, rules)
	k.drives[0].slips = true
	u = math.Min(u, k.limit[0])
	for g := range k.drives {
		if k.pulls(g, u) && u <= k.drives[g].uLimit {
			k.labels[0][g] = append(k.labels[0][g], oracleLabel{u: u, gear: g, event: k.note(-1, -1, g, 0, 0, u, 0)})
		}
	}
	return k.travel(func(oracleLabel) bool { return true })
}

func (r *oracleRoad) prepare(total []float64, first int, rules oracleRules) *oracleRun {
	k := &oracleRun{oracleRoad: r, oracleRules: rules, b: r.m.body}
	for g, ratio := range total {
		d := r.m.body.newDrive(ratio, r.m.eta[first+g])
		v := r.m.body.speedAt(r.m.body.shiftLimit, d.perV)
		k.drives = append(k.drives, d)
		k.last = append(k.last, v*v)
		v = r.m.body.speedAt(r.m.body.pulling, d.perV)
		k.first = append(k.first, v*v)
		k.below = append(k.below, 0)
		if g > 0 {
			k.below[g] = k.drives[g-1].uLimit
			k.tau = append(k.tau, r.m.shiftTime[first+g-1])
		}
	}
	n, gears := len(r.cells), len(total)
	k.held = make([][]oracleHeld, n+1)
	k.labels = make([][][]oracleLabel, n+1)
	for i := range k.held {
		k.held[i] = make([]oracleHeld, gears)
		for g := range gears {
			k.held[i][g].t = math.Inf(1)
		}
		if i == n || r.cells[i].station {
			k.labels[i] = make([][]oracleLabel, gears)
		}
	}
	return k
}

// travel moves all labels over the road and takes the first that arrives on
// the limit or, below it, counts.
func (k *oracleRun) travel(counts func(l oracleLabel) bool) oraclePlan {
	n := len(k.cells)
	for i := range n {
		k.leaveLimit(i)
		if k.labels[i] != nil {
			k.station(i)
			k.labels[i] = nil
		}
	}
	out := oraclePlan{time: math.Inf(1), kept: k.kept, most: k.most}
	e := int32(-1)
	for _, h := range k.held[n] {
		if h.t < out.time {
			out.time, e = h.t, h.event
		}
	}
	for _, ls := range k.labels[n] {
		for _, l := range ls {
			if l.t < out.time && counts(l) {
				out.time, e = l.t, l.event
			}
		}
	}
	for ; e >= 0; e = k.events[e].before {
		out.events = append(out.events, k.events[e])
	}
	for i, j := 0, len(out.events)-1; i < j; i, j = i+1, j-1 {
		out.events[i], out.events[j] = out.events[j], out.events[i]
	}
	return out
}

func (k *oracleRun) note(before int32, from, to, i int, x, u, t float64) int32 {
	k.events = append(k.events, oracleEvent{before, from, to, k.place(i, x), math.Sqrt(u), t})
	return int32(len(k.events) - 1)
}

// pulls says whether a gear may be engaged at v² = u (m²/s²).
func (k *oracleRun) pulls(g int, u float64) bool {
	return k.drives[g].slips || u >= k.first[g]
}

// throttle is the acceleration (m/s²) at full throttle (7.5).
func (k *oracleRun) throttle(p *place, u float64, d *drive) float64 {
	v := math.Sqrt(u)
	l := k.b.at(p, v)
	f, turning := k.b.engineForce(v, d)
	a := (f - l.resist) / (k.b.mass + turning)
	// No tyre gives less to a straight road than half its load (all tyres of
	// these tests have a coefficient above 1): spares the solver most work.
	if l.fy == 0 && l.resist+k.b.mass*a < 0.5*l.nr {
		return a
	}
	if lim := k.b.driveLimit(p, &l); l.resist+k.b.mass*a > lim {
		a = (lim - l.resist) / k.b.mass
	}
	return a
}

// oracleStep is one classical step of order four over h (m) from x (m) into a cell.
func oracleStep(c *oracleCell, x, h, u float64, acc func(p *place, u float64) float64) (u1, dt float64) {
	a, m, e := c.at(x), c.at(x+0.5*h), c.at(x+h)
	k1 := 2 * acc(&a, u)
	u2 := math.Max(u+0.5*h*k1, 0.01)
	k2 := 2 * acc(&m, u2)
	u3 := math.Max(u+0.5*h*k2, 0.01)
	k3 := 2 * acc(&m, u3)
	u4 := math.Max(u+h*k3, 0.01)
	k4 := 2 * acc(&e, u4)
	u1 = math.Max(u+h/6*(k1+2*k2+2*k3+k4), 0.01)
	dt = h / 6 * (1/math.Sqrt(u) + 2/math.Sqrt(u2) + 2/math.Sqrt(u3) + 1/math.Sqrt(u4))
	return u1, dt
}

// oracleRoot finds the zero of f in [0, h], f(0) <= 0 < f(h), by the Illinois form of
// false position.
func oracleRoot(h, f0, f1 float64, f func(x float64) float64) float64 {
	a, b := 0.0, h
	if f0 >= 0 {
		return 0
	}
	side := 0
	for range 60 {
		x := (a*f1 - b*f0) / (f1 - f0)
		y := f(x)
		if math.Abs(y) < 1e-10 || b-a < 1e-11 {
			return x
		}
		if y > 0 {
			b, f1 = x, y
			if side == 1 {
				f0 /= 2
			}
			side = 1
		} else {
			a, f0 = x, y
			if side == -1 {
				f1 /= 2
			}
			side = -1
		}
	}
	return 0.5 * (a + b)
}

// full drives h (m) at full throttle in a gear, the limiter included (7.7).
func (k *oracleRun) full(c *oracleCell, x, h, u float64, d *drive) (u1, dt float64) {
	switch {
	case u > d.uLimit*(1+1e-9):
		return oracleStep(c, x, h, u, func(p *place, u float64) float64 { return k.b.coastAccel(p, math.Sqrt(u)) })
	case u >= d.uLimit*(1-1e-12):
		p := c.at(x)
		if k.throttle(&p, d.uLimit*(1-1e-9), d) >= 0 {
			return u, h / math.Sqrt(u)
		}
	}
	acc := func(p *place, u float64) float64 { return k.throttle(p, u, d) }
	u1, dt = oracleStep(c, x, h, u, acc)
	if u1 <= d.uLimit || u >= d.uLimit {
		return u1, dt
	}
	y := oracleRoot(h, u-d.uLimit, u1-d.uLimit, func(y float64) float64 {
		w, _ := oracleStep(c, x, y, u, acc)
		return w - d.uLimit
	})
	_, dt = oracleStep(c, x, y, u, acc)
	return d.uLimit, dt + (h-y)/math.Sqrt(d.uLimit)
}

// meet brings a car that rises over the limit between x and x+h to the end of
// the cell, along the limit, and enters it there in the gear engaged.
func (k *oracleRun) meet(l *oracleLabel, i int, x, h, u1 float64, move func(y float64) (u, dt float64), gear int) {
	over := func(y float64) float64 {
		u, _ := move(y)
		return u - k.limitAt(i, x+y)
	}
	y := oracleRoot(h, l.u-k.limitAt(i, x), u1-k.limitAt(i, x+h), over)
	_, dt := move(y)
	u := k.limitAt(i, x+y)
	t := l.t + dt
	end := t + k.limitTime(i, x+y)
	if !k.noTaller {
		gear = len(k.drives) - 1
	}
	if h := &k.held[i+1][gear]; end < h.t {
		h.t, h.event = end, k.note(l.event, l.gear, -1, i, x+y, u, t)
	}
}

// drive moves a label at full throttle from x (m) into cell i to the next
// station, and lets it shift where it passes the last shift speed.
func (k *oracleRun) drive(l oracleLabel, i int, x float64) {
	d := &k.drives[l.gear]
	for {
		c := &k.cells[i]
		h := c.h - x
		u1, dt := k.full(c, x, h, l.u, d)
		if u1 <= 0.02 {
			return // stands still
		}
		if l.gear+1 < len(k.drives) && !c.noShift && !l.locked {
			k.passing(l, i, x, h, u1, k.last[l.gear], l.gear+1)
			k.passing(l, i, x, h, u1, k.first[l.gear+1], l.gear+1)
		}
		if l.gear+1 < len(k.drives) && !c.noShift && !l.locked {
			k.before(l, i, x, h, u1)
		}
		if l.gear > 0 && !c.noShift && u1 < l.u {
			k.passing(l, i, x, h, u1, k.below[l.gear], l.gear-1)
		}
		if u1 > k.limit[i+1] {
			k.meet(&l, i, x, h, u1, func(y float64) (float64, float64) { return k.full(c, x, y, l.u, d) }, l.gear)
			return
		}
		l.u, l.t = u1, l.t+dt
		k.lock(&l, c)
		i, x = i+1, 0
		if i == len(k.cells) || k.cells[i].station {
			k.labels[i][l.gear] = append(k.labels[i][l.gear], l)
			return
		}
	}
}

// passing shifts where the car passes v² = u (m²/s²) on the next h (m), if it
// does. The ends of what is allowed are no stations, but may be best.
func (k *oracleRun) passing(l oracleLabel, i int, x, h, u1, u float64, to int) {
	sign := 1.0
	if to < l.gear {
		sign = -1 // slowing down
	}
	f0, f1 := sign*(l.u-u), sign*(u1-u)
	if !(f0 < 0 && f1 >= 0) {
		return
	}
	c, d := &k.cells[i], &k.drives[l.gear]
	y := oracleRoot(h, f0, f1, func(y float64) float64 {
		w, _ := k.full(c, x, y, l.u, d)
		return sign * (w - u)
	})
	if u > k.limitAt(i, x+y) {
		return
	}
	_, dt := k.full(c, x, y, l.u, d)
	l.u, l.t = u, l.t+dt
	k.pause(l, i, x+y, to)
}

// before shifts up where that shift, or two in a row, would just end before a
// no-shift place begins, and the next can still begin there.
func (k *oracleRun) before(l oracleLabel, i int, x, h, u1 float64) {
	c, d := &k.cells[i], &k.drives[l.gear]
	if math.IsInf(k.bar[i], 1) {
		return
	}
	const spare = 1e-4 // m
	tau, v0, v1 := 0.0, math.Sqrt(l.u), math.Sqrt(u1)
	drop := k.b.coastAccel(&c.p0, v0)
	for g := l.gear; g < min(l.gear+2, len(k.tau)); g++ {
		tau += k.tau[g]
		left := func(y, v float64) float64 { return k.bar[i] - x - y - spare - tau*(v+0.5*drop*tau) }
		f0, f1 := left(0, v0), left(h, v1)
		if f0 < 0 || f1 >= 0 {
			continue
		}
		y := h * f0 / (f0 - f1)
		q := l
		var dt float64
		q.u, dt = k.full(c, x, y, l.u, d)
		q.t += dt
		if q.u <= math.Min(k.last[l.gear], k.limitAt(i, x+y)) {
			k.pause(q, i, x+y, l.gear+1)
		}
	}
}

// lock notes whether the last shift speed was passed outside no-shift places.
func (k *oracleRun) lock(l *oracleLabel, c *oracleCell) {
	if l.u <= k.last[l.gear]*(1+1e-12) {
		l.locked = false
	} else if !c.noShift {
		l.locked = true
	}
}

// pause coasts for the shift time from x (m) into cell i and goes on in the
// new gear (9.1), (9.2).
func (k *oracleRun) pause(l oracleLabel, i int, x float64, to int) {
	if !k.mayLug && !k.pulls(to, l.u) {
		return
	}
	tau := k.tau[min(l.gear, to)]
	power := 0.0
	if to > l.gear && k.b.inertiaReturn > 0 {
		v := math.Sqrt(l.u)
		w0 := k.b.rpmAt(v, k.drives[l.gear].perV) * math.Pi / 30
		w1 := k.b.rpmAt(v, k.drives[to].perV) * math.Pi / 30
		power = k.b.inertiaReturn * 0.5 * k.b.engineInertia * (w0*w0 - w1*w1) / tau
	}
	acc := func(p *place, u float64) float64 {
		v := math.Sqrt(u)
		return k.b.coastAccel(p, v) + power/(v*k.b.mass)
	}
	l.event = k.note(l.event, l.gear, to, i, x, l.u, l.t)
	l.gear = to
	left := tau
	for {
		c := &k.cells[i]
		h := c.h - x
		move := func(y float64) (float64, float64) { return oracleStep(c, x, y, l.u, acc) }
		u1, dt := move(h)
		ends := dt >= left
		if ends {
			h = oracleRoot(h, -left, dt-left, func(y float64) float64 {
				_, dy := move(y)
				return dy - left
			})
			u1, dt = move(h)
		}
		if u1 > k.limitAt(i, x+h) {
			k.meet(&l, i, x, h, u1, move, to)
			return
		}
		l.u, l.t, x, left = u1, l.t+dt, x+h, left-dt
		if ends {
			break
		}
		i, x = i+1, 0
		if i == len(k.cells) {
			return // over the line, not on the limit
		}
	}
	l.locked = l.u > k.last[to]*(1+1e-12)
	if to+1 < len(k.drives) && !k.cells[i].noShift && !l.locked {
		k.pause(l, i, x, to+1)
	}
	k.drive(l, i, x)
}

// leaveLimit handles the cars on the limit at the start of cell i: full
// throttle in every gear that cannot follow the limit, and on along it while
// some gear can or the brakes are needed.
func (k *oracleRun) leaveLimit(i int) {
	c, u := &k.cells[i], k.limit[i]
	best := math.Inf(1)
	for e := len(k.drives) - 1; e >= 0; e-- {
		at := k.held[i][e]
		if at.t >= best {
			continue // a car with more gears to choose from is here before
		}
		best = at.t
		lift := false
		free, _ := oracleStep(c, 0, c.h, u, func(p *place, u float64) float64 { return k.b.coastAccel(p, math.Sqrt(u)) })
		if free >= k.limit[i+1] {
			lift = true
		} else {
			for g := 0; g <= e; g++ {
				d := &k.drives[g]
				if u > d.uLimit*(1+1e-9) || !k.pulls(g, u) {
					continue
				}
				u1, _ := k.full(c, 0, c.h, u, d)
				if u1 >= k.limit[i+1]*(1-1e-9) {
					lift = true
					continue
				}
				l := oracleLabel{t: at.t, u: u, gear: g}
				k.lock(&l, c)
				l.event = k.note(at.event, -1, g, i, 0, u, at.t)
				if g+1 < len(k.drives) && !l.locked && !c.noShift {
					k.pause(l, i, 0, g+1)
				}
				k.drive(l, i, 0)
			}
		}
		if lift {
			t := at.t + k.limitTime(i, 0)
			if h := &k.held[i+1][e]; t < h.t {
				*h = oracleHeld{t, at.event}
			}
		}
	}
}

// undominated keeps the labels of one gear that no other beats: earlier and no
// slower. Two cars in one gear never change their order, and through a pause
// at one place the faster stays ahead, so what the slower can do the faster
// can do sooner. Past the last shift speed, however, it may no longer shift
// up: such a label only beats its like. The gear below, for which a faster car
// may be too fast, is left to TestOracleDropsNothingOfUse.
func (k *oracleRun) undominated(ls []oracleLabel) []oracleLabel {
	if k.keepAll {
		return ls
	}
	sort.Slice(ls, func(i, j int) bool {
		if ls[i].t != ls[j].t {
			return ls[i].t < ls[j].t
		}
		if ls[i].u != ls[j].u {
			return ls[i].u > ls[j].u
		}
		return !ls[i].locked && ls[j].locked
	})
	out := ls[:0]
	free, allowed := 0.0, 0.0
	for _, l := range ls {
		if l.u <= free || l.locked && l.u <= allowed {
			continue
		}
		allowed = math.Max(allowed, l.u)
		if !l.locked {
			free = l.u
		}
		out = append(out, l)
	}
	return out
}

// station drops what is dominated and moves the rest on: in its gear, a gear
// up, a gear down.
func (k *oracleRun) station(i int) {
	shifts := i == 0 || !k.cells[i-1].noShift || !k.cells[i].noShift
	count := 0
	for g := range k.labels[i] {
		ls := k.undominated(k.labels[i][g])
		count += len(ls)
		for _, l := range ls {
			if shifts && g+1 < len(k.drives) && !l.locked {
				k.pause(l, i, 0, g+1)
			}
			if shifts && g > 0 && l.u <= k.below[g] {
				k.pause(l, i, 0, g-1)
			}
			if !k.cells[i].noShift && l.u > k.last[g]*(1+1e-12) {
				l.locked = true
			}
			k.drive(l, i, 0)
		}
	}
	k.kept += count
	k.most = max(k.most, count)
}
