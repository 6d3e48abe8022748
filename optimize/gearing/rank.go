package gearing

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync/atomic"

	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// Rank returns the best n sets in which only the listed gears (from 1) differ
// from base, base itself included, best first. Equal laps are settled for the
// better out lap, then for stock order. It laps every such set, so keep the
// list of gears short; more than maxRanked sets are refused.
func Rank(ctx context.Context, p *Problem, base *gearbox.Set, gears []int, n int) ([]Near, error) {
	sets, err := Sets(ctx, p, base, gears, nil, maxRanked)
	if err != nil {
		return nil, err
	}
	out, err := LapAll(ctx, p, sets, nil)
	if err != nil {
		return nil, err
	}
	out = slices.DeleteFunc(out, func(n Near) bool { return math.IsInf(n.LapTime, 1) && !same(n.Set, base) })
	// The n best, and what laps as the last of them does.
	last := min(n, len(out))
	for last > 0 && last < len(out) && out[last].LapTime <= out[last-1].LapTime {
		last++
	}
	out = out[:last]
	if err := OutLaps(ctx, p, out); err != nil {
		return nil, err
	}
	return out[:min(n, len(out))], nil
}

// maxRanked is the most sets that Rank will lap one by one.
const maxRanked = 200_000

// TooManyError says that more sets answer a question than may be lapped for it.
type TooManyError struct{ Most int }

// Error names the limit and what to do.
func (e *TooManyError) Error() string {
	return fmt.Sprintf("more than %d sets to compare; let fewer gears change", e.Most)
}

// Sets lists, in the order of the candidates, every buildable set in which only the
// listed gears (from 1) differ from base, which is one of them where its own pairs
// are allowed; with more than most it is a TooManyError. may says which pairs may
// stand in a listed gear beside what slot and Limits.Allowed ask; nil = all. Rules
// between two gears that both stay as they are are not asked again.
func Sets(ctx context.Context, p *Problem, base *gearbox.Set, gears []int, may func(gear int, q *gearbox.Pair) bool, most int) ([]*gearbox.Set, error) {
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
			cands[g] = slices.DeleteFunc(list, func(q *gearbox.Pair) bool { return may != nil && !may(g+1, q) })
		}
	}
	lo, hi := p.steps()
	var out []*gearbox.Set
	var walk func(pairs []*gearbox.Pair) error
	walk = func(pairs []*gearbox.Pair) error {
		g := len(pairs)
		if g == len(base.Pairs) {
			if err := ctx.Err(); err != nil {
				return err
			}
			set := &gearbox.Set{Cluster: base.Cluster, Final: base.Final, Drop: base.Drop, Pairs: slices.Clone(pairs)}
			if !wholeParts(set, p.Stock) {
				return nil
			}
			if len(out) >= most {
				return &TooManyError{Most: most}
			}
			out = append(out, set)
			return nil
		}
		for _, q := range cands[g] {
			if g > 0 && (free[g] || free[g+1]) && (!stepOK(pairs[g-1].Ratio(), q.Ratio(), lo, hi) || pairs[g-1].ID == q.ID) {
				continue
			}
			if err := walk(append(pairs, q)); err != nil {
				return err
			}
		}
		return nil
	}
	err := walk(nil)
	return out, err
}

// LapAll drives a flying lap with every set and hands them back best first, equal
// ones in the order given; +Inf where a set cannot drive it. told, which may be
// nil, hears from time to time how many are done, from any goroutine.
func LapAll(ctx context.Context, p *Problem, sets []*gearbox.Set, told func(done int)) ([]Near, error) {
	out := make([]Near, len(sets))
	for i, s := range sets {
		out[i].Set = s
	}
	var done atomic.Int64
	err := p.lapAll(ctx, out, func(k *sim.Solver, n *Near) {
		n.LapTime = k.LapTime(n.Set.TotalRatios())
		if d := int(done.Add(1)); told != nil && d%lapsPerWorker == 0 {
			told(d)
		}
	})
	sort.SliceStable(out, func(i, j int) bool { return out[i].LapTime < out[j].LapTime })
	return out, err
}

// OutLaps drives the out lap of every set of a list in order of laps, and puts
// equal laps in order of their out laps.
func OutLaps(ctx context.Context, p *Problem, list []Near) error {
	err := p.lapAll(ctx, list, func(k *sim.Solver, n *Near) { n.OutTime = k.OutTime(n.Set.TotalRatios()) })
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].LapTime != list[j].LapTime {
			return list[i].LapTime < list[j].LapTime
		}
		return list[i].OutTime < list[j].OutTime
	})
	return err
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
