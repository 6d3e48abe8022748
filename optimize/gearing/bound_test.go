package gearing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
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
// of every length, each completed in every way where these are few and at random
// where they are many, and then by improving the free gears one at a time. No
// completion may beat the bound that the search would have used, nor the tighter
// one that it would use if that completion were the best known. The whole of it
// (10,000 partial sets, 200 completions each) runs with the build tag "bound";
// otherwise a share.
func TestBound(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, c := range []boundCase{{"harrowdale", false}, {"quayside", false}, {"harrowdale", true}, {"saltmere", true}} {
		name := c.circuit + " lap"
		if c.second {
			name = c.circuit + " out lap"
		}
		t.Run(name, func(t *testing.T) { tryBound(t, c, boundSets/4, boundCompletions) })
	}
}

// boundRoom (s) is how much worse than the starting set a set may be and still
// be promised a bound: more than the search asks for, so that many are tried.
const boundRoom = 0.5

// space is the tree of the lap, calibrated for sets up to room (s) slower than a good
// one, with a maker of functions that score a set, one per goroutine, and the good one.
// The good one's frame has the links too that the search leaves out.
func (c boundCase) space(t *testing.T, room float64) (sp *space, scorer func() func([]int) float64, start stageResult) {
	p := demoProblem(t, c.circuit)
	var s *Settings
	pl, err := p.plan(s.withDefaults())
	require.NoError(t, err)
	f := pl.frames[0]
	sp = &space{f: f, stock: p.Stock}
	if c.second {
		sp.second, sp.lapMost = true, math.Inf(1)
		sp.out = newOutAccount(f, pl.outs, pl.ideal, 2)
		scorer = func() func([]int) float64 {
			k := f.m.NewSolver()
			return func(idx []int) float64 { return k.OutTime(f.totals(idx, nil)) }
		}
		start = improve(f, sp.out.someChain(), 2, scorer)
		sp.out.calibrate(start.score+room-sp.out.ideal, start.idx)
		sp.f = sp.out.f
		return sp, scorer, start
	}
	scorer = func() func([]int) float64 {
		k := f.m.NewSolver()
		return func(idx []int) float64 { return k.LapTime(f.totals(idx, nil)) }
	}
	sp.lap = newAccount(f, f.m, pl.zones, pl.ideal, 2)
	start = sp.lap.startingSet(f, p.Stock)
	sp.lap.calibrate(start.score+room-sp.lap.ideal, start.idx)
	sp.f = sp.lap.f
	return sp, scorer, start
}

// boundTrial is what one partial set came to.
type boundTrial struct {
	fault       string
	within, all bool    // within the promise; completed in every way
	room        float64 // s, from the bound up to the best completion
	tightest    float64 // s, the same for the bound with that completion's score as cutoff
}

func tryBound(t *testing.T, c boundCase, sets, completions int) {
	sp, scorer, start := c.space(t, boundRoom)
	most := start.score + boundRoom // s, sets up to here are promised a bound
	trials := make([]boundTrial, sets)
	workers := runtime.GOMAXPROCS(0)
	parallel(workers, workers, func(k int) {
		w, score := sp.NewWorker().(*worker), scorer()
		for i := k; i < sets; i += workers {
			// A source of its own for each partial set: any number of workers draws the same.
			r := rand.New(rand.NewPCG(4711, uint64(i)))
			trials[i] = boundTrialOf(r, w, start.frame, score, most, completions)
		}
	})
	least, tightest, within, all := math.Inf(1), math.Inf(1), 0, 0
	for i := range trials {
		tr := &trials[i]
		require.Empty(t, tr.fault, "partial set %d", i)
		if tr.within {
			within++
			least, tightest = math.Min(least, tr.room), math.Min(tightest, tr.tightest)
			if tr.all {
				all++
			}
		}
	}
	require.NotZero(t, within, "no partial set within the promise")
	t.Logf("%d partial sets, %d within %.1f s of a good set, %d of these completed in every way; closest bound %.3f ms below its best completion, with that as cutoff %.3f ms",
		sets, within, boundRoom, all, 1e3*least, 1e3*tightest)
}

func boundTrialOf(r *rand.Rand, w *worker, f *frame, score func([]int) float64, most float64, completions int) (tr boundTrial) {
	prefix, bound := randomPrefix(r, w, f, 1+r.IntN(f.n))
	full, few := everyCompletion(f, prefix, completions)
	for len(full) < completions && !few {
		full = append(full, complete(r, f, prefix))
	}
	best, idx := math.Inf(1), []int(nil)
	for _, try := range full {
		if v := score(try); v < best {
			best, idx = v, try
		}
	}
	if idx != nil && !few {
		best = improveFree(f, idx, len(prefix), score)
	}
	tr.all = few
	if best > most {
		return tr // not promised, or no lap at all
	}
	tr.within, tr.room = true, best-bound
	if bound > best+1e-9 {
		tr.fault = fmt.Sprintf("prefix %v: bound %.6f s above the %.6f s of its completion %v", prefix, bound, best, idx)
		return tr
	}
	tight, fault := descend(w, prefix, best)
	tr.tightest = best - tight
	if fault != "" {
		tr.fault = fmt.Sprintf("on the way to %v, %.6f s: %s", idx, best, fault)
	}
	return tr
}

// descend goes down the tree along the set with the score of a completion as cutoff
// and returns the greatest bound on the way; none may exceed the score.
func descend(w *worker, idx []int, score float64) (bound float64, fault string) {
	for len(w.idx) > 0 {
		w.Pop()
	}
	bound = math.Inf(-1)
	for g, choice := range idx {
		found := false
		for _, kid := range w.Children(nil, score) {
			if kid.Choice == choice {
				bound, found = math.Max(bound, kid.Bound), true
			}
		}
		switch {
		case !found:
			return bound, fmt.Sprintf("gear %d is cut off", g+1)
		case bound > score+1e-9:
			return bound, fmt.Sprintf("bound %.6f s at gear %d", bound, g+1)
		}
		w.Push(choice)
	}
	return bound, ""
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

// everyCompletion lists all ways to complete a prefix, unless there are more than
// most.
func everyCompletion(f *frame, prefix []int, most int) (all [][]int, few bool) {
	if len(prefix) == f.n {
		return [][]int{prefix}, true
	}
	for _, j := range f.next[len(prefix)-1][prefix[len(prefix)-1]] {
		some, few := everyCompletion(f, append(prefix[:len(prefix):len(prefix)], int(j)), most-len(all))
		if !few || len(all)+len(some) > most {
			return nil, false
		}
		all = append(all, some...)
	}
	return all, true
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
	sp, scorer, start := c.space(t, goodRoom)
	f, score := start.frame, scorer()
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
		bound, fault := descend(w, idx, value)
		require.Empty(t, fault, "set %v, %.6f s", idx, value)
		least = math.Min(least, value-bound)
		require.LessOrEqual(t, w.Score(value), value+1e-9, "set %v is not found again", idx)
	}
	require.Equal(t, sets, tried, "too few good sets")
	t.Logf("closest of %d sets: %.3f ms below", tried, 1e3*least)
}
