package sheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
)

// tick is an empty box for a pencil.
const tick = "[ ]"

// stepView says how a list of steps is shown.
type stepView struct {
	off   bool               // what comes off: no words on how it goes on
	extra func(i int) string // words of the report on a step; nil = none
}

// stepColumns are the columns of any list of build steps.
func stepColumns(view stepView) []column {
	last := column{head: "must|be new"}
	if view.off {
		last.head = "not|again"
	}
	return []column{
		{head: ""}, {head: "no", right: true}, {head: "shaft"}, {head: "part", flex: true}, {head: "pos"},
		{head: "gear"}, {head: "teeth", right: true}, {head: "mark", flex: true}, {head: "pair", flex: true},
		{head: "marks|face"}, {head: "dogs"}, {head: "fork"}, last,
	}
}

// stepTable writes build steps, each with its tick box and, below it, the words
// of the report and of the gearbox file.
func (p *page) stepTable(steps []BuildStep, view stepView) {
	cols := stepColumns(view)
	var rows [][]string
	var notes []string
	for i := range steps {
		s := &steps[i]
		row := stepRow(s, view)
		var words []string
		if view.extra != nil {
			words = append(words, view.extra(i))
		}
		if !view.off {
			words = append(words, s.Text)
		}
		if n := s.MakerNote; n != nil && !view.off {
			words = append(words, fmt.Sprintf("%s: %s (%s)", n.What, n.Value, n.Source))
		}
		more := carriedBelow(s, len(cols))
		rows, notes = append(append(rows, row), more...), append(append(notes, ""), make([]string, len(more))...)
		notes[len(notes)-1] = joinWords(words, "; ")
	}
	p.tableNoted(cols, rows, notes)
}

func joinWords(words []string, sep string) string {
	var out []string
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	return strings.Join(out, sep)
}

// stepRow is the line of a step; of several gears that it carries the first.
func stepRow(s *BuildStep, view stepView) []string {
	fresh := ""
	switch {
	case s.MustBeNew && view.off:
		fresh = "SCRAP"
	case s.MustBeNew:
		fresh = "NEW"
	}
	shaft := map[string]string{gearbox.OnLayshaft: "lay", gearbox.OnMainshaft: "main", gearbox.OnBoth: "both"}[s.Shaft]
	row := []string{tick, strconv.Itoa(s.Step), shaft, s.Part, places(s.Positions), "", "", "", "", s.MarksFace, "", "", fresh}
	if s.Fork != nil {
		row[11] = strconv.Itoa(*s.Fork)
	}
	switch s.Part {
	case gearbox.HubStep, gearbox.RingStep:
		var engaged []int
		for _, g := range s.Gears {
			engaged = append(engaged, g.Gear)
		}
		slices.Sort(engaged)
		row[5] = forkName(engaged)
	default:
		if len(s.Gears) > 0 {
			gearCellsOf(row, &s.Gears[0])
		}
	}
	return row
}

// gearCellsOf fills the cells of a gear that the part carries.
func gearCellsOf(row []string, g *StepGear) {
	row[5], row[6], row[7], row[8], row[10] = gearbox.GearName(g.Gear), none, orNone(g.Mark), orNone(g.PairID), g.DogSide
	if g.Teeth != nil {
		row[6] = strconv.Itoa(*g.Teeth)
	}
}

// carriedBelow are the lines of the further gears cut on a layshaft.
func carriedBelow(s *BuildStep, columns int) [][]string {
	if s.Part != gearbox.LayshaftStep || len(s.Gears) < 2 {
		return nil
	}
	var out [][]string
	for i := range s.Gears[1:] {
		row := make([]string, columns)
		gearCellsOf(row, &s.Gears[i+1])
		out = append(out, row)
	}
	return out
}

// places writes stack positions: "3", "3-4".
func places(at []int) string {
	words := make([]string, len(at))
	for i, p := range at {
		words[i] = strconv.Itoa(p)
	}
	return strings.Join(words, "-")
}

// textBuildOrder lists every part in the order in which it goes on.
func (s *Sheet) textBuildOrder(p *page) {
	if s.BuildOrder == nil {
		return
	}
	p.heading("BUILD ORDER, first on first: tick each step, read the mark on both gears")
	p.stepTable(s.BuildOrder, stepView{})
	p.blank()
	p.para(stepLegend(s.StepsStated))
}

// stepLegend explains the columns of a list of steps.
func stepLegend(stated bool) string {
	text := "lay = layshaft, main = mainshaft. pos = stack position, 1 at the housing. teeth = of the gear on that shaft; the same mark stands on both gears of the pair. marks face = side to which the marks look: inner is towards the housing, outer away from it; the same on both gears. dogs = side on which the ring engages. NEW = never the old part again."
	if !stated {
		text += " The gearbox file has no steps table ([[build_step]]), so this is what stack and forks alone tell: bearings, hubs, spacers, nuts, snap rings and pins, and which way the marks face, are not in it."
	}
	return text
}
