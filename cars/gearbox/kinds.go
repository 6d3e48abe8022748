package gearbox

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Kinds makes the stock from which sets are chosen out of one whose pairs have
// identities (Count 1 each), for that use. Pairs that are alike (teeth, slots,
// dog side, integral part) are one choice: it stands under the pair that is to
// be taken, with the number of free ones as its count. Taken is the one that is
// already in the car, so that nothing need be changed; else the one that has
// used the least share of its life, so that all wear evenly; then the least
// distance; then the first by id. Pairs that may not run stand apart with their
// reasons, and so does each that a named person allowed. A pair that is asked for
// by name (u.Named) stands before all that are like it.
//
// The fitted set is that of u.Car; it is empty unless every gear from first on
// has exactly one pair.
func (s *Stock) Kinds(u Use) *Stock {
	marked := s.For(u)
	out := *marked
	out.Pairs = nil
	at := map[string]int{} // kind -> place in out.Pairs
	for i := range marked.Pairs {
		p := marked.Pairs[i]
		_, waived := u.Waived[p.ID]
		if waived || StockRules(&p) != nil {
			out.Pairs = append(out.Pairs, p)
			continue
		}
		k := p.kind()
		j, ok := at[k]
		if !ok {
			at[k] = len(out.Pairs)
			out.Pairs = append(out.Pairs, p)
			continue
		}
		n := out.Pairs[j].Count + p.Count
		if u.before(&p, &out.Pairs[j]) {
			out.Pairs[j] = p
		}
		out.Pairs[j].Count = n
	}
	out.Fitted = marked.FittedIn(u.Car)
	return &out
}

// HasCards tells a stock whose pairs have identities, as a pair store exports it,
// from one that counts kinds of pairs.
func (s *Stock) HasCards() bool {
	return slices.ContainsFunc(s.Pairs, func(p Pair) bool { return p.Place != "" })
}

// Dated tells whether any pair's crack test is good for so many days: then the
// day matters.
func (s *Stock) Dated() bool {
	return slices.ContainsFunc(s.Pairs, func(p Pair) bool { return p.Crack.Days > 0 })
}

// kind is the same for two pairs of which either may stand for the other.
func (p *Pair) kind() string {
	fits := slices.Clone(p.Fits)
	slices.Sort(fits)
	return fmt.Sprintf("%d/%d %q %q %q", p.Layshaft, p.Mainshaft, p.DogSide, p.Group, fits)
}

// before is the order in which alike pairs are taken.
func (u *Use) before(a, b *Pair) bool {
	named := func(p *Pair) int {
		if slices.Contains(u.Named, p.ID) {
			return 0
		}
		return 1
	}
	inCar := func(p *Pair) int {
		if p.Car != "" && p.Car == u.Car {
			return 0
		}
		return 1
	}
	return cmp.Or(
		cmp.Compare(named(a), named(b)),
		cmp.Compare(inCar(a), inCar(b)),
		cmp.Compare(a.used(), b.used()),
		cmp.Compare(a.RunM, b.RunM),
		strings.Compare(a.ID, b.ID),
	) < 0
}

// used is the share of its life that is gone: by distance or by the damage
// estimate, whichever is more.
func (p *Pair) used() float64 {
	if p.LifeM > 0 {
		return max(p.RunM/p.LifeM, p.Damage)
	}
	return p.Damage
}

// FittedIn lists the ids in a car by gear; nil unless they are 1, 2, 3 ...
func (s *Stock) FittedIn(car string) []string {
	byGear := map[int]string{}
	n := 0
	for i := range s.Pairs {
		if p := &s.Pairs[i]; p.Car != "" && p.Car == car && p.Gear > 0 {
			byGear[p.Gear] = p.ID
			n++
		}
	}
	var out []string
	for g := 1; g <= n; g++ {
		id, ok := byGear[g]
		if !ok || len(byGear) != n {
			return nil
		}
		out = append(out, id)
	}
	return out
}
