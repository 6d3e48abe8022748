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
	k := f.m.NewSolver()
	score := func(idx []int) float64 {
		f.check()
		if !f.groupsOK(idx, stock) {
			return math.Inf(1)
		}
		return k.LapTime(f.totals(idx, nil))
	}
	return improve(f, a.someChain(), score)
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

// improve changes one gear, then two neighbouring gears, to the best choice
// while the score falls. Deterministic: first best move in index order. The
// set comes back with score +Inf when no feasible one was met.
func improve(f *frame, idx []int, score func([]int) float64) stageResult {
	best := append([]int(nil), idx...)
	value := score(best)
	try := append([]int(nil), best...)
	for again := true; again; {
		again = false
		for g := range f.n {
			copy(try, best)
			for i := range f.cand[g] {
				try[g] = i
				if i == best[g] || !f.chainOK(try) {
					continue
				}
				if v := score(try); v < value-1e-12 {
					value, again = v, true
					copy(best, try)
				}
			}
			copy(try, best)
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
	k := f.m.NewSolver()
	return improve(f, idx, func(idx []int) float64 {
		f.check()
		if !f.groupsOK(idx, stock) {
			return math.Inf(1)
		}
		totals := f.totals(idx, nil)
		out := k.OutTime(totals)
		if math.IsInf(out, 1) || k.LapTime(totals) > s.lapMost {
			return math.Inf(1)
		}
		return out
	})
}
