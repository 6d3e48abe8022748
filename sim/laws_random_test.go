package sim

import (
	"flag"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"layshaft/cars"
	"layshaft/tracks"
)

// TestMain draws the same cars and tracks every time, so that a run today and one
// next year mean the same. To look further, give -rapid.seed and -rapid.checks.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.seed" || f.Name == "rapid.checks" })
	if !given {
		if err := flag.Set("rapid.seed", "20261125"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}

// A day out is a car, a track, the weather and a set, all drawn.
type dayOut struct {
	car   *cars.Car
	track *tracks.Track
	cond  Conditions
	set   []float64
}

// dayOut draws one, with every rule in force or with none.
func (d dice) dayOut(t testing.TB, rules bool) dayOut {
	o := dayOut{car: d.car(t), track: d.track(rules), cond: d.day()}
	if !rules {
		o.car = lawless(o.car)
	}
	o.set = d.set(o.car.Box.Gears)
	return o
}

// lap drives it; ok says that it can be driven.
func (o *dayOut) lap(t *rapid.T) (lap *Lap, ok bool) {
	m, err := New(o.car, o.track, o.cond, nil)
	if err != nil {
		t.Fatalf("a fair day out is refused: %v", err)
	}
	lap = m.Lap(o.set)
	checkFinite(t, "lap", lap)
	return lap, lap.Infeasible == "" && !math.IsInf(lap.NumericalError, 0)
}

// bothWays runs a law with the rules off and on. Each run skips what cannot be
// driven, and says how much could.
func bothWays(t *testing.T, law func(t *rapid.T, o dayOut, lap *Lap)) {
	for _, rules := range []bool{false, true} {
		name := "rules off"
		if rules {
			name = "rules on"
		}
		t.Run(name, func(t *testing.T) {
			drawn, driven := 0, 0
			rapid.Check(t, func(rt *rapid.T) {
				o := rapidly(rt).dayOut(t, rules)
				drawn++
				lap, ok := o.lap(rt)
				if !ok {
					return
				}
				driven++
				law(rt, o, lap)
			})
			t.Logf("%d of %d drawn can be driven", driven, drawn)
			require.Greater(t, 2*driven, drawn, "the law is hardly tried")
		})
	}
}

// agree asks two laps of one truth to take the same time within what they state.
func agree(t *rapid.T, what string, a, b *Lap, okB bool) {
	if !okB {
		t.Fatalf("%s: can be driven one way only: %s", what, b.Infeasible)
	}
	if d := math.Abs(a.Time - b.Time); !(d <= a.NumericalError+b.NumericalError) {
		t.Fatalf("%s: %.6f s and %.6f s, apart by %.1e s with stated errors of %.1e and %.1e s", what, a.Time, b.Time, d, a.NumericalError, b.NumericalError)
	}
}

// The mirrored track under the mirrored wind: every step is the same but for
// rounding.
func TestRandomMirrored(t *testing.T) {
	bothWays(t, func(t *rapid.T, o dayOut, lap *Lap) {
		o.track, o.cond.WindFrom = o.track.Mirrored(), -o.cond.WindFrom
		b, ok := o.lap(t)
		if !ok || math.Abs(b.Time-lap.Time) > 1e-7 {
			t.Fatalf("mirrored: %.9f s instead of %.9f s, %s", b.Time, lap.Time, b.Infeasible)
		}
	})
}

// The start moved, with everything that is tied to distance. In still air: a
// drawn track does not close, and its headings count from its start. Not where
// nothing resets the speed: there a set can have several laps that repeat
// themselves, and which of those with shifts is found depends on the start.
func TestRandomStartMoved(t *testing.T) {
	bothWays(t, func(t *rapid.T, o dayOut, _ *Lap) {
		o.cond.WindSpeed = 0
		lap, ok := o.lap(t)
		if !ok || lap.Periodic {
			return
		}
		o.track = o.track.Shifted(rapid.Float64Range(0.01, 0.99).Draw(t, "share") * o.track.Length)
		b, ok := o.lap(t)
		agree(t, "start moved", lap, b, ok)
	})
}

// A straight or an arc cut in two is the same road.
func TestRandomCut(t *testing.T) {
	bothWays(t, func(t *rapid.T, o dayOut, lap *Lap) {
		o.track = o.track.SplitStraight(rapid.Float64Range(0.01, 0.99).Draw(t, "share") * o.track.Length)
		b, ok := o.lap(t)
		agree(t, "cut", lap, b, ok)
	})
}

// More torque, more grip: never slower with the rules off. A rule can forbid the better car a gear, so there is no such law with them.
func TestRandomBetterIsNotSlower(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(o *dayOut)
	}{
		{"2 % more torque", func(o *dayOut) { o.cond.EngineFactor *= 1.02 }},
		{"2 % more grip", func(o *dayOut) { o.cond.Grip *= 1.02 }},
	} {
		t.Run(c.what, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				o := rapidly(rt).dayOut(t, false)
				a, okA := o.lap(rt)
				c.change(&o)
				b, okB := o.lap(rt)
				if !okA {
					return
				}
				if !okB {
					rt.Fatalf("with %s it cannot be driven: %s", c.what, b.Infeasible)
				}
				if gain := a.Time - b.Time; !(gain >= -a.NumericalError-b.NumericalError) {
					rt.Fatalf("with %s %.6f s, without %.6f s: slower by %.1e s, stated errors %.1e and %.1e s", c.what, b.Time, a.Time, -gain, b.NumericalError, a.NumericalError)
				}
			})
		})
	}
}

// Less drag is never slower on a straight entered with a given speed. (A whole
// lap can lose: a car on the limiter gains nothing and brakes worse.)
func TestRandomLessDragOnAStraight(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := rapidly(rt)
		o := d.dayOut(t, false)
		b := newTrack()
		b.add(d(100, 1500, "length"), 0, 0, 0, 0, d(-0.05, 0.05, "grade"), -1)
		b.t.PitExit, b.t.PitLimit = 0, d(8, 40, "entry")
		time := func() *Lap {
			m, err := New(o.car, b.t, o.cond, nil)
			if err != nil {
				rt.Fatalf("%v", err)
			}
			return m.OutLap(o.set)
		}
		before := time()
		o.car.Aero.DragArea *= 0.97
		after := time()
		if before.Infeasible != "" || after.Infeasible != "" {
			rt.Skip("not drivable")
		}
		if !(after.Time <= before.Time+before.NumericalError+after.NumericalError) {
			rt.Fatalf("%.6f s with less drag, %.6f s before", after.Time, before.Time)
		}
	})
}

// The energy account closes on whatever is driven. TestNumericalErrorIsHonest
// holds its 200 cars to a ten-thousandth; of some thousands drawn here one in two
// thousand left up to 1.4 ten-thousandths, all at the edge of grip, and the bound
// is there for what is wrong and not inexact. Where the engine has no torque, the
// measure is what changed hands.
func TestRandomEnergy(t *testing.T) {
	bothWays(t, func(t *rapid.T, _ dayOut, lap *Lap) {
		moved := 0.0
		for _, l := range lap.Energy.Lines() {
			moved += 0.5 * math.Abs(l.Energy)
		}
		r := lap.Energy.Residual() / math.Max(lap.Energy.Engine, 0.5*moved)
		if !(math.Abs(r) <= 5e-4) {
			t.Fatalf("the account leaves %.1e of the engine's work: %+v", r, lap.Energy)
		}
	})
}

// Nobody drives on past the limiter less the margin to shift then, but in a
// no-shift place. (On the envelope the gear is as it comes; full throttle that
// begins past the margin shifts at once.)
func TestRandomShiftsKeepTheMargin(t *testing.T) {
	bothWays(t, func(t *rapid.T, o dayOut, _ *Lap) {
		m, err := New(o.car, o.track, o.cond, nil)
		if err != nil {
			t.Fatal(err)
		}
		k := m.NewSolver()
		k.record = true
		k.lapOf(passage{kind: Flying, total: o.set})
		for i := 1; i < len(k.path); i++ {
			p, q := &k.path[i-1], &k.path[i]
			if q.phase != Shifting || q.to <= q.gear || p.phase != Driving || p.along || p.gear != q.gear || m.cells[p.cell].noShift {
				continue
			}
			if most := k.drives[p.gear].uShift; p.u1 > most*(1+1e-9) {
				t.Fatalf("the shift to gear %d at %.3f m comes at %.4f m/s, past %.4f", q.to+1, m.wrap(q.s0), math.Sqrt(p.u1), math.Sqrt(most))
			}
		}
	})
}
