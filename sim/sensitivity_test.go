package sim

import (
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// kindsFrom are the kinds of lap that the sensitivities are tested on.
func kindsFrom() []Kind { return []Kind{Flying, Out, Start} }

// otherRatios are shorter than demoRatios.
func otherRatios() []float64 { return []float64{9.5, 7.0, 5.5, 4.5, 3.9, 3.5} }

// An offset moves every shift light by so much, not above the limiter, and the
// driver's own rpm too; a lap without one is the lap with an offset of nothing.
func TestShiftOffset(t *testing.T) {
	car, track := demoCar(t), embedded(t, "quayside")
	own := []float64{8500, 8500, 8500, 8500, 8500}
	for _, rpm := range [][]float64{nil, own} {
		base, err := New(car, track, stillAir(20), &Settings{ShiftRPM: rpm})
		if err != nil {
			t.Fatal(err)
		}
		want := base.Lap(demoRatios())
		for _, offset := range []float64{0, -100, 40, 2000} {
			m, err := New(car, track, stillAir(20), &Settings{ShiftRPM: rpm, ShiftOffset: offset})
			if err != nil {
				t.Fatal(err)
			}
			lap := m.Lap(demoRatios())
			for g := range lap.CrossRPM[:5] {
				numtest.Equal(t, "shift light", math.Min(want.CrossRPM[g]+offset, m.LimiterRPM()), lap.CrossRPM[g], 1e-6, 0)
			}
			if offset == 0 {
				numtest.Equal(t, "lap without an offset", want.Time, lap.Time, 0, 0)
			}
		}
	}
	for _, offset := range []float64{math.NaN(), math.Inf(1), -2001, 2001} {
		if _, err := New(car, track, stillAir(20), &Settings{ShiftOffset: offset}); err == nil {
			t.Errorf("a shift offset of %g rpm is taken", offset)
		}
	}
}

// Shifts below the best rpm win nothing beyond the numerical error, and spin
// given back is never lost: it is energy that the car has and the engine keeps
// otherwise. The signs are those of mechanics; the sizes are the model's.
func TestSensitivitySigns(t *testing.T) {
	for _, circuit := range circuits() {
		m, err := New(demoCar(t), embedded(t, circuit), stillAir(20), nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, total := range [][]float64{demoRatios(), otherRatios()} {
			for _, kind := range kindsFrom() {
				s, err := SensitivitiesOf(m, total, kind, 0)
				if err != nil {
					t.Fatal(err)
				}
				lap := m.report(passage{kind: kind, total: total})
				if !(s.ShiftEarly >= -lap.NumericalError) {
					t.Errorf("%s, %v, %s: shifts 100 rpm early win %.3f ms", circuit, total, kind, -1e3*s.ShiftEarly)
				}
				if !(s.InertiaReturn <= lap.NumericalError) {
					t.Errorf("%s, %v, %s: spin given back costs %.3f ms", circuit, total, kind, 1e3*s.InertiaReturn)
				}
				if len(lap.Shifts) > 0 && !(s.ShiftEarly > 0 && s.InertiaReturn < 0 && s.ShiftLate != 0) {
					t.Errorf("%s, %v, %s: a lap with %d shifts does not feel them: %+v", circuit, total, kind, len(lap.Shifts), s)
				}
				if len(lap.Shifts) == 0 { // but for the rounding of a periodic speed
					for _, d := range []float64{s.ShiftEarly, s.ShiftLate, s.InertiaReturn} {
						numtest.Equal(t, circuit+": a lap without shifts", 0, d, 1e-9, 0)
					}
				}
			}
		}
	}
}

// Each sensitivity is the difference of two laps driven one by one.
func TestSensitivitiesAreLaps(t *testing.T) {
	track, total := embedded(t, "harrowdale"), otherRatios()
	time := func(inertia float64, s *Settings) float64 {
		car := demoCar(t)
		car.ShiftInertiaReturn = inertia
		m, err := New(car, track, stillAir(20), s)
		if err != nil {
			t.Fatal(err)
		}
		return m.Lap(total).Time
	}
	const own = 0.3
	car := demoCar(t)
	car.ShiftInertiaReturn = own
	for _, set := range []*Settings{nil, {ShiftRPM: []float64{8700, 8700, 8700, 8700, 8700}}} {
		at := Settings{}
		if set != nil {
			at = *set
		}
		m, err := New(car, track, stillAir(20), set)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Sensitivities(m, total)
		if err != nil {
			t.Fatal(err)
		}
		early, late := at, at
		early.ShiftOffset, late.ShiftOffset = -100, 100
		base := time(own, &at)
		numtest.Equal(t, "early", time(own, &early)-base, s.ShiftEarly, 1e-12, 0)
		numtest.Equal(t, "late", time(own, &late)-base, s.ShiftLate, 1e-12, 0)
		numtest.Equal(t, "return", time(1, &at)-time(0, &at), s.InertiaReturn, 1e-12, 0)
	}
}

// What cannot be driven has no difference.
func TestSensitivityInfeasible(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "quayside"), stillAir(20), nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Sensitivities(m, []float64{3, 2.9, 2.8, 2.7, 2.6, 2.5})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{s.ShiftEarly, s.ShiftLate, s.InertiaReturn} {
		if !math.IsInf(v, 1) {
			t.Errorf("%+v, want +Inf in all", s)
		}
	}
}

// Without a shift margin the best schedule may shift anywhere up to the limiter:
// then neither earlier nor later shifts win anything beyond the numerical error.
func TestSensitivityOfTheBest(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and on one goroutine")
	}
	car := demoCar(t)
	car.Engine.ShiftMarginRPM = 0
	for _, circuit := range circuits() {
		m, err := New(car, embedded(t, circuit), stillAir(20), nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, total := range [][]float64{demoRatios(), otherRatios(), {8.99, 6.2, 4.6, 3.7, 3.2, 2.9}} {
			for _, kind := range kindsFrom() {
				s, err := SensitivitiesOf(m, total, kind, 0)
				if err != nil {
					t.Fatal(err)
				}
				lap := m.report(passage{kind: kind, total: total})
				if !(s.ShiftEarly >= -lap.NumericalError && s.ShiftLate >= -lap.NumericalError) {
					t.Errorf("%s, %v, %s: moved shifts win: %.3f ms early, %.3f ms late, numerical error %.3f ms",
						circuit, total, kind, 1e3*s.ShiftEarly, 1e3*s.ShiftLate, 1e3*lap.NumericalError)
				}
			}
		}
	}
}

// With an offset a shift comes at its shifted rpm: weighing (8.7) does not move it
// back. On the oval's out lap the shift into top is one that weighing moves.
func TestShiftOffsetIsNotWeighedAway(t *testing.T) {
	for _, offset := range []float64{-100, -30} {
		m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), &Settings{ShiftOffset: offset})
		if err != nil {
			t.Fatal(err)
		}
		lap := m.OutLap(otherRatios())
		seen := false
		for _, s := range lap.Shifts {
			if s.From == 5 && s.To == 6 {
				seen = true
				numtest.Equal(t, "shift into top", lap.CrossRPM[4], s.RPMBefore, 1e-3, 0)
			}
		}
		if !seen {
			t.Fatal("no shift into top: the case is gone")
		}
	}
}
