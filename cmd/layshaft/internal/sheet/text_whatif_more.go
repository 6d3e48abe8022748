package sheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// textPairs tells of every pair that a row of the table puts in: how far it moves
// the gear, and whether it is there to be fitted.
func (r *WhatIf) textPairs(p *page, list []answerRow) {
	wished := slices.ContainsFunc(r.Wishes, func(w WishShown) bool { return w.WantedRatio != nil })
	cols := []column{
		{head: "gear", right: true}, {head: "pair", flex: true}, {head: "ratio", right: true},
		{head: "against base|%", right: true}, {head: "|rpm", right: true},
	}
	if wished {
		cols = append(cols, column{head: "off the wish|%", right: true}, column{head: "|rpm", right: true})
	}
	cols = append(cols, column{head: "left|km", right: true}, column{head: "where it lies", flex: true})
	var rows [][]string
	var seen []string
	for _, c := range r.shownPairs(list) {
		key := fmt.Sprint(c.Gear, " ", c.PairID)
		if slices.Contains(seen, key) {
			continue
		}
		seen = append(seen, key)
		ratio := fraction{int64(c.MainshaftTeeth), int64(c.LayshaftTeeth)}
		row := []string{strconv.Itoa(c.Gear), c.PairID, ratio.text(), signed(c.AgainstBasePct, 1), signed(float64(c.AgainstBaseRPM), 0)}
		if wished {
			row = append(row, none, none)
			if c.OffWishPct != nil {
				row[5], row[6] = signed(*c.OffWishPct, 1), signed(float64(*c.OffWishRPM), 0)
			}
		}
		rows = append(rows, append(row, kmDown(c.LeftKm), c.state()))
	}
	if len(rows) == 0 {
		return
	}
	slices.SortStableFunc(rows, func(a, b []string) int { return strings.Compare(a[0], b[0]) })
	p.heading("PAIRS TO FIT")
	p.table(cols, rows)
	p.blank()
	p.para("Negative is taller: fewer rpm, at the speed at which the base lap turns the gear highest (at its limiter where the lap never engages it).")
}

// shownPairs are those of the rows; of a gear that is wished for, also those with
// which the lap is the same.
func (r *WhatIf) shownPairs(list []answerRow) []ChangedPair {
	var out []ChangedPair
	for _, a := range list {
		out = append(out, a.Changed...)
		for _, b := range a.alike {
			for _, c := range b.Changed {
				if slices.ContainsFunc(r.Wishes, func(w WishShown) bool { return w.Gear == c.Gear }) {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// state words whether a pair is free, and where it lies.
func (c *ChangedPair) state() string {
	switch {
	case !c.InStock:
		return "NOT IN STOCK"
	case !c.Free:
		return "not free: " + c.NotFree
	case c.Place != nil:
		return "free, " + *c.Place
	}
	return "free"
}

// textExits shows the engine speed where full throttle goes on, where an answer
// changes it or the gear.
func (r *WhatIf) textExits(p *page, list []answerRow) {
	var same sameTexts
	for _, a := range list {
		if a.LapTimeS == nil || len(a.ChangedGears) == 0 && !a.OtherDrives {
			continue
		}
		same.add(strconv.Itoa(a.number), exitChanges(r.Base.ThrottleOns, a.ThrottleOns))
	}
	if len(r.Base.ThrottleOns) == 0 {
		return
	}
	p.heading("THROTTLE-ON RPM (gear), where it differs from the base")
	if len(same.texts) == 0 {
		p.line("No answer changes it at any exit.")
	}
	same.write(p)
}

// sameTexts are texts with the numbers of the answers that they hold for.
type sameTexts struct{ marks, texts []string }

// add takes a text unless it is empty.
func (s *sameTexts) add(mark, text string) {
	if text == "" {
		return
	}
	if i := slices.Index(s.texts, text); i >= 0 {
		s.marks[i] += ", " + mark
		return
	}
	s.marks, s.texts = append(s.marks, mark), append(s.texts, text)
}

func (s *sameTexts) write(p *page) {
	for i := range s.texts {
		p.hang(s.marks[i]+": ", s.texts[i])
	}
}

// exitChanges lists the places at which two laps differ where full throttle goes on;
// "" = none. Places are matched by name, a place of the same name in turn.
func exitChanges(base, other []ThrottleOn) string {
	type at struct {
		corner string
		turn   int
	}
	index := func(list []ThrottleOn) (keys []at, by map[at]*ThrottleOn) {
		by = map[at]*ThrottleOn{}
		seen := map[string]int{}
		for i := range list {
			k := at{list[i].Corner, seen[list[i].Corner]}
			seen[k.corner]++
			keys, by[k] = append(keys, k), &list[i]
		}
		return keys, by
	}
	word := func(t *ThrottleOn) string {
		if t == nil {
			return none
		}
		return fmt.Sprintf("%d (%d)", t.EngineRPM, t.Gear)
	}
	keys, before := index(base)
	more, after := index(other)
	for _, k := range more {
		if before[k] == nil {
			keys = append(keys, k)
		}
	}
	var parts []string
	for _, k := range keys {
		a, b := before[k], after[k]
		if a != nil && b != nil && a.EngineRPM == b.EngineRPM && a.Gear == b.Gear {
			continue
		}
		parts = append(parts, k.corner+": "+strings.ReplaceAll(word(a)+" to "+word(b), " ", tie))
	}
	return strings.Join(parts, "; ")
}

// leastLimiterS is the shortest time on the limiter (s) that the table shows.
const leastLimiterS = 0.005

// textLimiter says where the base and the answers are on the limiter; answers with
// the same places stand together.
func (r *WhatIf) textLimiter(p *page, list []answerRow) {
	var same sameTexts
	add := func(mark string, a *RankedSet) {
		var parts []string
		for _, s := range a.LimiterPlaces {
			if s.TimeS >= leastLimiterS {
				parts = append(parts, fmt.Sprintf("%s in %d, %s", fixed(s.TimeS, 2), s.Gear, s.Place))
			}
		}
		same.add(mark, strings.Join(parts, "; "))
	}
	add("base", &r.Base)
	for _, a := range list {
		if len(a.ChangedGears) > 0 || a.OtherDrives {
			add(strconv.Itoa(a.number), a.RankedSet)
		}
	}
	if len(same.texts) == 0 {
		return
	}
	p.heading("ON THE LIMITER: seconds, gear, place")
	same.write(p)
}
