package gearing

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sort"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// Evaluate gives the answer for the user's own set, Status Given. It does not
// check the set against the stock: cars/gearbox/verify does.
func Evaluate(ctx context.Context, p *Problem, set *gearbox.Set, s *Settings) (*Answer, error) {
	pl, err := p.plan(s.withDefaults())
	if err != nil {
		return nil, err
	}
	totals := set.TotalRatios()
	a := &Answer{
		Set: set, Status: optimize.Given, SetsInSpace: pl.count,
		Lap: p.Model.Lap(totals), OutLap: p.Model.OutLap(totals), Ideal: pl.idealWith(set), IdealTop: pl.idealTop,
	}
	if a.Lap.Infeasible != "" {
		a.Infeasible = a.Lap.Infeasible
	}
	return a, nil
}

// Ideal is the ideal car of all pairs that stand in some set of the problem, and
// of a set of the user's own.
func (p *Problem) Ideal(set *gearbox.Set) (*sim.Ideal, error) {
	pl, err := p.plan((*Settings)(nil).withDefaults())
	if err != nil {
		return nil, err
	}
	return pl.idealWith(set), nil
}

// idealWith is the plan's ideal car with the pairs of a set that need not stand
// in its space.
func (pl *plan) idealWith(set *gearbox.Set) *sim.Ideal {
	etas := pl.p.Model.Car().Efficiency
	total, eta := idealGears(pl.all, etas)
	n := len(total)
	for g, t := range set.TotalRatios() {
		known := false
		for i := range n {
			known = known || total[i] == t && eta[i] == etas[g]
		}
		if !known {
			total, eta = append(total, t), append(eta, etas[g])
		}
	}
	if pl.ideal != nil && len(total) == n {
		return pl.ideal
	}
	return pl.p.Model.NewIdeal(total, eta)
}

// Alternates returns, for each of the gears (from 1), the best perGear sets that
// differ from set in that gear alone, gear by gear, best first. The model may be
// that of other conditions than the set was chosen for; Loss is against the set in
// the same conditions.
func Alternates(ctx context.Context, p *Problem, set *gearbox.Set, gears []int, perGear int) ([]Alternate, error) {
	base := p.Model.NewSolver().LapTime(set.TotalRatios())
	var out []Alternate
	for _, g := range gears {
		list, err := p.others(ctx, set, g-1, perGear)
		if err != nil {
			return nil, err
		}
		for i, alt := range list {
			if i == perGear {
				break
			}
			out = append(out, Alternate{Gear: g, Pair: alt.Set.Pairs[g-1], LapTime: alt.LapTime, Loss: alt.LapTime - base})
		}
	}
	return out, nil
}

// others lists the best n buildable sets that differ from set in gear index g alone,
// best first.
func (p *Problem) others(ctx context.Context, set *gearbox.Set, g, n int) ([]Near, error) {
	all, err := p.rank(ctx, set, []int{g + 1}, n+1) // the set itself may be one
	if err != nil {
		return nil, err
	}
	out := all[:0]
	for _, n := range all {
		if n.Set.Pairs[g].ID != set.Pairs[g].ID {
			out = append(out, n)
		}
	}
	return out, nil
}

// Rank returns the best n sets in which only the listed gears (from 1) differ
// from base, base itself included, best first. Equal laps are settled for the
// better out lap, then for stock order. It lists every such set, so keep the
// list of gears short; more than maxRanked sets are refused.
func Rank(ctx context.Context, p *Problem, base *gearbox.Set, gears []int, n int) ([]Near, error) {
	return p.rank(ctx, base, gears, n)
}

// maxRanked is the most sets that Rank will lap one by one.
const maxRanked = 200_000

func (p *Problem) rank(ctx context.Context, base *gearbox.Set, gears []int, n int) ([]Near, error) {
	free := map[int]bool{}
	for _, g := range gears {
		if g < 1 || g > len(base.Pairs) {
			return nil, fmt.Errorf("gear %d is not one of this box: it has 1 to %d", g, len(base.Pairs))
		}
		free[g] = true
	}
	cands := make([][]*gearbox.Pair, len(base.Pairs))
	for g := range base.Pairs {
		cands[g] = []*gearbox.Pair{base.Pairs[g]}
		if free[g+1] {
			list, _ := gearbox.Candidates(p.Box, base.Cluster, p.Stock, g+1, p.Limits.Allowed)
			cands[g] = list
		}
	}
	lo, hi := p.steps()
	f := p.newFrame(base.Cluster, base.Final, base.Drop)
	f.cand = cands
	var out []Near
	var walk func(pairs []*gearbox.Pair) error
	walk = func(pairs []*gearbox.Pair) error {
		g := len(pairs)
		if g == len(base.Pairs) {
			if err := ctx.Err(); err != nil {
				return err
			}
			if len(out) >= maxRanked {
				return fmt.Errorf("more than %d sets to compare; let fewer gears change", maxRanked)
			}
			set := &gearbox.Set{Cluster: base.Cluster, Final: base.Final, Drop: base.Drop, Pairs: append([]*gearbox.Pair(nil), pairs...)}
			if !wholeParts(set, p.Stock) {
				return nil
			}
			out = append(out, Near{Set: set})
			return nil
		}
		for _, q := range cands[g] {
			if g > 0 {
				// Two gears that both stay as they are need no rule here.
				fixed := !free[g] && !free[g+1]
				if !fixed && (!stepOK(pairs[g-1].Ratio(), q.Ratio(), lo, hi) || pairs[g-1].ID == q.ID) {
					continue
				}
			}
			if err := walk(append(pairs, q)); err != nil {
				return err
			}
		}
		return nil
	}
	if err := walk(nil); err != nil {
		return nil, err
	}
	if err := p.lapAll(ctx, out, func(k *sim.Solver, n *Near) { n.LapTime = k.LapTime(n.Set.TotalRatios()) }); err != nil {
		return nil, err
	}
	out = slices.DeleteFunc(out, func(n Near) bool { return math.IsInf(n.LapTime, 1) && !same(n.Set, base) })
	sort.SliceStable(out, func(i, j int) bool { return out[i].LapTime < out[j].LapTime })
	// The n best, and what laps as the last of them does.
	last := min(n, len(out))
	for last > 0 && last < len(out) && out[last].LapTime <= out[last-1].LapTime {
		last++
	}
	out = out[:last]
	if err := p.lapAll(ctx, out, func(k *sim.Solver, n *Near) { n.OutTime = k.OutTime(n.Set.TotalRatios()) }); err != nil {
		return nil, err
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].LapTime != out[j].LapTime {
			return out[i].LapTime < out[j].LapTime
		}
		return out[i].OutTime < out[j].OutTime
	})
	return out[:min(n, len(out))], nil
}

// lapAll does something with every set of a list, on all cores.
func (p *Problem) lapAll(ctx context.Context, list []Near, each func(*sim.Solver, *Near)) error {
	workers := max(1, min(runtime.GOMAXPROCS(0), len(list)/lapsPerWorker))
	parallel(workers, workers, func(w int) {
		k := p.Model.NewSolver()
		for n := w; n < len(list) && ctx.Err() == nil; n += workers {
			each(k, &list[n])
		}
	})
	return ctx.Err()
}

// lapsPerWorker is how many laps are worth another goroutine.
const lapsPerWorker = 8

func same(a, b *gearbox.Set) bool {
	for i := range a.Pairs {
		if a.Pairs[i].ID != b.Pairs[i].ID {
			return false
		}
	}
	return true
}

// wholeParts says whether every integral part in the set is used whole.
func wholeParts(set *gearbox.Set, stock *gearbox.Stock) bool {
	used := map[string]bool{}
	groups := map[string]bool{}
	for _, q := range set.Pairs {
		used[q.ID] = true
		if q.Group != "" {
			groups[q.Group] = true
		}
	}
	for i := range stock.Pairs {
		if q := &stock.Pairs[i]; groups[q.Group] && !used[q.ID] {
			return false
		}
	}
	return true
}
