package cli

import (
	"testing"

	"layshaft/cars/gearbox"

	"github.com/stretchr/testify/require"
)

// A fitted pair that may not run is named with its reason, once for all pairs that
// share it; the others are passed over.
func TestFittedOut(t *testing.T) {
	stock := &gearbox.Stock{
		Fitted: []string{"a", "b", "c", "d", "gone"},
		Pairs: []gearbox.Pair{
			{ID: "a", Count: 1, InspectionDue: true, InspectionWhy: "over-rev"},
			{ID: "b", Count: 1},
			{ID: "c", Count: 1, RunM: 4000e3, LifeM: 4000e3},
			{ID: "d", Count: 1, InspectionDue: true, InspectionWhy: "over-rev"},
			{ID: "loose", Count: 0},
		},
	}
	require.Equal(t, []string{
		"in the car, but left out of the search: a, d: due for inspection: over-rev",
		"in the car, but left out of the search: c: out of life: has run 4000 km of 4000 km",
	}, fittedOut(stock))
	require.Empty(t, fittedOut(&gearbox.Stock{}))
}
