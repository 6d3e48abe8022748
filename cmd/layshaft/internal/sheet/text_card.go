package sheet

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Text writes the card on one small page: as few lines as there is to say.
func (c *DriverCard) Text(w io.Writer, opt TextOptions) error {
	d, err := opt.display()
	if err != nil {
		return err
	}
	p := &page{}
	p.head("DRIVER CARD", "lap "+clock(c.LapTimeS))
	c.textGears(p, d)
	p.para(fmt.Sprintf("A lap: %s up, %d down. Top speed %s in gear %d, %s from the line.",
		plural(c.Upshifts, "shift"), c.Downshifts, d.speedWithUnit(c.TopSpeedKmh), c.TopSpeedGear, d.distWithUnit(c.TopSpeedAtM)))
	p.para(fmt.Sprintf("CAUTION: a downshift into a gear above the speed in the last column turns the engine past %d rpm (%s). No limiter prevents it.",
		c.OverRevRPM, c.OverRevFrom))
	p.blank()
	c.textCorners(p, d)
	p.blank()
	c.textFoot(p, d)
	return p.flush(w)
}

func (c *DriverCard) textGears(p *page, d display) {
	cols := []column{
		{head: "|gear", right: true}, {head: "shift light|rpm", right: true}, {head: "shift at|" + d.speedUnit(), right: true},
		{head: "drop|rpm", right: true}, {head: "after it|rpm", right: true}, {head: "down into it only|below " + d.speedUnit(), right: true},
	}
	var rows [][]string
	for _, g := range c.Gears {
		up, down := none, none
		if g.SpeedAtUpshiftKmh != nil {
			up = d.speed(*g.SpeedAtUpshiftKmh)
		}
		if g.DownshiftMaxKmh != nil {
			down = d.speedDown(*g.DownshiftMaxKmh)
		}
		rows = append(rows, []string{strconv.Itoa(g.Gear), whole(g.ShiftLightRPM), up, whole(g.RPMDrop), whole(g.RPMAfterUpshift), down})
	}
	p.table(cols, rows)
	p.blank()
}

func (c *DriverCard) textCorners(p *page, d display) {
	if len(c.Corners) == 0 {
		p.line("The track has no corner.")
		return
	}
	cols := []column{
		{head: "|corner", flex: true}, {head: "slowest|at " + d.distUnit(), right: true}, {head: "|" + d.speedUnit(), right: true}, {head: "|gear", right: true},
		{head: "full throttle|at " + d.distUnit(), right: true}, {head: "|" + d.speedUnit(), right: true}, {head: "|gear", right: true}, {head: "|rpm", right: true},
	}
	var rows [][]string
	flat, still := false, false
	for _, k := range c.Corners {
		row := []string{k.Corner, d.dist(k.DistanceM), d.speed(k.ApexSpeedKmh), strconv.Itoa(k.Gear), none, none, none, none}
		switch {
		case k.FlatOut:
			row[4], flat = "flat", true
		case k.ThrottleOnM != nil && k.ThrottleOnKmh != nil:
			row[4], row[5], row[6], row[7] = d.dist(*k.ThrottleOnM), d.speed(*k.ThrottleOnKmh), whole(k.ThrottleGear), whole(k.ThrottleRPM)
		default:
			still = true
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	var legend []string
	if flat {
		legend = append(legend, "flat = full throttle all through")
	}
	if still {
		legend = append(legend, "- = no full throttle before the next corner's slowest place")
	}
	if len(legend) > 0 {
		p.para(strings.Join(legend, "; ") + ".")
	}
}

func (c *DriverCard) textFoot(p *page, d display) {
	p.label("car", c.Car)
	job := c.Track
	for _, more := range []string{c.Event, c.Session} {
		if more != "" {
			job += ", " + more
		}
	}
	p.label("track", job)
	set := fmt.Sprintf("%s; final %d/%d", strings.Join(c.Set, ", "), c.FinalDrive.DrivingTeeth, c.FinalDrive.DrivenTeeth)
	if c.Drop != nil {
		set += fmt.Sprintf("; drop %d/%d", c.Drop.DrivingTeeth, c.Drop.DrivenTeeth)
	}
	p.label("set", set)
	air := c.Conditions.statePhrase(d)
	if c.Conditions.Map != "" {
		air += "; map " + c.Conditions.Map
	}
	p.label("made for", fmt.Sprintf("air %s kg/m3; %s", fixed(c.Conditions.AirDensityKgm3, 3), air))
	revision, date := none, "__________"
	if c.Revision > 0 {
		revision = strconv.Itoa(c.Revision)
	}
	if c.Date != "" {
		date = c.Date
	}
	p.label("revision", fmt.Sprintf("%s; date %s; a simulation, not matched to a logged lap", revision, date))
}
