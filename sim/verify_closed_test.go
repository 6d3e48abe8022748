package sim

import (
	"math"
	"testing"

	"layshaft/cars"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// fullThrottle drives m in the one gear of point from v0 over way (m).
func fullThrottle(t *testing.T, m *Model, v0, way float64) (v, time float64) {
	t.Helper()
	st := startAt(v0)
	if _, end := m.run(&st, 0, gearOf(m), way, math.Inf(1), 0, nil); end != finished {
		t.Fatalf("the run ended with %d after %g m, want %g m", end, st.s, way)
	}
	return math.Sqrt(st.u), st.t
}

// Constant thrust against square drag, from rest: v = vt sqrt(1 - e^(-2kx/m)),
// x = (m/k) ln cosh(k vt t/m). Terminal speed sqrt(F/k): OpenStax, Calculus,
// chapter on differential equations; the rest is standard calculus. m 600, F
// 6000, k 0.72, x 500: v 76.3111 m/s, t 11.0235 s. The model starts at 20 m/s,
// as slow as laps become, a little way along.
func TestConstantThrust(t *testing.T) {
	const mass, force, k, way = 600.0, 6000.0, 0.72, 500.0
	vt := math.Sqrt(force / k)
	numtest.Equal(t, "terminal speed (m/s)", 91.2871, vt, 5e-5, 0)
	const v0 = 20.0
	x0 := -mass / (2 * k) * math.Log(1-v0*v0/force*k)
	t0 := mass / (k * vt) * math.Atanh(v0/vt)

	car := point(mass, 1e3, flatTorque(force))
	car.Aero.DragArea = 2 * k / 1.225
	last := math.Inf(1)
	for refine := range 4 {
		m := model(t, car, newTrack().straight(2000).t, 1.225, refine)
		v, time := fullThrottle(t, m, v0, way-x0)
		numtest.Equal(t, "speed (m/s)", 76.3111, v, 5e-5, 0)
		numtest.Equal(t, "time (s)", 11.0235, t0+time, 5e-5+5e-5, 0)
		// Fourth order: halving the step takes the error down by 16, by 12 at
		// least while the first steps from 20 m/s are still coarse.
		exact := mass/(k*vt)*math.Acosh(math.Exp(k*way/mass)) - t0
		e := math.Abs(time - exact)
		t.Logf("steps cut into %d: error of time %.2e s", 1<<refine, e)
		if e > last/12 && e > 1e-10 {
			t.Errorf("steps cut into %d: error of time %.3g s after %.3g s: not of fourth order", 1<<refine, e, last)
		}
		last = e
	}
}

// Constant power without losses from rest: s = sqrt(8P/9m) t^1.5 (OpenStax,
// University Physics Volume 1, section 7.4, problems), hence v³ = 3Ps/m.
func TestConstantPower(t *testing.T) {
	const mass, power, v0 = 620.0, 200e3, 15.0
	m := model(t, point(mass, 1e3, flatPower(power)), newTrack().straight(2000).t, 0, 3)
	s := func(v float64) float64 { return mass * v * v * v / (3 * power) }
	clock := func(s float64) float64 { return math.Pow(s/math.Sqrt(8*power/(9*mass)), 2.0/3) }
	for _, v1 := range []float64{30, 60, 90} {
		v, time := fullThrottle(t, m, v0, s(v1)-s(v0))
		// Steps of 1 m: at 15 m/s, without a limit of grip, the pull is 2.2 g,
		// and steps of 8 m would be off by 0.5 mm/s.
		numtest.Equal(t, "speed (m/s)", v1, v, 0, 1e-6)
		numtest.Equal(t, "time (s)", clock(s(v1))-clock(s(v0)), time, 0, 5e-6)
	}
}

// Constant power against drag: v³ = (P/k)(1 - e^(-3kx/m)) (closed form,
// derived). 550 kW, k 0.72, 620 kg (data of Lenzo and Rossi, Appl. Sci. 10(4),
// 2020, 1498): after 500 m 85.7294 m/s, in the end 91.4134 m/s.
func TestConstantPowerWithDrag(t *testing.T) {
	const mass, power, k, v0 = 620.0, 550e3, 0.72, 20.0
	car := point(mass, 1e3, flatPower(power))
	car.Aero.DragArea = 2 * k / 1.225
	m := model(t, car, newTrack().straight(20000).t, 1.225, 2)
	x0 := -mass / (3 * k) * math.Log(1-v0*v0*v0*k/power)
	v, _ := fullThrottle(t, m, v0, 500-x0)
	numtest.Equal(t, "speed after 500 m (m/s)", 85.7294, v, 5e-5, 0)
	v, _ = fullThrottle(t, m, v0, 15000)
	numtest.Equal(t, "greatest speed (m/s)", 91.4134, v, 5e-5, 0)
}

// stopTrack ends a straight in a hairpin.
const stopStraight = 1500.0 // m

func stopTrack(radius float64) *tracks.Track {
	return newTrack().straight(stopStraight).corner(radius, math.Pi, 0, 0).t
}

// brakeFrom reads the braking curve that buildLimit made: where, how long
// before the bend, and how many seconds, it is at v; and the speed of the bend.
func brakeFrom(t *testing.T, m *Model, v float64) (way, time, bend float64) {
	t.Helper()
	for i := range m.cells {
		c := &m.cells[i]
		if c.s >= stopStraight || c.cap0 < v*v || c.cap1 >= v*v {
			continue
		}
		lo, hi := 0.0, c.h
		for range 100 {
			if mid := 0.5 * (lo + hi); c.capAt(mid) > v*v {
				lo = mid
			} else {
				hi = mid
			}
		}
		j := m.cellIndex(stopStraight)
		time = m.capClock[j] - m.capClock[i+1] + c.capTimeFrom(lo)
		return stopStraight - c.s - lo, time, math.Sqrt(m.cells[j].cap0)
	}
	t.Fatalf("the braking curve never is at %g m/s", v)
	return 0, 0, 0
}

// Stopping distances on the level with mu 0.8 (lecture notes of a university
// course in traffic engineering, table for 10 to 100 km/h, g 9.8): the braking
// curve of (6.6) plus the v²/(2 mu g) that is left in the bend.
func TestStoppingDistance(t *testing.T) {
	const decel = 0.8 * textbookG
	const stopRadius = 0.5 // m: the car all but stops
	m := model(t, point(1200, decel/units.Gravity, flatTorque(1)), stopTrack(stopRadius), 0, 0)
	for i, want := range []float64{0.49, 1.97, 4.43, 7.87, 12.30, 17.72, 24.11, 31.49, 39.86, 49.21} {
		way, _, bend := brakeFrom(t, m, float64(10*(i+1))*kmh)
		numtest.Equal(t, "speed of the bend (m/s)", math.Sqrt(decel*stopRadius), bend, 0, 1e-9)
		numtest.Equal(t, "stopping distance (m)", want, way+bend*bend/(2*decel), 0.006, 0)
	}
}

// Braking against a constant force with drag: x = (m/2c) ln(1 + c v²/F), as in
// Gillespie, Fundamentals of Vehicle Dynamics, ch. 3 (from memory); m 600, F
// 600·9.81·1.5, c 0.72, 80 m/s: 174.988 m in 4.70809 s. With downforce mu·kz
// joins c: m 620, mu 1.5, kz 2.15: 104.228 m.
func TestBrakingWithDrag(t *testing.T) {
	const g, density, c, v0 = 9.81, 1.225, 0.72, 80.0
	for _, e := range []struct {
		mass, mu, kz float64
		way, time    float64
	}{
		{600, 1.5, 0, 174.988, 4.70809},
		{620, 1.5, 2.15, 104.228, math.NaN()}, // the time is not at hand
	} {
		mu := e.mu * g / units.Gravity
		car := point(e.mass, mu, flatTorque(1))
		car.Aero.DragArea = 2 * c / density
		car.Aero.DownforceArea = 2 * e.kz * (e.mu / mu) / density // mu·kz as given
		m := model(t, car, stopTrack(20), density, 0)
		way, time, bend := brakeFrom(t, m, v0)
		force, k := e.mass*e.mu*g, c+e.mu*e.kz
		// What is left below the speed of the bend, by the same closed form.
		way += e.mass / (2 * k) * math.Log(1+k*bend*bend/force)
		time += e.mass / math.Sqrt(k*force) * math.Atan(bend*math.Sqrt(k/force))
		numtest.Equal(t, "way (m)", e.way, way, 5e-4, 0)
		if !math.IsNaN(e.time) {
			numtest.Equal(t, "time (s)", e.time, time, 5e-5, 0)
		}
	}
}

// Braking in a bend, in the manner of Meriam and Kraige, Dynamics, ch. 3 (data
// as printed, answer from memory): 200 ft circle, 3000 lb, 25 mph, all tyres
// together 2400 lb: 21.97 ft/s² with g 32.2 ft/s².
func TestBrakingInABend(t *testing.T) {
	car := point(3000*poundMass, 0.8*32.2*foot/units.Gravity, flatTorque(1))
	for _, share := range []float64{1e-9, 0.5, 0.7} { // the split must not matter to equal tyres
		car.FrontShare = share
		b, p := bodyOf(t, car), placeOn(car, 100*foot, 0, 0)
		l := b.at(p, 25*mph)
		numtest.Equal(t, "deceleration (ft/s²)", 21.97, b.brakeLimit(p, &l)/b.mass/foot, 0.005, 0)
	}
}

// From rest on a flat circle with the whole friction circle always used: v² =
// mu g r sin(2 phi), phi the angle turned (C. E. Mungan, "Accelerating Around an
// Unbanked Curve", The Physics Teacher 44, 2006). With mu 1, g 9.8, r 50 m the
// car is at 45° after 2.961312 s, from the integral 1.311028777 of
// 1/sqrt(sin 2 phi) (recomputed).
func TestFrictionCircle(t *testing.T) {
	const r, limit = 50.0, textbookG // m, m/s² = mu g
	const phi0 = 0.05                // rad; the model needs a speed to start with
	integral := func(to float64) float64 {
		// phi = x² takes the root out of the start.
		const n = 4000
		sum, end := 0.0, math.Sqrt(to)
		for i := range n {
			x := (float64(i) + 0.5) * end / n
			sum += 2 * x / math.Sqrt(math.Sin(2*x*x))
		}
		return sum * end / n
	}
	numtest.Equal(t, "integral to 45°", 1.311028777, integral(math.Pi/4), 1e-6, 0)
	scale := math.Sqrt(r / limit)
	for _, c := range []struct {
		refine           int
		speed, time, end float64 // tolerances: m/s, s, s
	}{
		{0, 2e-3, 1e-3, 2e-2}, // the lap's own steps of 4 m
		{4, 1e-6, 1e-6, 1e-3},
	} {
		m := model(t, point(700, limit/units.Gravity, flatTorque(1e6)), circle(r), 0, c.refine)
		for _, deg := range []float64{15, 30, 40} {
			phi := deg * units.FromDeg
			v, time := fullThrottle(t, m, math.Sqrt(limit*r*math.Sin(2*phi0)), r*(phi-phi0))
			numtest.Equal(t, "speed (m/s)", math.Sqrt(limit*r*math.Sin(2*phi)), v, c.speed, 0)
			numtest.Equal(t, "time (s)", scale*(integral(phi)-integral(phi0)), time, c.time, 0)
		}
		// At 45° no grip is left to accelerate with: the run meets the limit.
		st := startAt(math.Sqrt(limit * r * math.Sin(2*phi0)))
		_, end := m.run(&st, 0, gearOf(m), 3*r, math.Inf(1), 0, nil)
		if end != touched {
			t.Errorf("the run ended with %d, not on the corner's limit", end)
		}
		// What an early meeting leaves of the arc is driven at the limit's speed.
		rest := (r*(math.Pi/4-phi0) - st.s) / math.Sqrt(limit*r)
		numtest.Equal(t, "time to 45° (s)", 2.961312, st.t+rest+scale*integral(phi0), c.end, 0)
	}
}

// Straight, hairpin, straight after B. Beckman, The Physics of Racing, parts 17
// and 18 (2000): straights of 650 ft, a hairpin of inner radius 100 and outer
// radius 200 ft taken on one arc of radius R that begins 10·sqrt(2R - 300) ft
// before the straights' ends; exit at g/2. Printed: times to three digits.
// Entry at 100 mph, braking and cornering at 1 g, g 32 ft/s² do not stand in
// the excerpt seen; with them all 16 printed numbers come out.
func TestStraightHairpinStraight(t *testing.T) {
	const g = 32 * foot
	const mass = 700.0
	entry := cars.EngineMap{RPM: []float64{1, 3000, 6000}, Torque: []float64{1e3, 1e3, 1e3}}
	entry.LimiterRPM = 100 * mph / 0.3 * units.ToRPM
	for _, c := range []struct {
		radius                float64 // ft
		entryArc, exit, total float64 // s, mph, s
	}{
		{150, 11.872, 109.091, 17.541},
		{152, 11.773, 107.857, 17.301},
		{154, 11.754, 107.422, 17.213}, // recomputed
		{200, 12.077, 105.627, 16.760}, // recomputed
	} {
		straight := (650 - 10*math.Sqrt(2*c.radius-300)) * foot
		track := newTrack().straight(straight).corner(c.radius*foot, math.Pi, 0, 0).straight(straight).t
		m := model(t, point(mass, g/units.Gravity, entry), track, 0, 0)
		// To the braking point on the limiter at 100 mph, then on the limit.
		st := startAt(100 * mph)
		arcEnd := straight + math.Pi*c.radius*foot
		out, end := m.run(&st, 0, gearOf(m), arcEnd, math.Inf(1), 0, nil)
		if end != touched || out[0].phase != Limiting {
			t.Fatalf("R %g ft: want a run on the limiter that meets the braking curve, got ending %d", c.radius, end)
		}
		strong := m.body.newDrive(1, 1)
		m.follow(&st, arcEnd, func(float64) *drive { return &strong }, nil)
		numtest.Equal(t, "entry and arc (s)", c.entryArc, st.t, 0.001, 0)
		// Out of it at g/2.
		m = model(t, point(mass, g/units.Gravity, flatTorque(mass*g/2)), track, 0, 1)
		st.cell, st.x = m.cellIndex(st.s), 0
		m.run(&st, 0, gearOf(m), m.length, math.Inf(1), 0, nil)
		numtest.Equal(t, "exit speed (mph)", c.exit, math.Sqrt(st.u)/mph, 0.001, 0)
		numtest.Equal(t, "total (s)", c.total, st.t, 0.001, 0)
	}
}
