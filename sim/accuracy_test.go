package sim

import (
	"fmt"
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// An errand is one lap to be driven on a mesh of any fineness.
type errand struct {
	name  string
	model func(refine int) (*Model, error)
	set   []float64
	out   bool
}

// given are the embedded circuits with three sets each, flying and out laps.
func given(t testing.TB) []errand {
	var all []errand
	for _, name := range circuits() {
		car, tr := demoCar(t), embedded(t, name)
		model := func(refine int) (*Model, error) { return New(car, tr, stillAir(20), &Settings{Refine: refine}) }
		model = remembered(model)
		for i, set := range [][]float64{
			demoRatios(),
			{9.4, 6.9, 5.4, 4.5, 3.9, 3.45},
			{8.9, 6.2, 4.9, 4.05, 3.5, 3.1},
		} {
			all = append(all, errand{fmt.Sprintf("%s, set %d", name, i), model, set, false},
				errand{fmt.Sprintf("%s, set %d, out", name, i), model, set, true})
		}
	}
	return all
}

// drawn are n random cars on random tracks under random weather, with every
// rule in force.
func drawn(t testing.TB, n int) []errand {
	var all []errand
	for i := range n {
		d := seeded(uint64(i))
		car, tr, cond := d.car(t), d.track(true), d.day()
		model := remembered(func(refine int) (*Model, error) { return New(car, tr, cond, &Settings{Refine: refine}) })
		set := d.set(car.Box.Gears)
		all = append(all, errand{fmt.Sprintf("drawn %d", i), model, set, false}, errand{fmt.Sprintf("drawn %d, out", i), model, set, true})
	}
	return all
}

// remembered makes each model once, and keeps the last two.
func remembered(build func(int) (*Model, error)) func(int) (*Model, error) {
	kept := map[int]*Model{}
	return func(refine int) (*Model, error) {
		if m := kept[refine]; m != nil {
			return m, nil
		}
		m, err := build(refine)
		if err == nil {
			kept[refine] = m
		}
		return m, err
	}
}

// accuracy is the outcome of an errand.
type accuracy struct {
	lap, truth, stated float64 // s
	residual           float64 // of the energy account / engine work
	ok                 bool    // the set can drive it
}

func (a *accuracy) off() float64 { return math.Abs(a.lap - a.truth) }

// measure drives an errand as given and on 16 times as many steps, whose own
// error is a hundredth of a step's or less.
func (e *errand) measure(t testing.TB) accuracy {
	t.Helper()
	m, err := e.model(0)
	if err != nil {
		t.Fatalf("%s: %v", e.name, err)
	}
	lap := m.Lap(e.set)
	if e.out {
		lap = m.OutLap(e.set)
	}
	if lap.Infeasible != "" {
		return accuracy{}
	}
	fine, err := e.model(4)
	if err != nil {
		t.Fatalf("%s: %v", e.name, err)
	}
	a := accuracy{lap: lap.Time, stated: lap.NumericalError, ok: true}
	if a.truth = fine.NewSolver().LapTime(e.set); e.out {
		a.truth = fine.NewSolver().OutTime(e.set)
	}
	a.residual = lap.Energy.Residual() / lap.Energy.Engine
	return a
}

// worstOf measures errands and keeps the worst of each kind.
func worstOf(t testing.TB, list []errand, each func(e *errand, a accuracy)) (lap accuracy, at string, stated, residual float64, n int) {
	for i := range list {
		e := &list[i]
		a := e.measure(t)
		if !a.ok {
			continue
		}
		n++
		if each != nil {
			each(e, a)
		}
		if !(a.off() <= lap.off()) || n == 1 {
			lap, at = a, e.name
		}
		stated, residual = math.Max(stated, a.stated), math.Max(residual, math.Abs(a.residual))
	}
	return lap, at, stated, residual, n
}

// The stated numerical error must cover the true one, and both stay under a
// millisecond: on the embedded circuits and on 200 random cars and tracks. The
// energy account closes on each to a ten-thousandth.
func TestNumericalErrorIsHonest(t *testing.T) {
	n := 200
	if testing.Short() {
		n = 20
	}
	for _, part := range []struct {
		name  string
		list  []errand
		most  float64 // s, of the true error and of the stated one
		least int     // so many must be drivable
	}{
		// A proof to 1 ms needs laps that are good to a quarter of that.
		{"circuits", given(t), 0.25e-3, 18},
		{"drawn", drawn(t, n), 1e-3, n},
	} {
		t.Run(part.name, func(t *testing.T) {
			lap, at, stated, residual, ran := worstOf(t, part.list, func(e *errand, a accuracy) {
				numtest.Finite(t, e.name+": lap, truth and stated error (s)", a.lap, a.truth, a.stated)
				if a.off() > a.stated {
					t.Errorf("%s: the lap is %.6f s on the finest mesh, %.6f s as given: off by %.1e s, stated %.1e s", e.name, a.truth, a.lap, a.off(), a.stated)
				}
				if a.off() > part.most || a.stated > part.most {
					t.Errorf("%s: off by %.1e s, stated %.1e s: more than %g s", e.name, a.off(), a.stated, part.most)
				}
				if !(math.Abs(a.residual) <= 1e-4) {
					t.Errorf("%s: the energy account leaves %.1e of the engine's work", e.name, a.residual)
				}
			})
			t.Logf("%d laps: worst true error %.1e s (%s), worst stated %.1e s, worst energy residual %.1e of the engine's work", ran, lap.off(), at, stated, residual)
			if ran < part.least {
				t.Errorf("only %d of %d laps can be driven", ran, len(part.list))
			}
		})
	}
}

// accuracyChecks put the worst of it on the page.
func accuracyChecks() []check {
	row := func(list func(testing.TB) []errand) func(testing.TB, int) []figure {
		return func(t testing.TB, _ int) []figure {
			lap, _, _, _, n := worstOf(t, list(t), nil)
			return []figure{{fmt.Sprintf("the furthest off of %d laps (s)", n), lap.truth, lap.lap}}
		}
	}
	return []check{
		{name: "embedded circuits against 16 times as many steps", tol: 0.25e-3, abs: true,
			source: "the solver itself; three sets each, flying and out laps", run: row(given)},
		{name: "random cars and tracks against 16 times as many steps", tol: 1e-3, abs: true,
			source: "the solver itself; a test draws 200 of them, the page 20",
			run:    row(func(t testing.TB) []errand { return drawn(t, 20) })},
	}
}
