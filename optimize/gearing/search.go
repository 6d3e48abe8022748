package gearing

import (
	"context"
	"errors"
	"fmt"
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

	memoryMost int64 // bytes, of the chains kept; 0 = the usual. Tests make it small.
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
	// m/s, the ideal car's top speed, of which headroom is asked; 0 without that rule
	idealTop float64
	zones    []sim.Zone // of the flying lap; nil on a circuit without resetting places
	outs     []sim.Zone
	idealLap float64 // s, the ideal car's flying lap
	count    *big.Int
}

// Search finds the buildable set with the least lap time and proves it, then,
// among the sets whose lap is within the gap, the one with the least time for
// the second task. When ctx ends, at whatever moment after the first buildable set,
// the answer is the best set so far with Status Stopped and the gap that is known
// then; before it the error is ErrNoAnswer, unless ctx ended by its deadline: who
// gives little time still wants a set. A bound that turned out wrong
// (optimize.ErrBound) leaves the answer unproved, with a warning.
func Search(ctx context.Context, p *Problem, s *Settings) (*Answer, error) {
	go func() { _, _ = finest(p.Model) }() // wanted at the end; there is a core to spare at the beginning
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
		pl.idealTop = p.topSpeed(pl)
		p.linkTop(frames, pl.idealTop)
		pl.setIdeal()
	}
	if pl.ideal != nil {
		pl.zones, pl.outs = p.Model.FlyingZones(pl.ideal), p.Model.OutZones(pl.ideal)
		if pl.idealLap = sumOf(pl.zones); pl.zones == nil {
			pl.idealLap = p.Model.IdealRound(pl.ideal).Time
		}
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
	for _, f := range frames {
		f.link(lo, hi, func(total float64) bool { return p.KeepsHeadroom(v, total) })
	}
}

// KeepsHeadroom says whether a top gear with a total ratio keeps the headroom that the
// limits ask for at the speed v (m/s), Answer.IdealTop; true where v is 0: no rule.
func (p *Problem) KeepsHeadroom(v, total float64) bool {
	return v == 0 || p.Model.RPM(v, total) <= p.Model.LimiterRPM()-p.Limits.TopHeadroomRPM
}

func (pl *plan) setIdeal() {
	totals, etas := idealGears(pl.all, pl.p.Model.Car().Efficiency)
	if len(totals) == 0 {
		return
	}
	m := pl.p.Model
	pl.ideal = m.NewIdeal(totals, etas)
}

// sumOf is the ideal car's time (s) for the zones of a lap.
func sumOf(zs []sim.Zone) float64 {
	sum := 0.0
	for i := range zs {
		sum += zs[i].Ideal
	}
	return sum
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

// unproved makes of a stage in which a bound turned out wrong one that proves nothing:
// the best set met is still a set that can be built, and the ideal car's time still a
// bound. Other errors, and that one when there is no set, are handed back.
func (a *Answer) unproved(r *stageResult, err error, ideal float64) error {
	if !errors.Is(err, optimize.ErrBound) || r.idx == nil {
		return err
	}
	r.status, r.bound, r.near, r.full = optimize.Stopped, min(ideal, r.score), nil, true
	a.Open = BoundFailed
	a.Warnings = append(a.Warnings, fmt.Sprintf("a fault of this program, please report it with the input files: %v", err))
	return nil
}

// nearMost is the longest list of sets within the gap that a stage makes. A list
// of laps is also lapped out of the pits, set by set.
const nearMost = 2000

func (pl *plan) run(ctx context.Context) (*Answer, error) {
	pl.watch(ctx)
	a := &Answer{SetsInSpace: pl.count, IdealTop: pl.idealTop}
	if pl.p.Model.Car().ShiftInertiaReturn > 0 {
		a.Warnings = append(a.Warnings, spinWarning)
	}
	gr := &ground{accounts: make([]*account, len(pl.frames)), rings: make([]*ringTable, len(pl.frames)), starts: make([][]int, len(pl.frames))}
	first, err := pl.stageOne(ctx, a, gr)
	if err = a.unproved(&first, err, pl.idealLap); err != nil {
		return nil, err
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
	best := &finalist{frame: first.frame, idx: first.idx}
	if first.status == optimize.Proved {
		second, err := pl.stageTwo(ctx, a, first, gr)
		if err = a.unproved(&second, err, sumOf(pl.outs)); err != nil {
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
		} else {
			pl.listNear(a, first.near, second.near)
		}
	}
	a.Status = first.status
	if a.Status == optimize.Stopped && a.Open == "" {
		a.Open = why(ctx)
	}
	pl.tell(Checking, first.score, first.bound)
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

// watch makes the work on the frames leave off when ctx ends.
func (pl *plan) watch(ctx context.Context) {
	for _, f := range pl.frames {
		f.ended = func() bool { return ctx.Err() != nil }
	}
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
