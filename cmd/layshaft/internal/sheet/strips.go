package sheet

import (
	"slices"

	"layshaft/cars/gearbox"
)

const secondsPerMinute = 60

// stripFor tells what comes off to change the pairs of the gears in one go.
// What one gear needs is the head of the same removal order on each shaft, so
// the longest list of each shaft holds the others.
func stripFor(b *gearbox.Box, c *gearbox.Cluster, gears []int) (*Strip, error) {
	out := &Strip{ComesOff: []int{}, Layshaft: []string{}, Mainshaft: []string{}}
	var lay, main []gearbox.Part
	for _, g := range gears {
		off, err := b.ComesOff(c, g)
		if err != nil {
			return nil, err
		}
		if len(off.Layshaft) > len(lay) {
			lay = off.Layshaft
		}
		if len(off.Mainshaft) > len(main) {
			main = off.Mainshaft
		}
		out.ClusterStrip = out.ClusterStrip || off.Strip
		out.PositionsDeep = max(out.PositionsDeep, off.Depth)
		if len(gears) == 1 {
			out.ComesOff = off.Gears()
		}
	}
	if len(gears) > 1 {
		out.ClusterStrip = true
		out.ComesOff = looseGears(lay, main)
	}
	for _, p := range lay {
		out.Layshaft = append(out.Layshaft, p.String())
	}
	for _, p := range main {
		out.Mainshaft = append(out.Mainshaft, p.String())
	}
	out.BenchMin = roundTo(b.Minutes(c, gears)/secondsPerMinute, benchDecimals)
	return out, nil
}

// looseGears lists the gears among the parts, each once, in removal order.
func looseGears(shafts ...[]gearbox.Part) []int {
	out := []int{}
	for _, parts := range shafts {
		for _, p := range parts {
			if p.Kind != gearbox.GearPart && p.Kind != gearbox.LayshaftPart {
				continue
			}
			for _, g := range p.Gears {
				if !slices.Contains(out, g) {
					out = append(out, g)
				}
			}
		}
	}
	return out
}

// changedGears lists the gears whose pair differs, from the first.
func changedGears(from, to []string) []int {
	out := []int{}
	for i := range to {
		if i >= len(from) || from[i] != to[i] {
			out = append(out, i+1)
		}
	}
	return out
}

// fromFitted is the way from the set that the stock calls fitted; nil when it
// names none.
func fromFitted(in *Input) (*Change, error) {
	if len(in.Stock.Fitted) == 0 {
		return nil, nil
	}
	set := in.Answer.Set
	c := &Change{ChangedGears: changedGears(in.Stock.Fitted, setIDs(set))}
	if f := in.Stock.FittedFinal(); f != nil && f.Name != set.Final.Name {
		c.OtherDrives = true
	}
	if d := in.Stock.FittedDrop(); d != nil && set.Drop != nil && d.Name != set.Drop.Name {
		c.OtherDrives = true
	}
	if len(c.ChangedGears) > 0 {
		strip, err := stripFor(in.Box, set.Cluster, c.ChangedGears)
		if err != nil {
			return nil, err
		}
		c.Strip = strip
	}
	return c, nil
}

// alternatesByGear is a stable order for the text: condition as first met,
// then gear, then as ranked.
func alternatesByGear(list []Alternate) [][]Alternate {
	var names []string
	groups := map[string][]Alternate{}
	for _, a := range list {
		if !slices.Contains(names, a.Condition) {
			names = append(names, a.Condition)
		}
		groups[a.Condition] = append(groups[a.Condition], a)
	}
	var out [][]Alternate
	for _, n := range names {
		g := groups[n]
		slices.SortStableFunc(g, func(a, b Alternate) int { return a.Gear - b.Gear })
		out = append(out, g)
	}
	return out
}
