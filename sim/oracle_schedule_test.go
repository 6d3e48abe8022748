package sim

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/tracks"
)

// What is agreed: the program's schedule costs at most 0.1 ms more than the
// best one. The program runs on an eighth of its step, so that the schedule is
// what is compared and not the step. The oracle at two spacings must agree five
// times better; the program must not be quicker than it by more than that.
const (
	scheduleTol   = 1e-4 // s
	scheduleOwn   = 2e-5 // s
	scheduleSteps = 3    // Refine
)

// oracleSets are a set near the fitted one, one that falls together towards the
// top after wide steps, and one with close steps. The closest has a second gear
// that does not pull at the slowest corners.
func oracleSets() map[string][]float64 {
	return map[string][]float64{
		"good":  demoRatios(),
		"wide":  {9.4, 6.3, 4.6, 3.75, 3.35, 3.1},
		"close": {8.9, 7.25, 6.05, 5.15, 4.45, 3.85},
	}
}

// words lists a schedule for a person, upshifts and downshifts at full throttle
// and where full throttle begins.
func (s *oraclePlan) words() string {
	var b strings.Builder
	for _, e := range s.events {
		switch {
		case e.from < 0:
			fmt.Fprintf(&b, "\n  %8.2f m  full throttle in %d at %.3f m/s", e.s, e.to+1, e.v)
		case e.to >= 0:
			fmt.Fprintf(&b, "\n  %8.2f m  %d to %d at %.3f m/s", e.s, e.from+1, e.to+1, e.v)
		}
	}
	return b.String()
}

// againstOracle compares one time with the oracle at two spacings.
func againstOracle(t *testing.T, got float64, coarse, fine oraclePlan) {
	t.Helper()
	numtest.Equal(t, "the oracle's two spacings (s)", fine.time, coarse.time, scheduleOwn, 0)
	t.Logf("program %.6f s, oracle %.6f s, at the wider spacing %+.1f µs, program slower by %.1f µs; at most %d labels a station",
		got, fine.time, 1e6*(coarse.time-fine.time), 1e6*(got-fine.time), coarse.most)
	if !(got <= fine.time+scheduleTol) {
		t.Errorf("the program takes %.6f s, the oracle %.6f s: %.3f ms lost; its schedule:%s", got, fine.time, 1e3*(got-fine.time), fine.words())
	}
	if !(got >= fine.time-scheduleOwn) {
		t.Errorf("the program takes %.6f s, the oracle %.6f s: no schedule is better than the best", got, fine.time)
	}
}

// The best shift schedule against brute force: every place every 2 m and 1 m,
// exact speeds, dominated labels dropped. Own code, see oracle_labels_test.go.
func TestScheduleOracle(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and on one goroutine")
	}
	car := demoCar(t)
	for _, name := range []string{"harrowdale", "quayside"} {
		m, err := New(car, embedded(t, name), stillAir(20), &Settings{Refine: scheduleSteps})
		require.NoError(t, err)
		coarse, fine := newOracleRoad(m, 2), newOracleRoad(m, 1)
		for what, set := range oracleSets() {
			t.Run(name+"/"+what, func(t *testing.T) {
				got := m.NewSolver().LapTime(set)
				againstOracle(t, got, coarse.best(set, 0, oracleRules{}), fine.best(set, 0, oracleRules{}))
			})
		}
	}
}

// The oval has no corner that resets the speed: there the out lap is compared.
// Its labels are many where a tall gear hardly pulls harder than the one below,
// so the spacings are twice as wide.
func TestScheduleOracleOutLap(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and on one goroutine")
	}
	m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), &Settings{Refine: scheduleSteps})
	require.NoError(t, err)
	coarse, fine := newOracleRoad(m, 4).out(), newOracleRoad(m, 2).out()
	u := m.track.PitLimit * m.track.PitLimit
	for what, set := range oracleSets() {
		t.Run(what, func(t *testing.T) {
			got := m.NewSolver().OutTime(set)
			againstOracle(t, got, coarse.oneWay(set, u, oracleRules{}), fine.oneWay(set, u, oracleRules{}))
		})
	}
}

// Where a climb slows the car at full throttle, the best schedule shifts down
// before it has to.
func TestScheduleOracleClimb(t *testing.T) {
	cond := stillAir(20)
	cond.EngineFactor = 0.45
	for _, grade := range []float64{0.25, 0.35} {
		m, err := New(demoCar(t), climb(grade), cond, &Settings{Refine: scheduleSteps})
		require.NoError(t, err)
		for _, set := range [][]float64{demoRatios(), {9, 6.5, 4.5, 3.6, 3.3, 3.0}} {
			t.Run(fmt.Sprintf("%g/%g", grade, set[2]), func(t *testing.T) {
				coarse, fine := newOracleRoad(m, 2), newOracleRoad(m, 1)
				againstOracle(t, m.NewSolver().LapTime(set), coarse.best(set, 0, oracleRules{}), fine.best(set, 0, oracleRules{}))
			})
		}
	}
}

// In a box of one gear there is nothing to choose: program and oracle must
// agree on the lap itself, each with its own mesh, limit curve and scheme.
func TestOracleNumerics(t *testing.T) {
	car := demoCar(t)
	box := *car.Box
	box.Gears = 1
	car.Box = &box
	first := demoRatios()[:1]
	for _, name := range []string{"harrowdale", "quayside"} {
		m, err := New(car, embedded(t, name), stillAir(20), &Settings{Refine: scheduleSteps})
		require.NoError(t, err)
		want := m.NewSolver().LapTime(first)
		numtest.Equal(t, name+": first gear only (s)", want, newOracleRoad(m, 2).best(first, 0, oracleRules{}).time, 5e-6, 0)
	}
}

// climb is a lap with a long climb after a straight, for an engine too weak to
// hold a tall gear on it.
func climb(grade float64) *tracks.Track {
	b := newTrack().straight(40).corner(40, math.Pi, 10, 0).straight(150)
	b.add(250, 0, 0, 0, 0, grade, -1)
	return b.straight(10).corner(16, math.Pi, 6, 0).straight(60).t
}

// Dropping labels must not change the answer: on short roads with few stations
// every label can be kept. On the climbs the best schedule shifts down.
func TestOracleDropsNothingOfUse(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and on one goroutine")
	}
	level := newTrack().corner(14, math.Pi, 6, 0).straight(150).corner(16, math.Pi, 6, 0).straight(150).t
	forbids := newTrack().corner(25, math.Pi, 10, 0).straight(150).corner(28, math.Pi, 10, 0).straight(150).t
	for _, s := range []float64{138.54, 376.5} {
		forbids.NoShift = append(forbids.NoShift, tracks.Span{Start: s, End: s + 50})
	}
	for _, c := range []struct {
		name    string
		track   *tracks.Track
		engine  float64
		spacing float64
		set     []float64
		down    bool
	}{
		{"level", level, 1, 15, []float64{8.99, 6.51, 5.15}, false},
		{"no shift", forbids, 1, 20, []float64{6.6, 6, 5.6}, false},
		{"climb", climb(0.25), 0.3, 30, []float64{9, 4}, true},
		{"steeper", climb(0.35), 0.3, 30, []float64{9, 5}, true},
	} {
		cond := stillAir(20)
		cond.EngineFactor = c.engine
		m, err := New(demoCar(t), c.track, cond, nil)
		require.NoError(t, err)
		r := newOracleRoad(m, c.spacing)
		some, all := r.best(c.set, 0, oracleRules{}), r.best(c.set, 0, oracleRules{keepAll: true})
		t.Logf("%s: %.6f s; %d labels kept of %d%s", c.name, all.time, some.kept, all.kept, all.words())
		require.False(t, math.IsInf(all.time, 1))
		numtest.Equal(t, c.name+": lap (s)", all.time, some.time, 1e-9, 0)
		require.Less(t, 2*some.kept, all.kept)
		down := false
		for _, e := range all.events {
			down = down || e.to >= 0 && e.from > e.to
		}
		require.Equal(t, c.down, down, "%s: a downshift at full throttle", c.name)
	}
}
