package verify

import (
	"fmt"
	"math"
	"math/big"

	"layshaft/cars/gearbox"
)

// Limits are the rules beside those of box and stock; the zero value adds
// none.
type Limits struct {
	StepMin float64           // least ratio step between neighbours; 0 = the box's own
	StepMax float64           // greatest ratio step between neighbours; 0 = the box's own
	Waived  map[string]string // pair id -> who allowed it out of life or uninspected, and why
}

// stepSlack is relative: a step that equals a limit up to the rounding of the
// limit's decimal notation passes. Steps of real tooth numbers lie at least
// 1e-8 apart (product of four numbers of up to 120), so it hides nothing.
const stepSlack = 1e-12

// Verify returns every reason why the set cannot be built or may not run; an
// empty result means that it can. The set's pointers need not point into the
// box and the stock: what counts is what box and stock hold under the same
// name or id.
func Verify(b *gearbox.Box, s *gearbox.Stock, set *gearbox.Set, l Limits) []error {
	if b == nil || s == nil || set == nil {
		return []error{fmt.Errorf("verify: box, stock or set is missing")}
	}
	v := &check{box: b, stock: s, set: set, limits: l}
	if len(set.Pairs) != b.Gears {
		v.fault("the set holds %d pairs, the box has %d gears", len(set.Pairs), b.Gears)
		return v.faults
	}
	v.pairs()
	v.cluster()
	v.steps()
	v.groups()
	v.drives()
	v.ratios()
	return v.faults
}

type check struct {
	box    *gearbox.Box
	stock  *gearbox.Stock
	set    *gearbox.Set
	limits Limits
	faults []error
}

func (v *check) fault(format string, args ...any) {
	v.faults = append(v.faults, fmt.Errorf(format, args...))
}

// pairs: each pair is the one that the stock holds under its id, there are as
// many as the set needs, in life, inspected.
func (v *check) pairs() {
	need := map[string]int{}
	for i, p := range v.set.Pairs {
		gear := i + 1
		if p == nil {
			v.fault("gear %d: no pair", gear)
			continue
		}
		need[p.ID]++
		var held *gearbox.Pair
		for j := range v.stock.Pairs {
			if v.stock.Pairs[j].ID == p.ID {
				held = &v.stock.Pairs[j]
			}
		}
		if held == nil {
			v.fault("gear %d: pair %s is not in stock %s", gear, p.ID, v.stock.Name)
			continue
		}
		if held.Layshaft != p.Layshaft || held.Mainshaft != p.Mainshaft {
			v.fault("gear %d: pair %s has %d/%d teeth in the set, %d/%d in the stock", gear, p.ID,
				p.Layshaft, p.Mainshaft, held.Layshaft, held.Mainshaft)
		}
		if held.Layshaft < 1 || held.Mainshaft < 1 {
			v.fault("gear %d: pair %s has no teeth", gear, p.ID)
		}
		if held.Count < need[p.ID] {
			v.fault("gear %d: pair %s: %d needed, %d in the stock", gear, p.ID, need[p.ID], held.Count)
		}
		if held.NotFree != "" {
			v.fault("gear %d: pair %s is not free: %s", gear, p.ID, held.NotFree)
		}
		if _, waived := v.limits.Waived[p.ID]; waived {
			continue
		}
		if held.LifeM > 0 && !(held.RunM < held.LifeM) {
			v.fault("gear %d: pair %s is out of life (%.0f m of %.0f m)", gear, p.ID, held.RunM, held.LifeM)
		}
		if held.InspectionDue {
			why := ""
			if held.InspectionWhy != "" {
				why = ": " + held.InspectionWhy
			}
			v.fault("gear %d: pair %s is due for inspection%s", gear, p.ID, why)
		}
	}
}

// cluster: listed in the box, a place and a fork for every gear, each pair
// fits the place where its gear stands.
func (v *check) cluster() {
	c := v.set.Cluster
	if c == nil {
		v.fault("the set names no cluster")
		return
	}
	listed := false
	for _, k := range v.box.Clusters {
		if k.Name == c.Name && fmt.Sprint(k.Forks) == fmt.Sprint(c.Forks) && fmt.Sprint(k.Stack) == fmt.Sprint(c.Stack) {
			listed = true
		}
	}
	if !listed {
		v.fault("cluster %q with forks %v and stack %v is not listed in box %s", c.Name, c.Forks, c.Stack, v.box.Name)
	}
	if len(c.Stack) != len(v.box.Slots) {
		v.fault("cluster %s: %d gears in the stack, %d slots in the box", c.Name, len(c.Stack), len(v.box.Slots))
		return
	}
	place := map[int]int{}
	for i, g := range c.Stack {
		if place[g] != 0 {
			v.fault("cluster %s: gear %d stands in the stack twice", c.Name, g)
		}
		place[g] = i + 1
	}
	side := v.forks(c, place)
	for i, p := range v.set.Pairs {
		gear := i + 1
		if place[gear] == 0 {
			v.fault("cluster %s: gear %d is not in the stack", c.Name, gear)
			continue
		}
		if p != nil {
			v.fits(gear, p.ID, place[gear], side[gear])
		}
	}
}

// forks returns the side on which each gear of a fork of two is engaged.
func (v *check) forks(c *gearbox.Cluster, place map[int]int) map[int]string {
	side := map[int]string{}
	forksOf := map[int]int{}
	for _, f := range c.Forks {
		if len(f) < 1 || len(f) > 2 {
			v.fault("cluster %s: fork %v serves %d gears", c.Name, []int(f), len(f))
		}
		for _, g := range f {
			forksOf[g]++
		}
		if len(f) != 2 {
			continue
		}
		low, high := min(f[0], f[1]), max(f[0], f[1])
		if low > 0 && high == low+1 && !v.box.NeighboursShare {
			v.fault("cluster %s: gears %d and %d share a fork, which the box forbids", c.Name, low, high)
		}
		switch place[f[1]] - place[f[0]] {
		case 1:
			side[f[0]], side[f[1]] = "outer", "inner"
		case -1:
			side[f[0]], side[f[1]] = "inner", "outer"
		default:
			v.fault("cluster %s: gears %v of one fork do not stand side by side (positions %d and %d)",
				c.Name, []int(f), place[f[0]], place[f[1]])
		}
	}
	for gear := 1; gear <= v.box.Gears; gear++ {
		if forksOf[gear] != 1 {
			v.fault("cluster %s: gear %d is served by %d forks", c.Name, gear, forksOf[gear])
		}
	}
	return side
}

// fits: kind and dog side of the stock's pair against the place.
func (v *check) fits(gear int, id string, place int, ring string) {
	slot := v.box.Slots[place-1]
	if ring == "" {
		ring = slot.DogSide
	} else if slot.DogSide != "" && slot.DogSide != ring {
		v.fault("gear %d: the ring stands on its %s side, slot %d is made for %s", gear, ring, place, slot.DogSide)
	}
	for i := range v.stock.Pairs {
		p := &v.stock.Pairs[i]
		if p.ID != id {
			continue
		}
		kind := false
		for _, k := range p.Fits {
			kind = kind || k == slot.Kind
		}
		if !kind {
			v.fault("gear %d: pair %s fits %v, position %d is a %s slot", gear, id, p.Fits, place, slot.Kind)
		}
		if (p.DogSide == "inner" && ring == "outer") || (p.DogSide == "outer" && ring == "inner") {
			v.fault("gear %d: pair %s has its dogs on the %s side, the ring stands on the %s side", gear, id, p.DogSide, ring)
		}
	}
}

// steps: strictly falling ratios, every step in range.
func (v *check) steps() {
	lo, hi := v.limits.StepMin, v.limits.StepMax
	if lo == 0 {
		lo = v.box.StepMin
	}
	if hi == 0 {
		hi = v.box.StepMax
	}
	for i := 1; i < len(v.set.Pairs); i++ {
		p, q := v.set.Pairs[i-1], v.set.Pairs[i]
		if p == nil || q == nil || min(p.Layshaft, p.Mainshaft, q.Layshaft, q.Mainshaft) < 1 {
			continue
		}
		num, den := p.Mainshaft*q.Layshaft, p.Layshaft*q.Mainshaft
		if num <= den {
			v.fault("gears %d and %d: ratio %d/%d is not below %d/%d", i, i+1, q.Mainshaft, q.Layshaft, p.Mainshaft, p.Layshaft)
			continue
		}
		step := float64(num) / float64(den)
		if lo > 0 && step < lo*(1-stepSlack) {
			v.fault("gears %d and %d: step %.4f is below %g", i, i+1, step, lo)
		}
		if hi > 0 && step > hi*(1+stepSlack) {
			v.fault("gears %d and %d: step %.4f is above %g", i, i+1, step, hi)
		}
	}
}

// groups: what is cut in one piece comes only together.
func (v *check) groups() {
	used := map[string]bool{}
	for _, p := range v.set.Pairs {
		if p != nil {
			used[p.ID] = true
		}
	}
	for i := range v.stock.Pairs {
		p := &v.stock.Pairs[i]
		if p.Group == "" || !used[p.ID] {
			continue
		}
		for j := range v.stock.Pairs {
			q := &v.stock.Pairs[j]
			if q.Group == p.Group && !used[q.ID] {
				v.fault("pair %s is cut on %s together with %s, which the set does not use", p.ID, p.Group, q.ID)
			}
		}
	}
}

// drives: final drive and drop pair are in stock and allowed.
func (v *check) drives() {
	if v.set.Final == nil {
		v.fault("the set has no final drive")
	} else {
		v.drive("final drive", v.set.Final, v.stock.Finals, v.box.FinalFixed)
	}
	switch {
	case v.set.Drop != nil:
		v.drive("drop pair", v.set.Drop, v.stock.Drops, false)
	case len(v.stock.Drops) > 0:
		v.fault("the set has no drop pair, but the box needs one (stock %s lists %d)", v.stock.Name, len(v.stock.Drops))
	}
}

func (v *check) drive(what string, d *gearbox.Drive, held []gearbox.Drive, fixed bool) {
	for _, h := range held {
		if h.Name != d.Name {
			continue
		}
		if h.Driving != d.Driving || h.Driven != d.Driven {
			v.fault("%s %s has %d/%d teeth in the set, %d/%d in the stock", what, d.Name, d.Driving, d.Driven, h.Driving, h.Driven)
		}
		if h.Count < 1 {
			v.fault("%s %s: none in the stock", what, d.Name)
		}
		if fixed && !h.Fitted && len(held) > 1 {
			v.fault("%s %s is not the fitted one, and the box fixes it for the event", what, d.Name)
		}
		return
	}
	v.fault("%s %s is not in stock %s", what, d.Name, v.stock.Name)
}

// ratios: the totals that everything else uses are those of the teeth.
func (v *check) ratios() {
	if v.set.Final == nil || v.set.Final.Driving < 1 {
		return
	}
	for _, p := range v.set.Pairs {
		if p == nil || p.Layshaft < 1 {
			return
		}
	}
	if v.set.Drop != nil && v.set.Drop.Driving < 1 {
		return
	}
	total := v.set.TotalRatios()
	if len(total) != len(v.set.Pairs) {
		v.fault("%d total ratios for %d gears", len(total), len(v.set.Pairs))
		return
	}
	for i, p := range v.set.Pairs {
		r := big.NewRat(int64(p.Mainshaft), int64(p.Layshaft))
		r.Mul(r, big.NewRat(int64(v.set.Final.Driven), int64(v.set.Final.Driving)))
		if v.set.Drop != nil {
			r.Mul(r, big.NewRat(int64(v.set.Drop.Driven), int64(v.set.Drop.Driving)))
		}
		want, _ := r.Float64()
		if !(math.Abs(total[i]-want) <= 1e-12*want) {
			v.fault("gear %d: total ratio %g, the teeth give %g", i+1, total[i], want)
		}
	}
}
