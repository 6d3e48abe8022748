package chart

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/sim"
)

// Points of the saw-tooth lie on the law of a driveline worked out here once more:
// v = rpm·2π/60·r(v)/(ratio·(1+slip)), r growing with v² (sim/MODEL.md 7.1).
func TestSawtoothLiesOnTheRatios(t *testing.T) {
	d := newDemo(t, "harrowdale")
	s := &Sawtooth{Set: d.chartSet(), PullingRPM: d.car.Engine.PullingRPM}
	rpm := func(v, total float64) float64 {
		return v * total * (1 + d.car.DriveSlip) / d.car.Radius(v) * units.ToRPM
	}
	turns := s.turns()
	require.Len(t, turns, 5)
	g := 0
	climb := s.climb()
	for i, p := range climb {
		if i > 0 && p.y < climb[i-1].y-1 { // a shift: straight down, into the next gear
			numtest.Equal(t, "speed of the shift", climb[i-1].x, p.x, 1e-6, 0)
			numtest.Equal(t, "shift rpm", turns[g].before, climb[i-1].y, 1e-6, 0)
			g++
		}
		numtest.Equal(t, "rpm over speed", rpm(p.x, s.Total[g]), p.y, 1e-6, 1e-9)
	}
	assert.Equal(t, 5, g)
	numtest.Equal(t, "begins at pulling rpm", 3800, climb[0].y, 0, 0)
	numtest.Equal(t, "ends at the limiter", d.model.LimiterRPM(), climb[len(climb)-1].y, 0, 0)
	for i, turn := range turns {
		numtest.Equal(t, "before to after as the ratios", s.Total[i]/s.Total[i+1], turn.before/turn.after, 0, 1e-9)
	}
}

// Effort against the closed form: force times wheel speed is the engine's power
// through the mesh, F·v·(1+slip) = eta·P, less the box's drag (none here).
func TestEffortIsPowerOverSpeed(t *testing.T) {
	d := newDemo(t, "harrowdale")
	require.Zero(t, d.car.BoxDrag)
	k, err := d.car.Engine.Maps[0].Curve()
	require.NoError(t, err)
	_, most := k.PeakPower()
	e := &Effort{Set: d.chartSet(), LowRPM: d.car.Engine.Maps[0].RPM[0], Ideal: d.ideal()}
	const factor = 1.03 // of the demo's air
	for g, total := range e.Total {
		for _, p := range e.effort(g+1, total) {
			rpm := d.model.RPM(p.x, total)
			want := factor * k.At(rpm) * rpm * units.FromRPM * d.car.Efficiency[g] / (p.x * (1 + d.car.DriveSlip))
			numtest.Equal(t, "effort, N", want, p.y, 1e-6, 1e-9)
		}
	}
	// The ideal car never comes above peak power at every speed, and comes near it
	// wherever the stock is dense.
	eta := slices.Max(d.car.Efficiency)
	nearest := math.Inf(1)
	envelope := e.envelope(90)
	require.NotEmpty(t, envelope)
	for _, p := range envelope {
		hyperbola := factor * most * eta / (p.x * (1 + d.car.DriveSlip))
		assert.LessOrEqual(t, p.y, hyperbola*(1+1e-9))
		nearest = min(nearest, 1-p.y/hyperbola)
		for g, total := range e.Total {
			if rpm := d.model.RPM(p.x, total); rpm > e.LowRPM && rpm < d.model.LimiterRPM() {
				assert.GreaterOrEqual(t, p.y, d.model.TractiveEffort(p.x, g+1, total)*(1-1e-12))
			}
		}
	}
	assert.Less(t, nearest, 0.005)
	v, g, limited := e.balance()
	require.False(t, limited)
	assert.Equal(t, 6, g)
	numtest.Equal(t, "no force is left, N", d.model.RoadLoad(v), d.model.TractiveEffort(v, g, e.Total[g-1]), 0.01, 0)
	// A top gear that is too short ends at the limiter instead.
	e.Total = slices.Clone(e.Total)
	e.Total[5] *= 1.2
	v, g, limited = e.balance()
	assert.True(t, limited)
	numtest.Equal(t, "limiter", d.model.LimiterRPM(), d.model.RPM(v, e.Total[g-1]), 1e-3, 0)
}

// Road load against its closed form on the level: rolling resistance of the weight
// and the downforce, and drag. The axles' share does not matter: both have the
// same coefficient.
func TestRoadLoad(t *testing.T) {
	d := newDemo(t, "harrowdale")
	c := d.car
	for _, v := range []float64{0, 20, 50, 80} {
		q := 0.5 * 1.2 * v * v
		want := (c.RollingCoef+c.RollingCoefV*v+c.RollingCoefVV*v*v)*((c.Mass+20)*units.Gravity+q*c.Aero.DownforceArea) + q*c.Aero.DragArea
		numtest.Equal(t, "road load, N", want, d.model.RoadLoad(v), 1e-6, 1e-6)
	}
}

// The loss over distance ends at the account's total, each gear's at the gear's.
func TestLossEndsAtTheAccount(t *testing.T) {
	for _, circuit := range []string{"harrowdale", "quayside", "saltmere"} {
		d := newDemo(t, circuit)
		l := &Loss{Track: d.track, Lap: d.lap, Account: d.account}
		sum := 0.0
		for g, values := range l.byGear() {
			numtest.Equal(t, "of a gear, s", d.account.Gears[g].Total(), values[len(values)-1], 1e-9, 0)
			sum += values[len(values)-1]
		}
		numtest.Equal(t, "in all, s", d.account.Total, sum, 1e-6, 0)
		m := &TrackMap{Track: d.track, Lap: d.lap, By: ByLoss, Account: d.account}
		sum = 0
		for _, row := range m.corners() {
			sum += row.lost
		}
		numtest.Equal(t, "by corner, s", d.account.Total, sum, 1e-6, 0)
	}
}

// The map closes, keeps the lengths of the track, and tells each piece's value.
func TestMapCloses(t *testing.T) {
	for _, circuit := range []string{"harrowdale", "quayside", "saltmere"} {
		d := newDemo(t, circuit)
		m := &TrackMap{Track: d.track, Lap: d.lap, By: ByGear}
		p := m.plan()
		gap := math.Hypot(p.x[mapPieces]-p.x[0], p.y[mapPieces]-p.y[0])
		assert.Less(t, gap, 1.0, "a track file must close within 1 m")
		length := 0.0
		for i := range p.of {
			length += math.Hypot(p.x[i+1]-p.x[i], p.y[i+1]-p.y[i])
		}
		numtest.Equal(t, "length of the line, m", d.track.Length, length, 0, 5e-4) // chords of up to 5 m
		share := make([]float64, 6)
		for _, g := range p.of {
			share[g] += d.track.Length / mapPieces
		}
		way := make([]float64, 6)
		for i := 1; i < len(d.lap.Samples); i++ {
			way[d.lap.Samples[i-1].Gear-1] += d.lap.Samples[i].S - d.lap.Samples[i-1].S
		}
		for g := range way {
			numtest.Equal(t, "way in a gear, m", way[g], share[g], 40, 0) // half a piece at each of up to 30 shifts
		}
		m.By = BySpeed
		p = m.plan()
		for i, k := range p.of {
			v := m.sample((float64(i)+0.5)*d.track.Length/mapPieces).V * units.ToKmh
			var lo, hi float64
			_, err := fmt.Sscanf(p.classes[k].text, "%f–%f", &lo, &hi)
			require.NoError(t, err)
			assert.True(t, v >= lo-1e-6 && v <= hi+1e-6, "%.2f km/h in %s", v, p.classes[k].text)
		}
	}
}

// Laps of the choice are laps: the present pair's is the lap itself, and the curve
// passes through the marks.
func TestChoiceDrivesLaps(t *testing.T) {
	d := newDemo(t, "quayside")
	c := d.choice(t, Frame{}, 3)
	numtest.Equal(t, "present lap, s", d.lap.Time, c.Present, 1e-9, 0)
	chosen := 0
	for _, o := range c.Pairs {
		total := slices.Clone(d.set.TotalRatios())
		total[2] = o.Ratio * d.set.Final.Ratio()
		numtest.Equal(t, "lap of "+o.Name, d.model.LapOnly(total).Time, o.LapTime, 1e-9, 0)
		assert.Contains(t, c.Curve, point{o.Ratio, o.LapTime})
		if o.Chosen {
			chosen++
			numtest.Equal(t, "the set's own", c.Present, o.LapTime, 1e-12, 0)
		}
	}
	assert.Equal(t, 1, chosen)
	assert.True(t, slices.IsSortedFunc(c.Curve, func(a, b point) int { return cmp.Compare(a.x, b.x) }))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := NewLapChoice(ctx, Frame{}, d.model, d.set.TotalRatios(), 3, d.set.Final.Ratio(), c.Pairs)
	require.ErrorIs(t, err, context.Canceled)
}

// A lap against itself is behind by nothing, and the difference ends at that of the
// lap times.
func TestBehind(t *testing.T) {
	d := newDemo(t, "quayside")
	other := slices.Clone(d.set.TotalRatios())
	other[1] *= 0.97
	slow := d.model.LapOnly(other)
	l := &Laps{Track: d.track, Laps: []NamedLap{{"a", d.lap}, {"a", d.lap}, {"b", slow}}}
	for _, v := range l.behind(d.lap) {
		numtest.Equal(t, "behind itself, s", 0, v, 1e-9, 0)
	}
	late := l.behind(slow)
	numtest.Equal(t, "at the end, s", slow.Time-d.lap.Time, late[len(late)-1], 0, 0)
	numtest.Equal(t, "just before it, s", late[len(late)-1], late[len(late)-2], 2e-3, 0)
	require.ErrorContains(t, (&Laps{Track: d.track, Laps: l.Laps[:1]}).check(), "2 to 4")
	out := *d.lap
	out.Kind = sim.Out
	l.Laps[1].Lap = &out
	require.ErrorContains(t, l.check(), "flying")
}
