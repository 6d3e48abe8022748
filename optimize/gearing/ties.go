package gearing

import (
	"math"
	"slices"
	"sort"

	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// finalist is a set that the stages so far do not tell from the best.
type finalist struct {
	frame    *frame
	idx      []int
	lap, out float64 // s
}

// Tie is one of the written rules that tell sets apart whose laps, and whose out
// laps, are within the gap of the best: in this order, each among those that the
// one before has left.
type Tie struct {
	Rule  string  // one of the Rule constants
	Value float64 // of the best, in the rule's unit; NaN where the rule says nothing
	Left  int     // sets that are as good
}

// The written rules.
const (
	RuleChanged = "pairs changed from the fitted set"  // count, the fewer the better
	RuleBench   = "bench time from the fitted set"     // s, the less the better
	RuleLife    = "least life left on a pair"          // m, the more the better
	RuleSteps   = "greatest ratio step over the least" // ratio, the less the better
	RuleOrder   = "order of the stock"                 // the first
)

// tieShare is the share within which two values of a rule are the same: rounding.
const tieShare = 1e-12

// byRules tells the finalists apart by the written rules and notes how.
func (pl *plan) byRules(a *Answer, list []finalist) *finalist {
	for _, r := range []struct {
		name  string
		worth func(*gearbox.Set) float64 // the least is the best
		sign  float64                    // what turns it back into the rule's value
	}{
		{RuleChanged, func(s *gearbox.Set) float64 { return float64(len(changed(pl.p.Stock.Fitted, s))) }, 1},
		{RuleBench, func(s *gearbox.Set) float64 {
			if len(pl.p.Stock.Fitted) == 0 {
				return 0
			}
			return pl.p.Box.Minutes(s.Cluster, changed(pl.p.Stock.Fitted, s))
		}, 1},
		{RuleLife, func(s *gearbox.Set) float64 { return -lifeLeft(s) }, -1},
		{RuleSteps, unevenness, 1},
	} {
		if len(list) == 1 {
			return &list[0]
		}
		values := make([]float64, len(list))
		least := math.Inf(1)
		for n := range list {
			values[n] = r.worth(list[n].frame.set(list[n].idx))
			least = min(least, values[n])
		}
		left := []finalist{}
		for n := range list {
			if values[n] == least || values[n] <= least+tieShare*math.Abs(least) {
				left = append(left, list[n])
			}
		}
		list = left
		a.Ties = append(a.Ties, Tie{Rule: r.name, Value: r.sign * least, Left: len(list)})
	}
	if len(list) > 1 {
		a.Ties = append(a.Ties, Tie{Rule: RuleOrder, Value: math.NaN(), Left: 1})
	}
	// Of equal ones the first: frames in their order, then candidates.
	best := 0
	for n := 1; n < len(list); n++ {
		if list[n].frame == list[best].frame && slices.Compare(list[n].idx, list[best].idx) < 0 {
			best = n
		}
	}
	return &list[best]
}

// changed lists the gears (from 1) whose pair is not the fitted one; none when it
// is not known what is fitted.
func changed(fitted []string, s *gearbox.Set) []int {
	var gears []int
	for g, id := range fitted {
		if g < len(s.Pairs) && s.Pairs[g].ID != id {
			gears = append(gears, g+1)
		}
	}
	return gears
}

// lifeLeft is the least life (m) left on a pair of the set; +Inf where no pair has
// a limit.
func lifeLeft(s *gearbox.Set) float64 {
	left := math.Inf(1)
	for _, q := range s.Pairs {
		if q.LifeM > 0 {
			left = min(left, q.LifeM-q.RunM)
		}
	}
	return left
}

// unevenness is the set's greatest ratio step over its least; 1 where all are the
// same.
func unevenness(s *gearbox.Set) float64 {
	lo, hi := math.Inf(1), 1.0
	for g := 1; g < len(s.Pairs); g++ {
		step := s.Pairs[g-1].Ratio() / s.Pairs[g].Ratio()
		lo, hi = min(lo, step), max(hi, step)
	}
	if math.IsInf(lo, 1) {
		return 1
	}
	return hi / lo
}

// nearShown is the most sets that Answer.Near lists.
const nearShown = 50

// listNear fills in the sets near the best, by lap and then by out lap: all within
// the gap where they are known, else those that the second stage left.
func (pl *plan) listNear(a *Answer, laps, outs []finalist) {
	list, by := laps, 1
	if list == nil {
		list, by = outs, 2
	}
	list = slices.Clone(list)
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].lap != list[j].lap {
			return list[i].lap < list[j].lap
		}
		return list[i].out < list[j].out
	})
	a.NearCount, a.NearStages = len(list), by
	for n := range list[:min(len(list), nearShown)] {
		c := &list[n]
		a.Near = append(a.Near, Near{Set: c.frame.set(c.idx), LapTime: c.lap, OutTime: c.out})
	}
}

// again laps the set and those near it on a mesh four times as fine.
func (pl *plan) again(a *Answer) error {
	m, err := finest(pl.p.Model)
	if err != nil {
		return err
	}
	parallel(pl.s.Workers, len(a.Near), func(n int) {
		a.Near[n].FineLapTime = m.NewSolver().LapTime(a.Near[n].Set.TotalRatios())
	})
	a.FineLapTime = m.NewSolver().LapTime(a.Set.TotalRatios())
	return nil
}

// finest is the model on a mesh four times as fine; the same one each time.
func finest(m *sim.Model) (*sim.Model, error) {
	finer, err := m.Finer()
	if err != nil {
		return nil, err
	}
	return finer.Finer()
}
