package sheet

import (
	"fmt"
	"slices"

	"layshaft/cars/gearbox"
)

// Rebuild is the shortest way on the bench from the old sheet's set to the
// new one's: what need not come off stays on.
type Rebuild struct {
	ChangedGears  []int         `json:"changed_gears"`
	EverythingOff bool          `json:"everything_comes_off"` // another cluster
	BenchMin      float64       `json:"bench_min"`            // a change of final drive or drop pair is not in it
	ComesOff      []int         `json:"comes_off"`            // gears that leave their shaft, in removal order
	Off           []RebuildStep `json:"off"`                  // in removal order; step is the number in the old sheet's build order
	On            []RebuildStep `json:"on"`                   // in build order; step is the number in the new sheet's
	MustBeNew     []NewPart     `json:"must_be_new"`
	PairsOut      []PairMove    `json:"pairs_out_of_gearbox"`
	PairsIn       []PairMove    `json:"pairs_into_gearbox"`
	PairsMoved    []PairMove    `json:"pairs_moved"` // stay in the gearbox, in another gear
	OtherFinal    bool          `json:"other_final_drive"`
	OtherDrop     bool          `json:"other_drop"`
	StepsStated   bool          `json:"build_steps_stated"` // false: stack and forks alone tell
}

// RebuildStep is a build step that comes off or goes on.
type RebuildStep struct {
	BuildStep
	Changed bool `json:"changed"` // it brings, or takes away, another pair than the other sheet has there
}

// NewPart is a kind of part that must be new.
type NewPart struct {
	Part  string `json:"part"`
	Shaft string `json:"shaft"`
	Count int    `json:"part_count"`
	Steps []int  `json:"step"` // numbers in the new sheet's build order
}

// PairMove is a pair with the gear that it leaves and the one that it serves.
type PairMove struct {
	From           *int   `json:"from"` // old gear; nil = it comes from outside
	To             *int   `json:"to"`   // new gear; nil = it leaves
	PairID         string `json:"pair_id"`
	LayshaftTeeth  int    `json:"layshaft_teeth"`
	MainshaftTeeth int    `json:"mainshaft_teeth"`
	Mark           string `json:"mark"`
	Group          string `json:"group"` // integral part that it is cut on; "" = a loose pair
}

// rebuild plans the way between the sheets; without a plan it says why. The
// gearbox is taken as the new sheet has it.
func rebuild(o, n *Sheet) (plan *Rebuild, why string, warnings []string) {
	switch {
	case o.Gearbox != n.Gearbox:
		return nil, fmt.Sprintf("the sheets are of two gearboxes (%s and %s)", o.Gearbox, n.Gearbox), nil
	case o.Bench == nil || n.Bench == nil:
		return nil, "a sheet was saved before sheets kept the build order; make it again", nil
	case len(o.Gears) != len(n.Gears) || len(o.Stack) != len(n.Stack):
		return nil, fmt.Sprintf("the gearbox %s has another number of gears or slots on the two sheets", n.Gearbox), nil
	}
	oldBox, from := o.asBuilt()
	b, to := n.asBuilt()
	if !slices.Equal(oldBox.Slots, b.Slots) || oldBox.Strip.LastOnFirstOff != b.Strip.LastOnFirstOff ||
		oldBox.Strip.CarrierAfter != b.Strip.CarrierAfter {
		return nil, fmt.Sprintf("slots, carrier or open end of the gearbox %s differ between the two sheets: its file was changed", n.Gearbox), nil
	}
	if !slices.Equal(o.Bench.DepthMin, n.Bench.DepthMin) || oldBox.Strip.Opening != b.Strip.Opening ||
		oldBox.Strip.PerPair != b.Strip.PerPair || oldBox.Strip.Closing != b.Strip.Closing {
		warnings = append(warnings, "the bench minutes of the gearbox file were changed between the two sheets: the new sheet's count")
	}
	if sameCluster(&oldBox.Clusters[0], &b.Clusters[0]) {
		if !sameSteps(oldBox.Steps, b.Steps) {
			warnings = append(warnings, "the steps table of the gearbox file was changed between the two sheets: the plan follows the new sheet's")
		}
		from.Cluster = to.Cluster
	} else {
		join(b, oldBox, from, to)
	}
	return rebuildOf(b, b.Rebuild(from, to)), "", warnings
}

// sameCluster: two layouts are the same when they are built the same.
func sameCluster(a, b *gearbox.Cluster) bool {
	return slices.Equal(a.Stack, b.Stack) && slices.EqualFunc(a.Forks, b.Forks, func(f, g gearbox.Fork) bool { return slices.Equal(f, g) })
}

func sameSteps(a, b []gearbox.BuildStep) bool {
	return slices.EqualFunc(a, b, func(s, t gearbox.BuildStep) bool {
		return s.Part == t.Part && s.Shaft == t.Shaft && slices.Equal(s.Positions, t.Positions)
	})
}

// join makes one box of the two, with both clusters and the steps of each.
func join(b, oldBox *gearbox.Box, from, to *gearbox.Set) {
	clusters := []gearbox.Cluster{oldBox.Clusters[0], b.Clusters[0]}
	clusters[0].Name, clusters[1].Name = "old", "new"
	var steps []gearbox.BuildStep
	for i, one := range []*gearbox.Box{oldBox, b} {
		for _, s := range one.Steps {
			s.Cluster = clusters[i].Name
			steps = append(steps, s)
		}
	}
	if len(oldBox.Steps) == 0 || len(b.Steps) == 0 {
		steps = nil // half a table would leave the other cluster without any part
	}
	b.Clusters, b.Steps = clusters, steps
	from.Cluster, to.Cluster = &b.Clusters[0], &b.Clusters[1]
}

func rebuildOf(b *gearbox.Box, p *gearbox.RebuildPlan) *Rebuild {
	out := &Rebuild{
		ChangedGears: append([]int{}, p.Changed...), EverythingOff: p.Whole,
		BenchMin: roundTo(p.Time/secondsPerMinute, benchDecimals), ComesOff: []int{},
		Off: []RebuildStep{}, On: []RebuildStep{}, MustBeNew: []NewPart{},
		OtherFinal: p.Final, OtherDrop: p.Drop, StepsStated: b.StepsStated(),
	}
	for i := range p.Off {
		s := &p.Off[i]
		out.Off = append(out.Off, RebuildStep{buildStep(s), p.Changes(s)})
		if s.Part == gearbox.GearStep || s.Part == gearbox.LayshaftStep {
			for _, g := range s.Gears {
				if !slices.Contains(out.ComesOff, g.Gear) {
					out.ComesOff = append(out.ComesOff, g.Gear)
				}
			}
		}
	}
	for i := range p.On {
		out.On = append(out.On, RebuildStep{buildStep(&p.On[i]), p.Changes(&p.On[i])})
	}
	out.MustBeNew = newPartsOf(p)
	out.PairsOut, out.PairsIn, out.PairsMoved = pairMoves(p.OldPairs), pairMoves(p.NewPairs), pairMoves(p.Moves)
	return out
}

// newPartsOf counts the parts of a rebuild that must be new, by kind and shaft in
// build order.
func newPartsOf(p *gearbox.RebuildPlan) []NewPart {
	out := []NewPart{}
	for _, s := range p.MustBeNew() {
		at := slices.IndexFunc(out, func(n NewPart) bool { return n.Part == s.Part && n.Shaft == s.Shaft })
		if at < 0 {
			at = len(out)
			out = append(out, NewPart{Part: s.Part, Shaft: s.Shaft})
		}
		out[at].Count++
		out[at].Steps = append(out[at].Steps, s.Number)
	}
	return out
}

func pairMoves(moves []gearbox.Moved) []PairMove {
	out := []PairMove{}
	for _, m := range moves {
		one := PairMove{
			PairID: m.Pair.ID, LayshaftTeeth: m.Pair.Layshaft, MainshaftTeeth: m.Pair.Mainshaft, Mark: m.Pair.Mark, Group: m.Pair.Group,
		}
		if m.From > 0 {
			one.From = &m.From
		}
		if m.To > 0 {
			one.To = &m.To
		}
		out = append(out, one)
	}
	return out
}
