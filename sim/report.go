package sim

import (
	"fmt"
	"math"
)

// lapOf drives one passage, recording, and makes the report of it.
func (k *Solver) lapOf(p passage) *Lap {
	t, settled := k.carryOut(p)
	lap := &Lap{
		Kind:       p.kind,
		Time:       t.end.t - t.start.t,
		TimeInGear: make([]float64, k.n),
		MaxRPM:     make([]float64, k.n),
		CrossRPM:   make([]float64, k.n-1),
		Periodic:   settled,
		Infeasible: t.fail,
	}
	for g := range k.n - 1 {
		lap.CrossRPM[g] = k.m.body.rpmAt(math.Sqrt(k.cross[g]), k.drives[g].perV)
	}
	if t.fail != "" {
		return lap
	}
	whole := k.m
	switch p.kind { // the envelope that the car had
	case Out:
		k.m = whole.open()
	case Start, Restart:
		k.m = whole.line()
	}
	defer func() { k.m = whole }()
	k.trail(t.last)
	k.settleGears(t, p.kind == Flying && !p.next)
	lap.EngineWork, lap.ClutchHeat = k.work(k.path)
	k.trace(lap, t, p.kind == Flying && !p.next)
	lap.Energy = k.energyOf(k.m, p.kind == Flying && !p.next)
	k.events(lap)
	k.warn(lap)
	return lap
}

// rpm is the engine speed (1/min) in gear g at v (m/s), the slipping clutch
// counted.
func (k *Solver) rpm(v float64, g int) float64 {
	d := &k.drives[g]
	n := k.m.body.rpmAt(v, d.perV)
	if d.slips {
		n = max(n, d.hold)
	}
	return n
}

// settleGears fills in the gear engaged while on the limit: the gear of the
// last stretch until the downshifts of (8.6) have brought it to the gear of
// the next.
func (k *Solver) settleGears(t trip, closed bool) {
	n := len(k.path)
	nextGear := make([]int8, n+1)
	nextGear[n] = int8(t.firstGear)
	if t.firstGear < 0 {
		nextGear[n] = int8(t.gear)
	}
	for i := n - 1; i >= 0; i-- {
		nextGear[i] = nextGear[i+1]
		if k.path[i].phase != Capped {
			nextGear[i] = k.path[i].gear
		}
	}
	engaged, tFree := k.settle(nextGear, int8(t.gear), math.Inf(-1))
	if closed { // the braking at its end goes on at its beginning
		k.settle(nextGear, engaged, tFree-(t.end.t-t.start.t))
	}
}

// settle goes through the path with a gear engaged and no downshift before tFree
// (s), and returns what they are at its end.
func (k *Solver) settle(nextGear []int8, engaged int8, tFree float64) (int8, float64) {
	for i := range k.path {
		p := &k.path[i]
		if p.phase != Capped {
			engaged = p.gear
			if p.phase == Shifting {
				engaged = p.to
			}
			tFree = p.t1
			continue
		}
		for engaged > nextGear[i] {
			v := k.m.body.speedAt(k.m.body.overRev, k.drives[engaged-1].perV)
			if p.u0 > v*v || p.t0 < tFree {
				break
			}
			engaged--
			tFree = max(tFree, p.t0) + k.m.downTime
		}
		p.gear = engaged
	}
	return engaged, tFree
}

func (k *Solver) sampleAt(p *piece, s, u, t float64) Sample {
	v := math.Sqrt(u)
	c := &k.m.cells[p.cell]
	limit := math.Inf(1)
	x := k.m.wrap(s) - c.s
	if x >= -1e-6 && x <= c.h+1e-6 {
		if l := c.capAt(max(0, min(x, c.h))); l < 0.999*topU {
			limit = math.Sqrt(l)
		}
	}
	return Sample{
		S: s, T: t, V: v, Gear: int(p.gear) + 1,
		RPM:   k.rpm(v, int(p.gear)),
		Phase: p.phase, Limit: limit,
	}
}

// trace fills in samples and totals. A lap is reported from the start line,
// wherever it was computed from.
func (k *Solver) trace(lap *Lap, t trip, flying bool) {
	line := k.m.length * math.Ceil(t.start.s/k.m.length-1e-12)
	split := len(k.path)
	for i := range k.path {
		if k.path[i].s0 >= line-1e-9 {
			split = i
			break
		}
	}
	add := func(ps []piece, shift float64, clock float64) {
		for i := range ps {
			p := &ps[i]
			sm := k.sampleAt(p, p.s0-shift, p.u0, p.t0-clock)
			lap.Samples = append(lap.Samples, sm)
			if sm.V > lap.TopSpeed {
				lap.TopSpeed, lap.TopSpeedAt = sm.V, k.m.wrap(sm.S)
			}
			dt := p.t1 - p.t0
			lap.TimeInGear[p.gear] += dt
			if p.phase == Limiting {
				lap.LimiterTime += dt
			}
			for _, v := range [2]float64{math.Sqrt(p.u0), math.Sqrt(p.u1)} {
				if p.phase == Driving || p.phase == Limiting {
					lap.MaxRPM[p.gear] = max(lap.MaxRPM[p.gear], k.rpm(v, int(p.gear)))
				}
			}
		}
	}
	if !flying || t.start.s < 1e-9 || split == len(k.path) || split == 0 {
		add(k.path, 0, t.start.t)
		if n := len(k.path); n > 0 {
			p := &k.path[n-1]
			lap.Samples = append(lap.Samples, k.sampleAt(p, p.s1, p.u1, p.t1-t.start.t))
		}
		return
	}
	// The piece over the line is cut by the mesh, whose cells end there, but
	// for a coast that rolls across it: then the line falls inside a piece,
	// and its sample carries on.
	first := k.path[split:]
	clock := first[0].t0 - (first[0].s0-line)/math.Sqrt(first[0].u0)
	add(first, line, clock)
	add(k.path[:split], t.start.s-(t.end.s-line), clock-(t.end.t-t.start.t))
	last := &k.path[split-1]
	lap.Samples = append(lap.Samples, k.sampleAt(last, k.m.length, last.u1, lap.Time))
}

// events fills in shifts and throttle-on places from the samples.
func (k *Solver) events(lap *Lap) {
	ss := lap.Samples
	for i := 1; i < len(ss); i++ {
		a, b := &ss[i-1], &ss[i]
		if b.Phase == Shifting && (a.Phase != Shifting || a.Gear != b.Gear) {
			to, j := b.Gear+1, i+1
			for j < len(ss) && ss[j].Phase == Shifting && ss[j].Gear == b.Gear {
				j++
			}
			if j < len(ss) && ss[j].Gear < b.Gear && ss[j].Phase != Capped {
				to = ss[j].Gear
			}
			lap.Shifts = append(lap.Shifts, k.shiftOf(b, b.Gear, to))
		}
		if b.Phase == Capped && b.Gear < a.Gear {
			for g := a.Gear; g > b.Gear; g-- {
				lap.Shifts = append(lap.Shifts, k.shiftOf(b, g, g-1))
			}
		}
		if a.Phase == Capped && b.Phase == Driving {
			lap.ThrottleOns = append(lap.ThrottleOns, ThrottleOn{
				S: k.m.wrap(b.S), Corner: k.m.track.Place(k.m.wrap(b.S)), V: b.V, Gear: b.Gear, RPM: b.RPM,
			})
			if b.Gear < a.Gear {
				for g := a.Gear; g > b.Gear; g-- {
					lap.Shifts = append(lap.Shifts, k.shiftOf(b, g, g-1))
				}
			}
		}
	}
}

func (k *Solver) shiftOf(at *Sample, from, to int) Shift {
	return Shift{
		S: k.m.wrap(at.S), From: from, To: to, V: at.V,
		RPMBefore: k.m.body.rpmAt(at.V, k.drives[from-1].perV),
		RPMAfter:  k.m.body.rpmAt(at.V, k.drives[to-1].perV),
		Held:      to > from && at.V*at.V > k.cross[from-1]*(1+1e-6),
	}
}

// warn adds what the reader must know about the lap.
func (k *Solver) warn(lap *Lap) {
	low, top := k.m.body.rpmLow, k.m.body.rpmTop
	for i := range lap.Samples {
		s := &lap.Samples[i]
		if s.Phase == Driving && s.RPM < low-1 {
			lap.Warnings = append(lap.Warnings, fmt.Sprintf("at %s gear %d turns %.0f rpm, below the torque table (%.0f rpm): no torque there", k.m.track.Place(k.m.wrap(s.S)), s.Gear, s.RPM, low))
			break
		}
	}
	crest := math.Inf(-1) // m, the last one told
	for i := range lap.Samples {
		s := &lap.Samples[i]
		p := k.m.placeAt(s.S)
		if s.Phase == Capped && p.kn < 0 && s.V*s.V >= 0.9*k.m.body.crestLimit(&p) && s.S > crest+100 {
			lap.Warnings = append(lap.Warnings, fmt.Sprintf("the crest at %s would lift an axle at %.0f km/h: the lap slows down for it", k.m.track.Place(k.m.wrap(s.S)), 3.6*math.Sqrt(k.m.body.liftSpeed(&p))))
			crest = s.S
		}
	}
	if k.m.body.limiter > top {
		lap.Warnings = append(lap.Warnings, fmt.Sprintf("the torque table ends at %.0f rpm, below the limiter of %.0f rpm", top, k.m.body.limiter))
	}
}
