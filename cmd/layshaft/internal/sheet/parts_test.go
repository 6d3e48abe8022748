package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"layshaft/internal/numtest"
	"layshaft/sim"
	"layshaft/tracks"
)

// A straight ends in gear 6; the first sample of braking is the fastest and stands
// in gear 5 already, above the limiter. The top speed was reached in gear 6.
func TestTheEndOfAStraightIsTheGearBeforeTheDownshift(t *testing.T) {
	samples := []sim.Sample{
		{S: 500, V: 79, Gear: 6, RPM: 8090.4}, {S: 575, V: 79.5, Gear: 6, RPM: 8141.6},
		{S: 575.5, V: 79.52, Gear: 5, RPM: 9148, Phase: sim.Capped}, {S: 580, V: 70, Gear: 5, RPM: 8053, Phase: sim.Capped},
	}
	p, ok := fastest(samples, tracks.Span{Start: 400, End: 600})
	assert.True(t, ok)
	assert.Equal(t, 6, p.Gear)
	numtest.Equal(t, "speed, m/s", 79.52, p.V, 0, 0)
	numtest.Equal(t, "rpm in gear 6", 8141.6*79.52/79.5, p.RPM, 1e-9, 0)

	// An upshift, or none, leaves the sample as it is.
	samples[2].Gear, samples[2].RPM = 6, 8143.6
	p, _ = fastest(samples, tracks.Span{Start: 400, End: 600})
	assert.Equal(t, samples[2], p)
	_, ok = fastest(samples, tracks.Span{Start: 600, End: 700})
	assert.False(t, ok)
}
