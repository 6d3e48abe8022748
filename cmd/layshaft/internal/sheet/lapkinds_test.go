package sheet

import (
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/sim"
)

// fixtureRun is a run of three laps made by hand: out lap, two flying laps.
func fixtureRun() LapInput {
	in := fixtureLapInput()
	out, second, third := *in.Lap, *in.Lap, *in.Lap
	out.Kind, out.ClutchHeat = sim.Out, 12345.6
	for i, l := range []*sim.Lap{&out, &second, &third} {
		more := []float64{2.5, 0, 0.25}[i]
		l.Time += more
		l.TimeInGear = append([]float64(nil), l.TimeInGear...)
		l.TimeInGear[1] += more
	}
	in.Lap = nil
	in.Stint = &sim.Stint{Laps: []sim.StintLap{
		{Kind: sim.Out, Fuel: 40, Burnt: 1.6, Lap: &out},
		{Kind: sim.Flying, Fuel: 38.4, Burnt: 1.5, Lap: &second},
		{Kind: sim.Flying, Fuel: 36.9, Burnt: 1.4, Lap: &third},
	}}
	return in
}

// A run shows its quickest lap and what all of them add up to.
func TestLapReportOfARun(t *testing.T) {
	r, err := BuildLap(fixtureRun())
	require.NoError(t, err)
	require.Equal(t, "run", r.Kind)
	require.Len(t, r.Laps, 3)
	require.True(t, r.Laps[1].Shown)
	require.Equal(t, r.Laps[1].LapTimeS, r.LapTimeS)
	const lap = 83.4567891
	require.Equal(t, roundTo(3*lap+2.75, 6), r.RunTimeS)
	require.Equal(t, roundTo(lap+2.75/3, 6), r.AverageLapTimeS)
	require.Equal(t, 4.5, *r.FuelBurntKg)
	require.Equal(t, 35.5, *r.FuelLeftKg)
	text := render(t, r, Metric)
	narrowEnough(t, "run", text)
	require.Contains(t, text, "kind       run of 3 laps, the first: out\n")
	require.Contains(t, text, "  1  out     85.957")
	require.Contains(t, text, "<- quickest, shown below")
	require.Contains(t, text, "LAP 2 OF THE RUN")
	require.Contains(t, text, "fuel       4.500 kg burnt, 35.500 left")
	narrowEnough(t, "run", render(t, r, US))
	require.Contains(t, render(t, r, US), "lb burnt")
}

// One lap says how it begins; what it burns is known where the car says so.
func TestLapReportOfAKind(t *testing.T) {
	for kind, says := range map[sim.Kind]string{
		sim.Flying: "flying lap\n", sim.Out: "out lap, from the pit exit", sim.Start: "standing start on the start line",
		sim.Restart: "restart on the start line at 2",
	} {
		in := fixtureLapInput()
		in.Lap.Kind, in.Lap.EngineWork = kind, 2e7
		r, err := BuildLap(in)
		require.NoError(t, err)
		require.Equal(t, kind.String(), r.Kind)
		require.Nil(t, r.FuelBurntKg)
		require.Nil(t, r.Laps[0].FuelBurntKg)
		require.NotContains(t, render(t, r, Metric), "burnt")
		in.FuelConsumption, in.Lap.ClutchHeat = 8e-8, 130e3
		r, err = BuildLap(in)
		require.NoError(t, err)
		require.Equal(t, 1.6, *r.FuelBurntKg)
		require.Equal(t, r.LapTimeS, r.AverageLapTimeS)
		text := render(t, r, Metric)
		require.Contains(t, text, says)
		require.Contains(t, text, "fuel burnt 1.600 kg")
		require.Contains(t, text, "130 kJ of heat")
	}
}

func TestRunTampered(t *testing.T) {
	for name, tamper := range map[string]func(*LapReport){
		"a lap's time": func(r *LapReport) { r.Laps[0].LapTimeS += 0.001 },
		"the sum":      func(r *LapReport) { r.RunTimeS -= 0.001 },
		"the average":  func(r *LapReport) { r.AverageLapTimeS += 0.001 },
		"none shown":   func(r *LapReport) { r.Laps[1].Shown = false },
		"wrong shown":  func(r *LapReport) { r.Laps[1].Shown, r.Laps[2].Shown = false, true },
	} {
		r, err := BuildLap(fixtureRun())
		require.NoError(t, err)
		tamper(r)
		require.Error(t, r.Check(), name)
	}
	in := fixtureRun()
	in.Stint.Infeasible = "lap 3 of 3: the fuel runs out"
	_, err := BuildLap(in)
	require.ErrorIs(t, err, ErrCannotDrive)
	require.ErrorContains(t, err, "the fuel runs out")
}
