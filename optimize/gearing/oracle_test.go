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
	"layshaft/optimize"
)

// oracle lists every set of the stock with nested loops of its own and gives
// the best by the staged objective. It shares the lap with the search (the lap
// has its own checks), nothing else.
type oracle struct {
	count    int64
	lap, out float64
	near     int    // sets within the gap of the lap
	set      string // the one that the written rules choose
}

func exhaust(p *Problem, gap float64) oracle {
	finals := p.Limits.Finals
	if finals == nil {
		finals = []*gearbox.Drive{&p.Stock.Finals[0]}
	}
	var sets []*gearbox.Set
	for _, fin := range finals {
		for c := range p.Box.Clusters {
			var pick func(chosen []*gearbox.Pair)
			pick = func(chosen []*gearbox.Pair) {
				g := len(chosen)
				if g == p.Box.Gears {
					if partsWhole(p.Stock, chosen) {
						sets = append(sets, &gearbox.Set{Cluster: &p.Box.Clusters[c], Final: fin, Pairs: append([]*gearbox.Pair(nil), chosen...)})
					}
					return
				}
				pos := 0
				for i, x := range p.Box.Clusters[c].Stack {
					if x == g+1 {
						pos = i
					}
				}
				for i := range p.Stock.Pairs {
					q := &p.Stock.Pairs[i]
					if q.Count < 1 || q.InspectionDue || (q.LifeM > 0 && q.RunM >= q.LifeM) {
						continue
					}
					fits := false
					for _, k := range q.Fits {
						fits = fits || k == p.Box.Slots[pos].Kind
					}
					if !fits {
						continue
					}
					if g > 0 {
						a := chosen[g-1]
						step := float64(a.Mainshaft*q.Layshaft) / float64(a.Layshaft*q.Mainshaft)
						if a == q || step <= 1 || step < p.Box.StepMin*(1-1e-9) || step > p.Box.StepMax*(1+1e-9) {
							continue
						}
					}
					pick(append(chosen, q))
				}
			}
			pick(nil)
		}
	}
	k := p.Model.NewSolver()
	o := oracle{lap: math.Inf(1), out: math.Inf(1)}
	if p.Limits.TopHeadroomRPM >= 0 {
		// (11.1): the ideal car of the pairs that stand in some set.
		seen := map[[2]float64]bool{}
		var totals, etas []float64
		for _, s := range sets {
			for g, r := range s.TotalRatios() {
				e := p.Model.Car().Efficiency[g]
				if !seen[[2]float64{r, e}] {
					seen[[2]float64{r, e}] = true
					totals, etas = append(totals, r), append(etas, e)
				}
			}
		}
		if len(totals) > 0 {
			v := p.Model.IdealTopSpeed(p.Model.NewIdeal(totals, etas))
			kept := sets[:0]
			for _, s := range sets {
				r := s.TotalRatios()
				if p.Model.RPM(v, r[len(r)-1]) <= p.Model.LimiterRPM()-p.Limits.TopHeadroomRPM {
					kept = append(kept, s)
				}
			}
			sets = kept
		}
	}
	o.count = int64(len(sets))
	laps := make([]float64, len(sets))
	for i, s := range sets {
		laps[i] = k.LapTime(s.TotalRatios())
		o.lap = math.Min(o.lap, laps[i])
	}
	var tied []*gearbox.Set
	outs := map[*gearbox.Set]float64{}
	for i, s := range sets {
		if laps[i] <= o.lap+gap && !math.IsInf(laps[i], 1) {
			outs[s] = k.OutTime(s.TotalRatios())
			o.out = math.Min(o.out, outs[s])
			o.near++
		}
	}
	for _, s := range sets {
		if out, ok := outs[s]; ok && out <= o.out+gap {
			tied = append(tied, s)
		}
	}
	sort.SliceStable(tied, func(i, j int) bool { return rulesBefore(p, tied[i], tied[j]) })
	if len(tied) > 0 {
		o.set = fmt.Sprint(tied[0].Final.Name, ids(tied[0]))
	}
	return o
}

func ids(s *gearbox.Set) []string {
	var list []string
	for _, q := range s.Pairs {
		list = append(list, q.ID)
	}
	return list
}

// rulesBefore says whether set a comes before b by the written rules. Sets come in
// the order of the final drives and clusters; among those of one, by falling ratio
// from first gear up, then by id.
func rulesBefore(p *Problem, a, b *gearbox.Set) bool {
	differs := func(x float64, y float64) bool { return math.Abs(x-y) > 1e-12*math.Max(math.Abs(x), math.Abs(y)) }
	bench := func(s *gearbox.Set) (pairs int, time float64) {
		var gears []int
		for g := range p.Stock.Fitted {
			if p.Stock.Fitted[g] != s.Pairs[g].ID {
				gears = append(gears, g+1)
			}
		}
		return len(gears), p.Box.Minutes(s.Cluster, gears)
	}
	na, ta := bench(a)
	nb, tb := bench(b)
	if na != nb {
		return na < nb
	}
	if differs(ta, tb) {
		return ta < tb
	}
	life := func(s *gearbox.Set) float64 {
		least := 1e300
		for _, q := range s.Pairs {
			if q.LifeM > 0 && q.LifeM-q.RunM < least {
				least = q.LifeM - q.RunM
			}
		}
		return least
	}
	if differs(life(a), life(b)) {
		return life(a) > life(b)
	}
	uneven := func(s *gearbox.Set) float64 {
		var steps []float64
		for g := 0; g+1 < len(s.Pairs); g++ {
			steps = append(steps, s.Pairs[g].Ratio()/s.Pairs[g+1].Ratio())
		}
		sort.Float64s(steps)
		return steps[len(steps)-1] / steps[0]
	}
	if differs(uneven(a), uneven(b)) {
		return uneven(a) < uneven(b)
	}
	if a.Final != b.Final || a.Cluster != b.Cluster {
		return false
	}
	for g := range a.Pairs {
		switch x, y := a.Pairs[g], b.Pairs[g]; {
		case x == y:
		case x.Ratio() != y.Ratio():
			return x.Ratio() > y.Ratio()
		default:
			return x.ID < y.ID
		}
	}
	return false
}

func partsWhole(stock *gearbox.Stock, chosen []*gearbox.Pair) bool {
	for _, q := range chosen {
		if q.Group == "" {
			continue
		}
		for i := range stock.Pairs {
			o := &stock.Pairs[i]
			if o.Group != q.Group {
				continue
			}
			found := false
			for _, c := range chosen {
				found = found || c == o
			}
			if !found {
				return false
			}
		}
	}
	return true
}

// TestSearchEqualsOracle compares both stages and the count of sets with the
// exhaustive oracle on random small stocks with every rule in play.
func TestSearchEqualsOracle(t *testing.T) {
	solved, empty, seeds := 0, 0, uint64(200)
	decided := map[string]int{}
	if testing.Short() {
		seeds = 12
	}
	for seed := range seeds {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			p := randomProblem(t, seed)
			gap := DefaultGap
			if seed%3 == 1 {
				gap = 0.03 // many ties
			}
			set := &Settings{Gap: gap}
			if seed%4 == 2 {
				set.memoryMost = 5000 // hardly a chain is kept
			}
			want := exhaust(p, gap)
			got, err := Search(context.Background(), p, set)
			require.NoError(t, err)
			assert.Equal(t, fmt.Sprint(want.count), got.SetsInSpace.String(), "sets in space")
			if math.IsInf(want.lap, 1) {
				assert.Equal(t, optimize.Infeasible, got.Status)
				assert.NotEmpty(t, got.Infeasible)
				empty++
				return
			}
			require.Equal(t, optimize.Proved, got.Status)
			numtest.Equal(t, "first stage", want.lap, got.Stages[0].Value, 1e-9, 0)
			require.Len(t, got.Stages, 2)
			numtest.Equal(t, "second stage", want.out, got.Stages[1].Value, 1e-9, 0)
			assert.Equal(t, want.set, fmt.Sprint(got.Set.Final.Name, ids(got.Set)), "by the rules: %v", got.Ties)
			if p.zonesForTest() != nil {
				assert.Equal(t, want.near, got.NearCount, "sets within the gap")
			}
			for _, tie := range got.Ties {
				decided[tie.Rule]++
			}
			solved++
		})
	}
	t.Logf("%d solved, %d without a set; rules used: %v", solved, empty, decided)
	require.GreaterOrEqual(t, solved, int(seeds)*3/4, "hardly tried: too many instances have no set or are flat out")
}

// zonesForTest are the flying lap's zones, nil on a flat-out circuit.
func (p *Problem) zonesForTest() any {
	var s *Settings
	pl, err := p.plan(s.withDefaults())
	if err != nil || pl.zones == nil {
		return nil
	}
	return pl.zones
}

// TestWorkers holds the answer to be the same for any number of workers.
func TestWorkers(t *testing.T) {
	for _, seed := range []uint64{0, 2, 5, 8} {
		p := randomProblem(t, seed)
		one, err := Search(context.Background(), p, &Settings{Workers: 1})
		require.NoError(t, err)
		many, err := Search(context.Background(), p, &Settings{Workers: 8})
		require.NoError(t, err)
		if one.Set == nil {
			assert.Nil(t, many.Set)
			continue
		}
		assert.Equal(t, one.Set.Pairs, many.Set.Pairs)
		assert.Equal(t, one.Stages, many.Stages)
		assert.Equal(t, one.Gap, many.Gap)
	}
}
