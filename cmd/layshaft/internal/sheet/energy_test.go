package sheet

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/sim"
)

// fixtureEnergy closes by hand: 10000 + 200 kJ in, the same out but for 1 J.
func fixtureEnergy() sim.Energy {
	return sim.Energy{
		Engine: 10e6, Blips: 200e3, Returned: 50e3, Climb: 80e3,
		BoxDrag: 100e3, Mesh: 350e3, Slip: 150e3, Clutch: 40e3, Drag: 4500e3, Rolling: 400e3, Cornering: 260e3,
		Brakes: 4200e3, ShiftLoss: 90e3, Grade: 60e3, Kinetic: 70e3, Spin: -20001,
	}
}

// Shares by hand: 4500 of 10000 kJ is 45 %.
func TestEnergyOfALap(t *testing.T) {
	in := fixtureLapInput()
	in.Lap.Energy = fixtureEnergy()
	r, err := BuildLap(in)
	require.NoError(t, err)
	e := r.EnergyKj
	for _, c := range []struct {
		what      string
		want, got float64
	}{
		{"engine", 10000, e.Engine}, {"spun up", 200, e.SpunUp}, {"box drag", 100, e.BoxDrag}, {"meshes", 350, e.Mesh},
		{"slip", 150, e.Slip}, {"clutch", 40, e.Clutch}, {"drag", 4500, e.Drag}, {"rolling", 400, e.Rolling},
		{"cornering", 260, e.Cornering}, {"brakes", 4200, e.Brakes}, {"shift loss", 90, e.ShiftLoss}, {"grade", 60, e.Grade},
		{"kinetic", 70, e.Kinetic}, {"spin", -20.001, e.Spin}, {"residual", 0.001, e.Residual},
		{"returned", 50, e.ReturnedAtUpshifts}, {"climb", 80, e.Climb},
	} {
		numtest.Equal(t, c.what, c.want, c.got, 1e-9, 0)
	}
	text := render(t, r, Metric)
	narrowEnough(t, "lap", text)
	require.Contains(t, text, "ENERGY of the lap\n")
	require.Regexp(t, `(?m)^engine work at the crank +\+10000\.0 +\+100\.00 %$`, text)
	require.Regexp(t, `(?m)^air drag +-4500\.0 +-45\.00 %$`, text)
	require.Contains(t, text, "left over: 0.001 kJ")
	require.Equal(t, 14, strings.Count(text, " %\n"))

	r.EnergyKj.Brakes += 0.1
	require.ErrorContains(t, r.Check(), "the energy account adds up to")
	r.EnergyKj.Brakes = math.NaN()
	require.ErrorContains(t, r.Check(), "energy: brakes is NaN")
}

// What the lap time depends on beside the set is said on both reports; what
// cannot be driven is null.
func TestSensitivities(t *testing.T) {
	s := &sim.Sensitivity{ShiftEarly: 0.0214, ShiftLate: -0.0093, InertiaReturn: math.Inf(1)}
	in := fixtureLapInput()
	in.Sensitivity, in.ShiftMarginRPM = s, 120
	r, err := BuildLap(in)
	require.NoError(t, err)
	text := render(t, r, Metric)
	narrowEnough(t, "lap", text)
	require.Contains(t, text, "changes    +0.021 s with every shift 100 rpm earlier, -0.009 s later; cannot")
	require.Contains(t, strings.Join(strings.Fields(text), " "), "keeps them 120 rpm below the limiter")
	require.Contains(t, renderJSON(t, r), `"shift_inertia_return_s": null`)

	of := fixture(6)
	of.Sensitivity, of.Car.Engine.ShiftMarginRPM = s, 120
	sheet := mustBuild(t, of)
	text = render(t, sheet, Metric)
	narrowEnough(t, "sheet", text)
	require.Contains(t, text, "- Change of lap time: +0.021 s with every shift 100 rpm earlier, -0.009 s later;")
	require.Contains(t, text, "limiter    8000 rpm, 0.350 s of the lap on it\n")
	require.Contains(t, renderJSON(t, sheet), `"shift_rpm_minus_100_s": 0.0214`)

	// Later shifts that win nothing beyond the numerical error need no word.
	s.ShiftLate = -0.0001
	require.NotContains(t, render(t, mustBuild(t, of), Metric), "Later shifts would be quicker")
	of.Sensitivity = nil
	require.Contains(t, renderJSON(t, mustBuild(t, of)), `"sensitivities": null`)
}

// The driver's own rpm and the bound on limiter time stand with the conditions.
func TestDriversOwnShifts(t *testing.T) {
	in := fixtureLapInput()
	in.Weather.Settings = sim.Settings{ShiftRPM: []float64{7800, 7800, 7750, 7700, 7700}, LimiterTime: 0.25}
	r, err := BuildLap(in)
	require.NoError(t, err)
	text := render(t, r, Metric)
	narrowEnough(t, "lap", text)
	require.Contains(t, text, "driver     shifts at 7800, 7800, 7750, 7700, 7700 rpm, first gear first; at most\n           0.25 s on the limiter in a gear\n")
	require.Contains(t, text, "shifts     at the driver's own rpm")
	require.NotContains(t, text, "where they cost the least time")
	require.Equal(t, []int{7800, 7800, 7750, 7700, 7700}, r.Conditions.DriverShiftRPM)
	require.Equal(t, 0.25, *r.Conditions.LimiterMostS)

	plain, err := BuildLap(fixtureLapInput())
	require.NoError(t, err)
	require.NotContains(t, render(t, plain, Metric), "driver ")
	require.Contains(t, renderJSON(t, plain), `"driver_shift_rpm": null`)
	require.Contains(t, renderJSON(t, plain), `"limiter_most_s": null`)
}
