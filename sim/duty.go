package sim

import "layshaft/cars/gearbox"

// Duty is what a lap asks of one gear, section 16 of MODEL.md. The pause of a
// shift counts to the gear that it leaves, as in Lap.TimeInGear.
type Duty struct {
	Way   float64 // m with the gear engaged
	Time  float64 // s with the gear engaged
	Turns float64 // turns of the box's input shaft with the gear engaged, pauses left out

	// Loads are the turns of the input shaft in which the engine drives, piece by
	// piece, with the torque (N·m) that it brings into the box (16.1).
	Loads []gearbox.Load
}

// Duties is what a flying lap with the total ratios by gear asks of each gear; nil
// where the set cannot drive it. The ways add up to the lap's length.
func (m *Model) Duties(total []float64) []Duty {
	m.wantGears(total)
	k := m.recorder()
	t, _ := k.carryOut(passage{kind: Flying, total: total})
	if t.fail != "" {
		return nil
	}
	k.trail(t.last)
	k.settleGears(t, true)
	out := make([]Duty, k.n)
	for i := range k.path {
		p := &k.path[i]
		d := &out[p.gear]
		d.Way += p.s1 - p.s0
		d.Time += p.t1 - p.t0
		k.eachPoint(p, func(s, w float64, on bool) {
			c := k.crankAt(p, s, on)
			turns := w * c.turned / (secondsPerMinute * c.v)
			d.Turns += turns
			if torque := k.intoBox(p, &c); torque > 0 {
				d.Loads = append(d.Loads, gearbox.Load{Cycles: turns, Size: torque})
			}
		})
	}
	return out
}

const secondsPerMinute = 60 // exact

// intoBox is the torque (N·m) that the crankshaft brings into the box (16.1): the
// engine's less what spins it up. 0 with the throttle closed, where the other
// flank carries.
func (k *Solver) intoBox(p *piece, c *crank) float64 {
	if c.torque <= 0 || c.turned < c.rpm {
		return c.torque // a slipping clutch passes all of it
	}
	b, d := k.m.body, &k.drives[p.gear]
	u := c.v * c.v
	r := b.r0 + b.growth*u
	return c.torque - b.engineInertia*d.ratio*c.a*(1-2*b.growth*u/r)/r
}

// LimiterTouches is how often the lap comes onto the limiter (1/min), or above it
// in a gear that no longer drives; a spell that runs over the start line is one.
func (l *Lap) LimiterTouches(limiter float64) int {
	n := 0
	on := func(s *Sample) bool {
		return s.Phase == Limiting || s.Phase == Driving && s.RPM > limiter*(1+1e-9)
	}
	for i := range l.Samples {
		before := i - 1
		if i == 0 {
			if l.Kind != Flying {
				before = -1
			} else {
				before = len(l.Samples) - 1
			}
		}
		if on(&l.Samples[i]) && (before < 0 || !on(&l.Samples[before])) {
			n++
		}
	}
	if n == 0 && len(l.Samples) > 0 && on(&l.Samples[0]) {
		return 1 // all of the lap
	}
	return n
}
