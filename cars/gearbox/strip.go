package gearbox

import (
	"fmt"
	"slices"
)

// Ends at which a box opens, values of Strip.LastOnFirstOff.
const (
	OpensOuter   = "outer"   // the end away from the housing
	OpensHousing = "housing" // the housing's own end
)

// PartKind says what a part is that comes off a shaft.
type PartKind int

const (
	GearPart     PartKind = iota + 1 // a loose gear with its bearing and spacers
	RingPart                         // a dog ring with its hub
	CarrierPart                      // the bearing carrier
	LayshaftPart                     // the layshaft itself, with the gears cut on it
)

// Part is one thing that comes off.
type Part struct {
	Kind  PartKind
	Gears []int // GearPart: its gear; RingPart: the gears of its fork; CarrierPart: the gears that leave the box with it; LayshaftPart: the gears cut on it
}

// String names the part as a build sheet does.
func (p Part) String() string {
	switch p.Kind {
	case GearPart:
		return "gear " + GearName(p.Gears[0])
	case RingPart:
		return "dog ring " + Fork(p.Gears).String()
	case CarrierPart:
		return "bearing carrier"
	default:
		return "layshaft with gear " + Fork(p.Gears).String()
	}
}

// Off is what must come off to change the pair of a gear.
type Off struct {
	Gear      int
	Layshaft  []Part // in removal order, the gear itself last
	Mainshaft []Part // in removal order, the gear itself last
	Depth     int    // stack positions opened, from 1: the deepest layer
	Strip     bool   // more than the gear itself comes off: the cluster must be stripped
}

// Gears lists the gears that leave their shaft, in removal order, the changed
// one last.
func (o Off) Gears() []int {
	var out []int
	for _, parts := range [][]Part{o.Layshaft, o.Mainshaft} {
		for _, p := range parts {
			if p.Kind != GearPart && p.Kind != LayshaftPart {
				continue
			}
			for _, g := range p.Gears {
				if g != o.Gear && !slices.Contains(out, g) {
					out = append(out, g)
				}
			}
		}
	}
	return append(out, o.Gear)
}

// ComesOff tells what must come off, on each shaft apart, to change the pair
// of the gear. The last gear on is the first off, from the end at which the
// box opens.
//
// Layshaft: the gears down to this one. Where the gear is cut in one piece
// with the layshaft, or a gear that is cut on it stands in the way, the
// layshaft comes out with all that it carries. Mainshaft: the gears down to
// this one and the dog rings between them; the ring of a fork of one gear is
// taken to stand on the slot's dog side, or on the open side if that is not
// stated, which errs towards more coming off. Where the way leads past the
// bearing carrier it comes off too, and with it, as one, the gears that stand
// beyond it from the housing.
//
// The error names a gear that the cluster does not hold.
func (b *Box) ComesOff(c *Cluster, gear int) (Off, error) {
	order := b.removal(c)
	at := slices.Index(order, gear)
	if at < 0 {
		return Off{}, fmt.Errorf("cluster %s: gear %s is not in its stack", c.Name, GearName(gear))
	}
	off := Off{Gear: gear, Depth: at + 1}
	off.Layshaft = b.layshaftOff(c, order, at)
	if n := len(off.Layshaft); n > 0 && off.Layshaft[n-1].Kind == LayshaftPart {
		off.Depth = len(order)
	}
	off.Mainshaft = b.mainshaftOff(c, order, at)
	off.Strip = len(off.Layshaft) > 1 || len(off.Mainshaft) > 1
	return off, nil
}

// removal is the stack in the order in which it comes off.
func (b *Box) removal(c *Cluster) []int {
	order := slices.Clone(c.Stack)
	if b.Strip.LastOnFirstOff != OpensHousing {
		slices.Reverse(order)
	}
	return order
}

// carrierBetween reports whether the bearing carrier sits between two
// neighbouring gears of the stack.
func (b *Box) carrierBetween(c *Cluster, g, h int) bool {
	k := b.Strip.CarrierAfter
	if k == 0 {
		return false
	}
	p, q := c.Position(g), c.Position(h)
	return min(p, q) == k && max(p, q) == k+1
}

// carrier is the carrier as a part, with the gears that leave the box on it.
func (b *Box) carrier(c *Cluster) Part {
	return Part{Kind: CarrierPart, Gears: slices.Clone(c.Stack[b.Strip.CarrierAfter:])}
}

func (b *Box) layshaftOff(c *Cluster, order []int, at int) []Part {
	whole := slices.ContainsFunc(order[:at+1], func(g int) bool { return b.cutOn(c, g) })
	last := at
	if whole {
		last = len(order) - 1
	}
	var parts []Part
	var cut []int
	for i, g := range order[:last+1] {
		if i > 0 && b.carrierBetween(c, order[i-1], g) {
			parts = append(parts, b.carrier(c))
		}
		if b.cutOn(c, g) {
			cut = append(cut, g)
			continue
		}
		parts = append(parts, Part{Kind: GearPart, Gears: []int{g}})
	}
	if whole {
		parts = append(parts, Part{Kind: LayshaftPart, Gears: cut})
	}
	return parts
}

func (b *Box) cutOn(c *Cluster, gear int) bool {
	s := b.Slot(c, gear)
	return s != nil && s.CutOn
}

func (b *Box) mainshaftOff(c *Cluster, order []int, at int) []Part {
	openSide := Outer
	if b.Strip.LastOnFirstOff == OpensHousing {
		openSide = Inner
	}
	var parts []Part
	rings := map[int]bool{}
	ring := func(g int) {
		f, n := c.Fork(g)
		if n > 0 && !rings[n] {
			rings[n] = true
			parts = append(parts, Part{Kind: RingPart, Gears: slices.Clone(f)})
		}
	}
	for i, g := range order[:at+1] {
		if i > 0 && b.carrierBetween(c, order[i-1], g) {
			parts = append(parts, b.carrier(c))
		}
		side := ""
		if s := b.Slot(c, g); s != nil {
			side = s.DogSide
		}
		if side == openSide || side == "" {
			ring(g)
		}
		parts = append(parts, Part{Kind: GearPart, Gears: []int{g}})
		// A ring on the far side comes off only when the next gear does.
		if i < at && side != openSide {
			ring(g)
		}
	}
	return parts
}

// Minutes is the bench time, in s in spite of the trade's word, to change the
// pairs of the gears at one go: opening, the deepest layer (a maximum, not a
// sum), the time per pair, closing and checking. No gears take no time; a gear
// named twice counts once. A gear that is not in the stack is a programmer's
// mistake and panics.
func (b *Box) Minutes(c *Cluster, gears []int) float64 {
	if len(gears) == 0 {
		return 0
	}
	deepest, pairs := 0, 0
	for i, g := range gears {
		if slices.Contains(gears[:i], g) {
			continue
		}
		off, err := b.ComesOff(c, g)
		if err != nil {
			panic("gearbox: Minutes of a gear that the cluster does not hold")
		}
		deepest = max(deepest, off.Depth)
		pairs++
	}
	return b.Strip.Opening + b.Strip.Depth[deepest-1] + float64(pairs)*b.Strip.PerPair + b.Strip.Closing
}
