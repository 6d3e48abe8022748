package gearing

import (
	"context"
	"errors"
	"math"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
)

// firstSet constructs a set before any table is made, so that there is an answer
// early: chains near a few ladders of ratios, the quickest of them. idx is nil when
// none of them drives the lap, or when ctx was cancelled before there was one.
func (pl *plan) firstSet(ctx context.Context) stageResult {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	k, top := pl.p.Model.NewSolver(), pl.p.topSpeed(pl)
	for i, f := range pl.frames {
		for _, ladder := range f.ladders(top) {
			// A deadline that has passed does not count before there is a set.
			if err := ctx.Err(); err != nil && (best.idx != nil || !errors.Is(err, context.DeadlineExceeded)) {
				return best
			}
			idx := f.nearest(pl.p.Stock, ladder)
			if idx == nil {
				break // no set in this frame at all
			}
			pl.better(&best, i, idx, k.LapTime(f.totals(idx, nil)))
		}
	}
	return best
}

// steepness (read-only) are the shares of the way from the shortest first gear to
// the tallest at which the ladders begin, spread how far they reach from there to
// the tallest top gear that is of use.
var (
	steepness = [...]float64{0.3, 0.6, 0}
	reaches   = [...]float64{1, 0.9, 1.08}
)

// ladders are total ratios, gear by gear in equal steps, from a first gear to a top
// gear that turns the shift speed about at the speed v (m/s).
func (f *frame) ladders(v float64) [][]float64 {
	shortest, tallest := 0.0, math.Inf(1)
	for _, t := range f.total[0] {
		shortest, tallest = max(shortest, t), min(tallest, t)
	}
	perRPM := f.m.RPM(max(v, 1), 1)
	var out [][]float64
	for _, s := range steepness {
		for _, r := range reaches {
			from := shortest * math.Pow(tallest/shortest, s)
			to := f.m.ShiftRPM() / perRPM / r
			ladder := make([]float64, f.n)
			for g := range ladder {
				ladder[g] = from * math.Pow(to/from, float64(g)/float64(max(f.n-1, 1)))
			}
			out = append(out, ladder)
		}
	}
	return out
}

// nearest is the chain of candidates, integral parts whole, whose total ratios come
// nearest to the ladder's, by the sum of squared logarithms; nil when the frame has
// no set. Equal ones: the first in order of candidates.
func (f *frame) nearest(stock *gearbox.Stock, ladder []float64) []int {
	return f.cheapest(stock, func(g, i int) float64 {
		d := math.Log(f.total[g][i] / ladder[g])
		return d * d
	})
}

// any says whether the frame has a set.
func (f *frame) any(stock *gearbox.Stock) bool {
	return f.cheapest(stock, func(int, int) float64 { return 0 }) != nil
}

// cheapest is the chain with the least sum of costs, integral parts whole; nil when
// there is none. Like count it runs once over the gears for every choice of parts.
func (f *frame) cheapest(stock *gearbox.Stock, cost func(g, i int) float64) []int {
	var best []int
	least := math.Inf(1)
	f.eachParts(stock, func(need int, grouped groupOf) {
		if idx, c := f.cheapestWith(need, grouped, cost); c < least {
			best, least = idx, c
		}
	})
	return best
}

// cheapestWith is cheapest among the chains with need pairs of integral parts.
func (f *frame) cheapestWith(need int, grouped groupOf, cost func(g, i int) float64) ([]int, float64) {
	type step struct {
		cost float64 // of the chain from here to the last gear
		next int32
	}
	// togo[g][i][k]: from candidate i on, with k pairs of parts from it on.
	togo := make([][][]step, f.n)
	for g := f.n - 1; g >= 0; g-- {
		togo[g] = make([][]step, len(f.cand[g]))
		for i := range f.cand[g] {
			row := make([]step, need+1)
			for k := range row {
				row[k] = step{cost: math.Inf(1), next: -1}
			}
			togo[g][i] = row
			own, ok := grouped(g, i)
			if !ok {
				continue
			}
			if g == f.n-1 {
				if own <= need {
					row[own] = step{cost: cost(g, i), next: -1}
				}
				continue
			}
			c := cost(g, i)
			for _, j := range f.next[g][i] {
				for k, s := range togo[g+1][j][:need+1-own] {
					if s.cost+c < row[k+own].cost {
						row[k+own] = step{cost: s.cost + c, next: j}
					}
				}
			}
		}
	}
	at, least := -1, math.Inf(1)
	for i := range togo[0] {
		if c := togo[0][i][need].cost; c < least {
			at, least = i, c
		}
	}
	if at < 0 {
		return nil, least
	}
	idx := []int{at}
	for g, k := 0, need; g+1 < f.n; g++ {
		own, _ := grouped(g, idx[g])
		next := int(togo[g][idx[g]][k].next)
		k -= own
		idx = append(idx, next)
	}
	return idx, least
}
