package sheet

import (
	"fmt"
	"strconv"
	"strings"
)

// textLife is the section on kilometres and damage.
func (s *Sheet) textLife(p *page) {
	p.heading("LIFE: an ESTIMATE that may shorten, never lengthen, what the team's limit allows")
	if s.Life == nil {
		p.line("Not computed.")
	} else {
		s.lifeTable(p)
		s.lifeLegend(p)
	}
	p.para(s.countsPhrase())
}

func (s *Sheet) lifeTable(p *page) {
	cols := []column{
		{head: "gear", right: true}, {head: "in gear|km|a lap", right: true}, {head: "layshaft|turns|a lap", right: true},
		{head: "damage|a lap|millionths", right: true}, {head: "damage|so far|%", right: true},
		{head: "km left|by team's|limit", right: true}, {head: "km left|by the|estimate", right: true},
		{head: "km left|that|count", right: true}, {head: "laps|left", right: true},
	}
	ways := make([]float64, len(s.Gears))
	for i := range s.Gears {
		ways[i] = *s.Gears[i].KmPerLap
	}
	ways = apportion(ways, roundTo(s.TrackLengthM/metresPerKm, lapKmText), lapKmText)
	var rows [][]string
	for i := range s.Gears {
		g := &s.Gears[i]
		damage := none
		if g.DamagePerLapRatio != nil {
			damage = fixed(1e6**g.DamagePerLapRatio, 1)
		}
		rows = append(rows, []string{
			strconv.Itoa(g.Gear), fixed(ways[i], lapKmText), fixed(*g.TurnsPerLap, 0), damage, fixed(100*g.DamageUsedRatio, 1),
			kmDown(g.LifeLeftKm), kmDown(g.EstimateLeftKm), kmDown(g.CountsLeftKm), whole(g.LapsLeft),
		})
	}
	p.table(cols, rows)
	p.blank()
}

// kmDown writes kilometres left, rounded down to whole ones.
func kmDown(km *float64) string {
	if km == nil {
		return none
	}
	return fixed(floorTo(*km, 0), 0)
}

func (s *Sheet) lifeLegend(p *page) {
	p.para("km a lap = with the gear engaged, as simulated; the pair turns without load in the other gears. km and laps left are the car's, in laps like this one; the smaller of limit and estimate counts. damage so far = of the runs booked with an estimate; kilometres run without one are taken for laps like this one.")
	l := s.Life
	if len(l.Endurances) == 0 {
		p.para("No estimate: the gearbox file states no [[damage]] with what the gears stand. The team's limit alone counts.")
		return
	}
	p.para("damage = sum of n/N (Miner): n load cycles at a load of which the gears stand N = N0 (F0/F)^p; at 1 the life is used up. F0, N0 and p as the gearbox file states them:")
	for _, e := range l.Endurances {
		p.hang("- ", e.phrase())
	}
	p.para(l.method())
	if len(l.Unstated) > 0 {
		var gears []string
		for _, u := range l.Unstated {
			gears = append(gears, fmt.Sprintf("%d (%s)", u.Gear, orNone(u.SlotKind)))
		}
		p.para("No estimate for gear " + strings.Join(gears, ", ") + ": the gearbox file states no [[damage]] for that slot kind.")
	}
	if l.AtWheels {
		p.para("The torque of the car file was measured at the wheels: the teeth carry more by the losses of the box, and the estimate is TOO LONG by that.")
	}
}

func (e Endurance) phrase() string {
	load := ""
	if e.ToothForceN != nil {
		load = number(*e.ToothForceN) + " N at the tooth"
	} else if e.LayshaftTorqueNm != nil {
		load = number(*e.LayshaftTorqueNm) + " Nm in the layshaft"
	}
	return fmt.Sprintf("%s: F0 = %s for N0 = %s cycles, p = %s. Source: %s", e.SlotKind, load, Grouped(fixed(e.Cycles, 0)), number(e.Exponent), e.Source)
}

// method says how the load follows from the lap.
func (l *Life) method() string {
	text := "Load: torque of the engine less what spins it up, through the layshaft, while it drives; coasting loads the other side of the teeth and is not counted."
	if l.CentreDistanceMm != nil {
		text += fmt.Sprintf(" F = torque / r1, r1 = a z1/(z1+z2), a = %s mm: plain spur gears; profile shift and tooth form lie in F0.", number(*l.CentreDistanceMm))
	}
	return text + " Starts, shifts, shocks and out laps are not in it, nor is anything below the teeth: dogs, bearings, shafts."
}

// countsPhrase says what the simulation knows of limiter and over-rev, and who
// counts the real ones.
func (s *Sheet) countsPhrase() string {
	return fmt.Sprintf("Touches of the limiter on the simulated lap: %d. The count of real limiter hits and over-revs comes from the team's logger and is booked with `stock book --limiter-count N --over-rev-count N`; an over-rev, above %d rpm (%s), is cause for inspection.",
		s.LimiterTouches, s.OverRevRPM, s.OverRevFrom)
}

// number writes a figure of a file as short as it can be, without an exponent.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
