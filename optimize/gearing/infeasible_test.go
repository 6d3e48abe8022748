package gearing

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// tight is a small random problem with limits that often leave no set.
func tight(t testing.TB, seed uint64) *Problem {
	p := randomProblem(t, seed)
	r := rand.New(rand.NewPCG(seed, 99))
	l := &p.Limits
	l.Keep = map[int]string{}
	for range r.IntN(4) {
		l.Keep[1+r.IntN(p.Box.Gears)] = p.Stock.Pairs[r.IntN(len(p.Stock.Pairs))].ID
	}
	if r.IntN(2) == 0 {
		l.StepMin = 1.08 + 0.15*r.Float64()
		l.StepMax = l.StepMin + 0.3*r.Float64()
	}
	if r.IntN(3) == 0 {
		l.TopHeadroomRPM = math.Round(3000 * r.Float64())
	}
	if len(l.Finals) == 0 {
		l.Finals = []*gearbox.Drive{&p.Stock.Finals[0]}
	}
	if r.IntN(6) == 0 {
		require.NoError(t, p.remodel(func(rpm *float64, _ *sim.Settings) { *rpm = 4500 + 3000*r.Float64() }))
	}
	return p
}

// setsOf lists the sets of a problem with loops of its own: total ratios of each.
// It knows all the rules between pairs, and shares none of their code.
func setsOf(p *Problem) [][]float64 {
	lo, hi := p.Box.StepMin, p.Box.StepMax
	if p.Limits.StepMin > 0 {
		lo = p.Limits.StepMin
	}
	if p.Limits.StepMax > 0 {
		hi = p.Limits.StepMax
	}
	may := p.Limits.Allowed
	if may == nil {
		may = func(q *gearbox.Pair) error {
			if q.Count < 1 || q.InspectionDue || (q.LifeM > 0 && q.RunM >= q.LifeM) {
				return fmt.Errorf("no")
			}
			return nil
		}
	}
	var sets, loose [][]float64
	for _, fin := range p.Limits.Finals {
		for c := range p.Box.Clusters {
			stack := p.Box.Clusters[c].Stack
			var pick func(chosen []*gearbox.Pair)
			pick = func(chosen []*gearbox.Pair) {
				g := len(chosen)
				if g == p.Box.Gears {
					totals := (&gearbox.Set{Pairs: chosen, Final: fin}).TotalRatios()
					loose = append(loose, totals)
					if partsWhole(p.Stock, chosen) {
						sets = append(sets, totals)
					}
					return
				}
				slot := p.Box.Slots[slices.Index(stack, g+1)]
				for i := range p.Stock.Pairs {
					q := &p.Stock.Pairs[i]
					id, kept := p.Limits.Keep[g+1]
					if may(q) != nil || !slices.Contains(q.Fits, slot.Kind) || kept && q.ID != id {
						continue
					}
					if g > 0 {
						a := chosen[g-1]
						step := float64(a.Mainshaft*q.Layshaft) / float64(a.Layshaft*q.Mainshaft)
						if a == q || step <= 1 || step < lo*(1-1e-9) || step > hi*(1+1e-9) {
							continue
						}
					}
					pick(append(slices.Clone(chosen), q))
				}
			}
			pick(nil)
		}
	}
	if len(sets) == 0 || p.Limits.TopHeadroomRPM < 0 {
		return sets
	}
	// (11.1): the ideal car of the pairs that stand in some chain.
	seen := map[[2]float64]bool{}
	var totals, etas []float64
	for _, s := range loose {
		for g, r := range s {
			if k := [2]float64{r, p.Model.Car().Efficiency[g]}; !seen[k] {
				seen[k] = true
				totals, etas = append(totals, r), append(etas, k[1])
			}
		}
	}
	v := p.Model.IdealTopSpeed(p.Model.NewIdeal(totals, etas))
	return slices.DeleteFunc(sets, func(s []float64) bool {
		return p.Model.RPM(v, s[len(s)-1]) > p.Model.LimiterRPM()-p.Limits.TopHeadroomRPM
	})
}

// has says whether the problem has a set; one that drives the lap, if drives.
func has(p *Problem, drives bool) bool {
	k := p.Model.NewSolver()
	return slices.ContainsFunc(setsOf(p), func(s []float64) bool { return !drives || !math.IsInf(k.LapTime(s), 1) })
}

// apply makes changes to a problem, as an engineer would who reads them.
func apply(t *testing.T, p *Problem, list ...Change) *Problem {
	q := *p
	l := &q.Limits
	keep := map[int]string{}
	for g, id := range p.Limits.Keep {
		keep[g] = id
	}
	l.Keep = keep
	stock := *p.Stock
	stock.Pairs = slices.Clone(stock.Pairs)
	for _, c := range list {
		switch c.Limit.Kind {
		case LimitStepMin:
			require.Less(t, c.To, c.Limit.Value)
			l.StepMin = c.To
		case LimitStepMax:
			require.Greater(t, c.To, c.Limit.Value)
			l.StepMax = c.To
		case LimitHeadroom:
			require.Less(t, c.To, c.Limit.Value)
			l.TopHeadroomRPM = c.To
		case LimitKeep:
			require.Contains(t, keep, c.Limit.Gear)
			delete(keep, c.Limit.Gear)
		case LimitPairs:
			for i := range stock.Pairs {
				if q := &stock.Pairs[i]; q.ID == c.Name {
					q.Count, q.LifeM, q.InspectionDue = 1, 0, false
				}
			}
		case LimitFinal:
			for i := range p.Stock.Finals {
				if d := &p.Stock.Finals[i]; d.Name == c.Name {
					l.Finals = []*gearbox.Drive{d}
				}
			}
		case LimitPulling:
			require.Less(t, c.To, c.Limit.Value)
			car := *p.Model.Car()
			car.Engine.PullingRPM = c.To
			m, err := sim.New(&car, p.Model.Track(), p.Model.Conditions(), nil)
			require.NoError(t, err)
			q.Model = m
		default:
			t.Fatalf("no way to change %s", c.Limit.Kind)
		}
	}
	q.Stock = &stock
	return &q
}

// drop gives limits up altogether.
func drop(t *testing.T, p *Problem, list []Limit) *Problem {
	var changes []Change
	q := *p
	for _, l := range list {
		switch l.Kind {
		case LimitStepMin:
			changes = append(changes, Change{Limit: l, To: 1})
		case LimitStepMax:
			changes = append(changes, Change{Limit: l, To: 1000})
		case LimitHeadroom:
			changes = append(changes, Change{Limit: l, To: -1})
		case LimitPulling:
			// Below its torque table no engine pulls.
			m, err := p.Model.Car().Engine.Map("")
			require.NoError(t, err)
			changes = append(changes, Change{Limit: l, To: m.RPM[0]})
		case LimitKeep:
			changes = append(changes, Change{Limit: l})
		case LimitPairs:
			for i := range p.Stock.Pairs {
				changes = append(changes, Change{Limit: l, Name: p.Stock.Pairs[i].ID})
			}
		}
	}
	out := apply(t, &q, changes...)
	for _, l := range list {
		if l.Kind == LimitFinal {
			out.Limits.Finals = nil
			for i := range p.Stock.Finals {
				out.Limits.Finals = append(out.Limits.Finals, &p.Stock.Finals[i])
			}
		}
		if l.Kind == LimitParts {
			for i := range out.Stock.Pairs {
				out.Stock.Pairs[i].Group = ""
			}
		}
	}
	return out
}

// TestInfeasible holds what is said of problems without a set against a list of all
// sets: the limits named clash, none of them is named in vain, each change that is
// offered leaves a set, and no smaller one does.
func TestInfeasible(t *testing.T) {
	wanted := 64
	if testing.Short() {
		wanted = 20
	}
	tried, clashes, pairs, offers, none := 0, 0, 0, map[Kind]int{}, 0
	undriven := 0
	for seed := uint64(0); tried < wanted; seed++ {
		require.Less(t, seed, uint64(2000), "hardly any problem without a set")
		p := tight(t, seed)
		drives := len(setsOf(p)) > 0
		if has(p, true) {
			continue
		}
		tried++
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			a, err := Search(context.Background(), p, nil)
			require.NoError(t, err)
			require.Equal(t, optimize.Infeasible, a.Status)
			require.Nil(t, a.Set)
			require.NotEmpty(t, a.Infeasible)
			require.NotEmpty(t, a.Relaxation)
			if drives {
				undriven++
			}
			if len(a.Clash) == 0 {
				// Whatever is given up, there is no set.
				all := p.limits()
				assert.False(t, has(drop(t, p, all), drives), a.Infeasible)
				assert.Empty(t, a.Relaxations)
				return
			}
			clashes++
			if len(a.Clash) > 1 {
				pairs++
			}
			others := slices.DeleteFunc(p.limits(), func(l Limit) bool {
				return slices.Contains(a.Clash, l) || l.Kind == LimitPulling && !drives
			})
			assert.False(t, has(drop(t, p, others), drives), "these do not clash alone: %s", a.Infeasible)
			for _, l := range a.Clash {
				assert.True(t, has(drop(t, p, append(slices.Clone(others), l)), drives), "%v is named in vain: %s", l, a.Infeasible)
			}
			if len(a.Relaxations) == 0 {
				none++
			}
			for _, r := range a.Relaxations {
				require.True(t, has(apply(t, p, r.Changes...), drives), "does not help: %v", r)
				assert.True(t, r.Smallest, "in so small a stock all sets are tried")
				for i, c := range r.Changes {
					offers[c.Limit.Kind]++
					for _, less := range smaller(p, c) {
						changes := slices.Clone(r.Changes)
						changes[i] = less
						assert.False(t, has(apply(t, p, changes...), drives), "%v would do, %v was said", less, c)
					}
					if len(r.Changes) > 1 {
						fewer := slices.Delete(slices.Clone(r.Changes), i, i+1)
						assert.False(t, has(apply(t, p, fewer...), drives), "%v is not needed: %v", c, r)
					}
				}
			}
		})
	}
	t.Logf("%d problems, %d of them buildable but not drivable; %d clashes, %d of several limits, %d without a way out; offers %v", tried, undriven, clashes, pairs, none, offers)
	for _, r := range []Kind{LimitStepMin, LimitStepMax, LimitHeadroom, LimitKeep, LimitPairs} {
		assert.NotZero(t, offers[r], "%s was never tried", r)
	}
	assert.NotZero(t, undriven)
	assert.GreaterOrEqual(t, pairs, wanted/5)
}

// smaller are changes of the same limit that change it less.
func smaller(p *Problem, c Change) []Change {
	var out []Change
	add := func(to float64) { out = append(out, Change{Limit: c.Limit, To: to}) }
	switch c.Limit.Kind {
	case LimitStepMin, LimitStepMax:
		for _, a := range p.Stock.Pairs {
			for _, b := range p.Stock.Pairs {
				s := a.Ratio() / b.Ratio()
				if s > 1 && (s < c.Limit.Value && s > c.To*(1+1e-6) || s > c.Limit.Value && s < c.To*(1-1e-6)) {
					add(s)
				}
			}
		}
	case LimitHeadroom:
		for _, share := range []float64{0.001, 0.1, 0.4, 0.7, 0.95} {
			if to := c.To + share*(c.Limit.Value-c.To); to >= 0 {
				add(to)
			}
		}
	case LimitPulling:
		if c.To+1 < c.Limit.Value {
			add(c.To + 1)
		}
	}
	if len(out) > 40 { // spread over all of them, with the nearest
		slices.SortFunc(out, func(a, b Change) int { return -compare(math.Abs(a.To-c.To), math.Abs(b.To-c.To)) })
		n := len(out)
		for i := range 40 {
			out[i] = out[n-1-(n-1)*i*i/1600]
		}
		out = out[:40]
	}
	return out
}

func compare(a, b float64) int {
	if a < b {
		return -1
	}
	return 1
}

// TestClashByHand holds cases whose clash is plain to see.
func TestClashByHand(t *testing.T) {
	six := func() *Problem {
		p := demoProblem(t, "quayside")
		stock := *p.Stock
		stock.Pairs = nil
		for _, id := range stock.Fitted {
			stock.Pairs = append(stock.Pairs, *p.Stock.Pair(id))
		}
		p.Stock = &stock
		p.Limits.Finals = []*gearbox.Drive{stock.FittedFinal()}
		return p
	}
	wrong := func(p *Problem, id string) *gearbox.Pair { return p.Stock.Pair(id) }
	for name, c := range map[string]struct {
		change func(*Problem)
		clash  []Kind
		text   string
		offers []string
	}{
		"a part of which one pair may not run": {func(p *Problem) {
			twin := *wrong(p, "20/33")
			wrong(p, "17/36").Group, wrong(p, "20/33").Group = "part", "part"
			wrong(p, "20/33").InspectionDue = true
			twin.ID = "20/33 B"
			p.Stock.Pairs = append(p.Stock.Pairs, twin)
		}, []Kind{LimitParts, LimitPairs}, "integral parts used whole and the pairs that may not run", []string{"make pair 20/33 usable"}},
		"two gears that want the same pair": {func(p *Problem) {
			p.Limits.Keep = map[int]string{2: "17/36", 3: "17/36"}
		}, []Kind{LimitKeep}, "no set has gear 3 kept at 17/36", []string{"let gear 3 change"}},
		"the same pair where others could stand": {func(p *Problem) {
			q := demoProblem(t, "quayside")
			q.Limits.Finals = p.Limits.Finals
			q.Limits.Keep = map[int]string{2: "17/36", 3: "17/36"}
			*p = *q
		}, []Kind{LimitKeep, LimitKeep}, "gear 2 kept at 17/36 and gear 3 kept at 17/36 together leave no set; without any one of them there is one",
			[]string{"let gear 2 change", "let gear 3 change"}},
		"a pair kept that is out of life": {func(p *Problem) {
			wrong(p, "26/27").LifeM, wrong(p, "26/27").RunM = 1e6, 1e6
			p.Limits.Keep = map[int]string{6: "26/27"}
		}, []Kind{LimitPairs}, "gear 6 cannot keep pair 26/27: ", []string{"make pair 26/27 usable"}},
		"headroom that another final drive gives": {func(p *Problem) {
			p.Limits.TopHeadroomRPM = 1650
		}, []Kind{LimitFinal, LimitHeadroom}, "final drive 12/37 and 1650 rpm of headroom in top together leave no set", []string{"take final drive 12/36", " rpm of headroom in top or less"}},
		"a slot that nothing fits": {func(p *Problem) {
			wrong(p, "13/38").Fits = []string{"narrow"}
		}, nil, "no pair of the stock fits gear 1", nil},
	} {
		t.Run(name, func(t *testing.T) {
			p := six()
			c.change(p)
			a, err := Search(context.Background(), p, nil)
			require.NoError(t, err)
			require.Equal(t, optimize.Infeasible, a.Status)
			var rules []Kind
			for _, l := range a.Clash {
				rules = append(rules, l.Kind)
			}
			assert.Equal(t, c.clash, rules, a.Infeasible)
			assert.Contains(t, a.Infeasible, c.text)
			for _, o := range c.offers {
				assert.Contains(t, a.Relaxation, o)
			}
			for _, r := range a.Relaxations {
				var s *Settings
				pl, err := apply(t, p, r.Changes...).plan(s.withDefaults())
				require.NoError(t, err)
				assert.Positive(t, pl.count.Sign(), "%v", r)
			}
		})
	}
}

// TestOneSet: where one set is all there is, it is proved, with no gap.
func TestOneSet(t *testing.T) {
	for _, circuit := range []string{"quayside", "saltmere"} {
		p := demoProblem(t, circuit)
		p.Limits.Keep = map[int]string{}
		for g, id := range p.Stock.Fitted {
			p.Limits.Keep[g+1] = id
		}
		a, err := Search(context.Background(), p, nil)
		require.NoError(t, err)
		require.NotNil(t, a.Set)
		assert.Equal(t, "1", a.SetsInSpace.String())
		assert.Equal(t, optimize.Proved, a.Status)
		assert.Zero(t, a.Gap)
		assert.Empty(t, a.Open)
		require.Len(t, a.Stages, 2)
		for _, s := range a.Stages {
			assert.True(t, s.Proved)
			assert.Zero(t, s.Gap)
		}
	}
}
