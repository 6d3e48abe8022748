package gearing

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/optimize"
	"layshaft/sim"
)

// TestRingChains holds the bounds of laps in several gears on a flat-out circuit
// against such laps. In still air shifts do not pay there; in a storm along the
// straights they do.
func TestRingChains(t *testing.T) {
	shifting, closest := 0, math.Inf(1)
	winds, least := []float64{30, 40, 50, 70}, 30
	if testing.Short() {
		winds, least = winds[1:2], 3
	}
	for _, kmh := range winds {
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
		best := math.Inf(1) // lap in one gear
		for g := range ring.single {
			best = min(best, slices.Min(ring.single[g]))
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
				bound := best + pl.s.Gap
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
	assert.GreaterOrEqual(t, shifting, least, "hardly tried")
}

// TestOvalInTheWind: with the wind along the straights the ideal car is faster on a
// later straight than on the first, and shifts come where its first climb has no
// table. The search stops with an error when a bound cuts off the set that it began
// with.
func TestOvalInTheWind(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	p := demoProblem(t, "saltmere")
	air := stillAir()
	air.AirDensity, air.EngineFactor = 1.225, 1.048
	air.WindSpeed, air.WindFrom = 20/3.6, 240*math.Pi/180
	m, err := sim.New(p.Model.Car(), p.Model.Track(), air, nil)
	require.NoError(t, err)
	p.Model, p.Limits.TopHeadroomRPM = m, 0
	a, err := Search(context.Background(), p, nil)
	require.NoError(t, err)
	assert.Equal(t, optimize.Proved, a.Status)
	// Nothing that one gear changes is better by both stages.
	k := m.NewSolver()
	for _, g := range []int{1, 3, 5, 6} {
		list, err := Alternates(context.Background(), p, a.Set, []int{g}, 20)
		require.NoError(t, err)
		for _, alt := range list {
			set := *a.Set
			set.Pairs = slices.Clone(set.Pairs)
			set.Pairs[g-1] = alt.Pair
			total := set.TotalRatios()
			if !p.KeepsHeadroom(a.IdealTop, total[5]) {
				continue // no headroom
			}
			assert.GreaterOrEqual(t, alt.LapTime, a.Stages[0].Value-a.Stages[0].Gap)
			if alt.LapTime <= a.Stages[0].Value+DefaultGap {
				assert.GreaterOrEqual(t, k.OutTime(total), a.Stages[1].Value-1e-9)
			}
		}
	}
}
