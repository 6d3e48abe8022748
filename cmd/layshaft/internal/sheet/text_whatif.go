package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Text writes the report for an 80-column terminal.
func (r *WhatIf) Text(w io.Writer, opt TextOptions) error {
	d, err := opt.display()
	if err = errors.Join(err, r.Check()); err != nil {
		return err
	}
	p := &page{}
	p.head("WHAT IF: "+r.Question, "")
	p.label("car", r.Car)
	p.label("track", r.Track)
	p.label("gearbox", r.Gearbox)
	textConditions(p, d, r.Conditions)
	p.label("base", fmt.Sprintf("%s: %s", r.BaseName, strings.Join(r.Base.Set, ", ")))
	p.label("", "layshaft/mainshaft teeth in gear order; final drive "+drivePhrase(r.Base.FinalDrive))
	if r.Base.Drop != nil {
		p.label("drop pair", drivePhrase(*r.Base.Drop))
	}
	p.label("base lap", r.Base.lapPhrase(d))
	r.textAnswers(p, d)
	r.textBenchWork(p)
	textWarnings(p, r.Warnings)
	textInputs(p, r.Inputs)
	return p.flush(w)
}

func (a *RankedSet) lapPhrase(d display) string {
	if a.LapTimeS == nil {
		return "cannot drive this lap: " + a.CannotDrive
	}
	text := seconds(*a.LapTimeS) + " s"
	if a.TopSpeedKmh != nil {
		text += ", top speed " + d.speedWithUnit(*a.TopSpeedKmh)
	}
	if a.HeadroomRPM != nil {
		text += fmt.Sprintf(", %d rpm to the limiter in top", *a.HeadroomRPM)
	}
	return text
}

// changes writes what an answer changes: "6: 31/29"; "nothing" for the base.
func (r *WhatIf) changes(a *RankedSet) string {
	var parts []string
	for _, g := range a.ChangedGears {
		parts = append(parts, fmt.Sprintf("%d: %s (%s)", g, a.Set[g-1], a.PairIDs[g-1]))
	}
	if a.OtherDrives {
		parts = append(parts, "final "+a.FinalDrive.Name)
		if a.Drop != nil {
			parts = append(parts, "drop "+a.Drop.Name)
		}
	}
	if len(parts) == 0 {
		return "the base itself"
	}
	return strings.Join(parts, ", ")
}

func (r *WhatIf) textAnswers(p *page, d display) {
	p.heading("ANSWERS, fastest first")
	if len(r.Answers) == 0 {
		p.line("No set in the stock answers the question.")
		return
	}
	cols := []column{
		{head: "", right: true}, {head: "gear: lay/main (pair)", flex: true},
		{head: "lap|s", right: true}, {head: "gain|s", right: true}, {head: "top|" + d.speedUnit(), right: true},
		{head: "rpm to|limiter", right: true}, {head: "limiter|s", right: true},
		{head: "bench|min", right: true}, {head: "comes off,|in order", flex: true},
	}
	var rows [][]string
	for i := range r.Answers {
		a := &r.Answers[i]
		row := []string{strconv.Itoa(i + 1), r.changes(a), none, none, none, whole(a.HeadroomRPM), none, bench(a.BenchMin), gearList(a.ComesOff)}
		if a.LapTimeS != nil {
			row[2] = seconds(*a.LapTimeS)
		}
		if a.GainS != nil {
			row[3] = difference(*a.LapTimeS, *r.Base.LapTimeS)
		}
		if a.TopSpeedKmh != nil {
			row[4] = d.speed(*a.TopSpeedKmh)
		}
		if a.LimiterS != nil {
			row[6] = fixed(*a.LimiterS, 2)
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	p.blank()
	p.para(fmt.Sprintf("gain = base lap - lap, positive is faster. rpm to limiter = limiter (%d rpm) - highest rpm in top; \"-\" where the lap never engages top. limiter = seconds of the lap on it.", r.LimiterRPM))
	for i := range r.Answers {
		if a := &r.Answers[i]; a.CannotDrive != "" {
			p.hang(fmt.Sprintf("%d. ", i+1), "cannot drive this lap: "+a.CannotDrive)
		}
	}
}

// textBenchWork says once, for each set of gears that an answer changes, what
// comes off both shafts.
func (r *WhatIf) textBenchWork(p *page) {
	var rows [][]string
	var seen []string
	for i := range r.Answers {
		a := &r.Answers[i]
		if key := gearList(a.ChangedGears); a.Strip != nil && !slices.Contains(seen, key) {
			seen = append(seen, key)
			rows = append(rows, stripCells(key, a.Strip))
		}
	}
	if len(rows) == 0 {
		return
	}
	p.heading("WHAT COMES OFF")
	p.table(stripColumns("gears"), rows)
	p.blank()
	p.para("Numbers are gears, a ring is a dog ring with its hub. Bench minutes are the team's own figures; a change of final drive or drop pair is not in them. The maker's manual and qualified people decide how the work is done; a second person checks the build. A ratio sheet for the new set (--set) has the cautions.")
}
