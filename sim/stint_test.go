package sim

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

// An endless straight at the speed at which the drag takes the whole force F:
// a lap of length L costs F·L of work (elementary mechanics), for which a car
// that burns c (kg/J) needs c·F·L.
func TestFuelOfAFlatOutLap(t *testing.T) {
	const length, rate = 5000.0, 8e-8
	c := thrust{600, 6000, 0.72}
	car := oneGear(c.car())
	car.Engine.FuelConsumption = rate
	track := newTrack().straight(length).t
	m, err := New(car, track, stillAir(30), nil)
	require.NoError(t, err)
	r, err := m.Stint(context.Background(), []float64{1}, 3, Flying)
	require.NoError(t, err)
	require.Empty(t, r.Infeasible)
	require.True(t, r.Joined)
	require.Len(t, r.Laps, 3)
	for i, l := range r.Laps {
		numtest.Equal(t, "burnt (kg)", rate*c.force*length, l.Burnt, 0, 1e-6)
		numtest.Equal(t, "on board (kg)", 30-float64(i)*rate*c.force*length, l.Fuel, 0, 1e-6)
	}
	numtest.Equal(t, "average (s)", length/c.top(), r.Average, 0, 1e-6)
	numtest.Equal(t, "burnt in all (kg)", 3*rate*c.force*length, r.Burnt, 0, 1e-6)
	numtest.Equal(t, "left (kg)", 30-r.Burnt, r.FuelLeft, 1e-12, 0)
}

// The energy account of a flying lap at part throttle: on a circle driven at the
// corner's limit the engine gives what the drag takes, and no more.
func TestWorkAtPartThrottle(t *testing.T) {
	const radius, k = 60.0, 0.6
	car := oneGear(point(700, 1.2, flatTorque(1e5)))
	car.Aero.DragArea = 2 * k / 1.225
	lap := model(t, car, circle(radius), 0, 0).Lap([]float64{1})
	require.Empty(t, lap.Infeasible)
	v := lap.TopSpeed
	numtest.Equal(t, "work (J)", k*v*v*2*math.Pi*radius, lap.EngineWork, 0, 1e-6)
	require.Less(t, v, math.Sqrt(1.2*9.81*radius))
}

// The laps of a stint are the laps that the model drives by itself with the fuel
// that is left; shorter steps burn the same.
func TestStintIsItsLaps(t *testing.T) {
	set := demoRatios()
	for _, first := range []Kind{Flying, Out, Start} {
		r, err := demoModel(t, "quayside", 8).Stint(context.Background(), set, 3, first)
		require.NoError(t, err)
		require.Empty(t, r.Infeasible)
		require.False(t, r.Joined)
		fuel, sum, slack := 8.0, 0.0, 0.0
		for i, l := range r.Laps {
			m := demoModel(t, "quayside", fuel)
			alone := m.Lap(set)
			want := Flying
			if i == 0 {
				want = first
			}
			switch want {
			case Out:
				alone = m.OutLap(set)
			case Start:
				alone = m.StartLap(set)
			}
			require.Equal(t, want, l.Kind)
			numtest.Equal(t, "fuel (kg)", fuel, l.Fuel, 1e-12, 0)
			numtest.Equal(t, "time (s)", alone.Time, l.Lap.Time, 1e-12, 0)
			fuel -= alone.EngineWork * m.car.Engine.FuelConsumption
			sum, slack = sum+alone.Time, slack+alone.NumericalError
		}
		numtest.Equal(t, "in all (s)", sum, r.Time, 1e-9, 0)
		numtest.Equal(t, "average (s)", sum/3, r.Average, 1e-9, 0)
		numtest.Equal(t, "numerical error (s)", slack, r.NumericalError, 1e-12, 0)
		numtest.Equal(t, "left (kg)", fuel, r.FuelLeft, 1e-9, 0)
	}
	fine, err := New(demoCar(t), embedded(t, "quayside"), stillAir(8), &Settings{Refine: 3})
	require.NoError(t, err)
	a, b := demoModel(t, "quayside", 8).StartLap(set), fine.StartLap(set)
	numtest.Equal(t, "work on shorter steps (J)", b.EngineWork, a.EngineWork, 0, 1e-4)
	numtest.Equal(t, "heat in the clutch on shorter steps (J)", b.ClutchHeat, a.ClutchHeat, 0, 1e-5)
}

// Where nothing resets the speed a lap begins as the one before it ended, and
// after a standing start the laps come to the flying lap.
func TestStintOnAnOval(t *testing.T) {
	m := demoModel(t, "saltmere", 20)
	r, err := m.Stint(context.Background(), demoRatios(), 4, Start)
	require.NoError(t, err)
	require.True(t, r.Joined)
	for i := 1; i < len(r.Laps); i++ {
		ss := r.Laps[i-1].Lap.Samples
		numtest.Equal(t, "speed on the line (m/s)", ss[len(ss)-1].V, r.Laps[i].Lap.Samples[0].V, 0, 1e-9)
		require.Equal(t, ss[len(ss)-1].Gear, r.Laps[i].Lap.Samples[0].Gear)
	}
	last := r.Laps[3]
	alone := demoModel(t, "saltmere", last.Fuel).Lap(demoRatios())
	numtest.Equal(t, "the fourth lap (s)", alone.Time, last.Lap.Time, 1e-3, 0)
}

func TestStintsThatCannotBe(t *testing.T) {
	ctx, set := context.Background(), demoRatios()
	m := demoModel(t, "quayside", 3)
	r, err := m.Stint(ctx, set, 4, Flying)
	require.NoError(t, err)
	require.Contains(t, r.Infeasible, "lap 3 of 4: the fuel runs out:")
	require.Len(t, r.Laps, 2)

	for _, n := range []int{-1, 0, MostLaps + 1} {
		_, err = m.Stint(ctx, set, n, Flying)
		require.ErrorContains(t, err, "give 1 to 200")
	}
	_, err = m.Stint(ctx, set, 2, Restart)
	require.ErrorContains(t, err, "the first lap of a run is")

	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err = m.Stint(stopped, set, 2, Flying)
	require.ErrorIs(t, err, context.Canceled)

	car := demoCar(t)
	car.Engine.FuelConsumption = 0
	unknown, err := New(car, newTrack().straight(500).t, stillAir(3), nil)
	require.NoError(t, err)
	_, err = unknown.Stint(ctx, set, 2, Flying)
	require.ErrorContains(t, err, "add engine.fuel_consumption_g_per_kwh")

	// A set that the first lap stops at.
	track := newTrack().straight(500).t
	short, err := New(demoCar(t), track, stillAir(3), nil)
	require.NoError(t, err)
	r, err = short.Stint(ctx, []float64{.05, .04, .03, .02, .015, .01}, 2, Start)
	require.NoError(t, err)
	require.Contains(t, r.Infeasible, "lap 1 of 2, 3.00 kg of fuel: ")
	require.Empty(t, r.Laps)
}
