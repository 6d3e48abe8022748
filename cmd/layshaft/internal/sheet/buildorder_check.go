package sheet

import (
	"fmt"
	"slices"

	"layshaft/cars/gearbox"
)

// buildOrder holds the build order against the gear table, the stack and the
// forks: the two gears of a pair carry one mark, the teeth are those of the
// table, every gear goes on both shafts once and in the order in which the box
// is built. A sheet from before build orders has none.
func (c *sums) buildOrder(s *Sheet) {
	if s.BuildOrder == nil && s.Bench == nil {
		return
	}
	if !c.bench(s) {
		return
	}
	on := map[string][]int{} // stack positions of the gears, by shaft, in order
	for i := range s.BuildOrder {
		st := &s.BuildOrder[i]
		what := fmt.Sprintf("build step %d (%s)", i+1, st.Part)
		if st.Step != i+1 {
			c.fault("%s has the number %d", what, st.Step)
		}
		if !c.placesHold(s, st, what) {
			continue
		}
		for _, g := range st.Gears {
			c.stepGear(s, st, g, what)
			if st.Part == gearbox.GearStep {
				on[st.Shaft] = append(on[st.Shaft], slices.Index(s.Stack, g.Gear)+1)
			}
		}
	}
	c.onceEach(s, on)
}

// bench: the lists have the lengths that the stack asks for.
func (c *sums) bench(s *Sheet) bool {
	n := len(s.Stack)
	switch {
	case s.Bench == nil || s.BuildOrder == nil:
		c.fault("the build order or the bench rules are missing")
	case len(s.Bench.Slots) != n || len(s.Bench.DepthMin) != n:
		c.fault("%d slots and %d depths for a stack of %d", len(s.Bench.Slots), len(s.Bench.DepthMin), n)
	case s.Bench.CarrierAfter < 0 || s.Bench.CarrierAfter >= max(n, 1):
		c.fault("the bearing carrier after position %d, the stack has %d", s.Bench.CarrierAfter, n)
	case s.OpensAt != gearbox.OpensOuter && s.OpensAt != gearbox.OpensHousing:
		c.fault("the box opens at %q", s.OpensAt)
	default:
		for i, g := range s.Stack {
			if g != gearbox.Reverse && (g < 1 || g > len(s.Gears)) || slices.Contains(s.Stack[:i], g) {
				c.fault("the stack is %v", s.Stack)
				return false
			}
		}
		for _, v := range slices.Concat(s.Bench.DepthMin, []float64{s.Bench.OpeningMin, s.Bench.PerPairMin, s.Bench.ClosingMin}) {
			c.finite("a bench time", v)
		}
		return true
	}
	return false
}

// placesHold: the gears of a step are those that stand at its stack positions.
func (c *sums) placesHold(s *Sheet, st *BuildStep, what string) bool {
	for _, p := range st.Positions {
		if p < 1 || p > len(s.Stack) {
			c.fault("%s: stack position %d, the stack has %d", what, p, len(s.Stack))
			return false
		}
	}
	var want []int
	switch st.Part {
	case gearbox.GearStep:
		if len(st.Positions) != 1 {
			c.fault("%s stands at %d stack positions", what, len(st.Positions))
			return false
		}
		fallthrough
	case gearbox.HubStep, gearbox.RingStep:
		for _, p := range st.Positions {
			want = append(want, s.Stack[p-1])
		}
	case gearbox.LayshaftStep:
		for i, slot := range s.Bench.Slots {
			if slot.CutOn {
				want = append(want, s.Stack[i])
			}
		}
	}
	var got []int
	for _, g := range st.Gears {
		got = append(got, g.Gear)
	}
	if !slices.Equal(got, want) {
		c.fault("%s: gears %v, at its stack positions stand %v", what, got, want)
		return false
	}
	return true
}

// stepGear holds one gear of a step against its line of the gear table.
func (c *sums) stepGear(s *Sheet, st *BuildStep, g StepGear, what string) {
	carries := st.Part == gearbox.GearStep || st.Part == gearbox.LayshaftStep
	if g.Gear == gearbox.Reverse || !carries {
		if g.PairID != "" || g.Mark != "" || g.Teeth != nil {
			c.fault("%s: gear %s has a pair here, which the gear table does not give", what, gearbox.GearName(g.Gear))
		}
	} else {
		line := &s.Gears[g.Gear-1]
		teeth := line.LayshaftTeeth
		if st.Shaft == gearbox.OnMainshaft {
			teeth = line.MainshaftTeeth
		}
		switch {
		case g.PairID != line.PairID:
			c.fault("%s: gear %d is pair %s, in the gear table %s", what, g.Gear, g.PairID, line.PairID)
		case g.Mark != line.Mark:
			c.fault("%s: gear %d has the mark %s, in the gear table %s", what, g.Gear, g.Mark, line.Mark)
		case g.Teeth == nil || *g.Teeth != teeth:
			c.fault("%s: gear %d has %s teeth, in the gear table %d", what, g.Gear, whole(g.Teeth), teeth)
		}
	}
	if st.Shaft != gearbox.OnMainshaft {
		return
	}
	if st.Fork == nil || *st.Fork < 1 || *st.Fork > len(s.Forks) || !slices.Contains(s.Forks[*st.Fork-1], g.Gear) {
		c.fault("%s: gear %s on fork %s, the forks are %v", what, gearbox.GearName(g.Gear), whole(st.Fork), s.Forks)
	}
	if g.Gear > 0 && g.DogSide != s.Gears[g.Gear-1].DogSide {
		c.fault("%s: gear %d has its dogs on side %q, in the gear table %q", what, g.Gear, g.DogSide, s.Gears[g.Gear-1].DogSide)
	}
}

// onceEach: every place of the stack has its gear on both shafts once, in the
// order of building.
func (c *sums) onceEach(s *Sheet, on map[string][]int) {
	for _, shaft := range []string{gearbox.OnLayshaft, gearbox.OnMainshaft} {
		var want []int
		for i := range s.Stack {
			if shaft == gearbox.OnMainshaft || !s.Bench.Slots[i].CutOn {
				want = append(want, i+1)
			}
		}
		if s.OpensAt == gearbox.OpensHousing {
			slices.Reverse(want)
		}
		if !slices.Equal(on[shaft], want) {
			c.fault("build order of the %s: stack positions %v, the box is built in the order %v", shaft, on[shaft], want)
		}
	}
	cut := slices.ContainsFunc(s.Bench.Slots, func(b BenchSlot) bool { return b.CutOn })
	shafts := 0
	for i := range s.BuildOrder {
		if s.BuildOrder[i].Part == gearbox.LayshaftStep {
			shafts++
		}
	}
	if shafts > 1 || cut && shafts == 0 {
		c.fault("the layshaft goes in %d times", shafts)
	}
}
