package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"

	"layshaft/cars/gearbox"
)

// BarrelGear is one gear of a listed cluster.
type BarrelGear struct {
	Gear          int    `json:"gear"` // Reverse as -1
	StackPosition int    `json:"stack_position"`
	Fork          int    `json:"fork"` // from 1; 0 = none
	SlotKind      string `json:"slot_kind"`
	DogSide       string `json:"dog_side"`
	Strip         Strip  `json:"strip"`
}

// BarrelCluster is a listed cluster with what comes off for each gear.
type BarrelCluster struct {
	Name  string       `json:"name"`
	Forks [][]int      `json:"forks"`
	Stack []int        `json:"stack"`
	Gears []BarrelGear `json:"gears"` // in stack order
}

// BarrelReport is either the check of a gearbox's listed clusters or, as a
// study, the layouts that the fork rule admits.
type BarrelReport struct {
	Schema          int             `json:"schema_version"`
	Gearbox         string          `json:"gearbox"` // "" in a study
	GearsCount      int             `json:"gears_count"`
	NeighboursShare bool            `json:"neighbours_share"`
	Neutral         string          `json:"neutral"` // "" in a study
	Layouts         [][][]int       `json:"layouts"` // each a list of forks, each a list of gears
	Clusters        []BarrelCluster `json:"clusters"`
	Inputs          []InputRef      `json:"inputs"`
	Warnings        []string        `json:"warnings"`
}

// BuildBarrel describes a gearbox's listed clusters, which the loader has
// checked, and what comes off for each gear.
func BuildBarrel(box *gearbox.Box, files []InputFile) (*BarrelReport, error) {
	r := &BarrelReport{
		Schema: SchemaVersion, Gearbox: title(box.Title, box.Name), GearsCount: box.Gears, NeighboursShare: box.NeighboursShare,
		Neutral: neutral(box), Layouts: [][][]int{}, Clusters: []BarrelCluster{}, Inputs: inputRefs(files), Warnings: []string{},
	}
	for i := range box.Clusters {
		c := &box.Clusters[i]
		forks := forkLists(c.Forks)
		r.Layouts = append(r.Layouts, forks)
		one := BarrelCluster{Name: c.Name, Forks: forks, Stack: slices.Clone(c.Stack), Gears: []BarrelGear{}}
		for _, g := range c.Stack {
			strip, err := stripFor(box, c, []int{g})
			if err != nil {
				return nil, err
			}
			_, fork := c.Fork(g)
			bg := BarrelGear{Gear: g, StackPosition: c.Position(g), Fork: fork, Strip: *strip}
			if slot := box.Slot(c, g); slot != nil {
				bg.SlotKind, bg.DogSide = slot.Kind, slot.DogSide
			}
			one.Gears = append(one.Gears, bg)
		}
		r.Clusters = append(r.Clusters, one)
	}
	return r, nil
}

// StudyLayouts lists the layouts that the fork rule admits for so many forward
// gears, in the order of gearbox.Layouts. The error names a number of gears
// that it does not cover.
func StudyLayouts(gears int, neighboursShare bool) (*BarrelReport, error) {
	layouts := gearbox.Layouts(gears, neighboursShare)
	if layouts == nil && gears != 2 { // two gears have no layout without sharing
		return nil, fmt.Errorf("layouts of %d gears are not listed: ask for 2 to 12", gears)
	}
	r := &BarrelReport{
		Schema: SchemaVersion, GearsCount: gears, NeighboursShare: neighboursShare,
		Layouts: [][][]int{}, Clusters: []BarrelCluster{}, Inputs: []InputRef{}, Warnings: []string{},
	}
	for _, l := range layouts {
		r.Layouts = append(r.Layouts, forkLists(l))
	}
	return r, nil
}

// JSON writes the report as one object.
func (r *BarrelReport) JSON(w io.Writer) error { return writeJSON(w, r) }

// Text writes the report for an 80-column terminal.
func (r *BarrelReport) Text(w io.Writer, opt TextOptions) error {
	if _, err := opt.display(); err != nil {
		return errors.Join(err)
	}
	p := &page{}
	rule := "neighbours may not share a fork"
	if r.NeighboursShare {
		rule = "neighbours may share a fork"
	}
	if r.Gearbox == "" {
		r.textStudy(p, rule)
	} else {
		p.head("GEARBOX: "+r.Gearbox, "")
		p.label("gears", fmt.Sprintf("%d forward, %s, neutral %s", r.GearsCount, rule, r.Neutral))
		for i := range r.Clusters {
			r.Clusters[i].text(p)
		}
		p.blank()
		p.para("Position 1 is at the housing. Numbers are gears, a ring is a dog ring with its hub. dogs = side on which the ring engages: inner is towards the housing. Minutes are the team's own figures for a change of that gear alone. The maker's manual and qualified people decide.")
		textWarnings(p, r.Warnings)
		textInputs(p, r.Inputs)
	}
	return p.flush(w)
}

func (r *BarrelReport) textStudy(p *page, rule string) {
	p.head(fmt.Sprintf("FORK LAYOUTS for %s: %s", plural(r.GearsCount, "gear"), rule), "")
	var rows [][]string
	for i, l := range r.Layouts {
		text := ""
		for k, f := range l {
			if k > 0 {
				text += "   "
			}
			text += forkName(f)
		}
		rows = append(rows, []string{strconv.Itoa(i + 1), text})
	}
	for _, row := range rows {
		p.line(fmt.Sprintf("%5s   %s", row[0], row[1]))
	}
	p.blank()
	p.para(fmt.Sprintf("%s. Each fork serves the gears joined by \"-\"; with an odd number of gears one fork serves one.", plural(len(r.Layouts), "layout")))
	p.para("A study of the fork rule only: a gearbox can be built in the layouts and stacks that its own file lists, and in no other.")
}

func (c *BarrelCluster) text(p *page) {
	forks := ""
	for i, f := range c.Forks {
		if i > 0 {
			forks += ", "
		}
		forks += forkName(f)
	}
	p.heading("CLUSTER " + c.Name)
	p.label("forks", forks)
	p.label("stack", gearList(c.Stack)+" from the housing outward")
	p.blank()
	cols := append([]column{{head: "pos", right: true}, {head: "fork"}, {head: "dogs", flex: true}, {head: "slot", flex: true}}, stripColumns("gear")...)
	var rows [][]string
	for _, g := range c.Gears {
		fork := none
		if g.Fork > 0 {
			fork = strconv.Itoa(g.Fork)
		}
		row := []string{strconv.Itoa(g.StackPosition), fork, orNone(g.DogSide), orNone(g.SlotKind)}
		rows = append(rows, append(row, stripCells(gearbox.GearName(g.Gear), &g.Strip)...))
	}
	p.table(cols, rows)
}
