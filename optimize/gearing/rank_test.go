package gearing

import (
	"context"
	"fmt"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
	"layshaft/sim"
)

// listed is a set as the test's own list has it.
type listed struct {
	ids string
	lap float64
}

// everySet lists the sets in which only gears a and b (index; a < b, or equal) differ
// from the base, by loops of its own: what may run, fits its slot and keeps the steps.
func everySet(p *Problem, base *gearbox.Set, a, b int) []listed {
	k := p.Model.NewSolver()
	fits := func(gear int, q *gearbox.Pair) bool {
		slot := p.Box.Slot(base.Cluster, gear)
		kind := false
		for _, f := range q.Fits {
			kind = kind || f == slot.Kind
		}
		return kind && (q.DogSide == "" || q.DogSide == "both" || q.DogSide == slot.DogSide) &&
			q.Count > 0 && !q.InspectionDue && (q.LifeM == 0 || q.RunM < q.LifeM) && q.NotFree == ""
	}
	var out []listed
	for i := range p.Stock.Pairs {
		for j := range p.Stock.Pairs {
			if a == b && i != j {
				continue
			}
			set := *base
			set.Pairs = append([]*gearbox.Pair(nil), base.Pairs...)
			set.Pairs[a], set.Pairs[b] = &p.Stock.Pairs[i], &p.Stock.Pairs[j]
			good := fits(a+1, set.Pairs[a]) && fits(b+1, set.Pairs[b])
			for g := 1; g < len(set.Pairs) && good; g++ {
				if g != a && g != b && g-1 != a && g-1 != b {
					continue // both stay
				}
				step := set.Pairs[g-1].Ratio() / set.Pairs[g].Ratio()
				good = step > 1.05-1e-9 && step < 1.6+1e-9 // as in boxes/wren-six.toml
			}
			if !good {
				continue
			}
			one := listed{lap: k.LapTime(set.TotalRatios())}
			for _, q := range set.Pairs {
				one.ids += q.ID + " "
			}
			out = append(out, one)
		}
	}
	return out
}

// The ranking is the exhaustive list of the test's own loops, in order of laps.
func TestRankIsTheExhaustiveList(t *testing.T) {
	for _, c := range []struct {
		circuit string
		gears   []int
	}{{"quayside", []int{6}}, {"harrowdale", []int{3}}, {"quayside", []int{4, 6}}, {"quayside", []int{2, 3}}, {"saltmere", []int{6}}} {
		t.Run(fmt.Sprint(c.circuit, c.gears), func(t *testing.T) {
			p := demoProblem(t, c.circuit)
			base := fittedSet(t, p)
			want := everySet(p, base, c.gears[0]-1, c.gears[len(c.gears)-1]-1)
			sort.SliceStable(want, func(i, j int) bool { return want[i].lap < want[j].lap })
			sets, err := Sets(context.Background(), p, base, c.gears, nil, 10000)
			require.NoError(t, err)
			got, err := LapAll(context.Background(), p, sets, nil)
			require.NoError(t, err)
			require.Len(t, got, len(want))
			require.Greater(t, len(got), 5)
			times := map[string]float64{}
			for i := range want {
				// The solver gives the same bits for the same set. Equal laps may
				// stand in either order, as the stock's order is not the test's.
				assert.Equal(t, want[i].lap, got[i].LapTime, "place %d", i+1)
				times[want[i].ids] = want[i].lap
			}
			for _, n := range got {
				ids := ""
				for _, q := range n.Set.Pairs {
					ids += q.ID + " "
				}
				lap, ok := times[ids]
				require.True(t, ok, "%s is not one of the list", ids)
				assert.Equal(t, lap, n.LapTime)
				delete(times, ids)
			}
			best, err := Rank(context.Background(), p, base, c.gears, 4)
			require.NoError(t, err)
			require.Len(t, best, 4)
			for i := range best {
				assert.Equal(t, want[i].lap, best[i].LapTime)
			}
		})
	}
}

// What may says narrows the list, base or not; too many sets are an error that says
// so; a gear that is none is refused; an ended context ends it.
func TestSetsAreBounded(t *testing.T) {
	p := demoProblem(t, "quayside")
	base := fittedSet(t, p)
	ctx := context.Background()
	all, err := Sets(ctx, p, base, []int{6}, nil, 1000)
	require.NoError(t, err)
	taller, err := Sets(ctx, p, base, []int{6}, func(g int, q *gearbox.Pair) bool { return g == 6 && q.Ratio() < base.Pairs[5].Ratio() }, 1000)
	require.NoError(t, err)
	require.NotEmpty(t, taller)
	assert.Less(t, len(taller), len(all))
	for _, s := range taller {
		assert.Less(t, s.Pairs[5].Ratio(), base.Pairs[5].Ratio())
	}
	_, err = Sets(ctx, p, base, []int{6}, nil, len(all))
	require.NoError(t, err)
	_, err = Sets(ctx, p, base, []int{6}, nil, len(all)-1)
	var many *TooManyError
	require.ErrorAs(t, err, &many)
	assert.Equal(t, len(all)-1, many.Most)
	_, err = Sets(ctx, p, base, []int{7}, nil, 1000)
	require.ErrorContains(t, err, "gear 7 is not one of this box")
	ended, cancel := context.WithCancel(ctx)
	cancel()
	_, err = Sets(ended, p, base, []int{6}, nil, 1000)
	require.ErrorIs(t, err, context.Canceled)
	_, err = LapAll(ended, p, all, nil)
	require.ErrorIs(t, err, context.Canceled)
}

// Equal laps go in order of their out laps, which decide the gears that no lap engages.
func TestOutLapsSettleEqualLaps(t *testing.T) {
	p := demoProblem(t, "saltmere")
	list, err := Rank(context.Background(), p, fittedSet(t, p), []int{3}, 8)
	require.NoError(t, err)
	k, equal := p.Model.NewSolver(), 0
	for i := range list {
		assert.Equal(t, k.OutTime(list[i].Set.TotalRatios()), list[i].OutTime)
		if i > 0 && list[i].LapTime == list[i-1].LapTime {
			equal++
			assert.GreaterOrEqual(t, list[i].OutTime, list[i-1].OutTime)
		}
		assert.False(t, math.IsInf(list[i].LapTime, 0))
	}
	assert.Positive(t, equal, "the oval is driven without third: its pairs make no difference to the lap")
}

// Gains are told to a millisecond without a numerical error beside them: on steps a
// quarter as long every gain of a single change stays within half of that digit (0.07
// ms at most as measured), as what the mesh gets wrong is nearly the same for both.
func TestGainsHoldOnAFinerMesh(t *testing.T) {
	for _, circuit := range []string{"harrowdale", "quayside"} {
		p := demoProblem(t, circuit)
		fine, err := sim.New(p.Model.Car(), p.Model.Track(), p.Model.Conditions(), &sim.Settings{Refine: 2})
		require.NoError(t, err)
		base := fittedSet(t, p)
		k, kf := p.Model.NewSolver(), fine.NewSolver()
		from, fromFine := k.LapTime(base.TotalRatios()), kf.LapTime(base.TotalRatios())
		gained := 0.0
		for g := 2; g <= 6; g++ {
			sets, err := Sets(context.Background(), p, base, []int{g}, nil, 1000)
			require.NoError(t, err)
			for _, s := range sets {
				gain, fineGain := from-k.LapTime(s.TotalRatios()), fromFine-kf.LapTime(s.TotalRatios())
				numtest.Equal(t, fmt.Sprintf("gain of %s in gear %d", s.Pairs[g-1].ID, g), fineGain, gain, 0.5e-3, 0)
				gained = max(gained, math.Abs(gain))
			}
		}
		assert.Greater(t, gained, 0.01, "s; else there is nothing to compare")
	}
}
