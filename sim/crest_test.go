package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// A car leaves the ground where v² / r outgrows gravity: v = sqrt(g r), point
// mass over a crest (elementary mechanics). The lap slows down for it and says
// so, with the place; without the crest it goes faster there.
func TestCrestThatLiftsTheCar(t *testing.T) {
	const radius = 120.0 // m
	track := newTrack().straight(600).straight(40).straight(600).corner(40, math.Pi, 20, 0).straight(1240).corner(40, math.Pi, 20, 0).t
	flat := *track
	track.Segments = append(track.Segments[:0:0], track.Segments...)
	track.Segments[1].VerticalCurvature = -1 / radius
	car := demoCar(t)
	car.Aero.DownforceArea = 0
	over := func(on bool) (*Lap, float64) {
		tr := &flat
		if on {
			tr = track
		}
		m, err := New(car, tr, stillAir(20), nil)
		require.NoError(t, err)
		lap, most := m.Lap(demoRatios()), 0.0
		require.Empty(t, lap.Infeasible)
		for _, s := range lap.Samples {
			if s.S >= 600 && s.S <= 640 {
				most = math.Max(most, s.V)
			}
		}
		return lap, most
	}
	_, free := over(false)
	lap, held := over(true)
	lift := math.Sqrt(units.Gravity * radius)
	assert.Greater(t, free, lift, "the crest would not lift this car")
	// The grade of the fixture's crest is at most 20°, which changes the load
	// by its cosine; the limit keeps a fiftieth of the static load.
	numtest.Equal(t, "speed over the crest (m/s)", lift*math.Sqrt(crestShare), held, 0, 0.04)
	assert.Less(t, held, lift)
	require.NotEmpty(t, lap.Warnings)
	assert.Contains(t, lap.Warnings[0], "would lift an axle")
}
