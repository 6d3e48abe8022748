package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Text writes the report for an 80-column terminal. Answers that drive the same lap
// stand in one row, the one with the least bench work first.
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
	r.textUnstated(p, d)
	for _, w := range r.Wishes {
		p.label("wish", w.phrase())
	}
	for _, one := range r.NotInStock {
		p.label("to buy?", one.phrase())
	}
	rows := rowsOf(r.Answers)
	r.textAnswers(p, d, rows)
	r.textRefused(p)
	r.textPairs(p, rows)
	r.textExits(p, rows)
	r.textLimiter(p, rows)
	r.textBenchWork(p)
	textWarnings(p, r.Warnings)
	textInputs(p, r.Inputs)
	return p.flush(w)
}

// answerRow is what stands in one row of the table: an answer, and those that drive
// the same lap.
type answerRow struct {
	number int
	*RankedSet
	alike []*RankedSet
}

// rowsOf gathers the answers by lap.
func rowsOf(list []RankedSet) []answerRow {
	var out []answerRow
	for i := range list {
		if a := &list[i]; a.SameLap && len(out) > 0 {
			last := &out[len(out)-1]
			last.alike = append(last.alike, a)
		} else {
			out = append(out, answerRow{number: len(out) + 1, RankedSet: a})
		}
	}
	return out
}

func (a *RankedSet) lapPhrase(d display) string {
	if a.LapTimeS == nil {
		return "cannot drive this lap: " + a.CannotDrive
	}
	text := seconds(*a.LapTimeS) + " s"
	if a.TopSpeedKmh != nil {
		text += ", top speed " + d.speedWithUnit(*a.TopSpeedKmh)
	}
	return text + topPhrase(a.HeadroomRPM)
}

// topPhrase adds the headroom in top, where the lap engages it.
func topPhrase(rpm *int) string {
	if rpm == nil {
		return ""
	}
	return fmt.Sprintf(", %d rpm to the limiter in top", *rpm)
}

// textUnstated says what the conditions stated do to the set as it is.
func (r *WhatIf) textUnstated(p *page, d display) {
	u := r.Unstated
	switch {
	case u == nil:
		return
	case u.LapTimeS == nil:
		p.label("default", "the base cannot drive this lap: "+u.CannotDrive)
		return
	}
	text := seconds(*u.LapTimeS) + " s, top speed " + d.speedWithUnit(*u.TopSpeedKmh) + topPhrase(u.HeadroomRPM) +
		" with no conditions stated (standard air, calm, alone, the car file's fuel and first map, grip 1, the quickest shifts)"
	if r.Base.LapTimeS != nil {
		text += fmt.Sprintf("; those stated: %s s", difference(*u.LapTimeS, *r.Base.LapTimeS))
	}
	p.label("default", text)
}

// phrase words a wish with the ratio that it comes to.
func (w *WishShown) phrase() string {
	text := fmt.Sprintf("gear %d %s", w.Gear, w.Direction)
	switch {
	case w.AmountPct != nil:
		text += fmt.Sprintf(" by about %s %%", shortest(*w.AmountPct))
	case w.AmountRPM != nil:
		text += fmt.Sprintf(" by about %s rpm", shortest(*w.AmountRPM))
	default:
		text += " by any amount"
	}
	if w.WantedRatio != nil {
		text += ": ratio " + fixed(*w.WantedRatio, ratioDecimals)
	}
	if w.HighestOnLap {
		return text + fmt.Sprintf("; rpm are compared at the speed of the base's highest rpm in it, %d", w.ComparedRPM)
	}
	return text + fmt.Sprintf("; the base lap never engages it: rpm are compared at its limiter, %d", w.ComparedRPM)
}

func shortest(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// phrase says whether a pair would be worth buying.
func (b *Purchase) phrase() string {
	if b.LapTimeS == nil {
		return b.PairID + ": stands in no set that answers the question"
	}
	text := fmt.Sprintf("%s: best lap %s s", b.PairID, seconds(*b.LapTimeS))
	if b.GainS != nil {
		text += fmt.Sprintf(", gain %s s against the base", signed(*b.GainS, timeText))
	}
	if b.OverStockS != nil {
		text += fmt.Sprintf(", %s s against the best answer out of the stock", signed(*b.OverStockS, timeText))
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

func (r *WhatIf) textAnswers(p *page, d display, list []answerRow) {
	p.heading("ANSWERS, fastest first")
	if len(list) == 0 {
		p.line("No set in the stock answers the question.")
		return
	}
	cols := []column{
		{head: "", right: true}, {head: "gear: lay/main|(pair)", flex: true},
		{head: "lap|s", right: true}, {head: "gain|s", right: true}, {head: "top|" + d.speedUnit(), right: true},
		{head: "rpm to|limiter", right: true}, {head: "limiter|s", right: true},
		{head: "bench|min", right: true}, {head: "comes off,|in order", flex: true},
	}
	if r.Unstated != nil {
		cols = slices.Insert(cols, 4, column{head: "gain in|default", right: true})
	}
	var rows [][]string
	for _, a := range list {
		row := []string{strconv.Itoa(a.number), r.changes(a.RankedSet), none, none, none, whole(a.HeadroomRPM), none, bench(a.BenchMin), gearList(a.ComesOff)}
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
		if r.Unstated != nil {
			gain := none
			if a.GainUnstatedS != nil {
				gain = difference(*a.LapUnstatedS, *r.Unstated.LapTimeS)
			}
			row = slices.Insert(row, 4, gain)
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	p.blank()
	for _, a := range list {
		if len(a.alike) > 0 {
			p.hang(fmt.Sprintf("%d. ", a.number), r.alikePhrase(&a))
		}
	}
	p.para(fmt.Sprintf("gain = base lap - lap, positive is faster. rpm to limiter = limiter (%d rpm) - highest rpm in top; \"-\" where the lap never engages top. limiter = seconds of the lap on it.", r.LimiterRPM))
	if r.Unstated != nil {
		p.para("gain in default = the same without the conditions stated, against the lap in the line \"default\" above: where the two gains differ in sign, the answer hangs on the conditions.")
	}
	for _, a := range list {
		if a.CannotDrive != "" {
			p.hang(fmt.Sprintf("%d. ", a.number), "cannot drive this lap: "+a.CannotDrive)
		}
	}
}

// mostNamed is how many sets with the same lap are named; the JSON has them all.
const mostNamed = 12

// alikePhrase says which other sets drive the lap of a row, and why.
func (r *WhatIf) alikePhrase(a *answerRow) string {
	var idle []int // gears never engaged in which they differ
	for g, used := range a.UsedOnLap {
		if !used && slices.ContainsFunc(a.alike, func(b *RankedSet) bool { return b.PairIDs[g] != a.PairIDs[g] }) {
			idle = append(idle, g+1)
		}
	}
	var names []string
	pairs := true // they differ from the head in one pair each
	for i, b := range a.alike {
		pairs = pairs && len(b.ChangedGears) == 1 && !b.OtherDrives
		switch {
		case i < mostNamed:
			names = append(names, strings.ReplaceAll(shorter(r.changes(b), b), " ", tie))
		case i == mostNamed:
			names = append(names, fmt.Sprintf("and %d more", len(a.alike)-mostNamed))
		}
	}
	what := "set"
	if pairs {
		what = "pair"
	}
	why := "These have the same ratios"
	if len(idle) > 0 {
		why = "The lap never engages gear " + gearList(idle)
	}
	verb := "make"
	if len(a.alike) == 1 {
		verb = "makes"
	}
	return fmt.Sprintf("%s: %s %s no difference: %s.", why, plural(len(a.alike), "other "+what), verb, strings.Join(names, "; "))
}

// shorter leaves out ids that say no more than the teeth beside them.
func shorter(text string, a *RankedSet) string {
	for g, id := range a.PairIDs {
		if id == a.Set[g] {
			text = strings.ReplaceAll(text, id+" ("+id+")", id)
		}
	}
	return text
}

// textRefused names what would be among the answers if its pair might be used.
func (r *WhatIf) textRefused(p *page) {
	if len(r.Refused) == 0 {
		return
	}
	p.heading("WOULD BE QUICKER, BUT")
	for i := range r.Refused {
		a := &r.Refused[i]
		p.hang("! ", fmt.Sprintf("%s, lap %s s, gain %s s: NOT TO BE USED: %s", r.changes(a), seconds(*a.LapTimeS), difference(*a.LapTimeS, *r.Base.LapTimeS), a.Refused))
	}
}

// textBenchWork says once, for each set of gears that an answer changes, what
// comes off both shafts.
func (r *WhatIf) textBenchWork(p *page) {
	var rows [][]string
	var seen, parts []string
	for i := range r.Answers {
		a := &r.Answers[i]
		key := gearList(a.ChangedGears)
		if a.Strip == nil || slices.Contains(seen, key) {
			continue
		}
		seen = append(seen, key)
		rows = append(rows, stripCells(key, a.Strip))
		if len(a.MustBeNew) > 0 {
			parts = append(parts, fmt.Sprintf("to change %s: %s", key, strings.Join(a.MustBeNew, ", ")))
		}
	}
	if len(rows) == 0 {
		return
	}
	p.heading("WHAT COMES OFF")
	p.table(stripColumns("gears"), rows)
	p.blank()
	for _, one := range parts {
		p.hang("must be new: ", one)
	}
	if len(parts) > 0 {
		p.blank()
	}
	p.para("Numbers are gears, a ring is a dog ring with its hub. Bench minutes are the team's own figures; a change of final drive or drop pair is not in them. The maker's manual and qualified people decide how the work is done; a second person checks the build. A ratio sheet for the new set (--set) has the cautions.")
}
