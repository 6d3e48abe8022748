package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize/gearing"
	"layshaft/sim"
)

// asking is a what-if question made ready.
type asking struct {
	p       *gearing.Problem
	b       *base
	lap     *sim.Lap // the base's
	free    []int    // gears that may change, rising; nil = every gear by itself
	targets []target // wishes, of gears among those
	bought  []string // ids of pairs that the stock does not hold
}

// answers are the sets that a question has found.
type answers struct {
	answers []sheet.SetResult
	refused []sheet.SetResult // quicker than the base, but with one pair that may not be used
}

const (
	// mostAtOnce is how many sets are lapped without a time limit: a lap takes
	// half a millisecond to two, and somebody stands on the radio.
	mostAtOnce = 2000
	// mostListed is how many sets are looked at, and lapped with one.
	mostListed = 200_000
	// nearest is how many different ratios are shown for each gear of a wish.
	nearest = 4
	// mostRefused is how many refused pairs are named.
	mostRefused = 3
	// mostAlike bounds the list of answers, those that lap alike counted.
	mostAlike = 500
)

// wishes tells whether a wish speaks of the gear.
func (q *asking) wishes(gear int) bool {
	return slices.ContainsFunc(q.targets, func(t target) bool { return t.gear == gear })
}

// target of a gear; nil = none.
func (q *asking) target(gear int) *target {
	for i := range q.targets {
		if q.targets[i].gear == gear {
			return &q.targets[i]
		}
	}
	return nil
}

// answer finds, laps and ranks the sets, at most n different ones. patient lets more
// be lapped than somebody waits for.
func (q *asking) answer(ctx context.Context, n int, patient bool, line *progress) (*answers, error) {
	may := func(gear int, p *gearbox.Pair) bool {
		t := q.target(gear)
		return t == nil || t.meets(p)
	}
	sets, err := q.sets(ctx, may)
	if err != nil {
		return nil, err
	}
	var usable, refused []*gearbox.Set
	for _, s := range sets {
		switch len(q.unusable(s)) {
		case 0:
			usable = append(usable, s)
		case 1:
			refused = append(refused, s)
		}
	}
	if usable = q.nearest(usable); len(usable) == 0 && len(q.targets) > 0 {
		return nil, q.unmet(ctx)
	}
	if !patient && len(usable) > mostAtOnce {
		return nil, q.tooMany(grouped(len(usable)))
	}
	ranked, err := rank(ctx, q.p, usable, line)
	if err != nil {
		return nil, err
	}
	out := &answers{}
	var worst float64
	if out.answers, worst, err = q.pick(ctx, ranked, n); err != nil {
		return nil, err
	}
	if len(out.answers) == 0 && len(q.targets) > 0 {
		return nil, q.unmetByLaps(ranked)
	}
	if len(usable)+len(refused) > mostAtOnce && !patient {
		return out, nil
	}
	out.refused, err = q.quickerBut(ctx, refused, worst, line)
	return out, err
}

// sets lists the sets that the question speaks of, also those with pairs that may
// not be used: the engineer asks about them next.
func (q *asking) sets(ctx context.Context, may func(int, *gearbox.Pair) bool) ([]*gearbox.Set, error) {
	p := *q.p
	p.Limits.Allowed = func(*gearbox.Pair) error { return nil }
	list := func(gears []int) ([]*gearbox.Set, error) {
		sets, err := gearing.Sets(ctx, &p, q.b.set, gears, may, mostListed)
		var many *gearing.TooManyError
		if errors.As(err, &many) {
			err = q.tooMany("more than " + grouped(many.Most))
		}
		return sets, err
	}
	if len(q.free) > 0 {
		return list(q.free)
	}
	var all []*gearbox.Set
	seen := map[string]bool{}
	for g := range q.b.set.Pairs {
		sets, err := list([]int{g + 1})
		if err != nil {
			return nil, err
		}
		for _, s := range sets {
			if key := setKey(s); !seen[key] {
				seen[key] = true
				all = append(all, s)
			}
		}
	}
	return all, nil
}

// tooMany says what to do instead of lapping them all.
func (q *asking) tooMany(count string) error {
	list := strings.Trim(strings.ReplaceAll(fmt.Sprint(q.free), " ", ","), "[]")
	return badInput("%s give %s sets, and %s are lapped while somebody waits: let fewer gears change, "+
		"say what is wanted (--taller 6:2%%), or let 'layshaft sheet --change %s' prove the best of them; "+
		"with --time-limit 60s up to %s are lapped",
		gearWords(q.free), count, grouped(mostAtOnce), list, grouped(mostListed))
}

// grouped writes a count as the reports do.
func grouped(n int) string { return sheet.Grouped(strconv.Itoa(n)) }

// unusable lists the changed pairs of a set that may not be used.
func (q *asking) unusable(s *gearbox.Set) []*gearbox.Pair {
	var out []*gearbox.Pair
	for g, p := range s.Pairs {
		if p.ID != q.b.set.Pairs[g].ID && gearbox.StockRules(p) != nil {
			out = append(out, p)
		}
	}
	return out
}

// nearest keeps, where there is a wish, the sets nearest to it: so many different
// ratios for each gear wished for. How near is the root of the sum of squares of the
// relative distances in ratio.
func (q *asking) nearest(sets []*gearbox.Set) []*gearbox.Set {
	if len(q.targets) == 0 {
		return sets
	}
	far := func(s *gearbox.Set) float64 {
		sum := 0.0
		for i := range q.targets {
			off := q.targets[i].off(s.Pairs[q.targets[i].gear-1])
			sum += off * off
		}
		return sum
	}
	alike := func(a, b *gearbox.Set) bool {
		for i := range q.targets {
			g := q.targets[i].gear - 1
			if a.Pairs[g].Ratio() != b.Pairs[g].Ratio() {
				return false
			}
		}
		return true
	}
	sorted := slices.Clone(sets)
	slices.SortStableFunc(sorted, func(a, b *gearbox.Set) int {
		switch d := far(a) - far(b); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	var heads, out []*gearbox.Set
	for _, s := range sorted {
		if !slices.ContainsFunc(heads, func(h *gearbox.Set) bool { return alike(h, s) }) {
			if len(heads) == nearest*len(q.targets) {
				continue
			}
			heads = append(heads, s)
		}
		out = append(out, s)
	}
	return out
}

// keepsHeadroom says whether a lap keeps the headroom in top that was asked for; one
// that never engages top does.
func (q *asking) keepsHeadroom(lap *sim.Lap) bool {
	most := q.p.Limits.TopHeadroomRPM
	return most < 0 || q.p.Model.LimiterRPM()-lap.MaxRPM[len(lap.MaxRPM)-1] >= most
}

// pick drives the best n again, for the report. Sets that differ only in pairs that
// the lap never engages count as one and share their lap. The base stays whatever
// headroom it keeps; the best set with each pair that is not in stock, and the best
// without any, are added where they are not among the n. worst is the lap (s) of the
// last of the n, +Inf where there are fewer.
func (q *asking) pick(ctx context.Context, ranked []gearing.Near, n int) (list []sheet.SetResult, worst float64, err error) {
	var out []gearing.Near
	laps := map[*gearbox.Set]*sim.Lap{}
	missing := slices.Clone(q.bought)
	if len(missing) > 0 {
		missing = append(missing, "") // the best out of the stock as it is
	}
	var head *gearing.Near
	kinds := 0
	worst = math.Inf(1)
	for i := range ranked {
		one := &ranked[i]
		isBase := sameSet(one.Set, q.b.set)
		if math.IsInf(one.LapTime, 1) && !isBase {
			continue
		}
		full := kinds >= n || len(out) >= mostAlike
		if full && len(missing) == 0 && (head == nil || head.LapTime != one.LapTime) {
			break
		}
		if head != nil && len(out) < mostAlike && samePath(head, one, laps[head.Set]) {
			laps[one.Set] = laps[head.Set]
			out = append(out, *one)
			continue
		}
		wanted := slices.Index(missing, q.news(one.Set))
		if full && wanted < 0 {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		lap := q.p.Model.LapOnly(one.Set.TotalRatios())
		if !isBase && !q.keepsHeadroom(lap) {
			continue
		}
		if wanted >= 0 {
			missing = slices.Delete(missing, wanted, wanted+1)
		}
		laps[one.Set], head = lap, one
		out = append(out, *one)
		if kinds++; kinds == n {
			worst = one.LapTime
		}
	}
	if len(out) > kinds { // only between equal laps does the out lap decide
		if err := gearing.OutLaps(ctx, q.p, out); err != nil {
			return nil, 0, err
		}
	}
	for _, one := range out {
		list = append(list, sheet.SetResult{Set: one.Set, Lap: laps[one.Set], LapTime: one.LapTime})
	}
	return list, worst, nil
}

// news is the id of the pair not in stock that a set needs, "" = none.
func (q *asking) news(s *gearbox.Set) string {
	for _, p := range s.Pairs {
		if slices.Contains(q.bought, p.ID) {
			return p.ID
		}
	}
	return ""
}

// samePath says whether a set drives the very lap of another: as quick, and with the
// same ratio in every gear that the lap engages.
func samePath(head, one *gearing.Near, lap *sim.Lap) bool {
	if head.LapTime != one.LapTime || lap == nil || lap.Infeasible != "" {
		return false
	}
	a, b := head.Set.TotalRatios(), one.Set.TotalRatios()
	for g := range a {
		if a[g] != b[g] && lap.Used(g+1) {
			return false
		}
	}
	return true
}

// quickerBut ranks the sets with one pair that may not be used, and keeps the best
// with each of the first few such pairs, where it is quicker than the base and than
// worst (s).
func (q *asking) quickerBut(ctx context.Context, sets []*gearbox.Set, worst float64, line *progress) ([]sheet.SetResult, error) {
	ranked, err := rank(ctx, q.p, sets, line)
	if err != nil {
		return nil, err
	}
	var out []sheet.SetResult
	var seen []string
	for _, one := range ranked {
		pair := q.unusable(one.Set)[0]
		if one.LapTime >= min(worst, q.lap.Time) || len(out) == mostRefused {
			break
		}
		if slices.Contains(seen, pair.ID) {
			continue
		}
		lap := q.p.Model.LapOnly(one.Set.TotalRatios())
		if !q.keepsHeadroom(lap) {
			continue
		}
		seen = append(seen, pair.ID)
		out = append(out, sheet.SetResult{Set: one.Set, Lap: lap, Refused: fmt.Sprintf("%s: %s", pair.ID,
			strings.ReplaceAll(gearbox.StockRules(pair).Error(), "\n", "; "))})
	}
	return out, nil
}

func sameSet(a, b *gearbox.Set) bool { return setKey(a) == setKey(b) }

// setKey tells two sets apart.
func setKey(s *gearbox.Set) string {
	words := []string{s.Cluster.Name, s.Final.Name}
	if s.Drop != nil {
		words = append(words, s.Drop.Name)
	}
	for _, p := range s.Pairs {
		words = append(words, p.ID)
	}
	return strings.Join(words, "\x00")
}
