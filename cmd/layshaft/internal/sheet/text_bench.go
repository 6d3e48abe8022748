package sheet

import (
	"fmt"
	"strconv"
	"strings"
)

// stripColumns and stripCells show what comes off, for any report.
func stripColumns(first string) []column {
	return []column{
		{head: first, flex: true}, {head: "strip|cluster"}, {head: "|min", right: true},
		{head: "off the layshaft,|in this order", flex: true}, {head: "off the mainshaft,|in this order", flex: true},
	}
}

func stripCells(first string, st *Strip) []string {
	need := "no"
	if st.ClusterStrip {
		need = "yes"
	}
	return []string{first, need, bench(st.BenchMin), partList(st.Layshaft), partList(st.Mainshaft)}
}

// partList shortens the parts for a table: gears as their numbers.
func partList(parts []string) string {
	short := make([]string, len(parts))
	for i, p := range parts {
		p = strings.TrimPrefix(strings.TrimPrefix(p, "gear "), "dog ")
		short[i] = strings.ReplaceAll(p, "ring ", "ring"+tie)
	}
	return strings.Join(short, ", ")
}

func (s *Sheet) textStrips(p *page) {
	p.heading("WHAT COMES OFF to change the pair of a gear, and bench minutes")
	var rows [][]string
	for i := range s.Gears {
		g := &s.Gears[i]
		rows = append(rows, stripCells(strconv.Itoa(g.Gear), &g.Strip))
	}
	rows = append(rows, stripCells("all", &s.StripAll))
	p.table(stripColumns("gear"), rows)
	p.blank()
	p.para("Numbers are gears, a ring is a dog ring with its hub. Minutes are the team's own figures: opening + the deepest layer (once, not a sum) + each pair + closing and check, rounded up.")
	if c := s.FromFitted; c != nil {
		p.para("From the fitted set: " + c.phrase() + ".")
	}
}

// phrase says what the bench must do to get from the fitted set to this one.
func (c *Change) phrase() string {
	text := "no pair changes"
	if c.Strip != nil {
		text = fmt.Sprintf("change %s: %s min; comes off: %s",
			gearsPhrase(c.ChangedGears), bench(c.Strip.BenchMin), gearList(c.Strip.ComesOff))
	}
	if c.OtherDrives {
		text += "; the final drive or drop pair changes too, its time is not in the minutes"
	}
	return text
}

func gearsPhrase(gears []int) string {
	if len(gears) == 1 {
		return "gear " + gearList(gears)
	}
	return "gears " + gearList(gears)
}

// textCounts are the turns that a mechanic counts by hand.
func (s *Sheet) textCounts(p *page) {
	p.heading("WHEEL-TURN CHECK: turns of the input shaft to count")
	cols := []column{{head: "|gear", right: true}}
	for _, where := range []string{"on the bench", "both wheels", "one wheel"} {
		cols = append(cols, column{head: where + "|turns", right: true}, column{head: "|+ deg", right: true})
	}
	var rows [][]string
	for i := range s.Gears {
		row := []string{strconv.Itoa(s.Gears[i].Gear)}
		c := s.Gears[i].WheelTurn
		for _, t := range []Turn{c.Bench, c.BothWheels, c.OneWheel} {
			row = append(row, strconv.Itoa(t.Turns), strconv.Itoa(t.AngleDeg))
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	p.blank()
	p.para("On the bench the output of the box is turned once; in the car both driven wheels together, or one with the other held. The last holds for an open differential, which halves the count; where it locks or drags, turn both wheels together. Car on stands first: see the cautions.")
}

// textAlternates lists the pairs to have ready, one table for each condition.
func (s *Sheet) textAlternates(p *page) {
	p.heading("ALTERNATES: pairs to have ready, one gear changed")
	if len(s.Alternates) == 0 {
		p.line("No other pair in the stock fits any one gear alone.")
		return
	}
	cols := []column{
		{head: "gear", right: true}, {head: "lay|teeth", right: true}, {head: "main|teeth", right: true},
		{head: "mark", flex: true}, {head: "pair", flex: true}, {head: "|ratio", right: true},
		{head: "lap|s", right: true}, {head: "loss|s", right: true}, {head: "|min", right: true},
		{head: "comes off,|in this order", flex: true},
	}
	for i, group := range alternatesByGear(s.Alternates) {
		if i > 0 {
			p.blank()
		}
		p.para(fmt.Sprintf("Conditions: %s. This sheet's set: %s s.", group[0].Condition, seconds(group[0].LapTimeS-group[0].LossS)))
		var rows [][]string
		for _, a := range group {
			rows = append(rows, []string{
				strconv.Itoa(a.Gear), strconv.Itoa(a.LayshaftTeeth), strconv.Itoa(a.MainshaftTeeth), a.Mark, a.PairID,
				fraction{int64(a.MainshaftTeeth), int64(a.LayshaftTeeth)}.text(),
				seconds(a.LapTimeS), difference(a.LapTimeS-a.LossS, a.LapTimeS), bench(a.BenchMin), gearList(a.ComesOff),
			})
		}
		p.table(cols, rows)
	}
	p.blank()
	p.para("loss = lap - this sheet's set in the same conditions, negative where the other pair is faster. Bench minutes for that gear alone.")
}
