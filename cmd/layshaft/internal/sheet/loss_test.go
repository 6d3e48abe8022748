package sheet

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/sim"
)

// fixtureLoss is an account of fixtureLap: third gear loses most, half of it at
// Sluice; what is left over is on the limiter of the tallest gear.
func fixtureLoss(gears int) LossInput {
	const third = 0.0124444
	a := &sim.LossAccount{
		Ideal: 82.9, Total: 0.5567891, Gears: make([]sim.GearLoss, gears),
		Curve: make([]float64, 31), // as many as fixtureLap has samples
		Places: []sim.PlaceLoss{
			{Place: "after T2 (Long Reed)", From: 2100, To: 400}, {Place: "T1 Sluice", From: 400, To: 700},
			{Place: "after T1", From: 700, To: 1600}, {Place: "T2 Long Reed", From: 1600, To: 2100},
		},
	}
	for i := range a.Places {
		a.Places[i].Gears = make([]sim.GearLoss, gears)
	}
	add := func(place, gear int, l sim.GearLoss) {
		for _, g := range []*sim.GearLoss{&a.Gears[gear], &a.Places[place].Gears[gear]} {
			g.Pulling += l.Pulling
			g.Limiter += l.Limiter
			g.Shift += l.Shift
			g.Limit += l.Limit
		}
	}
	add(1, 2, sim.GearLoss{Pulling: 10 * third, Shift: 3 * third})
	add(2, 2, sim.GearLoss{Pulling: 13 * third})
	add(2, 1, sim.GearLoss{Shift: third / 3})
	add(3, 1, sim.GearLoss{Limit: -3e-10})
	add(0, gears-1, sim.GearLoss{Limiter: a.Total - 26*third - third/3 + 3e-10})
	for i := range a.Curve {
		a.Curve[i] = a.Total * float64(i) / float64(len(a.Curve)-1)
	}
	return LossInput{Account: a, Choices: 57}
}

// Parts that add up to a rounded total; each within one of the last place.
func TestApportion(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		sum  float64
		want []float64
	}{
		{[]float64{1. / 3, 1. / 3, 1. / 3}, 1, []float64{0.334, 0.333, 0.333}},
		{[]float64{0.0006, 0.0006, 0.0006}, 0.002, []float64{0.001, 0.001, 0}},
		{[]float64{-2e-10, 0.25, 0}, 0.25, []float64{0, 0.25, 0}},
		{[]float64{0.1004, 0.1004}, 0.2, []float64{0.1, 0.1}},
		{[]float64{0.1004, 0.1}, 0.201, []float64{0.101, 0.1}},     // the total was rounded by itself
		{[]float64{0.1001, 0.1}, 0.199, []float64{0.1, 0.099}},     // and the other way
		{[]float64{-0.0014, 0.0004}, -0.001, []float64{-0.001, 0}}, // a gain
	} {
		got := apportion(c.x, c.sum, timeText)
		sum := 0.0
		for i := range got {
			numtest.Equal(t, "part", c.want[i], got[i], 1e-12, 0)
			sum += got[i]
		}
		numtest.Equal(t, "sum", c.sum, sum, 1e-12, 0)
	}
}

// The account as shown adds up digit by digit, and a changed digit is caught.
func TestLossAddsUpAsShown(t *testing.T) {
	s := mustBuild(t, fixture(6))
	l := s.Loss
	require.Equal(t, 82.9, l.IdealLapTimeS)
	require.Equal(t, 0.556789, l.TotalLossS)
	require.Equal(t, 3, *l.Places[1].Gear)
	require.Equal(t, 6, *l.Places[0].Gear)
	require.Nil(t, l.Places[3].Gear) // nothing is lost there
	numtest.Equal(t, "third gear at Sluice (s)", 13*0.0124444, l.Places[1].LossS, 2e-6, 0)
	for what, spoil := range map[string]func(*Loss){
		"lap less ideal lap":  func(l *Loss) { l.IdealLapTimeS += 1e-6 },
		"sum over the gears":  func(l *Loss) { l.Gears[2].PullingLossS += 1e-6; l.Gears[2].LossS += 1e-6 },
		"sum over the places": func(l *Loss) { l.Places = l.Places[1:] },
		"gear 3":              func(l *Loss) { l.Gears[2].ShiftLossS = math.NaN() },
	} {
		s := mustBuild(t, fixture(6))
		spoil(s.Loss)
		require.ErrorContains(t, s.Check(), what)
	}
	lap, err := BuildLap(fixtureLapInput())
	require.NoError(t, err)
	require.Equal(t, l, lap.Loss)
	require.Equal(t, 0.556789, *lap.Trace[len(lap.Trace)-1].LostS)
	lap.Loss.TotalLossS += 1e-6
	require.ErrorContains(t, lap.Check(), "lap less ideal lap")
}

// What has no account says so; in JSON it is null.
func TestNoLoss(t *testing.T) {
	in := fixtureLapInput()
	in.Loss = LossInput{Why: "no loss account of a standing start"}
	lap, err := BuildLap(in)
	require.NoError(t, err)
	require.Contains(t, render(t, lap, Metric), "None: no loss account of a standing start.")
	require.Contains(t, renderJSON(t, lap), `"loss": null`)
	require.Contains(t, renderJSON(t, lap), `"lost_s": null`)
	run := fixtureRun()
	run.Loss = fixtureLoss(6)
	report, err := BuildLap(run)
	require.NoError(t, err)
	require.Nil(t, report.Loss)
	require.NotContains(t, render(t, report, Metric), "WHERE THE TIME GOES")
}

// The printed cells of a column add up to its last line.
func TestPrintedLossesAddUp(t *testing.T) {
	text := render(t, mustBuild(t, fixture(6)), Metric)
	require.Contains(t, text, "lap 83.457 s - ideal lap 82.900 s = 0.557 s lost")
	_, section, _ := strings.Cut(text, "WHERE THE TIME GOES")
	var sum, all int
	for _, line := range strings.Split(section, "\n") {
		f := strings.Fields(line)
		if len(f) != 5 || !strings.Contains(f[4], ".") {
			continue
		}
		ms := func(cell string) int {
			n, last := 0, strings.ReplaceAll(cell, ".", "")
			for _, c := range last {
				n = 10*n + int(c-'0')
			}
			return n
		}
		if require.Equal(t, ms(f[4]), ms(f[1])+ms(f[2])+ms(f[3]), line); f[0] == "all" {
			all = ms(f[4])
			break
		}
		sum += ms(f[4])
	}
	require.Equal(t, 557, all)
	require.Equal(t, all, sum)
}
