package sim

import (
	"fmt"
	"math"
)

// A standing start is singular in the way, du/ds = 2a and dt/ds = 1/v at v = 0,
// and not in time. So the car moves off in steps of time, and the passage takes
// over where it rolls at launchV.

// launchV is the speed (m/s) up to which a standing start is made in steps of
// time.
const launchV = 2.0

// launchSteps is the number of those steps, before refinement.
const launchSteps = 8

// leastPush is the acceleration (m/s²) under which a car counts as not moving
// off.
const leastPush = 1e-3

// StartTime is the standing start's time (s) from the start line to the start
// line, +Inf where it cannot be driven.
func (k *Solver) StartTime(total []float64) float64 {
	return k.timeOf(passage{kind: Start, total: total})
}

// RestartTime is the time (s) of a lap that begins at the start line with a
// speed (m/s), +Inf where it cannot be driven.
func (k *Solver) RestartTime(total []float64, speed float64) float64 {
	return k.timeOf(passage{kind: Restart, total: total, speed: speed})
}

// StartLap simulates a standing start from the start line to the start line:
// the clutch slips in first gear at the launch rpm until the speeds meet.
func (m *Model) StartLap(total []float64) *Lap {
	return m.report(passage{kind: Start, total: total})
}

// RestartLap simulates a lap that begins at the start line with a speed (m/s)
// at full throttle, in the best gear for it, and ends at the start line. A speed
// above the corner and braking limit there, above what top gear allows, or not
// above 0 gives a Lap whose Infeasible says so.
func (m *Model) RestartLap(total []float64, speed float64) *Lap {
	return m.report(passage{kind: Restart, total: total, speed: speed})
}

// start drives from a standstill at the start line (10.3).
func (k *Solver) start(total []float64) trip {
	k.set(total)
	d := &k.drives[0]
	d.slips = true
	if rpm := k.m.car.Engine.LaunchRPM; rpm > 0 {
		d.hold = rpm
	}
	whole := k.m
	k.m = whole.line()
	defer func() { k.m = whole }()
	rest := state{cell: 0, s: 0}
	st := rest
	if why := k.moveOff(&st, d); why != "" {
		return trip{start: rest, last: -1, fail: why}
	}
	k.gears = append(k.gears[:0], 0)
	t := k.drive(st, k.gears, k.m.length, -1)
	t.start = rest
	return t
}

// moveOff takes st from a standstill to launchV in fourth-order steps of time
// and keeps the pieces. It says why where the car does not get there.
func (k *Solver) moveOff(st *state, d *drive) string {
	m := k.m
	from := *st
	push := func(x, v float64) float64 {
		p := m.placeAhead(&from, x)
		a, _ := m.body.accel(&p, v*v, d)
		return a
	}
	n := launchSteps << m.refine
	x, v, t := 0.0, 0.0, 0.0
	for i := 0; v < launchV; i++ {
		a1 := push(x, v)
		if a1 < leastPush || i >= 16*n {
			return k.stays(st, d, v)
		}
		step := func(h float64) (x1, v1 float64) {
			v2 := v + 0.5*h*a1
			a2 := push(x+0.5*h*v, v2)
			v3 := v + 0.5*h*a2
			a3 := push(x+0.5*h*v2, v3)
			v4 := v + h*a3
			a4 := push(x+h*v3, v4)
			return x + h/6*(v+2*v2+2*v3+v4), v + h/6*(a1+2*a2+2*a3+a4)
		}
		h := launchV / float64(n) / a1
		x1, v1 := step(h)
		if v1 >= launchV*(1-1e-9) {
			for range 20 { // land on it
				if v1 <= v || math.Abs(v1-launchV) < 1e-14*launchV {
					break
				}
				h *= (launchV - v) / (v1 - v)
				x1, v1 = step(h)
			}
			v1 = launchV
		}
		if v1 <= v || x1 >= m.length {
			return k.stays(st, d, v)
		}
		p := piece{
			cell: int32(st.cell), phase: Driving, s0: from.s + x, s1: from.s + x1,
			u0: v * v, u1: v1 * v1, d0: 2 * a1, d1: 2 * push(x1, v1), t0: from.t + t, t1: from.t + t + h,
		}
		k.launch = append(k.launch, p)
		m.jump(st, x1-x)
		x, v, t = x1, v1, t+h
		st.u, st.t = v*v, from.t+t
	}
	return ""
}

// stays words why a car at v (m/s) does not get away.
func (k *Solver) stays(st *state, d *drive, v float64) string {
	if !k.record {
		return "not feasible"
	}
	m := k.m
	p := m.cells[st.cell].at(st.x)
	l := m.body.at(&p, v)
	f, _ := m.body.engineForce(v, d)
	return fmt.Sprintf("at %s the car does not move off: first gear at the launch rpm of %.0f pushes with %.0f N, the driven tyres take %.0f N, %.0f N hold it back",
		m.track.Place(m.wrap(st.s)), d.hold, f, m.body.driveLimit(&p, &l), l.resist)
}

// restart drives from the start line on with a given speed (10.4).
func (k *Solver) restart(total []float64, speed float64) trip {
	k.set(total)
	k.drives[0].slips = true
	whole := k.m
	k.m = whole.line()
	defer func() { k.m = whole }()
	m := k.m
	st := state{cell: 0, u: speed * speed}
	fail := func(format string, args ...any) trip {
		t := trip{start: st, last: -1, fail: "not feasible"}
		if k.record {
			t.fail = fmt.Sprintf(format, args...)
		}
		return t
	}
	if !(speed*math.Abs(speed) > leastU) || math.IsInf(speed, 1) {
		return fail("a restart at %.1f km/h: not above %.1f km/h", 3.6*speed, 3.6*math.Sqrt(leastU))
	}
	if most := m.cells[0].cap0; st.u > most*(1+1e-9) {
		return fail("at %s a restart at %.1f km/h is above the corner and braking limit of %.1f km/h there", m.track.Place(0), 3.6*speed, 3.6*math.Sqrt(most))
	}
	if top := &k.drives[k.n-1]; st.u > top.uLimit*(1+1e-9) {
		return fail("at %s a restart at %.1f km/h: top gear would turn %.0f rpm, above the limiter of %.0f rpm", m.track.Place(0), 3.6*speed, m.body.rpmAt(speed, top.perV), m.body.limiter)
	}
	k.gears = k.gears[:0]
	nat := k.natural(st.u)
	pulls := func(g int) bool {
		return g == 0 || m.body.rpmAt(speed, k.drives[g].perV) >= m.body.pulling
	}
	if nat > 0 && !pulls(nat) && st.u <= k.drives[nat-1].uLimit {
		nat--
	}
	for g := nat; g < k.n && len(k.gears) < startGears; g++ {
		if pulls(g) && st.u <= k.drives[g].uLimit*(1+1e-9) {
			k.gears = append(k.gears, g)
		}
	}
	if len(k.gears) == 0 {
		return fail("at %s a restart at %.1f km/h: gear %d would turn %.0f rpm, below the pulling rpm of %.0f, and the gear below it is past the limiter", m.track.Place(0), 3.6*speed, nat+1, m.body.rpmAt(speed, k.drives[nat].perV), m.body.pulling)
	}
	return k.drive(st, k.gears, m.length, -1)
}

// follow drives a lap that begins at the start line as another ended: with its
// speed (m/s) and in its gear (index), with shifts as they come or without any,
// whichever is quicker (10.6).
func (k *Solver) follow(total []float64, speed float64, gear int) trip {
	k.set(total)
	st := state{cell: 0, u: min(speed*speed, k.m.cells[0].cap0)}
	record := k.record
	k.record = false
	pass := func(only int) trip {
		k.only = only
		k.gears = append(k.gears[:0], gear)
		t := k.drive(st, k.gears, k.m.length, -1)
		k.only = 0
		return t
	}
	best, only := pass(0), 0
	if t := pass(gear + 1); t.fail == "" && (best.fail != "" || t.end.t < best.end.t) {
		best, only = t, gear+1
	}
	if k.record = record; record {
		best = pass(only)
	}
	return best
}

// slowStep shortens a step of length h (m) at a low speed, so that v² changes
// by a small share of itself in it: the clock runs on 1/v.
func (m *Model) slowStep(st *state, c *cell, d *drive, h float64) float64 {
	const share = 0.25
	p := c.at(st.x)
	a, _ := m.body.accel(&p, st.u, d)
	most := share / float64(int(1)<<m.refine) * st.u / (2 * math.Abs(a))
	return min(h, max(most, 1e-3))
}

// RestartLimit is the greatest speed (m/s) that a car may have at the start line
// for the corners ahead of it, +Inf where there is none.
func (m *Model) RestartLimit() float64 {
	if u := m.line().cells[0].cap0; u < topU {
		return math.Sqrt(u)
	}
	return math.Inf(1)
}

// placeAhead is the place dist (m) ahead of st.
func (m *Model) placeAhead(st *state, dist float64) place {
	i, x := st.cell, st.x+dist
	for x > m.cells[i].h {
		x -= m.cells[i].h
		i++
		if i == len(m.cells) {
			i = 0
		}
	}
	return m.cells[i].at(x)
}

// jump moves st forward by dist (m) without touching speed or time.
func (m *Model) jump(st *state, dist float64) {
	st.x += dist
	st.s += dist
	for st.x >= m.cells[st.cell].h-1e-10 {
		st.x = max(st.x-m.cells[st.cell].h, 0)
		st.cell++
		if st.cell == len(m.cells) {
			st.cell = 0
		}
	}
}
