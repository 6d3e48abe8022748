package gearing

import (
	"context"
	"errors"
	"fmt"
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
	near   []finalist // all sets within the gap of the best; nil when they are too many to list, or not listed
	full   bool       // they are too many
}

// ground is what the stages share, by frame.
type ground struct {
	accounts []*account
	rings    []*ringTable
	starts   [][]int // a good set of each frame; nil where none laps
}

// spinWarning is told with every answer for a car whose engine's spin comes back in
// shifts: the ideal car has none to give back.
const spinWarning = "the engine's spin is given back in upshifts (shift_inertia_return_ratio > 0): for such a car the bounds of the search are tried on many cases, not argued"

// nearMost is the longest list of sets within the gap that a stage makes. A list
// of laps is also lapped out of the pits, set by set.
const nearMost = 2000

func (pl *plan) run(ctx context.Context) (*Answer, error) {
	a := &Answer{SetsInSpace: pl.count}
	if pl.p.Model.Car().ShiftInertiaReturn > 0 {
		a.Warnings = append(a.Warnings, spinWarning)
	}
	gr := &ground{accounts: make([]*account, len(pl.frames)), rings: make([]*ringTable, len(pl.frames)), starts: make([][]int, len(pl.frames))}
	first, err := pl.stageOne(ctx, a, gr)
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
	best := &finalist{frame: first.frame, idx: first.idx}
	if first.status == optimize.Proved {
		second, err := pl.stageTwo(ctx, a, first, gr)
		if err != nil {
			return nil, err
		}
		if second.idx != nil {
			a.Stages = append(a.Stages, Stage{
				Name: "out lap", Value: second.score, Gap: max(0, second.score-second.bound),
				Proved: second.status == optimize.Proved,
			})
			best = &finalist{frame: second.frame, idx: second.idx}
			if second.near != nil {
				best = pl.byRules(a, second.near)
			}
		}
		if second.status == optimize.Stopped {
			first.status = optimize.Stopped
		}
		pl.listNear(a, first.near, second.near)
	}
	a.Status = first.status
	a.Set, a.Ideal = best.frame.set(best.idx), pl.ideal
	totals := a.Set.TotalRatios()
	a.Lap = pl.p.Model.Lap(totals)
	a.OutLap = pl.p.Model.OutLap(totals)
	a.Gap = max(0, a.Lap.Time-first.bound)
	if err := pl.again(a); err != nil {
		return nil, err
	}
	return a, nil
}

// stageOne finds the least flying lap, and the sets within the gap of it where no
// more than nearMost are.
func (pl *plan) stageOne(ctx context.Context, a *Answer, gr *ground) (stageResult, error) {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	var near []finalist
	for i, f := range pl.frames {
		if pl.zones == nil {
			whole := func(idx []int) bool { return f.groupsOK(idx, pl.p.Stock) }
			t := newRingTable(f, pl.ideal, &pl.s, whole)
			gr.rings[i] = t
			lap, idx := t.best(whole)
			gr.starts[i] = idx
			if lap < best.score {
				best.frame, best.score, best.idx = f, lap, idx
			}
			best.bound = min(best.bound, t.least(best.score, whole))
			if best.bound < best.score-pl.s.Gap {
				// A lap with many shifts might be quicker: not decided here.
				best.status = optimize.Stopped
			}
			best.full = true
			continue
		}
		acc := newAccount(f, f.m, pl.zones, pl.ideal, pl.s.Workers)
		gr.accounts[i] = acc
		start := acc.startingSet(f, pl.p.Stock)
		gr.starts[i] = start.idx
		target := min(start.score, best.score)
		if start.score < best.score {
			best.frame, best.idx, best.score = f, start.idx, start.score
		}
		acc.calibrate(target+pl.s.Gap-acc.ideal, start.idx)
		res, err := optimize.Search(ctx, &space{f: acc.f, stock: pl.p.Stock, lap: acc}, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: target, Progress: pl.s.Progress, Within: pl.s.Gap, Most: nearMost,
		})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err == nil && best.frame == f && best.idx != nil {
			err = notFound(res)
		}
		if err != nil {
			return best, err
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
			return best, nil
		}
		best.full = best.full || res.Full
		for _, c := range res.Near {
			near = append(near, finalist{frame: f, idx: c.Choice, lap: c.Score})
		}
	}
	best.bound = min(best.bound, best.score)
	if !best.full {
		best.near = within(near, best.score+pl.s.Gap, func(c *finalist) float64 { return c.lap })
	}
	return best, nil
}

// stageTwo finds the least out lap among the sets whose flying lap is within the
// gap of the best.
func (pl *plan) stageTwo(ctx context.Context, a *Answer, first stageResult, gr *ground) (stageResult, error) {
	if first.near != nil {
		return pl.outLaps(ctx, first.near), nil
	}
	return pl.outSearch(ctx, a, first, gr)
}

// outLaps drives the out lap of every set that is left.
func (pl *plan) outLaps(ctx context.Context, list []finalist) stageResult {
	best := stageResult{score: math.Inf(1), status: optimize.Proved}
	parallel(pl.s.Workers, len(list), func(n int) {
		list[n].out = math.Inf(1)
		if ctx.Err() == nil {
			list[n].out = pl.p.Model.NewSolver().OutTime(list[n].frame.totals(list[n].idx, nil))
		}
	})
	for n := range list {
		if list[n].out < best.score {
			best.frame, best.idx, best.score = list[n].frame, list[n].idx, list[n].out
		}
	}
	best.bound = best.score
	if ctx.Err() != nil {
		best.status, best.bound = optimize.Stopped, math.Inf(-1)
		return best
	}
	best.near = within(list, best.score+pl.s.Gap, func(c *finalist) float64 { return c.out })
	return best
}

// outSearch is stageTwo where the sets are too many to be listed: a search of its
// own.
func (pl *plan) outSearch(ctx context.Context, a *Answer, first stageResult, gr *ground) (stageResult, error) {
	best := stageResult{score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	lapMost := first.score + pl.s.Gap
	var near []finalist
	for i, f := range pl.frames {
		if gr.starts[i] == nil {
			continue // no set of this frame laps in time
		}
		sp := &space{f: f, stock: pl.p.Stock, second: true, lapMost: lapMost, lap: gr.accounts[i], ring: gr.rings[i]}
		if sp.ring != nil {
			sp.ring.accept(lapMost)
		}
		if sp.lap != nil {
			sp.f = sp.lap.f
		}
		sp.out = newOutAccount(sp.f, pl.outs, pl.ideal, pl.s.Workers)
		sp.out.fixed = sp.lap != nil // both use the same links
		target := best.score
		if f == first.frame {
			start := sp.outStart(first.idx, pl.p.Stock)
			if start.idx != nil && start.score < best.score {
				best.frame, best.idx, best.score = f, start.idx, start.score
				target = start.score
			}
		}
		if most := target + pl.s.Gap - sp.out.ideal; math.IsInf(most, 1) {
			sp.out.calibrate(0.5*sp.out.ideal, nil)
		} else {
			good := best.idx
			if best.frame != f {
				good = gr.starts[i] // the best so far stands in another frame
			}
			sp.out.calibrate(most, good)
		}
		sp.f = sp.out.f
		if sp.out.oneZone() {
			sp.out.rest = newRestTable(sp.out, target+pl.s.Gap-sp.out.ideal, pl.s.Workers, func(g, i int) bool {
				return sp.ring == nil || sp.ring.usable(g, i)
			})
		}
		cut := target
		if math.IsInf(cut, 1) {
			cut = 0
		}
		res, err := optimize.Search(ctx, sp, &optimize.Settings{Workers: pl.s.Workers, Cutoff: cut, Within: pl.s.Gap, Most: nearMost})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err == nil && best.frame == f && best.idx != nil {
			err = notFound(res)
		}
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
		best.full = best.full || res.Full
		for _, c := range res.Near {
			near = append(near, finalist{frame: f, idx: c.Choice, out: c.Score})
		}
	}
	best.bound = min(best.bound, best.score)
	if !best.full && best.idx != nil {
		best.near = within(near, best.score+pl.s.Gap, func(c *finalist) float64 { return c.out })
		parallel(pl.s.Workers, len(best.near), func(n int) {
			c := &best.near[n]
			c.lap = pl.p.Model.NewSolver().LapTime(c.frame.totals(c.idx, nil))
		})
	}
	return best, nil
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
