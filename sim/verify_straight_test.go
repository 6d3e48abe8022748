package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// straightChecks are stretches at full throttle on the level that have a
// closed form. Sample by sample the lap is held against speed and time as
// functions of the way.
func straightChecks() []check {
	return []check{
		{name: "constant thrust against drag", tol: 1e-6, refine: 1,
			source: "OpenStax, Calculus, differential equations (terminal speed); standard calculus",
			run:    constantThrust},
		{name: "constant power without losses", tol: 1e-6, refine: 3,
			source: "OpenStax, University Physics Volume 1, section 7.4, problems: s = sqrt(8P/9m) t^1.5",
			run:    constantPower},
		{name: "constant power against drag", tol: 1e-6, refine: 3,
			source: "derived; data of Lenzo and Rossi, Appl. Sci. 10(4), 2020, 1498",
			run:    constantPowerWithDrag},
		{name: "coast-down", tol: 1e-6, run: coastDownOnTheLap,
			source: "Rajamani, Vehicle Dynamics and Control, ch. 4 (from memory)"},
		{name: "coasting in the pause of a shift", tol: 1e-6, run: coastDownInAShift,
			source: "Rajamani, Vehicle Dynamics and Control, ch. 4 (from memory)"},
		{name: "terminal speed", tol: 1e-6, run: terminalSpeed,
			source: "OpenStax, University Physics Volume 1, section 6.4: v = sqrt(F/k)"},
	}
}

// stretch drives car from the start of the track at v0 (m/s) to its end: an
// out lap whose pit exit is the start line. The box has one gear of ratio 1.
func stretch(t testing.TB, car *cars.Car, track *tracks.Track, density, v0 float64, refine int) *Lap {
	t.Helper()
	track.PitLimit, track.PitExit = v0, 0
	lap := model(t, oneGear(car), track, density, refine).OutLap([]float64{1})
	require.Empty(t, lap.Infeasible)
	require.NotEmpty(t, lap.Samples)
	numtest.Equal(t, "the stretch starts at (m/s)", v0, lap.Samples[0].V, 0, 1e-12)
	return lap
}

// oneGear takes all gears but one out of the box of point.
func oneGear(car *cars.Car) *cars.Car {
	car.Box = &gearbox.Box{Gears: 1}
	return car
}

func lastSample(l *Lap) Sample { return l.Samples[len(l.Samples)-1] }

// along compares every sample of the lap with speed and clock as functions of
// the way: v(s), and t(s) from the start. The clock is relative to the time that
// has gone by, so that the first steps, from a low speed, stand out.
func along(l *Lap, v, clock func(s float64) float64) []figure {
	ws, wt := worst{what: "speed (m/s)"}, worst{what: "time so far (s)"}
	for _, p := range l.Samples {
		ws.add(v(p.S), p.V)
		if p.S > 0 {
			wt.add(clock(p.S), p.T)
		}
	}
	end := lastSample(l)
	return []figure{ws.f, wt.f, {"time in all (s)", clock(end.S), end.T}}
}

// Constant thrust against square drag: v² = vt² - (vt² - v0²) e^(-2kx/m),
// t = m/(k vt) atanh(v/vt) from rest.
type thrust struct{ mass, force, k float64 }

func (c thrust) top() float64 { return math.Sqrt(c.force / c.k) }

func (c thrust) speed(v0, x float64) float64 {
	u := c.force / c.k
	return math.Sqrt(u - (u-v0*v0)*math.Exp(-2*c.k*x/c.mass))
}

func (c thrust) clock(v float64) float64 {
	return c.mass / (c.k * c.top()) * math.Atanh(v/c.top())
}

func (c thrust) car() *cars.Car {
	car := point(c.mass, 1e3, flatTorque(c.force))
	car.Aero.DragArea = 2 * c.k / 1.225
	return car
}

func constantThrust(t testing.TB, refine int) []figure {
	c := thrust{600, 6000, 0.72}
	const v0 = 20.0
	lap := stretch(t, c.car(), newTrack().straight(1500).t, 1.225, v0, refine)
	v := func(s float64) float64 { return c.speed(v0, s) }
	return along(lap, v, func(s float64) float64 { return c.clock(v(s)) - c.clock(v0) })
}

// m 600 kg, F 6000 N, k 0.72 kg/m: after 500 m from rest 76.3111 m/s and
// 11.0235 s (recomputed), towards 91.2871 m/s. Halving the step takes the
// error of the time down by 16, by 12 at least while the first steps from 20
// m/s are still coarse.
func TestConstantThrust(t *testing.T) {
	c := thrust{600, 6000, 0.72}
	const v0 = 20.0
	x0 := -c.mass / (2 * c.k) * math.Log(1-v0*v0/c.force*c.k)
	numtest.Equal(t, "terminal speed (m/s)", 91.2871, c.top(), 5e-5, 0)
	before := math.Inf(1)
	for refine := range 4 {
		lap := stretch(t, c.car(), newTrack().straight(500-x0).t, 1.225, v0, refine)
		numtest.Equal(t, "speed (m/s)", 76.3111, lastSample(lap).V, 5e-5, 0)
		numtest.Equal(t, "time (s)", 11.0235, c.clock(v0)+lap.Time, 5e-5, 0)
		e := math.Abs(lap.Time - (c.clock(c.speed(v0, 500-x0)) - c.clock(v0)))
		t.Logf("steps cut into %d: error of time %.2e s", 1<<refine, e)
		if e > before/12 && e > 1e-10 {
			t.Errorf("steps cut into %d: error of time %.3g s after %.3g s: not of fourth order", 1<<refine, e, before)
		}
		before = e
	}
}

func constantPower(t testing.TB, refine int) []figure {
	const mass, power, v0 = 620.0, 200e3, 16.0
	way := func(v float64) float64 { return mass * v * v * v / (3 * power) }
	clock := func(s float64) float64 { return math.Pow(s/math.Sqrt(8*power/(9*mass)), 2.0/3) }
	s0 := way(v0)
	lap := stretch(t, point(mass, 1e3, flatPower(power)), newTrack().straight(way(90)-s0).t, 0, v0, refine)
	return along(lap,
		func(s float64) float64 { return math.Cbrt(3 * power * (s + s0) / mass) },
		func(s float64) float64 { return clock(s+s0) - clock(s0) })
}

// Constant power against square drag: v³ = P/k - (P/k - v0³) e^(-3kx/m).
type powered struct{ mass, power, k float64 }

func (c powered) speed(v0, x float64) float64 {
	w := c.power / c.k
	return math.Cbrt(w - (w-v0*v0*v0)*math.Exp(-3*c.k*x/c.mass))
}

func (c powered) way(v0, v float64) float64 {
	return c.mass / (3 * c.k) * math.Log((c.power-c.k*v0*v0*v0)/(c.power-c.k*v*v*v))
}

// clock is the integral of m v dv/(P - k v³) from rest, by partial fractions.
func (c powered) clock(v float64) float64 {
	top := math.Cbrt(c.power / c.k)
	integral := func(w float64) float64 {
		return -math.Log(1-w)/3 + math.Log(1+w+w*w)/6 - math.Atan((2*w+1)/math.Sqrt(3))/math.Sqrt(3)
	}
	return c.mass * top * top / c.power * (integral(v/top) - integral(0))
}

func (c powered) car() *cars.Car {
	car := point(c.mass, 1e3, flatPower(c.power))
	car.Aero.DragArea = 2 * c.k / 1.225
	return car
}

func constantPowerWithDrag(t testing.TB, refine int) []figure {
	c := powered{620, 550e3, 0.72}
	const v0 = 20.0
	lap := stretch(t, c.car(), newTrack().straight(1500).t, 1.225, v0, refine)
	v := func(s float64) float64 { return c.speed(v0, s) }
	return along(lap, v, func(s float64) float64 { return c.clock(v(s)) - c.clock(v0) })
}

// 550 kW, k 0.72 kg/m, 620 kg: after 500 m from rest 85.7294 m/s, in the end
// 91.4134 m/s (recomputed).
func TestConstantPowerWithDrag(t *testing.T) {
	c := powered{620, 550e3, 0.72}
	const v0 = 20.0
	lap := stretch(t, c.car(), newTrack().straight(500-c.way(0, v0)).t, 1.225, v0, 0)
	numtest.Equal(t, "speed after 500 m (m/s)", 85.7294, lastSample(lap).V, 5e-5, 0)
	lap = stretch(t, c.car(), newTrack().straight(15000).t, 1.225, v0, 0)
	numtest.Equal(t, "greatest speed (m/s)", 91.4134, lastSample(lap).V, 5e-5, 0)
}

// Coast-down under constant and square resistance. m 600 kg, k 0.72 kg/m, F0
// 90 N, v0 80 m/s: T = m/sqrt(k F0)·atan(v0 sqrt(k/F0)) = 106.731 s, X =
// m/(2k)·ln(1 + k v0²/F0) = 1647.95 m (Rajamani, from memory; recomputed).
type coastDown struct{ m, k, f0 float64 }

func (c coastDown) timeFrom(v float64) float64 {
	return c.m / math.Sqrt(c.k*c.f0) * math.Atan(v*math.Sqrt(c.k/c.f0))
}

func (c coastDown) wayFrom(v float64) float64 {
	return c.m / (2 * c.k) * math.Log(1+c.k*v*v/c.f0)
}

// speed after x (m) from v0.
func (c coastDown) speed(v0, x float64) float64 {
	w := c.f0 / c.k
	return math.Sqrt((w+v0*v0)*math.Exp(-2*c.k*x/c.m) - w)
}

// car has an engine that gives nothing.
func (c coastDown) car() *cars.Car {
	car := point(c.m, 1e3, flatTorque(0))
	car.RollingCoef = c.f0 / (c.m * units.Gravity)
	car.Aero.DragArea = 2 * c.k / 1.225
	return car
}

func coastDownOnTheLap(t testing.TB, refine int) []figure {
	c := coastDown{600, 0.72, 90}
	const v0 = 80.0
	lap := stretch(t, c.car(), newTrack().straight(c.wayFrom(v0)-c.wayFrom(20)).t, 1.225, v0, refine)
	v := func(s float64) float64 { return c.speed(v0, s) }
	return along(lap, v, func(s float64) float64 { return c.timeFrom(v0) - c.timeFrom(v(s)) })
}

func TestCoastDown(t *testing.T) {
	c := coastDown{600, 0.72, 90}
	lap := stretch(t, c.car(), newTrack().straight(c.wayFrom(80)-c.wayFrom(20)).t, 1.225, 80, 0)
	v := lastSample(lap).V
	numtest.Equal(t, "time to rest (s)", 106.731, lap.Time+c.timeFrom(v), 5e-4, 0)
	numtest.Equal(t, "way to rest (m)", 1647.95, lastSample(lap).S+c.wayFrom(v), 5e-3, 0)
}

// In a shift the car rolls without drive: from the sample at which the pause
// begins to the next one stand the closed form's way and speed for the shift
// time.
func coastDownInAShift(t testing.TB, refine int) []figure {
	const pause = 0.045 // s
	c := coastDown{600, 0.72, 90}
	car := c.car()
	car.Engine.Maps[0] = flatTorque(3000)
	car.Box.UpshiftTime[0] = pause
	track := newTrack().straight(2000).t
	track.PitLimit, track.PitExit = 60, 0
	// The limiter of 6050 1/min is at 76.0 m/s in first gear, at 95 in second,
	// whose 6000 N still pull there.
	lap := model(t, car, track, 1.225, refine).OutLap([]float64{2.5, 2})
	require.Empty(t, lap.Infeasible)
	speed, way := worst{what: "speed after it (m/s)"}, worst{what: "way (m)"}
	for i := 1; i < len(lap.Samples); i++ {
		a, b := lap.Samples[i-1], lap.Samples[i]
		if a.Phase != Shifting {
			continue
		}
		v := c.after(a.V, b.T-a.T)
		speed.add(v, b.V)
		way.add(c.wayFrom(a.V)-c.wayFrom(v), b.S-a.S)
	}
	if speed.n == 0 {
		t.Fatal("no shift on the stretch")
	}
	return []figure{speed.f, way.f}
}

// after is the speed (m/s) when the car has rolled for a time (s) from v0.
func (c coastDown) after(v0, time float64) float64 {
	w := math.Sqrt(c.f0 / c.k)
	return w * math.Tan(math.Atan(v0/w)-time*math.Sqrt(c.k*c.f0)/c.m)
}

// A lap without a corner, flat out: it is driven at terminal speed all round.
func terminalSpeed(t testing.TB, refine int) []figure {
	c := thrust{600, 6000, 0.72}
	const length = 20000.0
	lap := model(t, oneGear(c.car()), newTrack().straight(length).t, 1.225, refine).Lap([]float64{1})
	require.Empty(t, lap.Infeasible)
	return []figure{
		{"speed (m/s)", c.top(), lap.TopSpeed},
		{"lap of 20 km (s)", length / c.top(), lap.Time},
	}
}
