package gearing

import (
	"context"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// Evaluate gives the answer for the user's own set, Status Given. It does not
// check the set against the stock: cars/gearbox/verify does.
func Evaluate(ctx context.Context, p *Problem, set *gearbox.Set, s *Settings) (*Answer, error) {
	pl, err := p.plan(s.withDefaults())
	if err != nil {
		return nil, err
	}
	totals := set.TotalRatios()
	a := &Answer{
		Set: set, Status: optimize.Given, SetsInSpace: pl.count,
		Lap: p.Model.Lap(totals), OutLap: p.Model.OutLap(totals), Ideal: pl.idealWith(set), IdealTop: pl.idealTop,
	}
	if a.Lap.Infeasible != "" {
		a.Infeasible = a.Lap.Infeasible
	}
	return a, nil
}

// Ideal is the ideal car of all pairs that stand in some set of the problem, and
// of a set of the user's own.
func (p *Problem) Ideal(set *gearbox.Set) (*sim.Ideal, error) {
	pl, err := p.plan((*Settings)(nil).withDefaults())
	if err != nil {
		return nil, err
	}
	return pl.idealWith(set), nil
}

// idealWith is the plan's ideal car with the pairs of a set that need not stand
// in its space.
func (pl *plan) idealWith(set *gearbox.Set) *sim.Ideal {
	etas := pl.p.Model.Car().Efficiency
	total, eta := idealGears(pl.all, etas)
	n := len(total)
	for g, t := range set.TotalRatios() {
		known := false
		for i := range n {
			known = known || total[i] == t && eta[i] == etas[g]
		}
		if !known {
			total, eta = append(total, t), append(eta, etas[g])
		}
	}
	if pl.ideal != nil && len(total) == n {
		return pl.ideal
	}
	return pl.p.Model.NewIdeal(total, eta)
}

// Alternates returns, for each of the gears (from 1), the best perGear sets that
// differ from set in that gear alone, gear by gear, best first. The model may be
// that of other conditions than the set was chosen for; Loss is against the set in
// the same conditions.
func Alternates(ctx context.Context, p *Problem, set *gearbox.Set, gears []int, perGear int) ([]Alternate, error) {
	base := p.Model.NewSolver().LapTime(set.TotalRatios())
	var out []Alternate
	for _, g := range gears {
		list, err := p.others(ctx, set, g-1, perGear)
		if err != nil {
			return nil, err
		}
		for i, alt := range list {
			if i == perGear {
				break
			}
			out = append(out, Alternate{Gear: g, Pair: alt.Set.Pairs[g-1], LapTime: alt.LapTime, Loss: alt.LapTime - base})
		}
	}
	return out, nil
}

// others lists the best n buildable sets that differ from set in gear index g alone,
// best first.
func (p *Problem) others(ctx context.Context, set *gearbox.Set, g, n int) ([]Near, error) {
	all, err := Rank(ctx, p, set, []int{g + 1}, n+1) // the set itself may be one
	if err != nil {
		return nil, err
	}
	out := all[:0]
	for _, n := range all {
		if n.Set.Pairs[g].ID != set.Pairs[g].ID {
			out = append(out, n)
		}
	}
	return out, nil
}
