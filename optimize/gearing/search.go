package gearing

import (
	"context"
	"errors"
	"math"
	"math/big"
	"runtime"
	"slices"

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
	Gap      float64        // s, width of a tie in the first stage; default 0.001
	Workers  int            // default GOMAXPROCS
	Progress func(Progress) // called when something has changed, by one goroutine at a time; may be nil
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
// the second task. When ctx ends, at whatever moment after the first buildable set,
// the answer is the best set so far with Status Stopped and the gap that is known
// then; before it the error is ErrNoAnswer, unless ctx ended by its deadline: who
// gives little time still wants a set. The error is not nil besides when a bound
// turned out wrong (optimize.ErrBound).
func Search(ctx context.Context, p *Problem, s *Settings) (*Answer, error) {
	pl, err := p.plan(s.withDefaults())
	if err != nil {
		return nil, err
	}
	if pl.count.Sign() == 0 {
		return pl.infeasible(ctx), nil
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
		p.linkTop(frames, p.topSpeed(pl))
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

// linkTop links the frames by the steps and by top gear's headroom at the speed v (m/s).
func (p *Problem) linkTop(frames []*frame, v float64) {
	lo, hi := p.steps()
	most := p.Model.LimiterRPM() - p.Limits.TopHeadroomRPM
	for _, f := range frames {
		f.link(lo, hi, func(total float64) bool { return p.Model.RPM(v, total) <= most })
	}
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

// known is what the first stage leaves to the second, by frame.
type known struct {
	accounts []*account
	rings    []*ringTable
	starts   [][]int // a good set
}

func (pl *plan) run(ctx context.Context) (*Answer, error) {
	pl.watch(ctx)
	a := &Answer{SetsInSpace: pl.count}
	first, k, err := pl.stageOne(ctx, a)
	if err != nil {
		return nil, err
	}
	if pl.alone() && first.idx != nil {
		// Nothing is open: there is no other set.
		first.status, first.bound = optimize.Proved, first.score
	}
	if first.idx == nil {
		if first.status == optimize.Stopped {
			return nil, ErrNoAnswer
		}
		return pl.undrivable(ctx), nil
	}
	a.Stages = append(a.Stages, Stage{
		Name: "lap", Value: first.score, Gap: max(0, first.score-first.bound),
		Proved: first.status == optimize.Proved,
	})
	best := first
	if first.status == optimize.Proved {
		second, err := pl.stageTwo(ctx, a, first, k)
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
	if a.Status == optimize.Stopped {
		a.Open = why(ctx)
	}
	pl.tell(Checking, best.score, best.bound)
	a.Set = best.frame.set(best.idx)
	totals := a.Set.TotalRatios()
	a.Lap = pl.p.Model.Lap(totals)
	a.OutLap = pl.p.Model.OutLap(totals)
	a.Gap = max(0, a.Lap.Time-first.bound)
	return a, nil
}

// alone says whether there is only one set that can be built.
func (pl *plan) alone() bool { return pl.count.IsInt64() && pl.count.Int64() == 1 }

// better takes another result, of frame i, if it is better, or as good and from no
// later a frame: equal ones go to the first in order.
func (pl *plan) better(best *stageResult, i int, idx []int, score float64) {
	if idx == nil || math.IsInf(score, 1) || score > best.score {
		return
	}
	if score == best.score && best.idx != nil && slices.Index(pl.frames, best.frame) < i {
		return
	}
	best.frame, best.idx, best.score = pl.frames[i], idx, score
}

// watch makes the work on the frames leave off when ctx ends.
func (pl *plan) watch(ctx context.Context) {
	for _, f := range pl.frames {
		f.ended = func() bool { return ctx.Err() != nil }
	}
}

// stageOne finds the least flying lap.
func (pl *plan) stageOne(ctx context.Context, a *Answer) (stageResult, known, error) {
	n := len(pl.frames)
	k := known{accounts: make([]*account, n), rings: make([]*ringTable, n), starts: make([][]int, n)}
	ideal := pl.p.Model.IdealLap(pl.ideal)
	best := pl.firstSet(ctx)
	if pl.alone() && best.idx != nil {
		return best, k, nil
	}
	proved := math.Inf(1) // s, no set of the frames done laps quicker
	stopped := func() (stageResult, known, error) {
		best.status, best.bound = optimize.Stopped, min(proved, ideal, best.score)
		return best, k, nil
	}
	for i, f := range pl.frames {
		if ctx.Err() != nil {
			return stopped()
		}
		pl.tell(Preparing, best.score, min(proved, ideal))
		if pl.zones == nil {
			if !guard(func() { pl.ring(&k, &best, i) }) {
				return stopped()
			}
			bound := min(best.score, k.rings[i].shifted)
			proved = min(proved, bound)
			if bound < best.score-pl.s.Gap {
				// A lap with upshifts might be quicker: not decided here.
				best.status = optimize.Stopped
			}
			continue
		}
		var target float64
		if !guard(func() { target = pl.account(&k, &best, i) }) {
			return stopped()
		}
		res, err := optimize.Search(ctx, &space{f: f, stock: pl.p.Stock, lap: k.accounts[i]}, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: target,
			Progress: func(score, bound float64) { pl.tell(Searching, score, min(proved, max(bound, ideal))) },
		})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err != nil {
			return best, k, err
		}
		pl.better(&best, i, res.Choice, res.Score)
		proved = min(proved, max(res.Bound, ideal))
		if res.Status == optimize.Stopped {
			if i == n-1 {
				ideal = proved // no frame is left of which only the ideal lap is known
			}
			return stopped()
		}
	}
	best.bound = min(proved, best.score)
	return best, k, nil
}

// ring makes the tables of frame i on a circuit that nothing resets.
func (pl *plan) ring(k *known, best *stageResult, i int) {
	f := pl.frames[i]
	t := newRingTable(f, pl.ideal, pl.s.Workers)
	lap, idx := t.best(func(idx []int) bool { return f.groupsOK(idx, pl.p.Stock) })
	k.rings[i], k.starts[i] = t, idx
	pl.better(best, i, idx, lap)
}

// account makes the tables of frame i, and gives the lap (s) above which its sets
// are of no interest.
func (pl *plan) account(k *known, best *stageResult, i int) float64 {
	f := pl.frames[i]
	acc := newAccount(f, f.m, pl.zones, pl.ideal, pl.s.Workers)
	start := acc.startingSet(f, pl.p.Stock)
	k.accounts[i], k.starts[i] = acc, start.idx
	pl.better(best, i, start.idx, start.score)
	target := min(start.score, best.score)
	pl.tell(Preparing, target, acc.ideal)
	acc.calibrate(target+pl.s.Gap-acc.ideal, start.idx)
	return target
}

// stageTwo finds the least out lap among the sets whose flying lap is within
// the gap of the best.
func (pl *plan) stageTwo(ctx context.Context, a *Answer, first stageResult, k known) (stageResult, error) {
	best := stageResult{frame: first.frame, idx: first.idx, score: math.Inf(1), bound: math.Inf(1), status: optimize.Proved}
	best.score = pl.p.Model.NewSolver().OutTime(first.frame.totals(first.idx, nil))
	if pl.alone() {
		best.bound = best.score
		return best, nil
	}
	if math.IsInf(best.score, 1) {
		best.frame, best.idx = nil, nil
	}
	ideal := 0.0 // s, the ideal car's out lap
	for i := range pl.outs {
		ideal += pl.outs[i].Ideal
	}
	proved := math.Inf(1)
	stopped := func() (stageResult, error) {
		best.status, best.bound = optimize.Stopped, min(proved, ideal, best.score)
		return best, nil
	}
	lapMost := first.score + pl.s.Gap
	for i, f := range pl.frames {
		if k.starts[i] == nil {
			continue // no set of this frame laps in time
		}
		if ctx.Err() != nil {
			return stopped()
		}
		pl.tell(PreparingSecond, best.score, min(proved, ideal))
		sp := &space{f: f, stock: pl.p.Stock, second: true, lapMost: lapMost, lap: k.accounts[i], ring: k.rings[i]}
		var target float64
		if !guard(func() { target = pl.outTables(sp, &best, i, first, k.starts[i]) }) {
			return stopped()
		}
		cut := target
		if math.IsInf(cut, 1) {
			cut = 0
		}
		res, err := optimize.Search(ctx, sp, &optimize.Settings{
			Workers: pl.s.Workers, Cutoff: cut,
			Progress: func(score, bound float64) { pl.tell(SearchingSecond, score, min(proved, max(bound, ideal))) },
		})
		a.Stats.Nodes += res.Nodes
		a.Stats.Laps += res.Leaves
		if err != nil {
			return best, err
		}
		pl.better(&best, i, res.Choice, res.Score)
		proved = min(proved, max(res.Bound, ideal))
		if res.Status == optimize.Stopped {
			if i == len(pl.frames)-1 {
				ideal = proved
			}
			return stopped()
		}
	}
	best.bound = min(proved, best.score)
	return best, nil
}

// outTables makes the tables of the out lap for frame i, and gives the out lap (s)
// above which its sets are of no interest. good is a good set of the frame.
func (pl *plan) outTables(sp *space, best *stageResult, i int, first stageResult, good []int) float64 {
	f := sp.f
	if sp.ring != nil {
		sp.ring.accept(sp.lapMost)
	}
	sp.out = newOutAccount(f, pl.outs, pl.ideal, pl.s.Workers)
	if f == first.frame {
		start := sp.outStart(first.idx, pl.p.Stock)
		pl.better(best, i, start.idx, start.score)
	}
	target := best.score
	if most := target - sp.out.ideal; math.IsInf(most, 1) {
		sp.out.calibrate(0.5*sp.out.ideal, nil)
	} else {
		if best.frame == f {
			good = best.idx // else the best so far stands in another frame
		}
		sp.out.calibrate(most, good)
	}
	if sp.out.oneZone() {
		sp.out.rest = newRestTable(sp.out, target-sp.out.ideal, pl.s.Workers, func(g, i int) bool {
			return sp.ring == nil || sp.ring.shifted <= sp.lapMost || sp.ring.leads[g][i] || sp.ring.anyGoodBefore(g)
		})
	}
	return target
}

func newOutAccount(f *frame, zs []sim.Zone, e *sim.Ideal, workers int) *account {
	a := newAccount(f, f.m.FromPits(), zs, e, workers)
	a.slip = true
	a.zones[0].free = true
	return a
}
