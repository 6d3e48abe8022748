package sim

import (
	"fmt"
	"math"
)

// trip is one passage over a stretch of the track.
type trip struct {
	start, end state
	gear       int // index engaged at the end
	firstGear  int // index in which the first stretch of full throttle began
	fail       string
}

// drive takes the car from st to sEnd. gear is the index engaged at the start,
// -1 when it is free (a lap that begins on the limit, in the gear that its own
// end will have to reach). The chosen pieces stand in k.path when recording.
func (k *Solver) drive(st state, gear int, sEnd float64) trip {
	t := trip{start: st, firstGear: -1}
	k.path = k.path[:0]
	k.capped = k.capped[:0]
	for st.s < sEnd-1e-9 {
		from := len(k.capped)
		k.capped = k.m.follow(&st, sEnd, k.pick, k.capped)
		if k.record {
			for _, p := range k.capped[from:] {
				p.gear = int8(max(gear, 0))
				k.path = append(k.path, p)
			}
		}
		if st.s >= sEnd-1e-9 {
			break
		}
		c, row, g0, fail := k.stretch(st, gear, sEnd)
		if fail != "" {
			t.fail = fail
			t.end, t.gear = st, gear
			return t
		}
		if t.firstGear < 0 {
			t.firstGear = g0
		}
		if k.record {
			k.keep(row, &c)
		}
		if c.end == stalled {
			t.fail = fmt.Sprintf("no gear pulls at %s: the car comes to a stop in gear %d", k.m.track.Place(k.m.wrap(c.state.s)), c.gear+1)
			t.end, t.gear = c.state, c.gear
			return t
		}
		st, gear = c.state, c.gear
		if c.end == touched {
			k.capped = k.capped[:0]
		}
		if c.end == dropped {
			// One gear down at full throttle, as long without drive as a
			// shift up (8.5).
			pc := k.m.coast(&st, gear, k.m.shiftTime[k.first+gear-1], 0)
			if k.overCap(&st) {
				st.u = k.m.cells[st.cell].capAt(st.x)
			}
			gear--
			if k.record {
				k.path = append(k.path, pc)
			}
			k.capped = k.capped[:0]
		}
	}
	t.end, t.gear = st, gear
	return t
}

// wrap brings an unwrapped distance (m) into the lap.
func (m *Model) wrap(s float64) float64 {
	s = math.Mod(s, m.length)
	if s < 0 {
		s += m.length
	}
	return s
}

// stretch drives one stretch of full throttle from st: in the natural gear of
// the speed or the next one, whichever is quicker (8.3), among those that the
// braking before it left time for.
func (k *Solver) stretch(st state, gear int, sEnd float64) (best choice, row int, g0 int, fail string) {
	nat := k.natural(st.u)
	first := [2]int{nat, nat + 1}
	count := 2
	v := math.Sqrt(st.u)
	pulls := func(g int) bool {
		return k.drives[g].slips || k.m.body.rpmAt(v, k.drives[g].perV) >= k.m.body.pulling
	}
	switch {
	case gear >= 0 && len(k.capped) == 0 || gear >= 0 && gear < nat:
		// Not after braking, or already in a gear shorter than the natural.
		first[0], count = gear, 1
	case nat+1 >= k.n || gear >= 0 && nat+1 > gear || !pulls(nat+1):
		count = 1
	}
	fits := func(g int) bool { return gear < 0 || g >= gear || k.fits(gear, g) }
	tried := 0
	for _, g := range first[:count] {
		if (gear >= 0 && len(k.capped) > 0) && !(fits(g) && (g <= gear)) {
			continue
		}
		if (gear < 0 || len(k.capped) > 0) && !pulls(g) {
			continue
		}
		k.try(st, g, sEnd, &best, &row, &g0, &tried)
	}
	if tried == 0 {
		// What the braking leaves time for, shortest first.
		for g := nat + 1; g <= gear; g++ {
			if fits(g) && pulls(g) {
				k.try(st, g, sEnd, &best, &row, &g0, &tried)
				break
			}
		}
	}
	if tried == 0 {
		return best, 0, 0, k.whyNot(st, gear, nat)
	}
	return best, row, g0, ""
}

// try drives the stretch beginning in gear g and keeps the better choice: the
// earlier in the same braking phase, or at the line where the lap is over.
func (k *Solver) try(st state, g int, sEnd float64, best *choice, row, g0, tried *int) {
	i := *tried
	if i > 1 {
		i = 1
	}
	if *tried > 0 && *row == i {
		i = 1 - i
	}
	n := k.chain(k.chains[i], st, g, sEnd)
	c := k.settle(k.chains[i], n, g)
	same := c.end == best.end && (c.end == finished || c.end == touched && c.apex == best.apex)
	if *tried == 0 || same && c.key < best.key {
		*best, *row, *g0 = c, i, g
	}
	*tried++
}

// whyNot words why no gear can be used at a throttle-on place.
func (k *Solver) whyNot(st state, gear, nat int) string {
	v := math.Sqrt(st.u)
	place := k.m.track.Place(k.m.wrap(st.s))
	rpm := k.m.body.rpmAt(v, k.drives[nat].perV)
	if rpm < k.m.body.pulling {
		return fmt.Sprintf("at %s, throttle-on at %.1f km/h: gear %d would turn %.0f rpm, below the pulling rpm of %.0f", place, 3.6*v, nat+1, rpm, k.m.body.pulling)
	}
	return fmt.Sprintf("at %s: the braking before it leaves no time to come down from gear %d to gear %d below the over-rev limit of %.0f rpm", place, gear+1, nat+1, k.m.body.overRev)
}

// fits says whether the downshifts from gear index a to b fit between the
// start of braking and throttle-on: each begins when the speed allows the gear
// below, takes its time, and the last ends before full throttle (8.6).
func (k *Solver) fits(a, b int) bool {
	if len(k.capped) == 0 {
		return a <= b
	}
	t := k.capped[0].t0
	end := k.capped[len(k.capped)-1].t1
	i := 0
	for g := a - 1; g >= b; g-- {
		v := k.m.body.speedAt(k.m.body.overRev, k.drives[g].perV)
		u := v * v
		for i < len(k.capped) && k.capped[i].u1 > u {
			i++
		}
		if i == len(k.capped) {
			return false
		}
		p := &k.capped[i]
		tu := p.t0
		if p.u0 > u {
			f := (p.u0 - u) / (p.u0 - p.u1)
			tu = p.t0 + f*(p.t1-p.t0)
		}
		t = math.Max(t, tu) + k.m.downTime
	}
	return t <= end+1e-9
}

// keep appends the pieces of a chosen stretch to the path.
func (k *Solver) keep(row int, c *choice) {
	links := k.chains[row][:c.links]
	for i := range links {
		l := &links[i]
		lastLink := i == len(links)-1
		if lastLink && !c.inShift {
			k.path = append(k.path, l.run...)
			return
		}
		k.path = append(k.path, l.run[:l.shiftAt]...)
		p := l.run[l.shiftAt]
		if l.at.s > p.s0 {
			cut(&p, l.at.s, l.at.u)
			k.path = append(k.path, p)
		}
		k.path = append(k.path, l.shift)
	}
}
