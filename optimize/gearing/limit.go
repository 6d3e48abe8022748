package gearing

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// Kind is a kind of limit.
type Kind string

const (
	LimitStepMin  Kind = "step-min"       // least ratio step between neighbours
	LimitStepMax  Kind = "step-max"       // greatest ratio step between neighbours
	LimitHeadroom Kind = "headroom-rpm"   // rpm that top gear keeps below the limiter
	LimitKeep     Kind = "keep"           // a gear keeps its pair
	LimitPairs    Kind = "pairs"          // which pairs may run: count, life, inspection
	LimitParts    Kind = "parts"          // integral parts are used whole
	LimitFinal    Kind = "final-drive"    // the final drives to choose from
	LimitDrop     Kind = "drop"           // the drop pairs to choose from
	LimitPulling  Kind = "pulling-rpm"    // the car's least pulling engine speed, 1/min
	LimitLimiter  Kind = "limiter-time-s" // longest time on the limiter, s
)

// Limit is one limit that a problem states.
type Limit struct {
	Kind  Kind
	Gear  int     // of LimitKeep, from 1
	Name  string  // pair or drive that it names
	Value float64 // of the limits that are numbers
}

// Change is what is to be done to one limit.
type Change struct {
	Limit Limit
	To    float64 // the new value of a limit that is a number; of LimitHeadroom < 0 = no rule
	Name  string  // the pair that is to be made usable, the drive that is to be taken
}

// Relaxation is a number of changes that, made together, leave at least one set:
// the program has tried it.
type Relaxation struct {
	Changes  []Change
	Smallest bool // no smaller value of any of the limits that are numbers would do
}

// limits lists what the problem states and could be given up, the least likely to
// be given up first: what stays of them at last is what the engineer asked for.
func (p *Problem) limits() []Limit {
	out := []Limit{{Kind: LimitParts}, {Kind: LimitPairs}}
	if l := p.Limits.Finals; len(p.otherDrives(LimitFinal)) > 0 && len(l) > 0 {
		out = append(out, Limit{Kind: LimitFinal, Name: driveNames(l)})
	}
	if l := p.Limits.Drops; len(p.otherDrives(LimitDrop)) > 0 && len(l) > 0 {
		out = append(out, Limit{Kind: LimitDrop, Name: driveNames(l)})
	}
	if t := p.Model.Settings().LimiterTime; t > 0 {
		out = append(out, Limit{Kind: LimitLimiter, Value: t})
	}
	if rpm := p.Model.Car().Engine.PullingRPM; rpm > p.leastRPM() {
		out = append(out, Limit{Kind: LimitPulling, Value: rpm})
	}
	if rpm := p.Limits.TopHeadroomRPM; rpm >= 0 {
		out = append(out, Limit{Kind: LimitHeadroom, Value: rpm})
	}
	lo, hi := p.steps()
	out = append(out, Limit{Kind: LimitStepMin, Value: lo}, Limit{Kind: LimitStepMax, Value: hi})
	for _, g := range slices.Sorted(maps.Keys(p.Limits.Keep)) {
		out = append(out, Limit{Kind: LimitKeep, Gear: g, Name: p.Limits.Keep[g]})
	}
	return out
}

func driveNames(list []*gearbox.Drive) string {
	text := ""
	for i, d := range list {
		if i > 0 {
			text += " or "
		}
		text += d.Name
	}
	return text
}

// otherDrives are those of the stock that the problem does not offer yet.
func (p *Problem) otherDrives(r Kind) []*gearbox.Drive {
	all, have := p.Stock.Finals, p.Limits.Finals
	if r == LimitDrop {
		all, have = p.Stock.Drops, p.Limits.Drops
	}
	var out []*gearbox.Drive
	for i := range all {
		if d := &all[i]; d.Count > 0 && !p.Box.FinalFixed && !slices.Contains(have, d) {
			out = append(out, d)
		}
	}
	return out
}

// leastRPM is the engine speed (1/min) below which the engine has no torque: no car
// pulls from less.
func (p *Problem) leastRPM() float64 {
	m, err := p.Model.Car().Engine.Map(p.Model.Conditions().Map)
	if err != nil {
		return 0 // cannot be: the model was made with it
	}
	return m.RPM[0]
}

// anyStep is a step limit that refuses none.
const anyStep = 1e9

// without is the problem with some of its limits given up altogether.
func (p *Problem) without(list ...Limit) (*Problem, error) {
	q := p.copy()
	for _, l := range list {
		switch l.Kind {
		case LimitStepMin:
			q.Limits.StepMin = 1
		case LimitStepMax:
			q.Limits.StepMax = anyStep
		case LimitHeadroom:
			q.Limits.TopHeadroomRPM = -1
		case LimitKeep:
			delete(q.Limits.Keep, l.Gear)
		case LimitPairs:
			q.Limits.Allowed = func(*gearbox.Pair) error { return nil }
		case LimitParts:
			stock := *q.Stock
			stock.Pairs = slices.Clone(stock.Pairs)
			for i := range stock.Pairs {
				stock.Pairs[i].Group = ""
			}
			q.Stock = &stock
		case LimitFinal:
			q.Limits.Finals = append(slices.Clone(q.Limits.Finals), p.otherDrives(LimitFinal)...)
		case LimitDrop:
			q.Limits.Drops = append(slices.Clone(q.Limits.Drops), p.otherDrives(LimitDrop)...)
		case LimitPulling:
			if err := q.remodel(func(rpm *float64, _ *sim.Settings) { *rpm = p.leastRPM() }); err != nil {
				return nil, err
			}
		case LimitLimiter:
			if err := q.remodel(func(_ *float64, s *sim.Settings) { s.LimiterTime = 0 }); err != nil {
				return nil, err
			}
		}
	}
	return q, nil
}

// changed is the problem after some changes.
func (p *Problem) changed(list ...Change) (*Problem, error) {
	q := p.copy()
	for _, c := range list {
		switch c.Limit.Kind {
		case LimitStepMin:
			q.Limits.StepMin = c.To
		case LimitStepMax:
			q.Limits.StepMax = c.To
		case LimitHeadroom:
			q.Limits.TopHeadroomRPM = c.To
		case LimitKeep:
			delete(q.Limits.Keep, c.Limit.Gear)
		case LimitPairs:
			before, id := q.allowed(), c.Name
			q.Limits.Allowed = func(a *gearbox.Pair) error {
				if a.ID == id {
					return nil
				}
				return before(a)
			}
		case LimitFinal, LimitDrop:
			list := &q.Limits.Finals
			if c.Limit.Kind == LimitDrop {
				list = &q.Limits.Drops
			}
			for _, d := range q.otherDrives(c.Limit.Kind) {
				if d.Name == c.Name {
					*list = []*gearbox.Drive{d}
				}
			}
		case LimitPulling:
			if err := q.remodel(func(rpm *float64, _ *sim.Settings) { *rpm = c.To }); err != nil {
				return nil, err
			}
		case LimitLimiter:
			if err := q.remodel(func(_ *float64, s *sim.Settings) { s.LimiterTime = c.To }); err != nil {
				return nil, err
			}
		default:
			return nil, fmt.Errorf("gearing: %s cannot be changed", c.Limit.Kind)
		}
	}
	return q, nil
}

func (p *Problem) copy() *Problem {
	q := *p
	q.Limits.Keep = maps.Clone(p.Limits.Keep)
	return &q
}

// allowed is the rule on single pairs in force.
func (p *Problem) allowed() func(*gearbox.Pair) error {
	if p.Limits.Allowed != nil {
		return p.Limits.Allowed
	}
	return gearbox.StockRules
}

// remodel makes the lap's model anew for another pulling rpm or settings.
func (p *Problem) remodel(change func(pullingRPM *float64, s *sim.Settings)) error {
	car, s := *p.Model.Car(), p.Model.Settings()
	change(&car.Engine.PullingRPM, &s)
	m, err := sim.New(&car, p.Model.Track(), p.Model.Conditions(), &s)
	if err != nil {
		return err
	}
	p.Model = m
	return nil
}

// phrase names the limit in a sentence.
func (l *Limit) phrase() string {
	switch l.Kind {
	case LimitStepMin:
		return fmt.Sprintf("ratio steps of at least %.5g", l.Value)
	case LimitStepMax:
		return fmt.Sprintf("ratio steps of at most %.5g", l.Value)
	case LimitHeadroom:
		return fmt.Sprintf("%.0f rpm of headroom in top", l.Value)
	case LimitKeep:
		return fmt.Sprintf("gear %d kept at %s", l.Gear, l.Name)
	case LimitPairs:
		return "the pairs that may not run (count, life, inspection)"
	case LimitParts:
		return "integral parts used whole"
	case LimitFinal:
		return "final drive " + l.Name
	case LimitDrop:
		return "drop pair " + l.Name
	case LimitPulling:
		return fmt.Sprintf("a car that pulls from %.0f rpm on", l.Value)
	case LimitLimiter:
		return fmt.Sprintf("at most %.5g s on the limiter", l.Value)
	}
	return string(l.Kind)
}

// phrase says what is to be done. Numbers are rounded to the loose side, so that
// what is printed helps as well.
func (c *Change) phrase() string {
	switch c.Limit.Kind {
	case LimitStepMin:
		return fmt.Sprintf("allow steps down to %.4f", math.Floor(c.To*1e4)/1e4)
	case LimitStepMax:
		return fmt.Sprintf("allow steps up to %.4f", math.Ceil(c.To*1e4)/1e4)
	case LimitHeadroom:
		if c.To < 0 {
			return "give up the rule on headroom in top"
		}
		return fmt.Sprintf("ask for %.0f rpm of headroom in top or less", math.Floor(c.To))
	case LimitKeep:
		return fmt.Sprintf("let gear %d change", c.Limit.Gear)
	case LimitPairs:
		return "make pair " + c.Name + " usable"
	case LimitFinal:
		return "take final drive " + c.Name
	case LimitDrop:
		return "take drop pair " + c.Name
	case LimitPulling:
		return fmt.Sprintf("run a car that pulls from %.0f rpm on", c.To)
	case LimitLimiter:
		return fmt.Sprintf("allow %.3f s on the limiter", c.To)
	}
	return string(c.Limit.Kind)
}
