package gearing

import (
	"math"

	"layshaft/cars/gearbox"
)

// startingSet builds a good buildable set to start from: the chain with the
// least charges of an ideal-speed car, then better by one and two neighbouring
// gears at a time while that helps. Only a start: the search does not trust it
// to be best.
func (a *account) startingSet(f *frame, stock *gearbox.Stock) stageResult {
	return improve(f, a.someChain(), a.workers, func() func(idx []int) float64 {
		k := f.m.NewSolver()
		return func(idx []int) float64 {
			if !f.groupsOK(idx, stock) {
				return math.Inf(1)
			}
			return k.LapTime(f.totals(idx, nil))
		}
	})
}

// roughBudget (s) is a zone's budget before any set is known.
const roughBudget = 0.05

// someChain is the chain with the least charges: an estimate of a good set.
func (a *account) someChain() []int {
	return a.cheapestChain(a.newBudget(func(int) float64 { return roughBudget }))
}

// cheapestChain follows the programme's choices from the root.
func (a *account) cheapestChain(b *budget) []int {
	f := a.f
	best := -1
	for i, v := range b.togo[0] {
		if len(f.next[0][i]) > 0 && (best < 0 || v < b.togo[0][best]) {
			best = i
		}
	}
	idx := []int{best}
	for g := 0; g+1 < f.n; g++ {
		i := idx[g]
		pick, least := -1, math.Inf(1)
		for n, j := range f.next[g][i] {
			if c := b.step[g][i][n] + b.togo[g+1][j]; pick < 0 || c < least {
				pick, least = int(j), c
			}
		}
		idx = append(idx, pick)
	}
	return idx
}

// improve changes one gear at a time to the best choice while the score falls.
// Deterministic: of equal choices the first. scorer makes a score for one goroutine.
// The set comes back with score +Inf when no feasible one was met.
func improve(f *frame, idx []int, workers int, scorer func() func([]int) float64) stageResult {
	workers = max(workers, 1)
	scores := make(chan func([]int) float64, workers)
	for range workers {
		scores <- scorer()
	}
	score := <-scores
	best, value := append([]int(nil), idx...), score(idx)
	scores <- score
	for g, since := 0, 0; since < f.n; g, since = (g+1)%f.n, since+1 {
		values := make([]float64, len(f.cand[g]))
		f.parallel(workers, len(values), func(i int) {
			values[i] = math.Inf(1)
			try := append([]int(nil), best...)
			if try[g] = i; i != best[g] && f.chainOK(try) {
				score := <-scores
				values[i] = score(try)
				scores <- score
			}
		})
		for i, v := range values {
			if v < value-1e-12 {
				value, best[g], since = v, i, -1
			}
		}
	}
	return stageResult{frame: f, idx: best, score: value}
}

// chainOK says whether the rules between neighbours hold.
func (f *frame) chainOK(idx []int) bool {
	for g := range f.n - 1 {
		if math.IsNaN(f.cross[g][idx[g]][idx[g+1]]) {
			return false
		}
	}
	return f.n > 1 || len(idx) == 1
}

// outStart is the out lap (s) of some set that counts in the second stage,
// improved from the given one.
func (s *space) outStart(idx []int, stock *gearbox.Stock) stageResult {
	f := s.f
	return improve(f, idx, s.out.workers, func() func([]int) float64 {
		k := f.m.NewSolver()
		return func(idx []int) float64 {
			if !f.groupsOK(idx, stock) {
				return math.Inf(1)
			}
			if s.ring != nil && s.ring.bound(idx) > s.lapMost {
				return math.Inf(1)
			}
			totals := f.totals(idx, nil)
			alone := s.ring != nil && s.ring.inOneGear(idx) <= s.lapMost
			if !alone && k.LapTime(totals) > s.lapMost {
				return math.Inf(1)
			}
			return k.OutTime(totals)
		}
	})
}
