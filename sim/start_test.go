package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// slipping is a car of constant torque whose clutch slips from rest: with the
// force f (N) at the tread it gains f/(m + Jw/r²) until the gear turns as fast
// as the engine, and f/(m + (Jw + Je i²)/r²) from there on (elementary
// mechanics: constant acceleration, turning parts as in Gillespie, Fundamentals
// of Vehicle Dynamics, ch. 2, from memory).
type slipping struct {
	mass, force, ratio float64 // kg, N, 1
	wheels, engine     float64 // kg·m²
	launch             float64 // 1/min
}

const slippingRadius = 0.3 // m, of point

func (c slipping) car() *cars.Car {
	car := oneGear(point(c.mass, 1e3, flatTorque(c.force/c.ratio)))
	car.WheelInertia, car.Engine.Inertia, car.Engine.LaunchRPM = c.wheels, c.engine, c.launch
	return car
}

func (c slipping) torque() float64 { return c.force / c.ratio * slippingRadius }

// closing is the speed (m/s) at which the clutch closes; the accelerations
// (m/s²) before and after.
func (c slipping) closing() (v, before, after float64) {
	const rr = slippingRadius * slippingRadius
	return c.launch * units.FromRPM * slippingRadius / c.ratio,
		c.force / (c.mass + c.wheels/rr), c.force / (c.mass + (c.wheels+c.engine*c.ratio*c.ratio)/rr)
}

func (c slipping) speed(s float64) float64 {
	v, a, b := c.closing()
	if sc := v * v / (2 * a); s > sc {
		return math.Sqrt(v*v + 2*b*(s-sc))
	}
	return math.Sqrt(2 * a * s)
}

func (c slipping) clock(s float64) float64 {
	vc, a, b := c.closing()
	v := c.speed(s)
	return math.Min(v, vc)/a + math.Max(v-vc, 0)/b
}

var slipCase = slipping{mass: 600, force: 4500, ratio: 5, wheels: 3.5, engine: 0.05, launch: 3000}

func (c slipping) lap(t testing.TB, length float64, refine int) *Lap {
	t.Helper()
	lap := model(t, c.car(), newTrack().straight(length).t, 0, refine).StartLap([]float64{c.ratio})
	require.Empty(t, lap.Infeasible)
	return lap
}

// Steps of time are exact at constant acceleration, and so is v² in steps of
// way; the clock on 1/v is not, by 5e-6 as it comes and by a 16th of that on
// half the step.
func TestStandingStartWithASlippingClutch(t *testing.T) {
	c := slipCase
	vc, _, _ := c.closing()
	for refine, tol := range []float64{1e-5, 1e-6} {
		lap := c.lap(t, 90, refine)
		fs := along(&Lap{Samples: lap.Samples[1:]}, c.speed, c.clock)
		numtest.Equal(t, fs[0].what, fs[0].want, fs[0].got, 0, 1e-9)
		for _, f := range fs[1:] {
			numtest.Equal(t, f.what, f.want, f.got, 0, tol)
		}
		numtest.Equal(t, "time (s)", c.clock(90), lap.Time, lap.NumericalError, 0)
		closed := false
		for _, s := range lap.Samples {
			if s.V < vc*(1-1e-9) {
				numtest.Equal(t, "engine speed while the clutch slips (1/min)", c.launch, s.RPM, 1e-9, 0)
			} else if !closed {
				closed = true
				numtest.Equal(t, "speed at which the clutch closes (m/s)", vc, s.V, 0, 1e-9)
				numtest.Equal(t, "engine speed there (1/min)", c.launch, s.RPM, 0, 1e-9)
			}
		}
		require.True(t, closed)
	}
}

// Under a constant torque the clutch takes half of what the engine gives while
// it slips: the engine turns at w all the time, the gear at w/2 on average
// (textbook result on friction clutches, from memory; here ½ T w t). From there
// on the engine does T i/r of work on every metre.
func TestHeatInTheClutch(t *testing.T) {
	c := slipCase
	lap := c.lap(t, 90, 0)
	vc, a, _ := c.closing()
	work := c.torque() * c.launch * units.FromRPM * vc / a
	rest := c.force * (90 - vc*vc/(2*a))
	numtest.Equal(t, "heat in the clutch (J)", work/2, lap.ClutchHeat, 0, 1e-6)
	numtest.Equal(t, "work at the crank (J)", work+rest, lap.EngineWork, 0, 1e-6)
}

// With more engine than grip and all the weight on the driven axle: v = mu g t
// and s = ½ mu g t² (elementary mechanics), whatever the engine, the clutch and
// the turning parts do.
func TestStandingStartAtTheLimitOfGrip(t *testing.T) {
	const mu = 1.1
	car := oneGear(point(700, mu, flatTorque(1e5)))
	car.WheelInertia, car.Engine.Inertia, car.Engine.LaunchRPM = 3, 0.04, 2000
	lap := model(t, car, newTrack().straight(200).t, 0, 0).StartLap([]float64{1})
	require.Empty(t, lap.Infeasible)
	a := mu * units.Gravity
	for _, s := range lap.Samples[1:] {
		numtest.Equal(t, "speed (m/s)", a*s.T, s.V, 0, 1e-5)
	}
	numtest.Equal(t, "time (s)", math.Sqrt(2*200/a), lap.Time, 0, 1e-5)
}

// The hand calculation at the head of the demo car's file: 0 to 100 km/h on the
// rear tyres alone in 2.533 s (load sensitivity taken at the mean square speed).
func TestStandingStartOfTheDemoCar(t *testing.T) {
	lap := demoModel(t, "", 20).StartLap([]float64{8, 6.51, 5.15, 4.28, 3.69, 3.26})
	require.Empty(t, lap.Infeasible)
	for i, s := range lap.Samples {
		if v := 100 * kmh; s.V >= v {
			a := lap.Samples[i-1]
			at := a.T + (v-a.V)/(s.V-a.V)*(s.T-a.T)
			numtest.Equal(t, "0 to 100 km/h (s)", 2.533, at, 0.003, 0)
			return
		}
	}
	t.Fatal("never at 100 km/h")
}

// demoModel is the demo car on an embedded circuit, or on a straight of 1 km.
func demoModel(t testing.TB, circuit string, fuel float64) *Model {
	t.Helper()
	track := newTrack().straight(1000).t
	if circuit != "" {
		track = embedded(t, circuit)
	}
	m, err := New(demoCar(t), track, stillAir(fuel), nil)
	require.NoError(t, err)
	return m
}

// A car that is restarted from a speed does what a car from a standstill does
// once it has that speed: on a straight the rest of its way takes the rest of
// its time.
func TestRestartIsTheRestOfAStart(t *testing.T) {
	set := demoRatios()
	m := demoModel(t, "", 20)
	start := m.StartLap(set)
	for _, gear := range []int{2, 3, 5} {
		for i := range start.Samples {
			s := start.Samples[i]
			if s.Gear != gear || s.Phase != Driving || i == 0 || start.Samples[i-1].Phase != Driving {
				continue
			}
			rest, err := New(demoCar(t), newTrack().straight(1000-s.S).t, stillAir(20), nil)
			require.NoError(t, err)
			again := rest.RestartLap(set, s.V)
			require.Empty(t, again.Infeasible)
			numtest.Equal(t, "rest of the time (s)", start.Time-s.T, again.Time, start.NumericalError+again.NumericalError, 0)
			break
		}
	}
}

// An out lap whose pits end at the start line is a restart at the pit limit.
func TestRestartIsAnOutLapFromTheLine(t *testing.T) {
	for _, name := range circuits() {
		track := embedded(t, name)
		track.PitExit, track.PitLimit = 0, 25
		m, err := New(demoCar(t), track, stillAir(20), nil)
		require.NoError(t, err)
		out, again := m.OutLap(demoRatios()), m.RestartLap(demoRatios(), 25)
		require.Empty(t, out.Infeasible)
		numtest.Equal(t, name+": time (s)", out.Time, again.Time, 1e-9, 0)
	}
}

// Restarted at the speed of the flying lap a car is as quick as on it, or a
// little quicker: it need not end as it began.
func TestRestartAtTheFlyingLapsSpeed(t *testing.T) {
	for _, name := range circuits() {
		m := demoModel(t, name, 20)
		flying := m.Lap(demoRatios())
		again := m.RestartLap(demoRatios(), flying.Samples[0].V)
		require.Empty(t, again.Infeasible, name)
		slack := flying.NumericalError + again.NumericalError
		require.LessOrEqual(t, again.Time, flying.Time+slack, name)
		numtest.Equal(t, name+": time (s)", flying.Time, again.Time, 0.02, 0)
	}
}

// Every kind of lap on every circuit: its parts add up, the clock and the way
// only go forwards, and the error against steps eight times shorter is below
// the one that it reports.
func TestEveryKindOfLapOnEveryCircuit(t *testing.T) {
	set := demoRatios()
	for _, name := range circuits() {
		fine, err := New(demoCar(t), embedded(t, name), stillAir(20), &Settings{Refine: 3})
		require.NoError(t, err)
		k, m := fine.NewSolver(), demoModel(t, name, 20)
		for _, c := range []struct {
			lap  *Lap
			kind Kind
			fine float64
		}{
			{m.Lap(set), Flying, k.LapTime(set)},
			{m.OutLap(set), Out, k.OutTime(set)},
			{m.StartLap(set), Start, k.StartTime(set)},
			{m.RestartLap(set, 30), Restart, k.RestartTime(set, 30)},
			{m.RestartLap(set, 5), Restart, k.RestartTime(set, 5)},
		} {
			what := name + ", " + c.kind.String()
			require.Empty(t, c.lap.Infeasible, what)
			require.Equal(t, c.kind, c.lap.Kind)
			numtest.Equal(t, what+": time (s)", c.fine, c.lap.Time, c.lap.NumericalError, 0)
			require.Less(t, c.lap.NumericalError, 1e-3, what)
			inGears := 0.0
			for _, x := range c.lap.TimeInGear {
				inGears += x
			}
			numtest.Equal(t, what+": sum of the times in gear (s)", c.lap.Time, inGears, 1e-9, 0)
			for i, s := range c.lap.Samples {
				numtest.Finite(t, what, s.S, s.T, s.V, s.RPM)
				if i > 0 {
					a := c.lap.Samples[i-1]
					require.GreaterOrEqual(t, s.S, a.S, what)
					require.GreaterOrEqual(t, s.T, a.T, what)
				}
				require.LessOrEqual(t, s.V, s.Limit*(1+1e-6), what)
			}
			require.Positive(t, c.lap.EngineWork, what)
			require.Equal(t, c.kind == Start || c.lap.Samples[0].V < 6, c.lap.ClutchHeat > 0, what)
		}
	}
}

func TestStartsThatCannotBe(t *testing.T) {
	set := demoRatios()
	m := demoModel(t, "quayside", 20)
	for what, c := range map[string]struct {
		speed float64
		says  string
	}{
		"standing":           {0, "a restart at 0.0 km/h: not above"},
		"backwards":          {-3, "not above"},
		"not a number":       {math.NaN(), "not above"},
		"past the limiter":   {120, "T12 Lantern a restart at 432.0 km/h: top gear would turn"},
		"past any speed":     {math.Inf(1), "not above"},
		"between two gears":  {40, ""},
		"slow, clutch slips": {3, ""},
	} {
		lap := m.RestartLap(set, c.speed)
		if c.says == "" {
			require.Empty(t, lap.Infeasible, what)
			continue
		}
		require.Contains(t, lap.Infeasible, c.says, what)
		require.True(t, math.IsInf(m.NewSolver().RestartTime(set, c.speed), 1), what)
	}

	// A start line in a corner of 20 m: no more than sqrt(mu g r) is held.
	b := newTrack().corner(20, math.Pi, 5, 0).straight(300)
	b.t.Corners[0].Name = "Tight"
	in, err := New(demoCar(t), b.t, stillAir(20), nil)
	require.NoError(t, err)
	require.Contains(t, in.RestartLap(set, 40).Infeasible, "above the corner and braking limit of")
	most := in.RestartLimit()
	require.Empty(t, in.RestartLap(set, most).Infeasible)
	require.NotEmpty(t, in.RestartLap(set, most*1.001).Infeasible)
	require.True(t, math.IsInf(demoModel(t, "", 20).RestartLimit(), 1))

	// Up a grade of 45° the car does not move off.
	up := newTrack()
	up.add(300, 0, 0, 0, 0, math.Pi/4, -1)
	steep, err := New(oneGear(point(600, 2, flatTorque(3000))), up.t, stillAir(0), nil)
	require.NoError(t, err)
	lap := steep.StartLap([]float64{1})
	require.Contains(t, lap.Infeasible, "the car does not move off: first gear at the launch rpm of 1 pushes with 3000 N")
	require.Contains(t, lap.Infeasible, "4161 N hold it back") // 600 g sin 45°
	require.True(t, math.IsInf(steep.NewSolver().StartTime([]float64{1}), 1))
}

// A passage needs no new memory once the solver has driven one.
func TestStartNeedsNoMemory(t *testing.T) {
	k, set := demoModel(t, "quayside", 20).NewSolver(), demoRatios()
	k.StartTime(set)
	k.RestartTime(set, 30)
	require.Zero(t, testing.AllocsPerRun(3, func() { k.StartTime(set); k.RestartTime(set, 30) }))
}
