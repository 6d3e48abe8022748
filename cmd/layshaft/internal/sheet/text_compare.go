package sheet

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Text writes the comparison for an 80-column terminal or printer.
func (c *Comparison) Text(w io.Writer, opt TextOptions) error {
	d, err := opt.display()
	if err != nil {
		return err
	}
	p := &page{}
	p.head("COMPARE: from the old sheet to the new", "")
	c.textHead(p)
	c.textResult(p, d)
	c.textGears(p, d)
	c.textRebuild(p)
	c.textTurns(p)
	textWarnings(p, c.Warnings)
	(&Sheet{Cautions: c.Cautions}).textCautions(p)
	textInputs(p, c.Inputs)
	(&Sheet{}).textSignatures(p)
	return p.flush(w)
}

// JSON writes the comparison as one object.
func (c *Comparison) JSON(w io.Writer) error { return writeJSON(w, c) }

// phrase names a sheet: file, job, revision, date, issuer.
func (s *ComparedSheet) phrase() string {
	words := []string{s.Name, s.Event, s.Session}
	if s.Revision > 0 {
		words = append(words, "revision "+strconv.Itoa(s.Revision))
	}
	if s.Date != "" {
		words = append(words, "date "+s.Date)
	}
	if s.IssuedBy != "" {
		words = append(words, "issued by "+s.IssuedBy)
	}
	return joinWords(words, ", ")
}

func (c *Comparison) textHead(p *page) {
	p.label("old", c.Old.phrase())
	p.label("", strings.Join(c.Old.Set, ", "))
	p.label("new", c.New.phrase())
	p.label("", strings.Join(c.New.Set, ", "))
	p.label("", "layshaft/mainshaft teeth in gear order")
	for _, one := range []struct{ what, old, now string }{
		{"car", c.Old.Car, c.New.Car}, {"track", c.Old.Track, c.New.Track}, {"gearbox", c.Old.Gearbox, c.New.Gearbox},
	} {
		if one.old == one.now {
			p.label(one.what, one.now)
		}
	}
	p.heading("WHAT DIFFERS besides the gears")
	if len(c.Differs) == 0 {
		p.line("Nothing.")
		return
	}
	var rows [][]string
	for _, d := range c.Differs {
		rows = append(rows, []string{d.What, orNone(d.Old), orNone(d.New)})
	}
	p.table([]column{{head: "", flex: true}, {head: "old", flex: true}, {head: "new", flex: true}}, rows)
}

func (c *Comparison) textResult(p *page, d display) {
	p.heading("LAP, SPEED, HEADROOM")
	row := func(what, old, now, change string) []string { return []string{what, old, now, change} }
	gain := none
	if c.GainS != nil {
		gain = difference(c.New.LapTimeS, c.Old.LapTimeS)
	}
	rows := [][]string{row("lap, s (gain)", seconds(c.Old.LapTimeS), seconds(c.New.LapTimeS), gain)}
	if o, n := c.Old.OutLapTimeS, c.New.OutLapTimeS; o != nil || n != nil {
		gain := none
		if c.OutLapGainS != nil {
			gain = difference(*n, *o)
		}
		rows = append(rows, row("out lap, s (gain)", secondsOr(o), secondsOr(n), gain))
	}
	top, head, limiter := none, none, none
	if c.TopChangeKmh != nil {
		top = d.speedChange(c.Old.TopSpeedKmh, c.New.TopSpeedKmh)
	}
	if c.HeadroomRPM != nil {
		head = signedInt(*c.HeadroomRPM)
	}
	if c.LimiterS != nil {
		limiter = difference(c.Old.LimiterS, c.New.LimiterS)
	}
	rows = append(rows,
		row("top speed, "+d.speedUnit(), d.speed(c.Old.TopSpeedKmh), d.speed(c.New.TopSpeedKmh), top),
		row("headroom in top, rpm", whole(c.Old.HeadroomRPM), whole(c.New.HeadroomRPM), head),
		row("on the limiter, s", seconds(c.Old.LimiterS), seconds(c.New.LimiterS), limiter))
	p.table([]column{{head: ""}, {head: "old", right: true}, {head: "new", right: true}, {head: "change", right: true}}, rows)
	p.blank()
	if len(c.NotComparable) > 0 {
		p.para("NOT COMPARABLE: the two laps were not driven in the same circumstances, so nothing is subtracted:")
		for _, why := range c.NotComparable {
			p.hang("! ", why)
		}
		return
	}
	p.para(fmt.Sprintf("gain = old - new: positive means that the new sheet is faster. All other changes are new - old. Numerical errors of the two laps together: below %s ms.", milliseconds(c.ErrorS)))
}

func secondsOr(s *float64) string {
	if s == nil {
		return none
	}
	return seconds(*s)
}

func signedInt(n int) string {
	if n > 0 {
		return "+" + strconv.Itoa(n)
	}
	return strconv.Itoa(n)
}

// speedChange is the difference of two speeds as printed.
func (d display) speedChange(old, now float64) string {
	a, _ := strconv.ParseFloat(d.speed(old), 64)
	b, _ := strconv.ParseFloat(d.speed(now), 64)
	return signed(b-a, speedText)
}

func (c *Comparison) textGears(p *page, d display) {
	p.heading("GEARS, in gear order")
	cols := []column{
		{head: "|gear"}, {head: "old|pair", flex: true}, {head: "|teeth"}, {head: "|ratio", right: true},
		{head: "new|pair", flex: true}, {head: "|teeth"}, {head: "|ratio", right: true},
		{head: "up at, rpm|old", right: true}, {head: "|new", right: true}, {head: "|change", right: true},
		{head: "limit|" + d.speedUnit(), right: true},
	}
	var rows [][]string
	for i := range c.Gears {
		g := &c.Gears[i]
		row := []string{strconv.Itoa(g.Gear), none, none, none, none, none, none, none, none, none, none}
		if g.Old != nil {
			row[1], row[2], row[3], row[7] = g.Old.PairID, g.Old.teeth(), g.Old.ratioText(), whole(g.Old.UpshiftRPM)
		}
		if g.New != nil {
			row[4], row[5], row[6], row[8] = g.New.PairID, g.New.teeth(), g.New.ratioText(), whole(g.New.UpshiftRPM)
		}
		if !g.Changed {
			row[4], row[5], row[6] = "same", "", ""
		}
		if g.UpshiftChange != nil {
			row[9] = signedInt(*g.UpshiftChange)
		}
		if g.Old != nil && g.New != nil {
			row[10] = d.speedChange(g.Old.SpeedAtLimiterKmh, g.New.SpeedAtLimiterKmh)
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	p.blank()
	p.para("teeth = layshaft/mainshaft. up at = shift light. limit = change of the speed at the limiter. All changes are new - old.")
	p.label("final old", drivePhrase(c.Old.FinalDrive))
	p.label("final new", drivePhrase(c.New.FinalDrive))
	if c.Old.Drop != nil || c.New.Drop != nil {
		p.label("drop old", dropPhrase(c.Old.Drop))
		p.label("drop new", dropPhrase(c.New.Drop))
	}
}

func (g *GearState) teeth() string { return fmt.Sprintf("%d/%d", g.LayshaftTeeth, g.MainshaftTeeth) }

func (g *GearState) ratioText() string {
	return fraction{int64(g.MainshaftTeeth), int64(g.LayshaftTeeth)}.text()
}

// textTurns are the counts to check the changed gears by, after the rebuild.
func (c *Comparison) textTurns(p *page) {
	if len(c.WheelTurns) == 0 || c.Rebuild == nil {
		return
	}
	s := &Sheet{}
	for _, t := range c.WheelTurns {
		s.Gears = append(s.Gears, Gear{Gear: t.Gear, WheelTurn: t.WheelTurn})
	}
	s.textCounts(p)
}
