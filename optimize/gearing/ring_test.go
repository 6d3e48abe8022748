package gearing

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/sim"
)

// TestRingChains holds the bounds of laps in several gears on a flat-out circuit
// against such laps. In still air shifts do not pay there; in a storm along the
// straights they do.
func TestRingChains(t *testing.T) {
	shifting, closest := 0, math.Inf(1)
	for _, kmh := range []float64{30, 40, 50, 70} {
		p := demoProblem(t, "saltmere")
		stock := *p.Stock
		stock.Pairs = somePairs(stock.Pairs, 14)
		p.Stock = &stock
		air := stillAir()
		air.WindSpeed, air.WindFrom = kmh/3.6, 240*math.Pi/180
		m, err := sim.New(p.Model.Car(), p.Model.Track(), air, nil)
		require.NoError(t, err)
		p.Model = m
		pl, err := p.plan((*Settings)(nil).withDefaults())
		require.NoError(t, err)
		require.Nil(t, pl.zones)
		f := pl.frames[0]
		ring := newRingTable(f, pl.ideal, &pl.s, func([]int) bool { return true })
		least := math.Inf(1)
		for g := range ring.single {
			least = min(least, slices.Min(ring.single[g]))
		}
		k := f.m.NewSolver()
		for _, l := range ring.open {
			var totals []float64
			alone := math.Inf(1)
			for n, i := range l.idx {
				totals = append(totals, f.total[l.g+n][i])
				alone = min(alone, ring.single[l.g+n][i])
			}
			lap := k.LapInGears(l.g+1, totals...)
			assert.LessOrEqual(t, lap, alone+1e-9)
			if lap < alone-1e-6 { // it shifts
				shifting++
				// Perhaps in some of the gears only.
				bound := least + pl.s.Gap
				for _, part := range ring.open {
					if from := part.g - l.g; from >= 0 && from+len(part.idx) <= len(l.idx) && slices.Equal(part.idx, l.idx[from:from+len(part.idx)]) {
						bound = min(bound, part.bound)
					}
				}
				closest = min(closest, lap-bound)
				assert.LessOrEqual(t, bound, lap, "wind %g km/h, gears from %d: %v", kmh, l.g+1, totals)
			}
		}
	}
	t.Logf("%d laps with shifts, at least %.1f ms above their bounds", shifting, 1e3*closest)
	assert.GreaterOrEqual(t, shifting, 30, "hardly tried")
}
