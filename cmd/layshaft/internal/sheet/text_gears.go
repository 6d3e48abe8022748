package sheet

import (
	"fmt"
	"slices"
	"strconv"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
)

// Columns of the gear table, in the order of gearCells.
const (
	colGear = iota
	colLay
	colMain
	colMark
	colRatio
	colOverall
	colStep
	colUp
	colAfter
	colDrop
	colSpeedUp
	colSpeedLimit
	colUsed
)

func gearColumns(d display) []column {
	return []column{
		colGear:       {head: "gear", right: true},
		colLay:        {head: "lay|teeth", right: true},
		colMain:       {head: "main|teeth", right: true},
		colMark:       {head: "mark", flex: true, large: true},
		colRatio:      {head: "|ratio", right: true},
		colOverall:    {head: "over-|all", right: true},
		colStep:       {head: "|step", right: true},
		colUp:         {head: "up at|rpm", right: true},
		colAfter:      {head: "after|rpm", right: true},
		colDrop:       {head: "drop|rpm", right: true},
		colSpeedUp:    {head: "up at|" + d.speedUnit(), right: true},
		colSpeedLimit: {head: "limit|" + d.speedUnit(), right: true},
		colUsed:       {head: "on lap|s", right: true},
	}
}

// gearCells renders the gear table, one row for each gear.
func (s *Sheet) gearCells(d display) [][]string {
	rows := make([][]string, len(s.Gears))
	for i := range s.Gears {
		g := &s.Gears[i]
		used := "no"
		if g.UsedOnLap {
			used = fixed(g.TimeInGearS, 1)
		}
		step, up := none, none
		if i < len(s.Gears)-1 {
			step = stepRatio(g, &s.Gears[i+1]).text()
			up = d.speed(*g.SpeedAtUpshiftKmh)
		}
		rows[i] = []string{
			colGear: strconv.Itoa(g.Gear), colLay: strconv.Itoa(g.LayshaftTeeth), colMain: strconv.Itoa(g.MainshaftTeeth),
			colMark: g.Mark, colRatio: pairRatio(g).text(), colOverall: overallRatio(g, s.FinalDrive, s.Drop).text(),
			colStep: step, colUp: whole(g.UpshiftRPM), colAfter: whole(g.RPMAfterUpshift), colDrop: whole(g.RPMDrop),
			colSpeedUp: up, colSpeedLimit: d.speed(g.SpeedAtLimiterKmh), colUsed: used,
		}
	}
	return rows
}

func (s *Sheet) textGears(p *page, d display, rows [][]string) {
	p.heading("GEARS, in gear order")
	p.table(gearColumns(d), rows)
	p.blank()
	s.textGearLegend(p)
}

// textGearLegend explains the columns of the gear table.
func (s *Sheet) textGearLegend(p *page) {
	with := "final drive"
	if s.Drop != nil {
		with = "drop pair x final drive"
	}
	p.para(fmt.Sprintf("lay = layshaft teeth (driving), main = mainshaft teeth (driven). ratio = main / lay; overall = ratio x %s; step = this ratio / the next. up at = shift light; after and drop at the same road speed, after + drop = up at. limit = speed at the limiter, %d rpm. on lap = seconds in the gear.", with, s.LimiterRPM))
	if slices.ContainsFunc(s.Gears, func(g Gear) bool { return !g.UsedOnLap }) {
		text := "no = the lap never engages the gear."
		if s.Search.Status != optimize.Given {
			text = "no = the lap never engages the gear: it costs nothing on the lap, and what the search does next decides it (the stages are under WHAT IT RESTS ON)."
		}
		p.para(text)
	}
}

// textBuild is the table from which the cluster is built.
func (s *Sheet) textBuild(p *page) {
	s.textBuildTable(p)
	p.blank()
	s.textBuildNotes(p)
	p.blank()
	s.textForks(p)
	p.blank()
	p.label("neutral", s.Neutral)
	s.textMaker(p)
}

func (s *Sheet) textBuildTable(p *page) {
	p.heading("BUILD TABLE, in stack order: position 1 at the housing")
	cols := []column{
		{head: "pos", right: true}, {head: "gear", right: true},
		{head: "lay|teeth", right: true}, {head: "main|teeth", right: true},
		{head: "mark", flex: true, large: true}, {head: "pair", flex: true},
		{head: "fork", flex: true}, {head: "dogs", flex: true}, {head: "slot", flex: true},
		{head: "km|left", right: true},
		{head: "lay|on"}, {head: "main|on"}, {head: "check"},
	}
	var rows [][]string
	for i, gear := range s.Stack {
		const box = "[ ]"
		row := []string{strconv.Itoa(i + 1), gearbox.GearName(gear), none, none, none, none, s.forkOf(gear), none, none, none, box, box, box}
		if gear >= 1 && gear <= len(s.Gears) {
			g := &s.Gears[gear-1]
			row[2], row[3], row[4], row[5] = strconv.Itoa(g.LayshaftTeeth), strconv.Itoa(g.MainshaftTeeth), g.Mark, g.PairID
			row[7], row[8], row[9] = orNone(g.DogSide), orNone(g.SlotKind), kmLeft(g)
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
}

// textBuildNotes says in which direction it is built, and what is special to a
// pair.
func (s *Sheet) textBuildNotes(p *page) {
	p.para(s.order() + " dogs = side of the gear on which its ring engages: inner is towards the housing, outer away from it. Both gears of a pair carry the same mark; marks face the same way on both.")
	for i := range s.Gears {
		g := &s.Gears[i]
		if g.Group != "" {
			p.label("gear "+strconv.Itoa(g.Gear), "cut in one piece on "+g.Group)
		}
		if g.Place == gearbox.PlaceBox || g.Place == gearbox.PlaceShop {
			p.label("gear "+strconv.Itoa(g.Gear), "the pair lies in the "+g.Place)
		}
		if g.Waiver != "" {
			p.label("gear "+strconv.Itoa(g.Gear), "ALLOWED AGAINST THE STOCK'S RULES: "+g.Waiver)
		}
		if g.Note != "" {
			p.label("gear "+strconv.Itoa(g.Gear), "note in the stock: "+g.Note)
		}
	}
}

// textForks is the check of the forks.
func (s *Sheet) textForks(p *page) {
	cols := []column{{head: "fork"}, {head: "gears"}, {head: "stack positions"}, {head: "checked"}}
	var rows [][]string
	for i, f := range s.Forks {
		rows = append(rows, []string{strconv.Itoa(i + 1), forkName(f), s.positions(f), "[ ]"})
	}
	p.table(cols, rows)
}

// textMaker quotes the gearbox maker's figures out of the gearbox file.
func (s *Sheet) textMaker(p *page) {
	for _, n := range s.MakerNotes {
		p.label("maker", fmt.Sprintf("%s: %s (%s)", n.What, n.Value, n.Source))
	}
}

// order says in which direction the cluster is built.
func (s *Sheet) order() string {
	if s.OpensAt == gearbox.OpensHousing {
		return fmt.Sprintf("Built from position %d towards the housing: position 1 goes on last and comes off first.", len(s.Stack))
	}
	return fmt.Sprintf("Built from position 1 outward: position %d goes on last and comes off first.", len(s.Stack))
}

func orNone(s string) string {
	if s == "" {
		return none
	}
	return s
}

func kmLeft(g *Gear) string {
	if g.LifeKm == nil {
		return none
	}
	return fixed(floorTo(*g.LifeKm-g.RunKm, 0), 0)
}

// forkOf names the fork of a gear by number and gears: "2: 2-5".
func (s *Sheet) forkOf(gear int) string {
	for i, f := range s.Forks {
		if gearbox.Fork(f).Serves(gear) {
			return fmt.Sprintf("%d: %s", i+1, forkName(f))
		}
	}
	return none
}

// positions lists where the gears of a fork stand.
func (s *Sheet) positions(fork []int) string {
	c := gearbox.Cluster{Stack: s.Stack}
	out := ""
	for i, g := range fork {
		if i > 0 {
			out += " and "
		}
		out += strconv.Itoa(c.Position(g))
	}
	return out
}
