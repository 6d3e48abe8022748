package sim

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"layshaft/cars"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// windy is a day with everything in play.
func windy() Conditions {
	c := stillAir(20)
	c.WindSpeed, c.WindFrom = 9, 2.1
	c.TowDrag, c.TowDownforce, c.TowWhere = 0.85, 0.9, []string{tracks.Straights}
	return c
}

func lapOn(t *testing.T, car *cars.Car, tr *tracks.Track, cond Conditions) *Lap {
	t.Helper()
	m, err := New(car, tr, cond, nil)
	require.NoError(t, err)
	lap := m.Lap(demoRatios())
	require.Empty(t, lap.Infeasible)
	numtest.Finite(t, "lap (s)", lap.Time)
	return lap
}

// same asks two laps of one truth to agree within their stated errors.
func same(t *testing.T, what string, a, b *Lap) {
	t.Helper()
	numtest.Equal(t, what+": lap (s)", a.Time, b.Time, a.NumericalError+b.NumericalError, 0)
}

// A car does not know left from right: the mirrored track under the mirrored
// wind takes the same time to the last digits, since every step is the same.
func TestMirroredTrack(t *testing.T) {
	for _, name := range circuits() {
		cond := windy()
		a := lapOn(t, demoCar(t), embedded(t, name), cond)
		cond.WindFrom = -cond.WindFrom
		b := lapOn(t, demoCar(t), embedded(t, name).Mirrored(), cond)
		numtest.Equal(t, name+": mirrored lap (s)", a.Time, b.Time, 1e-6, 0)
		// And the wind matters, or the test would not see it.
		c := lapOn(t, demoCar(t), embedded(t, name).Mirrored(), windy())
		require.Greater(t, math.Abs(c.Time-a.Time), 1e-3, "%s: the wind does not matter", name)
	}
}

// Where the file cuts a straight or an arc in two is no property of the road.
func TestCutSegment(t *testing.T) {
	for _, name := range circuits() {
		tr := embedded(t, name)
		a := lapOn(t, demoCar(t), tr, windy())
		for _, s := range []float64{0.031 * tr.Length, 0.377 * tr.Length, 0.81 * tr.Length} {
			cut := tr.SplitStraight(s)
			require.Len(t, cut.Segments, len(tr.Segments)+1)
			same(t, name+", cut", a, lapOn(t, demoCar(t), cut, windy()))
		}
	}
}

// Where the line is painted is no property of a flying lap. The pieces of the
// lap must sum to the same total too.
func TestStartMoved(t *testing.T) {
	for _, name := range circuits() {
		tr := embedded(t, name)
		a := lapOn(t, demoCar(t), tr, windy())
		for _, share := range []float64{0.2, 0.5, 0.9} {
			b := lapOn(t, demoCar(t), tr.Shifted(share*tr.Length), windy())
			same(t, name+", start moved", a, b)
			numtest.Equal(t, name+": top speed (m/s)", a.TopSpeed, b.TopSpeed, 0.02, 0)
		}
	}
}

// The trace must tell the same story as the total.
func TestTraceAddsUp(t *testing.T) {
	for _, name := range circuits() {
		tr := embedded(t, name)
		lap := lapOn(t, demoCar(t), tr, windy())
		sum := 0.0
		for _, g := range lap.TimeInGear {
			sum += g
		}
		numtest.Equal(t, name+": time by gear (s)", lap.Time, sum, 1e-6, 0)
		first, last := lap.Samples[0], lap.Samples[len(lap.Samples)-1]
		numtest.Equal(t, name+": trace begins (m)", 0, first.S, 1e-6, 0)
		numtest.Equal(t, name+": trace ends (m)", tr.Length, last.S, 1e-6, 0)
		numtest.Equal(t, name+": trace begins (s)", 0, first.T, 1e-6, 0)
		numtest.Equal(t, name+": trace ends (s)", lap.Time, last.T, 1e-6, 0)
		// It ends as it began (10.1), also where no corner resets the speed.
		numtest.Equal(t, name+": speed at the end (m/s)", first.V, last.V, 1e-5, 0)
		for i := 1; i < len(lap.Samples); i++ {
			a, b := lap.Samples[i-1], lap.Samples[i]
			if b.S < a.S || b.T < a.T {
				t.Fatalf("%s: the trace runs backwards at %g m, %g s after %g m, %g s", name, b.S, b.T, a.S, a.T)
			}
			// A sample's way over its time lies between its speeds, but for
			// the bend of the speed inside a step.
			if b.S-a.S > 0.5 {
				mean := (b.S - a.S) / (b.T - a.T)
				lo, hi := math.Min(a.V, b.V), math.Max(a.V, b.V)
				if mean < lo*0.99 || mean > hi*1.01 {
					t.Fatalf("%s: from %g to %g m the mean speed is %g m/s, the ends have %g and %g", name, a.S, b.S, mean, a.V, b.V)
				}
			}
			if b.V > b.Limit*(1+1e-4) {
				t.Fatalf("%s: %g m/s at %g m, above the limit of %g m/s", name, b.V, b.S, b.Limit)
			}
		}
	}
}

// free is the demo car without the rules that can make more power slower: the
// shift and its time, pulling speed, over-rev, time for downshifts.
func free(t *testing.T) *cars.Car {
	t.Helper()
	car := demoCar(t)
	box := *car.Box
	box.UpshiftTime = make([]float64, box.Gears-1)
	box.DownshiftTime = 0
	car.Box = &box
	car.Engine.PullingRPM, car.Engine.OverRevRPM, car.Engine.ShiftMarginRPM = 0, 1e9, 0
	return car
}

// A better car is never slower: more grip, more torque, less drag, less mass.
// Equal within the stated errors counts, as where the change is not felt.
func TestBetterIsNotSlower(t *testing.T) {
	for _, name := range circuits() {
		tr := embedded(t, name)
		base := lapOn(t, free(t), tr, stillAir(20))
		for _, c := range []struct {
			what   string
			felt   float64 // s, least gain expected; 0 on the flat-out oval for grip
			change func(*cars.Car, *Conditions)
		}{
			{"1 % more grip", 0, func(_ *cars.Car, c *Conditions) { c.Grip = 1.01 }},
			{"1 % more torque", 0.01, func(_ *cars.Car, c *Conditions) { c.EngineFactor = 1.01 }},
			{"2 % less drag", 0.01, func(c *cars.Car, _ *Conditions) { c.Aero.DragArea *= 0.98 }},
			{"10 kg less fuel", 0.005, func(_ *cars.Car, c *Conditions) { c.Fuel -= 10 }},
			{"lighter wheels", 0, func(c *cars.Car, _ *Conditions) { c.WheelInertia *= 0.9 }},
		} {
			car, cond := free(t), stillAir(20)
			c.change(car, &cond)
			lap := lapOn(t, car, tr, cond)
			t.Logf("%s, %s: %+.4f s", name, c.what, lap.Time-base.Time)
			if lap.Time > base.Time-c.felt+base.NumericalError+lap.NumericalError {
				t.Errorf("%s: with %s the lap takes %.5f s, without %.5f s", name, c.what, lap.Time, base.Time)
			}
		}
	}
}

// No NaN anywhere: whatever the track, the weather and the set, a lap is
// finite from end to end or says where and why it cannot be driven.
func TestEveryLapIsFinite(t *testing.T) {
	car := demoCar(t)
	noPause := free(t)
	rapid.Check(t, func(t *rapid.T) {
		between := func(lo, hi float64, label string) float64 { return rapid.Float64Range(lo, hi).Draw(t, label) }
		b := newTrack()
		for range rapid.IntRange(0, 5).Draw(t, "corners") {
			grade := between(-0.12, 0.12, "grade")
			b.add(between(0.01, 700, "straight"), 0, 0, 0, 0, grade, -1)
			radius := math.Exp(between(math.Log(2), math.Log(600), "log radius"))
			angle := between(0.05, 3.5, "angle")
			// Half of the corners have no spiral at all; no file can have one
			// of less than a centimetre, a radius of less than 2 m.
			spiral := between(-1, 1, "spiral") * angle * radius * 0.9
			if spiral < 0.01 {
				spiral = 0
			}
			if rapid.Bool().Draw(t, "right") {
				angle = -angle
			}
			b.corner(radius, angle, spiral, between(-0.15, 0.6, "bank"))
		}
		b.add(between(1, 1500, "last straight"), 0, 0, 0, 0, between(-0.12, 0.12, "last grade"), -1)
		b.t.PitExit = between(0, 1, "pit exit") * b.t.Length * 0.999
		if rapid.Bool().Draw(t, "no-shift place") {
			s := between(0, 0.8, "from") * b.t.Length
			b.t.NoShift = []tracks.Span{{Start: s, End: s + 0.2*b.t.Length}}
		}
		cond := Conditions{
			AirDensity: between(0.8, 1.4, "density"), EngineFactor: between(0.6, 1.1, "engine factor"),
			WindSpeed: between(0, 40, "wind"), WindFrom: between(-math.Pi, math.Pi, "from"),
			TowDrag: between(0.5, 1, "tow drag"), TowDownforce: between(0.5, 1.1, "tow downforce"),
			TowWhere: []string{rapid.SampledFrom([]string{tracks.Straights, tracks.Everywhere}).Draw(t, "tow where")},
			Fuel:     between(0, 120, "fuel"), Grip: between(0.5, 1.5, "grip"),
		}
		set := []float64{between(6, 14, "first")}
		for range 5 {
			set = append(set, set[len(set)-1]/between(1.02, 1.6, "step"))
		}
		with := car
		if rapid.Bool().Draw(t, "no pause") {
			with = noPause
		}
		m, err := New(with, b.t, cond, nil)
		if err != nil {
			if len(err.Error()) < 20 {
				t.Fatalf("an error without a place: %v", err)
			}
			return
		}
		lap, out := bounded(m, set)
		checkFinite(t, "lap", lap)
		checkFinite(t, "out lap", out)
		start, again := m.StartLap(set), m.RestartLap(set, rapid.Float64Range(2, 60).Draw(t, "restart"))
		if start.Infeasible == "" {
			start.Samples = start.Samples[1:] // the first is at a standstill
		}
		checkFinite(t, "standing start", start)
		checkFinite(t, "restart", again)
		// 150 m/s is more than the model considers.
		if lap.Infeasible == "" && lap.Time < b.t.Length/150 {
			t.Fatalf("a lap of %g m in %g s", b.t.Length, lap.Time)
		}
	})
}

// bounded drives both laps and ends the test program when that takes longer
// than any lap can: a lap that does not end cannot be stopped otherwise.
func bounded(m *Model, set []float64) (lap, out *Lap) {
	stop := time.AfterFunc(time.Minute, func() {
		panic(fmt.Sprintf("a lap does not end: set %v, conditions %+v, no-shift places %v, pit exit %v, segments %+v",
			set, m.cond, m.track.NoShift, m.track.PitExit, m.track.Segments))
	})
	defer stop.Stop()
	return m.Lap(set), m.OutLap(set)
}

type fataler interface{ Fatalf(string, ...any) }

func checkFinite(t fataler, what string, lap *Lap) {
	if lap.Infeasible != "" {
		// It must say more than that it failed: a place or numbers.
		if len(lap.Infeasible) < 20 {
			t.Fatalf("%s: infeasible without a place: %q", what, lap.Infeasible)
		}
		return
	}
	ok := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	if !(lap.Time > 0) || !ok(lap.Time) || math.IsNaN(lap.NumericalError) || !ok(lap.TopSpeed) || !ok(lap.LimiterTime) {
		t.Fatalf("%s: time %g, error %g, top speed %g, limiter %g", what, lap.Time, lap.NumericalError, lap.TopSpeed, lap.LimiterTime)
	}
	for i, s := range lap.Samples {
		if !ok(s.S) || !ok(s.T) || !ok(s.V) || !ok(s.RPM) || math.IsNaN(s.Limit) || s.V <= 0 || s.Gear < 1 {
			t.Fatalf("%s: sample %d of %d is %+v", what, i, len(lap.Samples), s)
		}
	}
	for _, s := range lap.Shifts {
		if !ok(s.S) || !ok(s.RPMBefore) || !ok(s.RPMAfter) || !ok(s.V) {
			t.Fatalf("%s: shift %+v", what, s)
		}
	}
}

// Roads on which laps once went wrong.
func TestEdgesOfTheLimit(t *testing.T) {
	for _, c := range []struct {
		name  string
		track *tracks.Track
	}{
		// A spiral of 0.4 m from 8 m radius: the limit ends inside one cell.
		{"limit ends inside a cell", newTrack().straight(1).corner(8, 3.5, 0.44, 0.6).straight(700).corner(60, -2.8, 0, 0.6).straight(20).t},
		{"spiral of a centimetre", newTrack().straight(376).corner(181, -0.69, 0, 0).straight(57).corner(13, 2.59, 0.046, -0.03).straight(6).t},
		{"pit exit a hair after the line", func() *tracks.Track {
			b := newTrack().straight(500).corner(400, math.Pi, 0, 0)
			b.t.PitExit = 1.3e-9
			return b.t
		}()},
		{"no straight at all", circle(30)},
	} {
		for _, car := range []*cars.Car{demoCar(t), free(t)} {
			for _, grip := range []float64{0.7, 1, 1.4} {
				cond := stillAir(20)
				cond.Grip = grip
				for refine := range 3 {
					m, err := New(car, c.track, cond, &Settings{Refine: refine})
					require.NoError(t, err)
					lap, out := bounded(m, demoRatios())
					checkFinite(t, c.name, lap)
					checkFinite(t, c.name, out)
				}
			}
		}
	}
}

// Tail wind that overtakes a slow car presses from behind; drag changes sign
// with it and downforce does not vanish into NaN.
func TestOvertakingWind(t *testing.T) {
	car := demoCar(t)
	b := bodyOf(t, car)
	p := placeOn(car, math.Inf(1), 0, 0)
	still := b.at(p, 20)
	p.wind = -40
	behind := b.at(p, 20)
	// 20 m/s from behind is the same air speed as 20 m/s from ahead.
	drag := 0.5 * 1.225 * car.Aero.DragArea * 400
	numtest.Equal(t, "drag turned round (N)", -2*drag, behind.resist-still.resist, 1e-9, 0)
	numtest.Equal(t, "front load (N)", still.nf, behind.nf, 1e-9, 0)
	numtest.Equal(t, "weight on a level road (N)", car.Mass*units.Gravity, still.nf+still.nr-0.5*1.225*car.Aero.DownforceArea*400, 1e-9, 0)
}
