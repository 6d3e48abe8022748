package gearing

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"

	"layshaft/cars/gearbox"
)

// diagnosis finds out which limits leave a problem without a set, and the smallest
// changes that would leave one. It tries: works says of a problem whether it has a
// set, by the same rules as the search.
type diagnosis struct {
	ctx    context.Context
	p      *Problem
	drives bool               // sets must drive the lap too, not only be buildable
	laps   int                // laps that may still be driven
	whole  bool               // works has not given up so far: what it said no to has no set
	speeds map[string]float64 // m/s, top speeds of ideal cars, by their gears
}

// mostLaps is how many laps a diagnosis may drive: some seconds' worth. A space
// that holds more sets is tried at its likely places only.
const mostLaps = 5000

func newDiagnosis(ctx context.Context, p *Problem, drives bool) *diagnosis {
	return &diagnosis{ctx: ctx, p: p, drives: drives, laps: mostLaps, whole: true, speeds: map[string]float64{}}
}

// works says whether the problem has a set; one that drives the lap, if that is
// asked for. After the context has ended nothing works.
func (d *diagnosis) works(q *Problem) bool {
	if d.ctx.Err() != nil {
		d.whole = false
		return false
	}
	frames, err := q.frames()
	if err != nil {
		return false
	}
	d.link(q, frames)
	for _, f := range frames {
		if f.any(q.Stock) && (!d.drives || d.anyDrives(q, f)) {
			return true
		}
	}
	return false
}

// link links the frames by all rules between pairs, as plan does.
func (d *diagnosis) link(q *Problem, frames []*frame) {
	lo, hi := q.steps()
	for _, f := range frames {
		f.link(lo, hi, func(float64) bool { return true })
	}
	if q.Limits.TopHeadroomRPM < 0 {
		return
	}
	if v := d.topSpeed(q, frames); v > 0 {
		q.linkTop(frames, v)
	}
}

// topSpeed is that of the ideal car of the frames as linked (m/s); 0 without any.
func (d *diagnosis) topSpeed(q *Problem, frames []*frame) float64 {
	totals, etas := idealGears(frames, q.Model.Car().Efficiency)
	if len(totals) == 0 {
		return 0
	}
	key := fmt.Sprintf("%p%b%b", q.Model, totals, etas)
	v, ok := d.speeds[key]
	if !ok {
		v = q.Model.IdealTopSpeed(q.Model.NewIdeal(totals, etas))
		d.speeds[key] = v
	}
	return v
}

// anyDrives looks for a set that drives the lap: near some ladders, then through
// all of them.
func (d *diagnosis) anyDrives(q *Problem, f *frame) bool {
	k := q.Model.NewSolver()
	drives := func(idx []int) bool { return !math.IsInf(k.LapTime(f.totals(idx, nil)), 1) }
	for _, ladder := range f.ladders(d.topSpeed(q, []*frame{f})) {
		if idx := f.nearest(q.Stock, ladder); drives(idx) {
			return true
		}
	}
	found := false
	idx := make([]int, 0, f.n)
	var walk func(i int)
	walk = func(i int) {
		idx = append(idx, i)
		defer func() { idx = idx[:len(idx)-1] }()
		if g := len(idx) - 1; g+1 < f.n {
			for _, j := range f.next[g][i] {
				if walk(int(j)); found || !d.whole {
					return
				}
			}
			return
		}
		if !f.groupsOK(idx, q.Stock) {
			return
		}
		if d.laps--; d.laps < 0 || d.ctx.Err() != nil {
			d.whole = false
			return
		}
		found = drives(idx)
	}
	for i := range f.cand[0] {
		if f.n == 1 || len(f.next[0][i]) > 0 {
			if walk(i); found || !d.whole {
				break
			}
		}
	}
	return found
}

// clash is a least number of limits that leave no set even when all others are
// given up: without any one of them there would be one. Empty when not even giving
// up all of them helps.
func (d *diagnosis) clash() []Limit {
	left := d.limits()
	if !d.helps(left) {
		return nil
	}
	var given []Limit
	for again := true; again; {
		again = false
		for i := 0; i < len(left); {
			if d.helps(append(slices.Clone(given), left[i])) {
				i++
				continue
			}
			given = append(given, left[i])
			left = slices.Delete(left, i, i+1)
			again = true
		}
	}
	return left
}

func (d *diagnosis) limits() []Limit {
	all := d.p.limits()
	if !d.drives {
		all = slices.DeleteFunc(all, func(l Limit) bool { return l.Kind == LimitPulling || l.Kind == LimitLimiter })
	}
	return all
}

// helps says whether there is a set when the limits are given up.
func (d *diagnosis) helps(list []Limit) bool {
	q, err := d.p.without(list...)
	return err == nil && d.works(q)
}

// mostRelaxations is how many are looked for.
const mostRelaxations = 6

// relax finds changes of one limit that leave a set, else of two together, else of
// as few as it can tell. clash is where at least one of them must be.
func (d *diagnosis) relax(clash []Limit) []Relaxation {
	all := slices.DeleteFunc(d.limits(), func(l Limit) bool { return l.Kind == LimitParts })
	var out []Relaxation
	add := func(list []Limit) {
		// Any drive at all may help less than the right one: the ideal car is faster.
		drive := len(list) == 1 && (list[0].Kind == LimitFinal || list[0].Kind == LimitDrop)
		if len(out) < mostRelaxations && (drive || d.helps(list)) {
			out = append(out, d.smallest(list)...)
		}
	}
	for _, a := range slices.Backward(clash) {
		if a.Kind != LimitParts {
			add([]Limit{a})
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, a := range slices.Backward(clash) {
		for _, b := range slices.Backward(all) {
			if a.Kind != LimitParts && a != b && !(slices.Contains(clash, b) && before(all, b, a)) {
				add([]Limit{a, b})
			}
		}
	}
	if len(out) > 0 || !d.helps(all) {
		return out
	}
	// Many: all of them, less those without which it works too.
	need := slices.Clone(all)
	for _, l := range all {
		i := slices.Index(need, l)
		if fewer := slices.Delete(slices.Clone(need), i, i+1); d.helps(fewer) {
			need = fewer
		}
	}
	return d.smallest(need)
}

// before says whether a comes before b in the list.
func before(list []Limit, a, b Limit) bool { return slices.Index(list, a) < slices.Index(list, b) }

// smallest turns limits that it would help to give up into the smallest changes of
// them that help: one limit after the other, the others given up meanwhile. One
// limit alone may be changed in more than one way (which pair, which drive).
func (d *diagnosis) smallest(list []Limit) []Relaxation {
	var made []Change
	for i, l := range list {
		q, err := d.p.changed(made...)
		if err == nil {
			q, err = q.without(list[i+1:]...)
		}
		if err != nil {
			return nil
		}
		ways := d.ways(q, l)
		if len(ways) == 0 {
			return nil
		}
		if len(list) == 1 {
			var out []Relaxation
			for _, w := range ways[:min(len(ways), mostRelaxations)] {
				out = append(out, Relaxation{Changes: w, Smallest: d.whole})
			}
			return out
		}
		made = append(made, ways[0]...)
	}
	// Numbers once more, now that the others are no longer given up altogether: the
	// top speed that headroom is asked at depends on all of them.
	for i, c := range made {
		rest := slices.Delete(slices.Clone(made), i, i+1)
		if q, err := d.p.changed(rest...); err == nil && c.To != 0 {
			if ways := d.ways(q, c.Limit); len(ways) > 0 {
				made[i] = ways[0][0]
			}
		}
	}
	return []Relaxation{{Changes: made, Smallest: d.whole}}
}

// ways are the smallest changes of a limit of q with which q has a set.
func (d *diagnosis) ways(q *Problem, l Limit) [][]Change {
	one := func(to float64) [][]Change { return [][]Change{{{Limit: l, To: to}}} }
	switch l.Kind {
	case LimitKeep:
		return one(0)
	case LimitStepMin, LimitStepMax:
		if to, ok := d.step(q, l); ok {
			return one(to)
		}
	case LimitHeadroom:
		if to, ok := d.headroom(q, l); ok {
			return one(to)
		}
	case LimitPairs:
		return d.pairs(q, l)
	case LimitFinal, LimitDrop:
		var out [][]Change
		for _, drive := range q.otherDrives(l.Kind) {
			if c := (Change{Limit: l, Name: drive.Name}); d.after(q, c) {
				out = append(out, []Change{c})
			}
		}
		return out
	case LimitPulling:
		// From just below the limit down, in whole 1/min: the less, the more sets.
		n := int(math.Ceil(l.Value)) - 1
		most := max(n-int(math.Ceil(q.leastRPM())), 0) + 1
		if i := sort.Search(most, func(i int) bool { return d.after(q, Change{Limit: l, To: float64(n - i)}) }); i < most {
			return one(float64(n - i))
		}
	case LimitLimiter:
		const most, grid = 60, 1000 // s, parts of a second
		from := int(l.Value * grid)
		i := sort.Search(most*grid-from, func(i int) bool { return d.after(q, Change{Limit: l, To: float64(from+i+1) / grid}) })
		if i < most*grid-from {
			return one(float64(from+i+1) / grid)
		}
	}
	return nil
}

// after says whether q has a set after the changes.
func (d *diagnosis) after(q *Problem, list ...Change) bool {
	r, err := q.changed(list...)
	return err == nil && d.works(r)
}

// step is the step limit nearest to the one in force with which q has a set, out of
// the steps that its pairs can make.
func (d *diagnosis) step(q *Problem, l Limit) (float64, bool) {
	steps := q.possibleSteps(l)
	set := func(i int) (*Problem, error) { return q.changed(Change{Limit: l, To: steps[i]}) }
	// The wider, the more chains; so no set without a chain, whatever the headroom.
	loose := newDiagnosis(d.ctx, q, false)
	from := sort.Search(len(steps), func(i int) bool {
		r, err := set(i)
		if err != nil {
			return false
		}
		r.Limits.TopHeadroomRPM = -1
		return loose.works(r)
	})
	if q.Limits.TopHeadroomRPM < 0 {
		if !d.drives {
			return at(steps, from)
		}
		n := sort.Search(len(steps)-from, func(i int) bool {
			r, err := set(from + i)
			return err == nil && d.works(r)
		})
		return at(steps, from+n)
	}
	n, ok := d.stepUnderTop(set, from, len(steps)-1)
	if !ok {
		return 0, false
	}
	return steps[n], true
}

// stepUnderTop is the first of the steps lo to hi with which there is a set, where top
// gear is to keep headroom. With more chains there are taller top gears, but the
// ideal car is faster too, so it is not enough to halve: halves are left out whose
// last chains do not pass at the speed of the first.
func (d *diagnosis) stepUnderTop(set func(int) (*Problem, error), lo, hi int) (int, bool) {
	if lo > hi || d.ctx.Err() != nil {
		return 0, false
	}
	first, err := set(lo)
	if err != nil {
		return 0, false
	}
	if lo == hi {
		return lo, d.works(first)
	}
	last, err := set(hi)
	if err != nil || !d.mayPass(first, last) {
		return 0, false
	}
	mid := (lo + hi) / 2
	if n, ok := d.stepUnderTop(set, lo, mid); ok {
		return n, true
	}
	return d.stepUnderTop(set, mid+1, hi)
}

// mayPass says whether last has a set at the top speed of first.
func (d *diagnosis) mayPass(first, last *Problem) bool {
	slow, err := first.frames()
	if err != nil {
		return false
	}
	tall, err := last.frames()
	if err != nil {
		return false
	}
	d.linkSteps(first, slow)
	d.linkSteps(last, tall)
	last.linkTop(tall, d.topSpeed(first, slow)*(1-speedShare))
	return slices.ContainsFunc(tall, func(f *frame) bool { return f.any(last.Stock) })
}

// speedShare is how far (share of v) the top speeds of two ideal cars may be off
// against one another for the tables they are read from.
const speedShare = 1e-4

func at(list []float64, i int) (float64, bool) {
	if i >= len(list) {
		return 0, false
	}
	return list[i], true
}

// linkSteps links by the steps alone.
func (d *diagnosis) linkSteps(q *Problem, frames []*frame) {
	lo, hi := q.steps()
	for _, f := range frames {
		f.link(lo, hi, func(float64) bool { return true })
	}
}

// possibleSteps are the steps between pairs of neighbouring gears that the limit
// refuses, the nearest to it first.
func (p *Problem) possibleSteps(l Limit) []float64 {
	frames, err := p.frames()
	if err != nil {
		return nil
	}
	var out []float64
	for _, f := range frames {
		for g := range f.n - 1 {
			for _, a := range f.cand[g] {
				for _, b := range f.cand[g+1] {
					s := a.Ratio() / b.Ratio()
					if s > 1+1e-12 && (l.Kind == LimitStepMax && s > l.Value || l.Kind == LimitStepMin && s < l.Value) {
						out = append(out, s)
					}
				}
			}
		}
	}
	sort.Float64s(out)
	if l.Kind == LimitStepMin {
		slices.Reverse(out)
	}
	return slices.Compact(out)
}

// headroom is the greatest headroom that some set keeps, -1 (no rule) when none
// keeps any. The top speed that it is asked at does not depend on it.
func (d *diagnosis) headroom(q *Problem, l Limit) (float64, bool) {
	frames, err := q.frames()
	if err != nil {
		return 0, false
	}
	d.linkSteps(q, frames)
	v := d.topSpeed(q, frames)
	var rooms []float64
	for _, f := range frames {
		for _, t := range f.total[f.n-1] {
			if room := q.Model.LimiterRPM() - q.Model.RPM(v, t) - 1e-6; room >= 0 && room < l.Value {
				rooms = append(rooms, room)
			}
		}
	}
	sort.Sort(sort.Reverse(sort.Float64Slice(rooms)))
	rooms = append(slices.Compact(rooms), -1)
	i := sort.Search(len(rooms), func(i int) bool { return d.after(q, Change{Limit: l, To: rooms[i]}) })
	return at(rooms, i)
}

// pairs are the pairs that may not run and that would help one by one, else the
// fewest that it can tell together.
func (d *diagnosis) pairs(q *Problem, l Limit) [][]Change {
	allowed := q.allowed()
	var refused []Change
	for i := range q.Stock.Pairs {
		if p := &q.Stock.Pairs[i]; allowed(p) != nil && q.fitsSomewhere(p) {
			refused = append(refused, Change{Limit: l, Name: p.ID})
		}
	}
	var out [][]Change
	for _, c := range refused {
		if d.after(q, c) {
			out = append(out, []Change{c})
		}
	}
	if len(out) > 0 || !d.after(q, refused...) {
		return out
	}
	need := slices.Clone(refused)
	for _, c := range refused {
		i := slices.Index(need, c)
		if fewer := slices.Delete(slices.Clone(need), i, i+1); d.after(q, fewer...) {
			need = fewer
		}
	}
	return [][]Change{need}
}

func (p *Problem) fitsSomewhere(q *gearbox.Pair) bool {
	return slices.ContainsFunc(p.Box.Slots, func(s gearbox.Slot) bool { return s.Admits(q) == nil })
}
