package gearing

import (
	"math"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// space is the tree of sets of one frame: first gear first.
type space struct {
	f     *frame
	stock *gearbox.Stock

	lap *account // flying lap; nil where no place resets the speed
	out *account // out lap; nil in the first stage

	// In the second stage only sets whose flying lap is at most lapMost count.
	second  bool
	lapMost float64
	ring    *ringTable // flying laps of a circuit without resetting places
}

// Depth is the number of gears.
func (s *space) Depth() int { return s.f.n }

// NewWorker makes a worker with its own memory.
func (s *space) NewWorker() optimize.Worker {
	w := &worker{s: s, solver: s.f.m.NewSolver()}
	if s.lap != nil {
		w.lap = newWalk(s.lap)
	}
	if s.out != nil {
		w.out = newWalk(s.out)
	}
	return w
}

// worker walks the tree. Its score is the flying lap in the first stage, the
// out lap in the second.
type worker struct {
	s        *space
	solver   *sim.Solver
	lap, out *walk
	idx      []int
	chosen   []int // scratch
	totals   []float64
}

// Children implements optimize.Worker.
func (w *worker) Children(dst []optimize.Child, cutoff float64) []optimize.Child {
	f := w.s.f
	g := len(w.idx) - 1 // the gear chosen last
	if g < 0 {
		for i := range f.cand[0] {
			if len(f.next[0][i]) == 0 {
				continue
			}
			if b, ok := w.rootBound(i, cutoff); ok {
				dst = append(dst, optimize.Child{Choice: i, Bound: b})
			}
		}
		return dst
	}
	i := w.idx[g]
	if len(f.next[g][i]) == 0 {
		return dst
	}
	for n, j := range f.next[g][i] {
		if b, ok := w.bound(g, i, n, int(j), cutoff); ok {
			dst = append(dst, optimize.Child{Choice: int(j), Bound: b})
		}
	}
	return dst
}

func (w *worker) rootBound(i int, cutoff float64) (float64, bool) {
	b := math.Inf(-1)
	if w.lap != nil {
		lb := w.s.lap.ideal + w.s.lap.levels[0].togo[0][i]
		if w.s.second {
			if lb > w.s.lapMost {
				return 0, false
			}
		} else {
			b = lb
		}
	}
	if w.s.second && w.out != nil {
		b = w.s.out.ideal + w.s.out.levels[0].togo[0][i]
	}
	return b, b <= cutoff
}

// bound is the child's bound in the stage's own score, and whether it can be
// of interest.
func (w *worker) bound(g, i, n, j int, cutoff float64) (float64, bool) {
	if !w.s.second {
		b := w.lap.childBound(g, i, n, j, cutoff)
		return b, b <= cutoff
	}
	if w.s.ring != nil {
		w.chosen = append(append(w.chosen[:0], w.idx...), j)
		if !w.s.ring.mayBe(w.chosen) {
			return 0, false
		}
	}
	if w.lap != nil {
		if w.lap.childBound(g, i, n, j, w.s.lapMost) > w.s.lapMost {
			return 0, false
		}
	}
	b := w.out.childBound(g, i, n, j, cutoff)
	return b, b <= cutoff
}

// Push implements optimize.Worker.
func (w *worker) Push(choice int) {
	g := len(w.idx)
	p, n := -1, 0
	if g > 0 {
		p = w.idx[g-1]
		for int(w.s.f.next[g-1][p][n]) != choice {
			n++
		}
	}
	w.idx = append(w.idx, choice)
	for _, wk := range [2]*walk{w.lap, w.out} {
		if wk != nil {
			wk.enter(g, p, n, choice)
		}
	}
}

// Pop implements optimize.Worker.
func (w *worker) Pop() { w.idx = w.idx[:len(w.idx)-1] }

// Score implements optimize.Worker: exact when at most cutoff.
func (w *worker) Score(cutoff float64) float64 {
	f := w.s.f
	if !f.groupsOK(w.idx, w.s.stock) {
		return math.Inf(1)
	}
	w.totals = f.totals(w.idx, w.totals)
	if !w.s.second {
		if w.lap != nil {
			if b := w.lap.total(cutoff); b-1e-9 > cutoff {
				return math.Inf(1)
			}
		}
		return w.solver.LapTime(w.totals)
	}
	if w.out != nil {
		if b := w.out.total(cutoff); b-1e-9 > cutoff {
			return math.Inf(1)
		}
	}
	if w.s.ring != nil && w.s.ring.bound(w.idx) > w.s.lapMost+1e-9 {
		return math.Inf(1)
	}
	if w.lap != nil {
		if b := w.lap.total(w.s.lapMost); b-1e-9 > w.s.lapMost {
			return math.Inf(1)
		}
	}
	out := w.solver.OutTime(w.totals)
	if out > cutoff || !w.laps() {
		return math.Inf(1)
	}
	return out
}

// laps says whether the set's flying lap is within the time that counts.
func (w *worker) laps() bool {
	if w.s.ring != nil && w.s.ring.inOneGear(w.idx) <= w.s.lapMost {
		return true
	}
	return w.solver.LapTime(w.totals) <= w.s.lapMost
}
