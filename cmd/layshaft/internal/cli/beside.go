package cli

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/units"
	"layshaft/optimize/gearing"
	"layshaft/sim"
	"layshaft/tracks"
)

const (
	// caseWind is the wind of the cases for top gear. A fresh breeze along
	// the straight; the engineer's own wind goes into the flags.
	caseWind = 15 * units.FromKmh // m/s

	// caseTow is the tow of the case for top gear when the flags state none:
	// an assumption, printed with the case.
	caseTowDrag      = 0.90
	caseTowDownforce = 0.95

	lightFuel = 3 // kg, the end of a run
	perGear   = 2 // alternates listed for each gear

	// spareTops is how many more are asked for, in place of top gears without headroom.
	spareTops = 10
)

// condition is a case that differs from the sheet's own conditions.
type condition struct {
	name string
	cond sim.Conditions
	tops bool // worth listing other top gears for
}

// cases are the conditions in which the top gear is looked at again.
func cases(c sim.Conditions, heading float64) []condition {
	alone := c
	alone.TowDrag, alone.TowDownforce = 1, 1
	tow := c
	if c.TowDrag == 1 && c.TowDownforce == 1 {
		tow.TowDrag, tow.TowDownforce, tow.TowWhere = caseTowDrag, caseTowDownforce, []string{tracks.Straights}
	}
	head, tail, light := alone, alone, alone
	head.WindSpeed, head.WindFrom = caseWind, heading
	tail.WindSpeed, tail.WindFrom = caseWind, math.Mod(heading+math.Pi, 2*math.Pi)
	light.Fuel = math.Min(lightFuel, c.Fuel)
	wind := math.Round(caseWind * units.ToKmh)
	return []condition{
		{"alone", alone, false},
		{fmt.Sprintf("tow, drag x %.2f", tow.TowDrag), tow, true},
		{fmt.Sprintf("headwind %.0f km/h", wind), head, true},
		{fmt.Sprintf("tailwind %.0f km/h", wind), tail, true},
		{fmt.Sprintf("light fuel, %.0f kg", light.Fuel), light, false},
	}
}

// beside computes what the sheet shows beside its own lap: the top gear in
// other conditions, and the pairs to have ready.
func beside(ctx context.Context, f *files, p *gearing.Problem, settings *sim.Settings, ans *gearing.Answer) ([]sheet.TopGearCase, []sheet.AlternateSet, error) {
	// An interrupt has stopped the search; what follows takes a moment and
	// belongs to the answer that it left.
	ctx = context.WithoutCancel(ctx)
	total := ans.Set.TotalRatios()
	top := len(total)
	var gears []int
	for g := range top {
		gears = append(gears, g+1)
	}
	list, err := gearing.Alternates(ctx, p, ans.Set, gears, perGear+spareTops)
	if err != nil {
		return nil, nil, err
	}
	alternates := []sheet.AlternateSet{{Condition: "as on the sheet", List: withHeadroom(p, ans, list)}}
	all := cases(p.Model.Conditions(), longestStraight(f.track))
	rows := make([]sheet.TopGearCase, len(all))
	tops := make([][]gearing.Alternate, len(all))
	faults := make([]error, len(all))
	var wg sync.WaitGroup
	for i := range all {
		wg.Go(func() {
			model, err := sim.New(f.car, f.track, all[i].cond, settings)
			if err != nil {
				faults[i] = err
				return
			}
			rows[i] = sheet.TopGearCase{Case: all[i].name, Lap: model.LapOnly(total)}
			// Alternates wants the set itself to be drivable in these conditions.
			if all[i].tops && rows[i].Lap.Infeasible == "" {
				other := *p
				other.Model = model
				tops[i], faults[i] = gearing.Alternates(ctx, &other, ans.Set, []int{top}, 1)
			}
		})
	}
	wg.Wait()
	for i := range all {
		if faults[i] != nil {
			return nil, nil, faults[i]
		}
		if len(tops[i]) > 0 {
			alternates = append(alternates, sheet.AlternateSet{Condition: all[i].name, List: tops[i]})
		}
	}
	return rows, alternates, nil
}

// withHeadroom leaves out top gears that break the headroom rule by which the set
// was chosen, and of what is left the third and later of a gear.
func withHeadroom(p *gearing.Problem, ans *gearing.Answer, list []gearing.Alternate) []gearing.Alternate {
	out := list[:0]
	count := map[int]int{}
	for _, alt := range list {
		if alt.Gear == len(ans.Set.Pairs) {
			set := *ans.Set
			set.Pairs = append(slices.Clone(set.Pairs[:alt.Gear-1]), alt.Pair)
			if !p.KeepsHeadroom(ans.IdealTop, set.TotalRatios()[alt.Gear-1]) {
				continue
			}
		}
		if count[alt.Gear]++; count[alt.Gear] <= perGear {
			out = append(out, alt)
		}
	}
	return out
}

// longestStraight is the heading (rad clockwise from true north) along the
// longest straight of the lap, over the start line where it runs over it.
func longestStraight(t *tracks.Track) float64 {
	n := len(t.Segments)
	best, heading := 0.0, t.Heading
	for i := range t.Segments {
		before := t.Segments[(i+n-1)%n]
		if t.Segments[i].Corner >= 0 || (before.Corner < 0 && n > 1) {
			continue
		}
		length := 0.0
		for k := 0; k < n && t.Segments[(i+k)%n].Corner < 0; k++ {
			length += t.Segments[(i+k)%n].Length
		}
		if length > best {
			best, heading = length, t.Segments[i].Heading
		}
	}
	return math.Mod(heading+2*math.Pi, 2*math.Pi)
}
