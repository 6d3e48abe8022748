package gearbox

import "slices"

// Shafts on which a part of the cluster goes.
const (
	OnLayshaft  = "layshaft"
	OnMainshaft = "mainshaft"
	OnBoth      = "both shafts" // a bearing carrier
)

// Parts of a build order, by the words of the trade that a gearbox file uses.
const (
	BearingStep  = "bearing"
	NeedleStep   = "needle bearing"
	LayshaftStep = "layshaft" // the shaft itself, with the gears cut on it
	GearStep     = "gear"
	HubStep      = "hub"
	RingStep     = "dog ring"
	SpacerStep   = "spacer"
	WasherStep   = "washer"
	CarrierStep  = "bearing carrier"
	LockNutStep  = "lock nut"
	LockRingStep = "lock ring"
	SnapRingStep = "snap ring"
	SplitPinStep = "split pin"
)

// stepParts are the parts that a steps table may name.
func stepParts() []string {
	return []string{
		BearingStep, NeedleStep, LayshaftStep, GearStep, HubStep, RingStep, SpacerStep,
		WasherStep, CarrierStep, LockNutStep, LockRingStep, SnapRingStep, SplitPinStep,
	}
}

// BuildStep is one line of the steps table: one part that goes on, first on
// first. It speaks of places in the stack, so that it serves every cluster.
type BuildStep struct {
	Part      string     // one of the step parts: "gear", "dog ring", ...
	Shaft     string     // OnLayshaft, OnMainshaft or OnBoth
	Positions []int      // stack positions that it belongs to, from 1 at the housing; none, one, or two side by side
	Cluster   string     // name of the only cluster that has the step; "" = all
	MarksFace string     // Inner or Outer: where the marks of a gear face; "" = not stated
	MustBeNew bool       // never used again once it came off
	Note      *MakerNote // quoted with it; nil = none
	Text      string     // the user's own words: which shoulder, which side
}

// PlacedGear is a gear that a part carries or engages.
type PlacedGear struct {
	Gear    int    // Reverse for reverse
	Pair    *Pair  // nil for reverse, whose gears are not chosen, and where a hub or ring only engages it
	Teeth   int    // on the shaft of the step; 0 without a pair
	DogSide string // side on which its ring engages; "" = not stated, or on the layshaft
}

// PlacedStep is a step with what the builder reads on the part.
type PlacedStep struct {
	BuildStep
	Number int          // place in the whole build order, from 1
	Gears  []PlacedGear // of a gear or the layshaft what it carries, of a hub or dog ring what it engages
	Fork   int          // from 1, of a mainshaft gear, hub or dog ring; 0 = none
}

// BuildOrder lists everything that goes on the shafts to build the set, first
// on first. Without a steps table in the gearbox file (StepsStated) it holds
// what stack and forks alone tell: layshaft, carrier, gears and dog rings.
//
// The set must be built in a cluster of the box; a set without a pair for a
// gear of the stack is a programmer's mistake and panics.
func (b *Box) BuildOrder(set *Set) []PlacedStep {
	steps := b.stepsOf(set.Cluster)
	out := make([]PlacedStep, len(steps))
	for i, s := range steps {
		out[i] = PlacedStep{BuildStep: s, Number: i + 1, Gears: b.placed(set, &s)}
		if s.Part == RingStep || s.Part == HubStep || (s.Part == GearStep && s.Shaft == OnMainshaft) {
			if len(out[i].Gears) > 0 {
				_, out[i].Fork = set.Cluster.Fork(out[i].Gears[0].Gear)
			}
		}
	}
	return out
}

// StepsStated tells whether the gearbox file has a steps table.
func (b *Box) StepsStated() bool { return len(b.Steps) > 0 }

// placed are the gears that the part carries or engages, in stack order.
func (b *Box) placed(set *Set, s *BuildStep) []PlacedGear {
	var out []PlacedGear
	for i, g := range set.Cluster.Stack {
		slot := b.Slot(set.Cluster, g)
		switch s.Part {
		case LayshaftStep:
			if !slot.CutOn {
				continue
			}
		case GearStep, HubStep, RingStep:
			if !slices.Contains(s.Positions, i+1) {
				continue
			}
		default:
			continue
		}
		p := PlacedGear{Gear: g}
		if g != Reverse && (s.Part == GearStep || s.Part == LayshaftStep) {
			p.Pair = set.Pairs[g-1]
			p.Teeth = p.Pair.Layshaft
			if s.Shaft == OnMainshaft {
				p.Teeth = p.Pair.Mainshaft
			}
		}
		if s.Shaft == OnMainshaft {
			p.DogSide = slot.DogSide
		}
		out = append(out, p)
	}
	return out
}

// stepsOf are the steps that the cluster has.
func (b *Box) stepsOf(c *Cluster) []BuildStep {
	if !b.StepsStated() {
		return b.plainSteps(c)
	}
	var out []BuildStep
	for _, s := range b.Steps {
		if s.Cluster == "" || s.Cluster == c.Name {
			out = append(out, s)
		}
	}
	return out
}

// buildDirection is +1 where the stack is built outward, -1 where it is built
// towards the housing.
func (b *Box) buildDirection() int {
	if b.Strip.LastOnFirstOff == OpensHousing {
		return -1
	}
	return 1
}

// plainSteps is what stack, forks and strip tell by themselves. It says of the
// place of a single fork's ring what mainshaftOff says.
func (b *Box) plainSteps(c *Cluster) []BuildStep {
	var out []BuildStep
	add := func(part, shaft string, positions ...int) {
		out = append(out, BuildStep{Part: part, Shaft: shaft, Positions: positions})
	}
	if slices.ContainsFunc(b.Slots, func(s Slot) bool { return s.CutOn }) {
		add(LayshaftStep, OnLayshaft)
	}
	order := b.removal(c)
	slices.Reverse(order) // first on first
	openSide := Outer
	if b.buildDirection() < 0 {
		openSide = Inner
	}
	rings := map[int]bool{}
	ring := func(gear int) {
		f, n := c.Fork(gear)
		if n == 0 || rings[n] {
			return
		}
		rings[n] = true
		var at []int
		for _, g := range f {
			at = append(at, c.Position(g))
		}
		slices.Sort(at)
		add(RingStep, OnMainshaft, at...)
	}
	for i, g := range order {
		if i > 0 && b.carrierBetween(c, order[i-1], g) {
			add(CarrierStep, OnBoth)
		}
		slot := b.Slot(c, g)
		if !slot.CutOn {
			add(GearStep, OnLayshaft, slot.Position)
		}
		if slot.DogSide != openSide && slot.DogSide != "" {
			ring(g)
		}
		add(GearStep, OnMainshaft, slot.Position)
		if slot.DogSide == openSide || slot.DogSide == "" {
			ring(g)
		}
	}
	return out
}

// onShaft tells whether the step is on that shaft; a carrier is on both.
func (s *BuildStep) onShaft(shaft string) bool { return s.Shaft == shaft || s.Shaft == OnBoth }

// reaches tells whether the step must come off that shaft to change the pair at
// the stack position: its gear, or the layshaft where the gear is cut on it or
// a cut gear nearer to the open end stands in its way.
func (b *Box) reaches(s *BuildStep, shaft string, position int) bool {
	switch s.Part {
	case GearStep:
		return s.Shaft == shaft && s.Positions[0] == position
	case LayshaftStep:
		return shaft == OnLayshaft && slices.ContainsFunc(b.Slots, func(slot Slot) bool {
			return slot.CutOn && b.buildDirection()*(slot.Position-position) >= 0
		})
	}
	return false
}
