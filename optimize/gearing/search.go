package gearing

import (
	"context"
	"errors"
	"math"
	"math/big"
	"runtime"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// Problem is what a search is asked: the lap, the stock, the box, the rules.
type Problem struct {
	Model  *sim.Model
	Box    *gearbox.Box
	Stock  *gearbox.Stock
	Limits Limits
}

// Settings of a search; nil or zero fields are the defaults.
type Settings struct {
	Gap      float64                   // s, width of a tie in the first stage; default 0.001
	Workers  int                       // default GOMAXPROCS
	Progress func(best, bound float64) // called now and then, by one goroutine at a time; may be nil
}

// DefaultGap is the width of a tie in lap time (s).
const DefaultGap = 0.001

func (s *Settings) withDefaults() Settings {
	var out Settings
	if s != nil {
		out = *s
	}
	if out.Gap <= 0 {
		out.Gap = DefaultGap
	}
	if out.Workers <= 0 {
		out.Workers = runtime.GOMAXPROCS(0)
	}
	return out
}

// ErrNoAnswer says that a search was stopped before it had any set.
var ErrNoAnswer = errors.New("gearing: stopped before the first buildable set was found")

// plan is a problem made ready: frames linked, the ideal car known.
type plan struct {
	p      *Problem
	s      Settings
	frames []*frame // distinct ones
	all    []*frame
	ideal  *sim.Ideal
	zones  []sim.Zone // of the flying lap; nil on a circuit without resetting places
	outs   []sim.Zone
	count  *big.Int
}

// Search finds the buildable set with the least lap time and proves it, then,
// among the sets whose lap is within the gap, the one with the least time for
// the second task. A cancelled context gives the best set so far with Status
// Stopped. The error is not nil when there is no answer at all (ErrNoAnswer)
// or when a bound turned out wrong (optimize.ErrBound).
func Search(ctx context.Context, p *Problem, s *Settings) (*Answer, error) {
	pl, err := p.plan(s.withDefaults())
	if err != nil {
		return nil, err
	}
	if pl.count.Sign() == 0 {
		return pl.infeasible(), nil
	}
	return pl.run(ctx)
}

// plan links the frames: the rules between pairs, and top gear's headroom at
// the top speed of the ideal car, which needs the ideal car of the pairs
// first.
func (p *Problem) plan(s Settings) (*plan, error) {
	frames, err := p.frames()
	if err != nil {
		return nil, err
	}
	pl := &plan{p: p, s: s, all: frames, count: new(big.Int)}
	lo, hi := p.steps()
	for _, f := range frames {
		f.link(lo, hi, func(float64) bool { return true })
	}
	pl.setIdeal()
	if p.Limits.TopHeadroomRPM >= 0 {
		// (11.1): the ideal car's top speed is an upper bound of any set's.
		v := p.topSpeed(pl)
		most := p.Model.LimiterRPM() - p.Limits.TopHeadroomRPM
		for _, f := range frames {
			f.link(lo, hi, func(total float64) bool { return p.Model.RPM(v, total) <= most })
		}
		pl.setIdeal()
	}
	seen := map[string]bool{}
	for _, f := range frames {
		n := f.count(p.Stock)
		pl.count.Add(pl.count, n)
		sig := f.signature()
		if n.Sign() == 0 || seen[sig] {
			continue
		}
		seen[sig] = true
		f.ready()
		pl.frames = append(pl.frames, f)
	}
	return pl, nil
}

func (pl *plan) setIdeal() {
	totals, etas := idealGears(pl.all, pl.p.Model.Car().Efficiency)
	if len(totals) == 0 {
		return
	}
	m := pl.p.Model
	pl.ideal = m.NewIdeal(totals, etas)
	pl.zones = m.FlyingZones(pl.ideal)
	pl.outs = m.OutZones(pl.ideal)
}

// topSpeed is the ideal car's top speed on the flying lap (m/s).
func (p *Problem) topSpeed(pl *plan) float64 {
	if pl.ideal == nil {
		return 0
	}
	return p.Model.IdealTopSpeed(pl.ideal)
}

// stageResult is the best of one stage over all frames.
type stageResult struct {
	frame  *frame
	idx    []int
	score  float64
	bound  float64
	status optimize.Status
}

func (pl *plan) run(ctx context.Context) (*Answer, error) {
	a := &Answer{SetsInSpace: pl.count}
	first, accounts, rings, starts, err := pl.stageOne(ctx, a)
	if err != nil {
		return nil, err
	}
	if first.idx == nil {
		if first.status == optimize.Stopped {
			return nil, ErrNoAnswer
		}
		a.Status = optimize.Infeasible
		a.Infeasible = pl.whyUndrivable()
		return a, nil
	}
	a.Stages = append(a.Stages, Stage{
		Name: "lap", Value: first.score, Gap: max(0, first.score-first.bound),
		Proved: first.status == optimize.Proved,
	})
	best := first
	if first.status == optimize.Proved {
		second, err := pl.stageTwo(ctx, a, first, accounts, rings, starts)
		if err != nil {
			return nil, err
		}
		if second.idx != nil {
			best = second
			a.Stages = append(a.Stages, Stage{
				Name: "out lap", Value: second.score, Gap: max(0, second.score-second.bound),
				Proved: second.status == optimize.Proved,
			})
		}
		if second.status == optimize.Stopped {
			first.status = optimize.Stopped
		}
	}
	a.Status = first.status
	a.Set, a.Ideal = best.frame.set(best.idx), pl.ideal
	totals := a.Set.TotalRatios()
	a.Lap = pl.p.Model.Lap(totals)
	a.OutLap = pl.p.Model.OutLap(totals)
	a.Gap = max(0, a.Lap.Time-first.bound)
	return a, nil
}

// stageOne finds the least flying lap.
func (pl *plan) stageOne(ctx context.Context, a *Answer) (stageResult, []*account, []*ringTable, [][]int, error) {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	accounts := make([]*account, len(pl.frames))
	rings := make([]*ringTable, len(pl.frames))
	starts := make([][]int, len(pl.frames)) // a good set of each frame
	for i, f := range pl.frames {
		if pl.zones == nil {
			t := newRingTable(f, pl.ideal, pl.s.Workers)
			rings[i] = t
			lap, idx := t.best(func(idx []int) bool { return f.groupsOK(idx, pl.p.Stock) })
			starts[i] = idx
			if lap < best.score {
				best.frame, best.score, best.idx = f, lap, idx
			}
			best.bound = min(best.bound, min(best.score, t.shifted))
			if best.bound < best.score-pl.s.Gap {
				// A lap with upshifts might be quicker: not decided here.
				best.status = optimize.Stopped
			}
			continue
		}
		acc := newAccount(f, f.m, pl.zones, pl.ideal, pl.s.Workers)
		accounts[i] = acc
		start := acc.startingSet(f, pl.p.Stock)
		starts[i] = start.idx
		target := min(start.score, best.score)
		if start.score < best.score {
			best.frame, best.idx, best.score = f, start.idx, start.score
		}
		acc.calibrate(target+pl.s.Gap-acc.ideal, start.idx)
		res, err := optimize.Search(ctx, &space{f: f, stock: pl.p.Stock, lap: acc}, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: target, Progress: pl.s.Progress,
		})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err != nil {
			return best, nil, nil, nil, err
		}
		if res.Choice != nil && (res.Score < best.score || (best.frame == f && res.Score <= best.score)) {
			best.frame, best.idx, best.score = f, res.Choice, res.Score
		}
		best.bound = min(best.bound, min(res.Bound, best.score))
		if res.Status == optimize.Stopped {
			best.status = optimize.Stopped
			// Frames not searched bound nothing better than their ideal lap.
			for range pl.frames[i+1:] {
				best.bound = min(best.bound, acc.ideal)
			}
			return best, accounts, rings, starts, nil
		}
	}
	best.bound = min(best.bound, best.score)
	return best, accounts, rings, starts, nil
}

// stageTwo finds the least out lap among the sets whose flying lap is within
// the gap of the best.
func (pl *plan) stageTwo(ctx context.Context, a *Answer, first stageResult, accounts []*account, rings []*ringTable, starts [][]int) (stageResult, error) {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	lapMost := first.score + pl.s.Gap
	for i, f := range pl.frames {
		if starts[i] == nil {
			continue // no set of this frame laps in time
		}
		sp := &space{f: f, stock: pl.p.Stock, second: true, lapMost: lapMost, lap: accounts[i], ring: rings[i]}
		if sp.ring != nil {
			sp.ring.accept(lapMost)
		}
		sp.out = newOutAccount(f, pl.outs, pl.ideal, pl.s.Workers)
		target := best.score
		if f == first.frame {
			start := sp.outStart(first.idx, pl.p.Stock)
			if start.idx != nil && start.score < best.score {
				best.frame, best.idx, best.score = f, start.idx, start.score
				target = start.score
			}
		}
		if most := target - sp.out.ideal; math.IsInf(most, 1) {
			sp.out.calibrate(0.5*sp.out.ideal, nil)
		} else {
			good := best.idx
			if best.frame != f {
				good = starts[i] // the best so far stands in another frame
			}
			sp.out.calibrate(most, good)
		}
		if sp.out.oneZone() {
			sp.out.rest = newRestTable(sp.out, target-sp.out.ideal, pl.s.Workers, func(g, i int) bool {
				return sp.ring == nil || sp.ring.shifted <= lapMost || sp.ring.leads[g][i] || sp.ring.anyGoodBefore(g)
			})
		}
		cut := target
		if math.IsInf(cut, 1) {
			cut = 0
		}
		res, err := optimize.Search(ctx, sp, &optimize.Settings{Workers: pl.s.Workers, Cutoff: cut})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err != nil {
			return best, err
		}
		if res.Choice != nil && (res.Score < best.score || (best.frame == f && res.Score <= best.score)) {
			best.frame, best.idx, best.score = f, res.Choice, res.Score
		}
		best.bound = min(best.bound, res.Bound)
		if res.Status == optimize.Stopped {
			best.status = optimize.Stopped
			return best, nil
		}
	}
	best.bound = min(best.bound, best.score)
	return best, nil
}

func newOutAccount(f *frame, zs []sim.Zone, e *sim.Ideal, workers int) *account {
	a := newAccount(f, f.m.FromPits(), zs, e, workers)
	a.slip = true
	a.zones[0].free = true
	return a
}
