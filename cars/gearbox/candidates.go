package gearbox

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Refusal says why a pair may not carry a gear.
type Refusal struct {
	Pair   *Pair
	Gear   int
	Reason error // one or more reasons joined
}

// Error makes a refusal an error of one line.
func (r Refusal) Error() string {
	return fmt.Sprintf("gear %s: pair %s: %s", GearName(r.Gear), r.Pair.ID,
		strings.ReplaceAll(r.Reason.Error(), "\n", "; "))
}

// noneInStock is said of a pair of which there is none.
const noneInStock = "none in the stock (count 0)"

// StockRules is what a pair must pass before it may run: at least one in the
// stock, in life, not due for inspection. nil = it may run.
func StockRules(p *Pair) error {
	var faults []error
	if p.Count < 1 {
		faults = append(faults, errors.New(noneInStock))
	}
	if p.LifeM > 0 && p.RunM >= p.LifeM {
		faults = append(faults, fmt.Errorf("out of life: has run %.0f km of %.0f km", p.RunM/metresPerKm, p.LifeM/metresPerKm))
	}
	if p.InspectionDue {
		faults = append(faults, errors.New(p.dueText()))
	}
	if p.NotFree != "" {
		faults = append(faults, errors.New(p.NotFree))
	}
	return errors.Join(faults...)
}

func (p *Pair) dueText() string {
	if p.InspectionWhy == "" {
		return "due for inspection"
	}
	return "due for inspection: " + p.InspectionWhy
}

// Admits reports why the pair cannot stand in the slot; nil = it can. A pair
// whose dog side does not matter, or that has dogs on both sides, is engaged
// from either; a slot whose side is not stated refuses none.
func (s *Slot) Admits(p *Pair) error {
	var faults []error
	if !slices.Contains(p.Fits, s.Kind) {
		faults = append(faults, fmt.Errorf("fits slot kind %s, stack position %d is %s",
			strings.Join(p.Fits, ", "), s.Position, s.Kind))
	}
	if s.DogSide != "" && p.DogSide != "" && p.DogSide != Both && p.DogSide != s.DogSide {
		faults = append(faults, fmt.Errorf("dogs on the %s side, stack position %d is engaged on the %s side",
			p.DogSide, s.Position, s.DogSide))
	}
	return errors.Join(faults...)
}

// Candidates lists the pairs of the stock that may carry the gear in that
// cluster, by falling ratio, then by id, and a refusal with its reasons for
// every other pair, in file order.
//
// allowed decides on the pair itself; nil means StockRules. It replaces those
// rules, so that a named person's permission can be expressed. Rules between
// pairs (integral groups, steps, falling ratios) are not looked at here. The
// returned pairs point into the stock. A gear that is not in the stack gives
// nothing at all.
func Candidates(b *Box, c *Cluster, s *Stock, gear int, allowed func(*Pair) error) ([]*Pair, []Refusal) {
	slot := b.Slot(c, gear)
	if slot == nil {
		return nil, nil
	}
	if allowed == nil {
		allowed = StockRules
	}
	var fit []*Pair
	var refused []Refusal
	for i := range s.Pairs {
		p := &s.Pairs[i]
		if err := errors.Join(slot.Admits(p), allowed(p)); err != nil {
			refused = append(refused, Refusal{Pair: p, Gear: gear, Reason: err})
			continue
		}
		fit = append(fit, p)
	}
	slices.SortFunc(fit, ByFallingRatio)
	return fit, refused
}

// ByFallingRatio orders pairs from the shortest gear to the tallest, compared in
// whole numbers so that 20/30 and 18/27 are equal, then by id. A loose mainshaft
// gear comes first, a loose layshaft gear last.
func ByFallingRatio(a, b *Pair) int {
	if d := b.Mainshaft*a.Layshaft - a.Mainshaft*b.Layshaft; d != 0 {
		return d
	}
	return strings.Compare(a.ID, b.ID)
}
