package gearing

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
)

// infeasible is the answer where no set passes the rules between pairs: the limits
// that clash, and the smallest changes of them that leave a set.
func (pl *plan) infeasible(ctx context.Context) *Answer {
	d := newDiagnosis(ctx, pl.p, false)
	a := d.answer(pl)
	switch {
	case ctx.Err() != nil:
		a.Infeasible = "no set passes the limits; interrupted before it was found which of them clash"
	case len(a.Clash) == 0:
		a.Infeasible = pl.stockAlone()
		a.Relaxation = "add pairs to the stock: no change of a limit helps"
	default:
		a.Infeasible = pl.clashText(d, a.Clash)
	}
	return a
}

// undrivable is the answer where sets can be built, but none of them drives the lap.
func (pl *plan) undrivable(ctx context.Context) *Answer {
	d := newDiagnosis(ctx, pl.p, true)
	a := d.answer(pl)
	a.Infeasible = "no set can drive the lap"
	if len(a.Clash) > 0 {
		a.Infeasible += " with " + joined(a.Clash)
	}
	if a.Relaxation == "" {
		a.Relaxation = relaxText(nil)
	}
	if why := pl.whyUndrivable(); why != "" {
		a.Infeasible += "; the one with the shortest first gear: " + why
	}
	return a
}

func (d *diagnosis) answer(pl *plan) *Answer {
	a := &Answer{Status: optimize.Infeasible, SetsInSpace: pl.count}
	if a.Clash = d.clash(); len(a.Clash) == 0 {
		return a
	}
	a.Relaxations = d.relax(a.Clash)
	a.Relaxation = relaxText(a.Relaxations)
	if !d.whole {
		a.Clash = nil // too many sets to be sure of it
	}
	return a
}

// joined lists limits in words.
func joined(list []Limit) string {
	words := make([]string, len(list))
	for i := range list {
		words[i] = list[i].phrase()
	}
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// clashText says what the clash is; where one limit alone leaves no set, with what
// there is to know of it.
func (pl *plan) clashText(d *diagnosis, clash []Limit) string {
	if len(clash) > 1 {
		text := joined(clash) + " together leave no set"
		if each := !slices.ContainsFunc(clash, func(l Limit) bool { return !d.helps([]Limit{l}) }); each {
			text += "; without any one of them there is one"
		}
		if why := pl.emptyGear(); why != "" {
			text += " (" + why + ")"
		}
		return text
	}
	switch l := clash[0]; l.Kind {
	case LimitStepMin:
		return fmt.Sprintf("no chain of pairs has every ratio step at %.5g or above", l.Value)
	case LimitStepMax:
		return fmt.Sprintf("no chain of pairs has every ratio step at %.5g or below", l.Value)
	case LimitHeadroom:
		return pl.headroomText()
	case LimitKeep:
		if why := pl.emptyGear(); why != "" {
			return why
		}
		return fmt.Sprintf("no set has gear %d kept at %s: no other pairs go with it", l.Gear, l.Name)
	case LimitPairs:
		if why := pl.emptyGear(); why != "" {
			return why
		}
		return "the pairs that may run make no set: " + pl.refusedText()
	case LimitParts:
		return "no set uses its integral parts whole"
	}
	return clash[0].phrase() + " leaves no set"
}

// emptyGear names the first gear for which no pair is left in any cluster.
func (pl *plan) emptyGear() string {
	for g := range pl.p.Box.Gears {
		if slices.ContainsFunc(pl.all, func(f *frame) bool { return len(f.cand[g]) > 0 }) {
			continue
		}
		_, refused := gearbox.Candidates(pl.p.Box, pl.all[0].cluster, pl.p.Stock, g+1, pl.p.Limits.Allowed)
		id, kept := pl.p.Limits.Keep[g+1]
		if !kept {
			fit, _ := gearbox.Candidates(pl.p.Box, pl.all[0].cluster, pl.p.Stock, g+1, func(*gearbox.Pair) error { return nil })
			refused = slices.DeleteFunc(refused, func(r gearbox.Refusal) bool { return !slices.Contains(fit, r.Pair) })
			return fmt.Sprintf("no pair that fits gear %d may run: %s", g+1, tally(refused))
		}
		for _, r := range refused {
			if r.Pair.ID == id {
				return fmt.Sprintf("gear %d cannot keep pair %s: %s", g+1, id, strings.ReplaceAll(r.Reason.Error(), "\n", "; "))
			}
		}
		return fmt.Sprintf("gear %d cannot keep pair %s: it is not in the stock", g+1, id)
	}
	return ""
}

// stockAlone says why the stock has no set whatever the limits are.
func (pl *plan) stockAlone() string {
	for g := range pl.p.Box.Gears {
		var refused []gearbox.Refusal
		some := false
		for c := range pl.p.Box.Clusters {
			fit, no := gearbox.Candidates(pl.p.Box, &pl.p.Box.Clusters[c], pl.p.Stock, g+1, func(*gearbox.Pair) error { return nil })
			if some = some || len(fit) > 0; c == 0 {
				refused = no
			}
		}
		if !some {
			return fmt.Sprintf("no pair of the stock fits gear %d: %s", g+1, tally(refused))
		}
	}
	return "the stock holds no chain of pairs whose ratios fall from gear to gear"
}

// refusedText tells why pairs may not run.
func (pl *plan) refusedText() string {
	allowed := pl.p.allowed()
	var refused []gearbox.Refusal
	for i := range pl.p.Stock.Pairs {
		q := &pl.p.Stock.Pairs[i]
		if err := allowed(q); err != nil {
			refused = append(refused, gearbox.Refusal{Pair: q, Reason: err})
		}
	}
	return tally(refused)
}

// headroomText says what the tallest top gear leaves at the ideal lap's top speed.
func (pl *plan) headroomText() string {
	lo, hi := pl.p.steps()
	for _, f := range pl.all {
		f.link(lo, hi, func(float64) bool { return true })
	}
	pl.setIdeal()
	v := pl.p.topSpeed(pl)
	best := math.Inf(-1)
	for _, f := range pl.all {
		for i, ok := range f.reachable()[f.n-1] {
			if ok {
				best = max(best, pl.p.Model.LimiterRPM()-pl.p.Model.RPM(v, f.total[f.n-1][i]))
			}
		}
	}
	return fmt.Sprintf("no top gear keeps %.0f rpm below the limiter at %.1f km/h, the ideal lap's top speed; the tallest leaves %.0f",
		pl.p.Limits.TopHeadroomRPM, 3.6*v, math.Floor(best))
}

// whyUndrivable is what stops the set with the shortest first gear.
func (pl *plan) whyUndrivable() string {
	for _, f := range pl.frames {
		ladder := slices.Clone(f.ladders(pl.p.topSpeed(pl))[0])
		for i := range f.total[0] {
			ladder[0] = max(ladder[0], 2*f.total[0][i])
		}
		if idx := f.nearest(pl.p.Stock, ladder); idx != nil {
			return pl.p.Model.Lap(f.totals(idx, nil)).Infeasible
		}
	}
	return ""
}

// relaxText lists the changes, one way on a line where there are more.
func relaxText(list []Relaxation) string {
	if len(list) == 0 {
		return "no change of the limits was found that would help: add pairs or a final drive to the stock"
	}
	var lines []string
	for _, r := range list {
		var words []string
		for i := range r.Changes {
			words = append(words, r.Changes[i].phrase())
		}
		lines = append(lines, strings.Join(words, " and "))
	}
	word := ""
	if !slices.ContainsFunc(list, func(r Relaxation) bool { return !r.Smallest }) {
		word = "smallest "
	}
	if len(lines) == 1 {
		return fmt.Sprintf("%schange that would help: %s", word, lines[0])
	}
	return fmt.Sprintf("%schanges that would help, any one of them:\n  %s", word, strings.Join(lines, "\n  "))
}

// tally words the refusals, most frequent first.
func tally(refused []gearbox.Refusal) string {
	if len(refused) == 0 {
		return "the stock is empty"
	}
	count := map[string]int{}
	for _, r := range refused {
		count[r.Reason.Error()]++
	}
	var keys []string
	for k := range count {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if count[keys[i]] != count[keys[j]] {
			return count[keys[i]] > count[keys[j]]
		}
		return keys[i] < keys[j]
	})
	var parts []string
	for i, k := range keys {
		if i == 4 {
			parts = append(parts, "and others")
			break
		}
		parts = append(parts, fmt.Sprintf("%d pair(s) %s", count[k], strings.ReplaceAll(k, "\n", "; ")))
	}
	return strings.Join(parts, "; ")
}
