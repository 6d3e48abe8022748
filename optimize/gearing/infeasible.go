package gearing

import (
	"fmt"
	"sort"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
)

// infeasible names the limit that leaves no set, gear by gear and then between
// gears, and the smallest relaxation that the limits themselves show.
func (pl *plan) infeasible() *Answer {
	a := &Answer{Status: optimize.Infeasible, SetsInSpace: pl.count}
	f := pl.all[0]
	for g := range f.n {
		if len(f.cand[g]) > 0 {
			continue
		}
		_, refused := gearbox.Candidates(pl.p.Box, f.cluster, pl.p.Stock, g+1, pl.p.Limits.Allowed)
		a.Infeasible = fmt.Sprintf("no pair for gear %d: %s", g+1, tally(refused))
		if id, ok := pl.p.Limits.Keep[g+1]; ok {
			a.Infeasible = fmt.Sprintf("gear %d is to keep pair %s, which cannot be used there", g+1, id)
			a.Relaxation = fmt.Sprintf("let gear %d change", g+1)
			return a
		}
		a.Relaxation = fmt.Sprintf("add a pair that fits the slot of gear %d, or allow one of the refused", g+1)
		return a
	}
	lo, hi := pl.p.steps()
	for _, f := range pl.all {
		f.link(lo, hi, func(float64) bool { return true })
	}
	if pl.anyChain() {
		a.Infeasible, a.Relaxation = pl.topOrParts()
		return a
	}
	for _, f := range pl.all {
		f.link(1, 1e9, func(float64) bool { return true })
	}
	if pl.anyChain() {
		a.Infeasible = fmt.Sprintf("no chain of pairs has every ratio step between %.4g and %.4g", lo, hi)
		a.Relaxation = pl.widenSteps(lo, hi)
		return a
	}
	a.Infeasible = "no chain of pairs has ratios that fall from gear to gear"
	a.Relaxation = "let more gears change, or add pairs between the ratios that are there"
	return a
}

func (pl *plan) anyChain() bool {
	for _, f := range pl.all {
		if f.count(pl.p.Stock).Sign() > 0 {
			return true
		}
	}
	return false
}

// topOrParts is reached when chains exist without the headroom rule.
func (pl *plan) topOrParts() (why, relax string) {
	pl.setIdeal()
	v := pl.p.topSpeed(pl)
	limit := pl.p.Model.LimiterRPM()
	best := 0.0
	for _, f := range pl.all {
		r := f.reachable()
		for i, ok := range r[f.n-1] {
			if ok {
				if room := limit - pl.p.Model.RPM(v, f.total[f.n-1][i]); room > best || best == 0 {
					best = room
				}
			}
		}
	}
	return fmt.Sprintf("no top gear keeps %.0f rpm below the limiter at %.1f km/h, the ideal lap's top speed; the tallest leaves %.0f", pl.p.Limits.TopHeadroomRPM, 3.6*v, best),
		fmt.Sprintf("ask for %.0f rpm of headroom or less, or take a taller final drive", best)
}

// widenSteps finds the smallest widening of one step limit that admits a
// chain, among the steps that the stock can make.
func (pl *plan) widenSteps(lo, hi float64) string {
	var steps []float64
	for _, f := range pl.all {
		for g := range f.n - 1 {
			for i := range f.next[g] {
				for _, j := range f.next[g][i] {
					steps = append(steps, f.cand[g][i].Ratio()/f.cand[g+1][j].Ratio())
				}
			}
		}
	}
	sort.Float64s(steps)
	try := func(l, h float64) bool {
		for _, f := range pl.all {
			f.link(l, h, func(float64) bool { return true })
		}
		return pl.anyChain()
	}
	// Both are monotone: the wider, the more chains.
	i := sort.Search(len(steps), func(i int) bool { return steps[i] > hi && try(lo, steps[i]) })
	j := sort.Search(len(steps), func(j int) bool { return steps[len(steps)-1-j] < lo && try(steps[len(steps)-1-j], hi) })
	var parts []string
	if i < len(steps) {
		parts = append(parts, fmt.Sprintf("allow steps up to %.4f", steps[i]))
	}
	if j < len(steps) {
		parts = append(parts, fmt.Sprintf("allow steps down to %.4f", steps[len(steps)-1-j]))
	}
	if len(parts) == 0 {
		return "widen both step limits, or add pairs"
	}
	return strings.Join(parts, ", or ")
}

// whyUndrivable is reached when sets exist but none can drive the lap.
func (pl *plan) whyUndrivable() string {
	f := pl.frames[0]
	idx := make([]int, 0, f.n)
	for i := range f.cand[0] {
		if len(f.next[0][i]) > 0 {
			idx = append(idx, i)
			break
		}
	}
	for g := 0; g+1 < f.n; g++ {
		idx = append(idx, int(f.next[g][idx[g]][0]))
	}
	lap := pl.p.Model.Lap(f.totals(idx, nil))
	if lap.Infeasible != "" {
		return "no set can drive the lap; the first one: " + lap.Infeasible
	}
	return "no set can drive the lap, or no integral part can be used whole"
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
		parts = append(parts, fmt.Sprintf("%d pair(s) %s", count[k], k))
	}
	return strings.Join(parts, "; ")
}
