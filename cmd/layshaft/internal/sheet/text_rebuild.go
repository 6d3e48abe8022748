package sheet

import (
	"fmt"
	"strings"

	"layshaft/cars/gearbox"
)

// textRebuild is the page for the bench.
func (c *Comparison) textRebuild(p *page) {
	p.heading("REBUILD: the shortest way from the old sheet's set to the new one's")
	r := c.Rebuild
	if r == nil {
		p.para("NO PLAN: " + c.NoRebuild + ".")
		return
	}
	p.para(r.phrase())
	if len(r.Off) == 0 {
		return
	}
	p.blank()
	p.label("comes off", gearList(r.ComesOff)+" (gears, in removal order)")
	p.label("new parts", newParts(r.MustBeNew, r.StepsStated))
	textMoves(p, "out", "of the gearbox, back into the pair box: ", r.PairsOut)
	textMoves(p, "in", "to the gearbox, out of the pair box: ", r.PairsIn)
	textMoves(p, "moved", "to another gear: ", r.PairsMoved)

	p.heading("COMES OFF, in this order: last on, first off")
	p.stepTable(plain(r.Off), stepView{off: true, extra: func(i int) string {
		if !r.Off[i].Changed {
			return ""
		}
		return "CHANGES: " + c.fate(&r.Off[i])
	}})
	p.heading("GOES ON, in this order: read the mark on both gears")
	p.stepTable(plain(r.On), stepView{extra: func(i int) string {
		if !r.On[i].Changed {
			return ""
		}
		return "CHANGED: another pair than before"
	}})
	p.blank()
	p.para(stepLegend(r.StepsStated) + " SCRAP = never used again, a new one goes on. no = number in the build order of its sheet. What is not listed stays on.")
}

// phrase sums the job up.
func (r *Rebuild) phrase() string {
	text := "No pair changes: nothing comes off the shafts."
	switch {
	case r.EverythingOff:
		text = fmt.Sprintf("Another cluster: everything comes off. %s min.", bench(r.BenchMin))
	case len(r.ChangedGears) > 0:
		text = fmt.Sprintf("Change %s: %s min.", gearsPhrase(r.ChangedGears), bench(r.BenchMin))
	}
	var drives []string
	if r.OtherFinal {
		drives = append(drives, "final drive")
	}
	if r.OtherDrop {
		drives = append(drives, "drop pair")
	}
	if len(drives) > 0 {
		text += fmt.Sprintf(" The %s changes too: no minutes are known for that, and its steps are not in the plan.", strings.Join(drives, " and the "))
	}
	if len(r.Off) > 0 {
		text += " Minutes are the team's own figures out of the gearbox file: opening + the deepest layer (once) + each pair + closing and check."
	}
	return text
}

func newParts(parts []NewPart, stated bool) string {
	if len(parts) == 0 && !stated {
		return "not known: the gearbox file has no steps table"
	}
	if len(parts) == 0 {
		return "none of the parts that come off"
	}
	words := make([]string, len(parts))
	for i, n := range parts {
		words[i] = n.phrase()
	}
	return strings.Join(words, ", ")
}

// phrase is "2 lock rings (mainshaft)".
func (n NewPart) phrase() string { return fmt.Sprintf("%s (%s)", plural(n.Count, n.Part), n.Shaft) }

func textMoves(p *page, label, head string, moves []PairMove) {
	if len(moves) == 0 {
		return
	}
	words := make([]string, len(moves))
	for i := range moves {
		words[i] = moves[i].phrase()
	}
	p.label(label, head+strings.Join(words, "; "))
}

// phrase names a pair with its gears and the shaft that it is cut on.
func (m *PairMove) phrase() string {
	text := fmt.Sprintf("%s (mark %s, %d/%d", m.PairID, m.Mark, m.LayshaftTeeth, m.MainshaftTeeth)
	if m.Group != "" {
		text += ", on " + m.Group
	}
	switch {
	case m.From != nil && m.To != nil:
		return text + fmt.Sprintf(") from gear %d to %d", *m.From, *m.To)
	case m.From != nil:
		return text + fmt.Sprintf(") from gear %d", *m.From)
	case m.To != nil:
		return text + fmt.Sprintf(") for gear %d", *m.To)
	}
	return text + ")"
}

// fate says where the gears of a step go that does not come back.
func (c *Comparison) fate(s *RebuildStep) string {
	if s.Part == gearbox.LayshaftStep {
		return "another layshaft goes in"
	}
	for _, g := range s.Gears {
		for i := range c.Rebuild.PairsMoved {
			if m := &c.Rebuild.PairsMoved[i]; m.From != nil && *m.From == g.Gear {
				return fmt.Sprintf("goes into gear %d", *m.To)
			}
		}
	}
	return "into the pair box, with the other gear of its pair"
}

func plain(steps []RebuildStep) []BuildStep {
	out := make([]BuildStep, len(steps))
	for i := range steps {
		out[i] = steps[i].BuildStep
	}
	return out
}
