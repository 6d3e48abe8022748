package chart

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"layshaft/internal/numtest"
	"layshaft/sim"
)

// From 25 m/s at 10 m/s2, v^2 = 625 + 20 s and t = (v-25)/10; a straight line in
// between would be late by 1.7 ms half way. From rest at the same, t = sqrt(s/5).
func TestTimeAtASteadyAcceleration(t *testing.T) {
	at := func(s float64) float64 { return math.Sqrt(625 + 20*s) }
	rolling := &sim.Lap{Samples: []sim.Sample{{S: 0, V: 25}, {S: 8, V: at(8), T: (at(8) - 25) / 10}}}
	rest := &sim.Lap{Samples: []sim.Sample{{}, {S: 20, V: 20, T: 2}}}
	steady := &sim.Lap{Samples: []sim.Sample{{V: 50}, {S: 10, V: 50, T: 0.2}}}
	for _, s := range []float64{0, 1, 4, 7.5, 8} {
		numtest.Equal(t, "rolling, s", (at(s)-25)/10, timeAt(rolling, s), 1e-12, 0)
		numtest.Equal(t, "from rest, s", math.Sqrt(s/5), timeAt(rest, s), 1e-12, 0)
		numtest.Equal(t, "steady, s", s/50, timeAt(steady, s), 1e-12, 0)
	}
}

// The printed lap times and their difference add up: 86.906 - 86.898 = 0.008.
func TestChangeAddsUp(t *testing.T) {
	assert.Equal(t, "−0.008", change(86.8976, 86.9064))
	assert.Equal(t, "+0.005", change(86.9106, 86.9064))
	assert.Equal(t, "±0.000", change(86.9064, 86.9061))
}

// Teeth whose quotient ends in a half: the stock list says 2.313 and 2.063 too.
func TestRatioTextRoundsAsTheLists(t *testing.T) {
	assert.Equal(t, "2.313", ratioText(37.0/16))
	assert.Equal(t, "2.063", ratioText(33.0/16))
	assert.Equal(t, "1.650", ratioText(33.0/20))
}
