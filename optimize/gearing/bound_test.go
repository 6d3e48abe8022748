package gearing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/optimize"
)

// boundCase is one lap whose bound is tried: the flying lap of a circuit with
// resetting corners, or the out lap.
type boundCase struct {
	circuit string
	second  bool
}

// TestBound tries the bound itself on the full demo stock: random partial sets
// of every length, each completed at random and by improving the free gears
// one at a time; no completion may beat the bound that the search would have
// used. The whole of it (10,000 partial sets, 200 completions each) runs with
// the build tag "bound"; otherwise a share.
func TestBound(t *testing.T) {
	for _, c := range []boundCase{{"harrowdale", false}, {"quayside", false}, {"harrowdale", true}, {"saltmere", true}} {
		name := c.circuit + " lap"
		if c.second {
			name = c.circuit + " out lap"
		}
		t.Run(name, func(t *testing.T) {
			sets := boundSets / 4
			if testing.Short() {
				t.Skip("long")
			}
			tryBound(t, c, sets, boundCompletions)
		})
	}
}

// boundRoom (s) is how much worse than the starting set a set may be and still
// be promised a bound: more than the search asks for, so that many are tried.
const boundRoom = 0.5

// space is the tree of the lap, calibrated for sets up to room (s) slower than a good
// one, with the score of a set and the good one, in the whole frame.
func (c boundCase) space(t *testing.T, room float64) (sp *space, score func([]int) float64, start stageResult) {
	p := demoProblem(t, c.circuit)
	var s *Settings
	pl, err := p.plan(s.withDefaults())
	require.NoError(t, err)
	f := pl.frames[0]
	sp = &space{f: f, stock: p.Stock}
	k := f.m.NewSolver()
	if c.second {
		sp.second, sp.lapMost = true, math.Inf(1)
		sp.out = newOutAccount(f, pl.outs, pl.ideal, 2)
		score = func(idx []int) float64 { return k.OutTime(f.totals(idx, nil)) }
		start = improve(f, sp.out.someChain(), 1, func() func([]int) float64 { return score })
		sp.out.calibrate(start.score+room-sp.out.ideal, start.idx)
		sp.f = sp.out.f
		return sp, score, start
	}
	score = func(idx []int) float64 { return k.LapTime(f.totals(idx, nil)) }
	sp.lap = newAccount(f, f.m, pl.zones, pl.ideal, 2)
	start = sp.lap.startingSet(f, p.Stock)
	sp.lap.calibrate(start.score+room-sp.lap.ideal, start.idx)
	sp.f = sp.lap.f
	return sp, score, start
}

func tryBound(t *testing.T, c boundCase, sets, completions int) {
	sp, score, start := c.space(t, boundRoom)
	f, most := start.frame, start.score+boundRoom // s, sets up to here are promised a bound
	r := rand.New(rand.NewPCG(4711, uint64(len(c.circuit))))
	w := sp.NewWorker().(*worker)
	least, tried := math.Inf(1), 0
	for range sets {
		prefix, bound := randomPrefix(r, w, f, 1+r.IntN(f.n))
		best := math.Inf(1)
		for range completions {
			if idx := complete(r, f, prefix); idx != nil {
				best = math.Min(best, score(idx))
			}
		}
		if idx := complete(r, f, prefix); idx != nil {
			best = math.Min(best, improveFree(f, idx, len(prefix), score))
		}
		if math.IsInf(best, 1) {
			continue
		}
		if best <= most {
			tried++
			least = math.Min(least, best-bound)
		}
		if bound > best+1e-9 && best <= most {
			t.Fatalf("prefix %v: bound %.6f s above a completion's %.6f s", prefix, bound, best)
		}
	}
	require.NotZero(t, tried, "no prefix within the promise")
	t.Logf("closest of %d bounds: %.3f ms below its best completion", tried, 1e3*least)
}

// randomPrefix descends the tree as the search does and returns the bound of
// the last choice.
func randomPrefix(r *rand.Rand, w *worker, f *frame, length int) (prefix []int, bound float64) {
	for len(w.idx) > 0 {
		w.Pop()
	}
	bound = math.Inf(-1)
	var kids []optimize.Child
	for len(prefix) < length {
		kids = w.Children(kids[:0], math.Inf(1))
		if len(kids) == 0 {
			break
		}
		// Half of the time a likely choice, so that good sets are met too.
		n := r.IntN(len(kids))
		if r.IntN(2) == 0 {
			for j := range kids {
				if kids[j].Bound < kids[n].Bound {
					n = j
				}
			}
		}
		bound = math.Max(bound, kids[n].Bound)
		w.Push(kids[n].Choice)
		prefix = append(prefix, kids[n].Choice)
	}
	return prefix, bound
}

func complete(r *rand.Rand, f *frame, prefix []int) []int {
	idx := append([]int(nil), prefix...)
	for len(idx) < f.n {
		next := f.next[len(idx)-1][idx[len(idx)-1]]
		if len(next) == 0 {
			return nil
		}
		idx = append(idx, int(next[r.IntN(len(next))]))
	}
	return idx
}

// improveFree changes one free gear at a time to the best.
func improveFree(f *frame, idx []int, fixed int, score func([]int) float64) float64 {
	value := score(idx)
	for again := true; again; {
		again = false
		for g := fixed; g < f.n; g++ {
			keep := idx[g]
			for i := range f.cand[g] {
				idx[g] = i
				if !f.chainOK(idx) {
					continue
				}
				if v := score(idx); v < value {
					value, keep, again = v, i, true
				}
			}
			idx[g] = keep
		}
	}
	return value
}

// goodRoom (s) is how far from the best the sets of TestBoundOfGoodSets may be.
const goodRoom = 0.04

// TestBoundOfGoodSets goes down the tree to sets near the best one with the set's
// own score as cutoff, where the bounds are tightest: none may exceed the score.
func TestBoundOfGoodSets(t *testing.T) {
	for _, c := range []boundCase{
		{"harrowdale", false}, {"quayside", false}, {"harrowdale", true}, {"quayside", true}, {"saltmere", true},
	} {
		name := c.circuit + " lap"
		if c.second {
			name = c.circuit + " out lap"
		}
		t.Run(name, func(t *testing.T) {
			sets := goodSets
			if testing.Short() {
				if c.second || c.circuit != "quayside" {
					t.Skip("long")
				}
				sets = 5
			}
			alongGoodSets(t, c, sets)
		})
	}
}

func alongGoodSets(t *testing.T, c boundCase, sets int) {
	sp, score, start := c.space(t, goodRoom)
	f := start.frame // with the links that the search leaves out
	if sp.out != nil && sp.out.oneZone() {
		sp.out.rest = newRestTable(sp.out, start.score+goodRoom-sp.out.ideal, 2, func(int, int) bool { return true })
	}
	r := rand.New(rand.NewPCG(815, uint64(len(c.circuit))))
	w := sp.NewWorker().(*worker)
	least, tried := math.Inf(1), 0
	idx := append([]int(nil), start.idx...)
	for range 200 * sets {
		if tried == sets {
			break
		}
		// A walk among good sets: a step that leads too far away is taken back.
		keep := append([]int(nil), idx...)
		for range 1 + r.IntN(3) {
			g := r.IntN(f.n)
			idx[g] = max(0, min(idx[g]+r.IntN(9)-4, len(f.cand[g])-1))
		}
		value := math.Inf(1)
		if f.chainOK(idx) && f.groupsOK(idx, sp.stock) {
			value = score(idx)
		}
		if value > start.score+goodRoom {
			idx = keep
			continue
		}
		tried++
		for len(w.idx) > 0 {
			w.Pop()
		}
		for g, choice := range idx {
			bound, found := math.Inf(1), false
			for _, kid := range w.Children(nil, value) {
				if kid.Choice == choice {
					bound, found = kid.Bound, true
				}
			}
			require.True(t, found, "set %v (%.6f s): its gear %d is cut off", idx, value, g+1)
			require.LessOrEqual(t, bound, value+1e-9, "set %v: bound at gear %d", idx, g+1)
			if g == f.n-1 {
				least = math.Min(least, value-bound)
			}
			w.Push(choice)
		}
		require.LessOrEqual(t, w.Score(value), value+1e-9, "set %v is not found again", idx)
	}
	require.Equal(t, sets, tried, "too few good sets")
	t.Logf("closest of %d sets: %.3f ms below", tried, 1e3*least)
}
