package cli

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/optimize/gearing"
)

// unmet says why no set does what the wishes ask for: for each gear the nearest there
// is in that direction, and what forbids it.
func (q *asking) unmet(ctx context.Context) error {
	var lines []string
	for i := range q.targets {
		if line := q.lacking(&q.targets[i]); line != "" {
			lines = append(lines, line)
		}
	}
	if len(lines) == 0 { // each by itself could be had
		for i := range q.targets {
			line, err := q.blocked(ctx, &q.targets[i])
			if err != nil {
				return err
			}
			lines = append(lines, line)
		}
	}
	return infeasible("no set does what is asked for:\n%s", strings.Join(lines, "\n"))
}

// lacking says what the stock has not got for a wish; "" when it has a pair.
func (q *asking) lacking(t *target) string {
	usable, others := q.inDirection(t)
	switch {
	case len(usable) == 0 && len(others) == 0:
		return fmt.Sprintf("gear %d: no pair of the stock that fits is %s than %s (%d/%d), which is in",
			t.gear, t.direction(), t.base.ID, t.base.Layshaft, t.base.Mainshaft)
	case len(usable) == 0:
		return fmt.Sprintf("gear %d: no pair that is %s may be used; nearest is %s, but it is not free: %s",
			t.gear, t.direction(), t.reach(others[0]), oneLine(gearbox.StockRules(others[0])))
	case !slices.ContainsFunc(usable, t.meets):
		return fmt.Sprintf("gear %d: no pair is %s by about %s%s; nearest is %s: ask for about that, or for any amount with --%s %d",
			t.gear, t.direction(), plain(t.amount), spaced(t.unit), t.reach(q.nearestTo(t, usable)), t.direction(), t.gear)
	}
	return ""
}

// inDirection lists the pairs that fit the gear and lie in the wish's direction,
// nearest to the base first: those that may be used, and those that may not.
func (q *asking) inDirection(t *target) (usable, others []*gearbox.Pair) {
	all, _ := gearbox.Candidates(q.p.Box, q.b.set.Cluster, q.p.Stock, t.gear, func(*gearbox.Pair) error { return nil })
	if t.taller { // candidates come by falling ratio
		all = slices.Clone(all)
	} else {
		slices.Reverse(all)
	}
	for _, p := range all {
		switch {
		case !t.moves(p):
		case gearbox.StockRules(p) == nil:
			usable = append(usable, p)
		default:
			others = append(others, p)
		}
	}
	return usable, others
}

// nearestTo is the pair nearest to the wish, the first of equals.
func (q *asking) nearestTo(t *target, pairs []*gearbox.Pair) *gearbox.Pair {
	best := pairs[0]
	for _, p := range pairs {
		if t.off(p) < t.off(best) {
			best = p
		}
	}
	return best
}

// blocked says what the rules between neighbours leave of a wish that the stock could
// meet.
func (q *asking) blocked(ctx context.Context, t *target) (string, error) {
	usable, _ := q.inDirection(t)
	near := q.nearestTo(t, slices.DeleteFunc(slices.Clone(usable), func(p *gearbox.Pair) bool { return !t.meets(p) }))
	text := fmt.Sprintf("gear %d: %s is in stock, but no set with it keeps the steps", t.gear, t.reach(near))
	lo, hi := q.p.Box.StepMin, q.p.Box.StepMax
	if q.p.Limits.StepMin > 0 {
		lo = q.p.Limits.StepMin
	}
	if q.p.Limits.StepMax > 0 {
		hi = q.p.Limits.StepMax
	}
	var steps []string
	for _, g := range []int{t.gear - 1, t.gear + 1} {
		if g < 1 || g > len(q.b.set.Pairs) || slices.Contains(q.free, g) {
			continue // a neighbour that may change could make room
		}
		step := q.b.set.Pairs[g-1].Ratio() / near.Ratio()
		if g > t.gear {
			step = 1 / step
		}
		switch {
		case step < lo:
			steps = append(steps, fmt.Sprintf("%.3f to gear %d is below the least step %s (--step-min)", step, g, plain(lo)))
		case step > hi:
			steps = append(steps, fmt.Sprintf("%.3f to gear %d is above the greatest step %s (--step-max)", step, g, plain(hi)))
		}
	}
	if len(steps) > 0 {
		text += ": " + strings.Join(steps, ", ")
	}
	sets, err := q.sets(ctx, func(gear int, p *gearbox.Pair) bool {
		other := q.target(gear)
		return other == nil || other.moves(p)
	})
	if err != nil {
		return "", err
	}
	var can []*gearbox.Pair
	for _, s := range sets {
		if len(q.unusable(s)) == 0 {
			can = append(can, s.Pairs[t.gear-1])
		}
	}
	if len(can) == 0 {
		return text + fmt.Sprintf("; no %s pair does: let its neighbours change too (--change)", t.direction()), nil
	}
	return text + "; nearest that does is " + t.reach(q.nearestTo(t, can)), nil
}

// unmetByLaps says why sets that could be built are no answer: they cannot drive the
// lap, or keep too little headroom.
func (q *asking) unmetByLaps(ranked []gearing.Near) error {
	if math.IsInf(ranked[0].LapTime, 1) {
		return infeasible("no set that does what is asked for can drive this lap")
	}
	lap := q.p.Model.LapOnly(ranked[0].Set.TotalRatios())
	return infeasible("no set that does what is asked for keeps %s rpm below the limiter in top: the quickest keeps %.0f rpm; ask for less with --headroom-rpm",
		plain(q.p.Limits.TopHeadroomRPM), q.p.Model.LimiterRPM()-lap.MaxRPM[len(lap.MaxRPM)-1])
}

func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }

// spaced sets a unit off from its number.
func spaced(unit string) string { return " " + unit }
