package sim

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// The figures that cars/examples/wren.toml derives by hand in its comments,
// met here by the program: for 20 kg of fuel, still air of 1.225 kg/m³, level
// road. cars/hand_test.go holds the same figures against the car's data.

// longStraight is a lap without a corner, long enough to reach any top speed.
func longStraight() *tracks.Track { return newTrack().straight(20000).t }

// inTop is the demo set with another top gear.
func inTop(total float64) []float64 {
	r := demoRatios()
	r[len(r)-1] = total
	return r
}

func TestWrenTopSpeed(t *testing.T) {
	car := demoCar(t)
	m, err := New(car, longStraight(), stillAir(20), nil)
	require.NoError(t, err)
	// The total ratio that turns 8300 1/min, the table's peak of power, at the
	// hand value; (7.1) by hand.
	const want = 79.23
	total := 8300 * units.FromRPM * (0.300 + 7e-7*want*want) / (want * 1.02)
	lap := m.Lap(inTop(total))
	require.Empty(t, lap.Infeasible)
	// The curve peaks 0.03 % above the point of the table, a hundredth of that
	// share in speed; the hand value is rounded to 0.005 m/s.
	numtest.Equal(t, "top speed (m/s)", want, lap.TopSpeed, 0.02, 0)
	numtest.Equal(t, "engine speed there (1/min)", 8300, lap.MaxRPM[5], 3, 0)
	require.True(t, lap.Periodic)
	numtest.Equal(t, "lap at top speed (s)", 20000/lap.TopSpeed, lap.Time, 1e-4, 0)
}

func TestWrenDragLimitedRPM(t *testing.T) {
	m, err := New(demoCar(t), longStraight(), stillAir(20), nil)
	require.NoError(t, err)
	lap := m.Lap(inTop(3.3587))
	require.Empty(t, lap.Infeasible)
	numtest.Equal(t, "engine speed (1/min)", 8500, lap.MaxRPM[5], 1, 0)
	numtest.Equal(t, "speed (m/s)", 79.083, lap.TopSpeed, 0.01, 0)
	require.Zero(t, lap.LimiterTime)
}

// A top gear too short for that speed is held by the limiter, exactly.
func TestWrenOnTheLimiter(t *testing.T) {
	m, err := New(demoCar(t), longStraight(), stillAir(20), nil)
	require.NoError(t, err)
	lap := m.Lap(inTop(3.62))
	require.Empty(t, lap.Infeasible)
	v := m.Speed(9000, 3.62)
	numtest.Equal(t, "top speed (m/s)", v, lap.TopSpeed, 0, 1e-9)
	numtest.Equal(t, "lap (s)", 20000/v, lap.Time, 0, 1e-9)
	numtest.Equal(t, "time on the limiter (s)", lap.Time, lap.LimiterTime, 0, 1e-6)
}

func TestWrenCornerSpeed(t *testing.T) {
	for _, side := range []float64{1, -1} {
		tr := circle(100)
		tr.Segments[0].K0 *= side
		tr.Segments[0].K1 *= side
		m, err := New(demoCar(t), tr, stillAir(20), nil)
		require.NoError(t, err)
		v := m.CornerSpeed(50)
		numtest.Equal(t, "corner speed (m/s)", 46.92, v, 0.01, 0)
		numtest.Equal(t, "lateral acceleration (g)", 2.245, v*v/100/units.Gravity, 0.001, 0)
		// Round and round on that circle, the lap is its length over the speed.
		lap := m.Lap(demoRatios())
		require.Empty(t, lap.Infeasible)
		numtest.Equal(t, "lap of the circle (s)", 2*math.Pi*100/v, lap.Time, 1e-4, 0)
	}
}

// 0-100 km/h with the clutch slipping at first, limited by the rear tyres. The
// program needs a speed to begin with: 2 m/s, which take 2/(1.07 g) s before.
// The hand value holds one grip coefficient for the whole run: 3 ms, as in
// cars/hand_test.go.
func TestWrenToHundred(t *testing.T) {
	track := newTrack().straight(150).t
	track.PitLimit, track.PitExit = 2, 0
	m, err := New(demoCar(t), track, stillAir(20), &Settings{Refine: 5})
	require.NoError(t, err)
	lap := m.OutLap(demoRatios()) // first gear, clutch slipping
	require.Empty(t, lap.Infeasible)
	const hundred = 100 * kmh
	for i, p := range lap.Samples {
		if p.V < hundred {
			continue
		}
		before := lap.Samples[i-1] // some centimetres back
		at := before.T + (p.T-before.T)*(hundred-before.V)/(p.V-before.V)
		numtest.Equal(t, "0-100 km/h (s)", 2.533, 2/10.52+at, 0.003, 0)
		return
	}
	t.Fatal("100 km/h never reached")
}

// Where power takes over from grip (hand figure 3): 35.88 m/s.
func TestWrenTractionEnds(t *testing.T) {
	m, err := New(demoCar(t), longStraight(), stillAir(20), nil)
	require.NoError(t, err)
	// In a gear that turns 8300 1/min, the table's peak of power, there.
	const v = 35.88
	total := 8300 * units.FromRPM * (0.300 + 7e-7*v*v) / (v * 1.02)
	l := m.body.at(&m.reference, v)
	numtest.Equal(t, "grip and power meet (N)", m.body.driveLimit(&m.reference, &l), m.TractiveEffort(v, 1, total), 8, 0)
	numtest.Equal(t, "there (N)", 8664, m.TractiveEffort(v, 1, total), 3, 0)
}

// lapChecks are whole laps, and the ends of two straights put together.
func lapChecks() []check {
	list := []check{
		{name: "whole lap: two straights, two hairpins", tol: 1e-6, refine: 2,
			source: "derived: constant power against drag, grip circle, braking with drag", run: wholeLap},
	}
	for _, h := range hairpins() {
		list = append(list, check{
			name: fmt.Sprintf("straight, hairpin, straight, R %g ft", h.radius), tol: 0.001, abs: true, run: h.figures,
			source: "Beckman, The Physics of Racing, parts 17 and 18, 2000, " + h.printed,
		})
	}
	return list
}

// wholeLap is a flying lap that nobody steers: a point mass with constant power
// against drag, so that every part has a closed form.
func wholeLap(t testing.TB, refine int) []figure {
	const mu, radius, straight = 1.5, 60.0, 900.0
	c := powered{620, 300e3, 0.72}
	car := c.car()
	car.Front.MuX, car.Front.MuY, car.Rear.MuX, car.Rear.MuY = mu, mu, mu, mu
	tr := newTrack().straight(straight).corner(radius, math.Pi, 0, 0).straight(straight).corner(radius, math.Pi, 0, 0).t

	grip := thrust{c.mass, c.mass * mu * units.Gravity, c.k}
	// In the bend drag and lateral force share the circle: v⁴(1/r² + k²/m²) =
	// (mu g)².
	v0 := math.Sqrt(mu * units.Gravity / math.Hypot(1/radius, c.k/c.mass))
	// Away at full grip until power takes over, which is at P/F > v0.
	v1 := math.Max(v0, c.power/grip.force)
	sGrip := c.mass / (2 * c.k) * math.Log((grip.force-c.k*v0*v0)/(grip.force-c.k*v1*v1))
	// Then at full power, until it meets the braking curve down to v0.
	brake := func(v float64) float64 {
		return c.mass / (2 * c.k) * math.Log((grip.force+c.k*v*v)/(grip.force+c.k*v0*v0))
	}
	top, hi := v1, math.Cbrt(c.power/c.k)*(1-1e-12)
	for range 200 {
		if mid := 0.5 * (top + hi); sGrip+c.way(v1, mid)+brake(mid) < straight {
			top = mid
		} else {
			hi = mid
		}
	}
	vb := grip.top()
	tBrake := c.mass / (c.k * vb) * (math.Atan(top/vb) - math.Atan(v0/vb))
	want := 2 * (grip.clock(v1) - grip.clock(v0) + c.clock(top) - c.clock(v1) + tBrake + math.Pi*radius/v0)

	m := model(t, oneGear(car), tr, 1.225, refine)
	lap := m.Lap([]float64{1})
	require.Empty(t, lap.Infeasible)
	numtest.Equal(t, "lap within its stated error (s)", want, lap.Time, lap.NumericalError, 0)
	require.Less(t, lap.NumericalError, 1e-3)
	return []figure{
		{"bend (m/s)", v0, m.CornerSpeed(straight + 10)},
		{"top speed (m/s)", top, lap.TopSpeed},
		{"lap (s)", want, lap.Time},
	}
}
