package sheet

import (
	"fmt"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/internal/units"
	"layshaft/sim"
	"layshaft/tracks"
)

const metresPerKm = 1000

func teeth(d *gearbox.Drive) *Teeth {
	if d == nil {
		return nil
	}
	return &Teeth{Name: d.Name, DrivingTeeth: d.Driving, DrivenTeeth: d.Driven}
}

// setTeeth writes a set as the --set flag takes it: layshaft/mainshaft by gear.
func setTeeth(set *gearbox.Set) []string {
	out := make([]string, len(set.Pairs))
	for i, p := range set.Pairs {
		out[i] = fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
	}
	return out
}

func setIDs(set *gearbox.Set) []string {
	out := make([]string, len(set.Pairs))
	for i, p := range set.Pairs {
		out[i] = p.ID
	}
	return out
}

func forkLists(forks []gearbox.Fork) [][]int {
	out := make([][]int, len(forks))
	for i, f := range forks {
		out[i] = slices.Clone([]int(f))
	}
	return out
}

func neutral(b *gearbox.Box) string {
	if b.NeutralBetween {
		return "between first and second"
	}
	return "below first"
}

func opensAt(b *gearbox.Box) string {
	if b.Strip.LastOnFirstOff == gearbox.OpensHousing {
		return gearbox.OpensHousing
	}
	return gearbox.OpensOuter
}

func makerNotes(b *gearbox.Box) []MakerNote {
	out := []MakerNote{}
	for _, n := range b.MakerNotes {
		out = append(out, MakerNote(n))
	}
	return out
}

func inputRefs(files []InputFile) []InputRef {
	out := []InputRef{}
	for _, f := range files {
		out = append(out, InputRef{Name: f.Name, SHA256: f.SHA256, Role: f.Role, Embedded: f.Embedded})
	}
	return out
}

func conditions(w Weather) Conditions {
	where := tracks.Everywhere
	if len(w.Used.TowWhere) > 0 {
		where = strings.Join(w.Used.TowWhere, ",")
	}
	var own []int
	for _, rpm := range w.Settings.ShiftRPM {
		own = append(own, wholeRPM(rpm))
	}
	var most *float64
	if t := w.Settings.LimiterTime; t > 0 {
		most = &t
	}
	return Conditions{
		DriverShiftRPM: own, LimiterMostS: most,
		AirDensityKgm3: roundTo(w.Used.AirDensity, 6), AirSource: w.AirSource,
		AirTempC: w.Given.AirTempC, StationPressureHpa: w.Given.StationPressureHpa,
		SeaLevelPressureHpa: w.Given.SeaLevelPressureHpa, HumidityPct: w.Given.HumidityPct,
		EngineFactorRatio: roundTo(w.Used.EngineFactor, 6), EngineSource: w.EngineSource,
		WindKmh:      roundTo(w.Used.WindSpeed*units.ToKmh, speedDecimals),
		WindFromDeg:  roundTo(w.Used.WindFrom*units.ToDeg, 3),
		TowDragRatio: w.Used.TowDrag, TowDownforceRatio: w.Used.TowDownforce, TowWhere: where,
		FuelKg: roundTo(w.Used.Fuel, 3), GripRatio: w.Used.Grip, Map: w.Used.Map,
	}
}

func throttleOns(lap *sim.Lap) []ThrottleOn {
	out := []ThrottleOn{}
	lowest := -1
	for i, t := range lap.ThrottleOns {
		out = append(out, ThrottleOn{
			DistanceM: roundTo(t.S, distDecimals), Corner: t.Corner,
			SpeedKmh: roundTo(t.V*units.ToKmh, speedDecimals), Gear: t.Gear, EngineRPM: wholeRPM(t.RPM),
		})
		if lowest < 0 || out[i].EngineRPM < out[lowest].EngineRPM {
			lowest = i
		}
	}
	if lowest >= 0 {
		out[lowest].Lowest = true
	}
	return out
}

func wheelTurn(c gearbox.BenchCount) Counts {
	one := func(t gearbox.Turn) Turn {
		turns, deg := t.Rounded()
		return Turn{Turns: turns, AngleDeg: deg}
	}
	return Counts{Bench: one(c.Bench), BothWheels: one(c.BothWheels), OneWheel: one(c.OneWheel)}
}

// longestStraight is the longest stretch without a corner; it may wrap over
// the line. A track without a straight counts as one stretch.
func longestStraight(t *tracks.Track) (span tracks.Span, length float64) {
	n := len(t.Segments)
	if !slices.ContainsFunc(t.Segments, func(s tracks.Segment) bool { return s.Corner >= 0 }) {
		return tracks.Span{Start: 0, End: t.Length}, t.Length
	}
	var best tracks.Span
	bestLength := 0.0
	for i := range t.Segments {
		if t.Segments[i].Corner >= 0 || (i > 0 && t.Segments[i-1].Corner < 0) {
			continue // in a corner, or inside a straight that began before
		}
		first, length := i, 0.0
		if i == 0 { // a straight that holds the line begins before it
			for k := n - 1; k > 0 && t.Segments[k].Corner < 0; k-- {
				first, length = k, length+t.Segments[k].Length
			}
		}
		j := i
		for ; j < n && t.Segments[j].Corner < 0; j++ {
			length += t.Segments[j].Length
		}
		if j == n && i > 0 && t.Segments[0].Corner < 0 {
			continue // counted from segment 0
		}
		if length > bestLength {
			last := &t.Segments[j-1]
			best = tracks.Span{Start: t.Segments[first].Start, End: last.Start + last.Length}
			bestLength = length
		}
	}
	if bestLength == 0 {
		return tracks.Span{Start: 0, End: t.Length}, t.Length
	}
	return best, bestLength
}

// fastest is the sample with the highest speed in the span, the first of equals.
func fastest(samples []sim.Sample, span tracks.Span) (sim.Sample, bool) {
	at := -1
	for i, p := range samples {
		inside := p.S >= span.Start && p.S <= span.End
		if span.End < span.Start {
			inside = p.S >= span.Start || p.S <= span.End
		}
		if inside && (at < 0 || p.V > samples[at].V) {
			at = i
		}
	}
	if at < 0 {
		return sim.Sample{}, false
	}
	return asReached(samples, at), true
}

// asReached is the sample i with the gear and the engine speed (in proportion, as
// the road speed is the same) by which its speed was reached: the first sample of
// braking is often the fastest and stands already in the gear of the downshift.
func asReached(samples []sim.Sample, i int) sim.Sample {
	p := samples[i]
	if i > 0 {
		if before := samples[i-1]; before.Gear > p.Gear && before.V > 0 {
			p.Gear, p.RPM = before.Gear, before.RPM*p.V/before.V
		}
	}
	return p
}

// unique keeps the first of equal lines.
func unique(lines []string) []string {
	out := []string{}
	for _, l := range lines {
		if l != "" && !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	return out
}
