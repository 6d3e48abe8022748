package gearbox

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Use says what pairs are wanted for; the zero value asks for nothing.
type Use struct {
	Day    Day               // on which they run; 0 = not known, and then no interval in days is judged
	RunM   float64           // m that they are to run, >= 0
	Car    string            // into which they go; pairs fitted in it count as free
	Places []string          // only pairs that lie there, or in the car; empty = wherever they are
	Named  []string          // ids of pairs that are asked for by name
	Waived map[string]string // id of a pair that a named person lets run out of life or uninspected -> who, and why
}

// Obstacle is a kind of reason why a pair may not run.
type Obstacle int

const (
	Absent    Obstacle = iota + 1 // retired, without its mate, in another car, not at hand
	NoneThere                     // a count of 0
	OutOfLife                     // has run its distance
	LifeShort                     // would run out of life on the way, or has by the damage estimate
	Due                           // an inspection puts it right
)

// Hindrance is one reason why a pair may not run.
type Hindrance struct {
	Kind Obstacle
	Text string
}

// Waivable tells whether a named person may let the pair run in spite of it:
// life and inspection, never what is not there.
func (h Hindrance) Waivable() bool { return h.Kind != Absent && h.Kind != NoneThere }

// Hindrances lists every reason why the pair may not be used so; nothing = it
// may. Rules on a pair and a slot, and on pairs together, are not looked at.
func (u *Use) Hindrances(p *Pair) []Hindrance {
	var out []Hindrance
	never := func(format string, args ...any) { out = append(out, Hindrance{Absent, fmt.Sprintf(format, args...)}) }
	if p.Retired {
		never("retired")
	}
	if p.Half != "" {
		never("a loose %s gear without its mate", p.Half)
	}
	if p.Count < 1 {
		out = append(out, Hindrance{NoneThere, noneInStock})
	}
	if p.Car != "" && p.Car != u.Car {
		never("fitted in car %s as gear %d", p.Car, p.Gear)
	}
	if p.Car == "" && len(u.Places) > 0 && !slices.Contains(u.Places, p.Place) {
		never("not at hand: it is %s", placeWords(p.Place))
	}
	if p.NotFree != "" {
		never("%s", p.NotFree)
	}
	out = append(out, u.life(p)...)
	return append(out, u.inspection(p)...)
}

func placeWords(place string) string {
	if place == "" {
		return "at a place not known"
	}
	return "in the " + place
}

// life judges the team's limit and the estimated damage, which may shorten
// what the limit allows and never lengthens it.
func (u *Use) life(p *Pair) []Hindrance {
	var out []Hindrance
	switch {
	case p.LifeM > 0 && p.RunM >= p.LifeM:
		out = append(out, Hindrance{OutOfLife, fmt.Sprintf("out of life: has run %.0f km of %.0f km", p.RunM/metresPerKm, p.LifeM/metresPerKm)})
	case p.LifeM > 0 && p.RunM+u.RunM > p.LifeM:
		out = append(out, Hindrance{LifeShort, fmt.Sprintf("life ends on the way: %.0f km left of %.0f km, %.0f km planned",
			math.Floor((p.LifeM-p.RunM)/metresPerKm), p.LifeM/metresPerKm, u.RunM/metresPerKm)})
	}
	if p.Damage >= 1 {
		out = append(out, Hindrance{LifeShort, fmt.Sprintf("out of life by the damage estimate (%.2f of 1 used)", p.Damage)})
	}
	return out
}

// inspection judges the crack test's interval and what has happened since.
func (u *Use) inspection(p *Pair) []Hindrance {
	var why []string
	c := p.Crack
	if p.InspectionDue {
		why = append(why, cmp.Or(p.InspectionWhy, "marked so in the stock"))
	}
	interval := c.Days > 0 || c.EveryM > 0
	switch {
	case interval && c.On == 0:
		why = append(why, "crack test: an interval is given, but no test")
	case c.Days > 0 && u.Day > 0 && u.Day > c.On+Day(c.Days):
		why = append(why, fmt.Sprintf("crack test of %s was good for %d days, until %s", c.On, c.Days, c.On+Day(c.Days)))
	}
	if since := p.RunM - c.AtM; c.EveryM > 0 && c.On > 0 {
		switch {
		case since >= c.EveryM:
			why = append(why, fmt.Sprintf("crack test of %s was good for %.0f km, %.0f km run since", c.On, c.EveryM/metresPerKm, since/metresPerKm))
		case since+u.RunM > c.EveryM:
			why = append(why, fmt.Sprintf("crack test falls due on the way: %.0f km left of %.0f km, %.0f km planned",
				math.Floor((c.EveryM-since)/metresPerKm), c.EveryM/metresPerKm, u.RunM/metresPerKm))
		}
	}
	if p.LimiterMost > 0 && p.LimiterCount >= p.LimiterMost {
		why = append(why, fmt.Sprintf("on the limiter %d times since the last inspection, %d asks for one", p.LimiterCount, p.LimiterMost))
	}
	why = append(why, p.Causes...)
	var out []Hindrance
	for _, w := range why {
		out = append(out, Hindrance{Due, w})
	}
	return out
}

// States of a pair.
const (
	StateReady   = "ready"
	StateFitted  = "fitted"
	StateDue     = "due" // for inspection, or out of life
	StateRetired = "retired"
)

// State is the pair's state on that day, and why it may not run, if so. A pair
// that is fitted and due is due.
func (u *Use) State(p *Pair) (state, why string) {
	var texts []string
	for _, h := range u.Hindrances(p) {
		if h.Waivable() {
			texts = append(texts, h.Text)
		}
	}
	why = strings.Join(texts, "; ")
	switch {
	case p.Retired:
		return StateRetired, why
	case len(texts) > 0:
		return StateDue, why
	case p.Car != "":
		return StateFitted, ""
	}
	return StateReady, ""
}

// For marks every pair of the stock for that use: InspectionDue and NotFree are
// set so that StockRules, and whoever checks afterwards, refuse what the use
// does not allow. What a named person allowed is left to the caller's rules.
func (s *Stock) For(u Use) *Stock {
	out := *s
	out.Pairs = make([]Pair, len(s.Pairs))
	for i := range s.Pairs {
		out.Pairs[i] = u.mark(&s.Pairs[i])
	}
	out.Finals, out.Drops = u.drives(s.Finals), u.drives(s.Drops)
	return &out
}

func (u *Use) mark(p *Pair) Pair {
	m := *p
	m.NotFree, m.InspectionWhy = "", ""
	_, waived := u.Waived[p.ID]
	var due, never []string
	for _, h := range u.Hindrances(p) {
		switch {
		case h.Kind == OutOfLife, h.Kind == NoneThere:
			// StockRules says it out of the pair's own numbers.
		case h.Kind == Due:
			due = append(due, h.Text)
		case h.Waivable() && waived:
		default:
			never = append(never, h.Text)
		}
	}
	m.InspectionDue = len(due) > 0
	m.InspectionWhy = strings.Join(due, "; ")
	m.NotFree = strings.Join(never, "; ")
	return m
}

// drives takes those that are fitted in another car off the count.
func (u *Use) drives(all []Drive) []Drive {
	out := slices.Clone(all)
	for i := range out {
		d := &out[i]
		if len(d.FittedIn) == 0 {
			continue
		}
		d.Fitted = slices.Contains(d.FittedIn, u.Car)
		for _, car := range d.FittedIn {
			if car != u.Car {
				d.Count--
			}
		}
		d.Count = max(0, d.Count)
	}
	return out
}
