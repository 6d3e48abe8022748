package sheet

import (
	"fmt"
	"slices"
	"strconv"
)

// longOnLimiter is the time (s) on the limiter above which the trade shifts up
// rather than hold the gear; common practice, no published source.
const longOnLimiter = 1.0

func (s *Sheet) textTopGear(p *page, d display) {
	p.heading("END OF THE LONGEST STRAIGHT: top gear in other air")
	if len(s.TopGear) == 0 {
		p.line("Not computed.")
		return
	}
	cols := []column{
		{head: "this set", flex: true}, {head: "|" + d.speedUnit(), right: true}, {head: "|gear", right: true},
		{head: "|rpm", right: true}, {head: "rpm to|limiter", right: true},
		{head: "on limiter|s of the lap", right: true}, {head: "lap|s", right: true},
	}
	var rows [][]string
	for _, t := range s.TopGear {
		rows = append(rows, []string{
			t.Case, d.speed(t.SpeedKmh), strconv.Itoa(t.Gear), strconv.Itoa(t.EngineRPM), strconv.Itoa(t.HeadroomRPM),
			seconds(t.LimiterS), seconds(t.LapTimeS),
		})
	}
	p.table(cols, rows)
	p.blank()
	p.para(fmt.Sprintf("Highest speed on the longest straight, %s long from %s after the line; rpm + rpm to limiter = limiter, %d rpm.",
		d.distWithUnit(s.Straight.LengthM), d.distWithUnit(s.Straight.StartM), s.LimiterRPM))
	if slices.ContainsFunc(s.TopGear, func(t TopGear) bool { return t.LimiterS > longOnLimiter }) {
		p.para("More than a second of a lap on the limiter: a taller top, or a shift up, is worth a look (common practice).")
	}
}

func (s *Sheet) textThrottleOns(p *page, d display) {
	p.heading("THROTTLE-ON PLACES: engine speed where full throttle goes on")
	textThrottleOns(p, d, s.ThrottleOns, s.PullingRPM)
}

func textThrottleOns(p *page, d display, places []ThrottleOn, pulling int) {
	if len(places) == 0 {
		p.line("None: the lap is flat out all the way round.")
		return
	}
	cols := []column{
		{head: "corner", flex: true}, {head: "at|" + d.distUnit(), right: true}, {head: "|" + d.speedUnit(), right: true},
		{head: "|gear", right: true}, {head: "|rpm", right: true}, {head: ""},
	}
	var rows [][]string
	for _, t := range places {
		mark := ""
		switch {
		case t.EngineRPM < pulling:
			mark = "<- below pulling rpm"
		case t.Lowest:
			mark = "<- lowest"
		}
		rows = append(rows, []string{t.Corner, d.dist(t.DistanceM), d.speed(t.SpeedKmh), strconv.Itoa(t.Gear), strconv.Itoa(t.EngineRPM), mark})
	}
	p.table(cols, rows)
	if pulling > 0 {
		p.blank()
		p.para(fmt.Sprintf("The car's least pulling engine speed is %d rpm.", pulling))
	}
}

// textWarnings is a section of its own, so that nobody looks past it.
func (s *Sheet) textWarnings(p *page) { textWarnings(p, s.Warnings) }

func textWarnings(p *page, lines []string) {
	if len(lines) == 0 {
		return
	}
	p.heading("WARNINGS")
	for _, l := range lines {
		p.hang("! ", l)
	}
}

func (s *Sheet) textCautions(p *page) {
	p.heading("CAUTIONS")
	for i, c := range s.Cautions {
		p.hang(fmt.Sprintf("%d. ", i+1), c)
	}
}

func (s *Sheet) textBasis(p *page) {
	p.heading("WHAT IT RESTS ON")
	for _, l := range s.Basis {
		p.hang("- ", l)
	}
	textInputs(p, s.Inputs)
}

// hashShown is how much of a SHA-256 the text shows; JSON has it all.
const hashShown = 12

func textInputs(p *page, inputs []InputRef) {
	if len(inputs) == 0 {
		return
	}
	p.blank()
	cols := []column{{head: "input"}, {head: "file", flex: true}, {head: "sha256 begins"}, {head: ""}}
	var rows [][]string
	for _, in := range inputs {
		own := ""
		if in.Embedded {
			own = "comes with the program"
		}
		rows = append(rows, []string{in.Role, in.Name, in.SHA256[:min(hashShown, len(in.SHA256))], own})
	}
	p.table(cols, rows)
}

func (s *Sheet) textSignatures(p *page) {
	p.heading("SIGNATURES: two different people")
	for _, who := range []string{"built by", "checked by", "issued by"} {
		p.blank()
		p.sign(who)
	}
}
