package gearing

import (
	"context"
	"fmt"
	"math"
	"slices"

	"layshaft/optimize"
	"layshaft/sim"
)

// stageOne finds the least flying lap, and the sets within the gap of it where no
// more than nearMost are.
func (pl *plan) stageOne(ctx context.Context, a *Answer, gr *ground) (stageResult, error) {
	ideal := pl.idealLap
	best := pl.firstSet(ctx)
	if pl.alone() && best.idx != nil {
		best.bound = best.score // nothing is open: there is no other set
		best.near = []finalist{{frame: best.frame, idx: best.idx, lap: best.score}}
		return best, nil
	}
	var near []finalist
	proved := math.Inf(1) // s, no set of the frames done laps quicker
	stopped := func() (stageResult, error) {
		best.status, best.bound = optimize.Stopped, min(proved, ideal, best.score)
		return best, nil
	}
	for i, f := range pl.frames {
		if ctx.Err() != nil {
			return stopped()
		}
		pl.tell(Preparing, best.score, min(proved, ideal))
		if pl.zones == nil {
			least := 0.0
			if !guard(func() { least = pl.ring(gr, &best, i) }) {
				return stopped()
			}
			proved = min(proved, least)
			if least < best.score-pl.s.Gap {
				// A lap with many shifts might be quicker: not decided here.
				best.status = optimize.Stopped
			}
			best.full = true
			continue
		}
		var target float64
		if !guard(func() { target = pl.account(gr, &best, i) }) {
			return stopped()
		}
		acc := gr.accounts[i]
		res, err := optimize.Search(ctx, &space{f: acc.f, stock: pl.p.Stock, lap: acc}, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: target, Within: pl.s.Gap, Most: nearMost,
			Progress: func(score, bound float64) { pl.tell(Searching, score, min(proved, max(bound, ideal))) },
		})
		if err := pl.take(a, &best, i, res, err); err != nil {
			return best, err
		}
		proved = min(proved, max(res.Bound, ideal))
		if res.Status == optimize.Stopped {
			if i == len(pl.frames)-1 {
				ideal = proved // no frame is left of which only the ideal lap is known
			}
			return stopped()
		}
		best.full = best.full || res.Full
		for _, c := range res.Near {
			near = append(near, finalist{frame: f, idx: c.Choice, lap: c.Score})
		}
	}
	best.bound = min(proved, best.score)
	if !best.full {
		best.near = within(near, best.score+pl.s.Gap, func(c *finalist) float64 { return c.lap })
	}
	return best, nil
}

// ring makes the tables of frame i on a circuit that nothing resets, and gives a
// lower bound (s) of its laps.
func (pl *plan) ring(gr *ground, best *stageResult, i int) float64 {
	f := pl.frames[i]
	whole := func(idx []int) bool { return f.groupsOK(idx, pl.p.Stock) }
	t := newRingTable(f, pl.ideal, &pl.s, whole)
	lap, idx := t.best(whole)
	gr.rings[i], gr.starts[i] = t, idx
	pl.better(best, i, idx, lap)
	return t.least(best.score, whole)
}

// account makes the tables of frame i, and gives the lap (s) above which its sets
// are of no interest.
func (pl *plan) account(gr *ground, best *stageResult, i int) float64 {
	f := pl.frames[i]
	acc := newAccount(f, f.m, pl.zones, pl.ideal, pl.s.Workers)
	acc.memoryMost = pl.s.memoryMost
	start := acc.startingSet(f, pl.p.Stock)
	pl.better(best, i, start.idx, start.score)
	good, target := start.idx, min(start.score, best.score)
	if best.frame == f {
		good = best.idx // the one constructed first may be the better one
	}
	pl.tell(Preparing, target, acc.ideal)
	acc.calibrate(target+pl.s.Gap-acc.ideal, good)
	gr.accounts[i], gr.starts[i] = acc, good
	return target
}

// stageTwo finds the least out lap among the sets whose flying lap is within the
// gap of the best.
func (pl *plan) stageTwo(ctx context.Context, a *Answer, first stageResult, gr *ground) (stageResult, error) {
	if first.near != nil {
		return pl.outLaps(ctx, first), nil
	}
	return pl.outSearch(ctx, a, first, gr)
}

// outFirst is the best of the second stage at its beginning: the best set of the
// first one.
func (pl *plan) outFirst(first stageResult) stageResult {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	out := pl.p.Model.NewSolver().OutTime(first.frame.totals(first.idx, nil))
	pl.better(&best, slices.Index(pl.frames, first.frame), first.idx, out)
	return best
}

// outLaps drives the out lap of every set that is left.
func (pl *plan) outLaps(ctx context.Context, first stageResult) stageResult {
	list, best := first.near, pl.outFirst(first)
	pl.tell(SearchingSecond, best.score, sumOf(pl.outs))
	parallel(pl.s.Workers, len(list), func(n int) {
		list[n].out = math.Inf(1)
		if ctx.Err() == nil || len(list) == 1 {
			list[n].out = pl.p.Model.NewSolver().OutTime(list[n].frame.totals(list[n].idx, nil))
		}
	})
	for n := range list {
		pl.better(&best, slices.Index(pl.frames, list[n].frame), list[n].idx, list[n].out)
	}
	best.bound = best.score
	if ctx.Err() != nil && len(list) > 1 {
		best.status, best.bound = optimize.Stopped, min(sumOf(pl.outs), best.score)
		return best
	}
	best.near = within(list, best.score+pl.s.Gap, func(c *finalist) float64 { return c.out })
	return best
}

// outSearch is stageTwo where the sets are too many to be listed: a search of its
// own.
func (pl *plan) outSearch(ctx context.Context, a *Answer, first stageResult, gr *ground) (stageResult, error) {
	best, ideal := pl.outFirst(first), sumOf(pl.outs)
	proved := math.Inf(1)
	stopped := func() (stageResult, error) {
		best.status, best.bound = optimize.Stopped, min(proved, ideal, best.score)
		return best, nil
	}
	lapMost := first.score + pl.s.Gap
	var near []finalist
	for i, f := range pl.frames {
		if gr.starts[i] == nil {
			continue // no set of this frame laps in time
		}
		if ctx.Err() != nil {
			return stopped()
		}
		pl.tell(PreparingSecond, best.score, min(proved, ideal))
		sp := &space{f: f, stock: pl.p.Stock, second: true, lapMost: lapMost, lap: gr.accounts[i], ring: gr.rings[i]}
		var target float64
		if !guard(func() { target = pl.outTables(sp, &best, i, first, gr.starts[i]) }) {
			return stopped()
		}
		cut := target
		if math.IsInf(cut, 1) {
			cut = 0
		}
		res, err := optimize.Search(ctx, sp, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: cut, Within: pl.s.Gap, Most: nearMost,
			Progress: func(score, bound float64) { pl.tell(SearchingSecond, score, min(proved, max(bound, ideal))) },
		})
		if err := pl.take(a, &best, i, res, err); err != nil {
			return best, err
		}
		proved = min(proved, max(res.Bound, ideal))
		if res.Status == optimize.Stopped {
			if i == len(pl.frames)-1 {
				ideal = proved
			}
			return stopped()
		}
		best.full = best.full || res.Full
		for _, c := range res.Near {
			near = append(near, finalist{frame: f, idx: c.Choice, out: c.Score})
		}
	}
	best.bound = min(proved, best.score)
	if !best.full && best.idx != nil {
		best.near = within(near, best.score+pl.s.Gap, func(c *finalist) float64 { return c.out })
		parallel(pl.s.Workers, len(best.near), func(n int) {
			c := &best.near[n]
			c.lap = pl.p.Model.NewSolver().LapTime(c.frame.totals(c.idx, nil))
		})
	}
	return best, nil
}

// outTables makes the tables of the out lap for frame i, and gives the out lap (s)
// above which its sets are of no interest. good is a good set of the frame.
func (pl *plan) outTables(sp *space, best *stageResult, i int, first stageResult, good []int) float64 {
	f := sp.f
	if sp.ring != nil {
		sp.ring.accept(sp.lapMost)
	}
	if sp.lap != nil {
		sp.f = sp.lap.f
	}
	sp.out = newOutAccount(sp.f, pl.outs, pl.ideal, pl.s.Workers)
	sp.out.memoryMost = pl.s.memoryMost
	sp.out.fixed = sp.lap != nil // both use the same links
	if f == first.frame {
		start := sp.outStart(first.idx, pl.p.Stock)
		pl.better(best, i, start.idx, start.score)
	}
	target := best.score
	if most := target + pl.s.Gap - sp.out.ideal; math.IsInf(most, 1) {
		sp.out.calibrate(0.5*sp.out.ideal, nil)
	} else {
		if best.frame == f {
			good = best.idx // else the best so far stands in another frame
		}
		sp.out.calibrate(most, good)
	}
	sp.f = sp.out.f
	if sp.out.oneZone() {
		sp.out.rest = newRestTable(sp.out, target+pl.s.Gap-sp.out.ideal, pl.s.Workers, func(g, i int) bool {
			return sp.ring == nil || sp.ring.usable(g, i)
		})
	}
	return target
}

// take books the search of frame i, and its best set where that is better.
func (pl *plan) take(a *Answer, best *stageResult, i int, res *optimize.Result, err error) error {
	a.Stats.Nodes += res.Nodes
	a.Stats.Laps += res.Leaves
	if err == nil && best.frame == pl.frames[i] && best.idx != nil {
		err = notFound(res)
	}
	if err == nil {
		pl.better(best, i, res.Choice, res.Score)
	}
	return err
}

// notFound says that a search has not come upon the set that it began with: a bound
// has cut it off.
func notFound(res *optimize.Result) error {
	if res.Choice != nil || res.Status == optimize.Stopped {
		return nil
	}
	return fmt.Errorf("%w: the set that the search began with", optimize.ErrBound)
}

// within keeps the finalists whose value is at most most, in their order.
func within(list []finalist, most float64, value func(*finalist) float64) []finalist {
	kept := []finalist{}
	for n := range list {
		if value(&list[n]) <= most {
			kept = append(kept, list[n])
		}
	}
	return kept
}

func newOutAccount(f *frame, zs []sim.Zone, e *sim.Ideal, workers int) *account {
	a := newAccount(f, f.m.FromPits(), zs, e, workers)
	a.slip = true
	a.zones[0].free = true
	return a
}
