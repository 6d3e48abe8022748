package sheet

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/optimize/gearing"
	"layshaft/tracks"
)

func TestTextGolden(t *testing.T) {
	s := mustBuild(t, fixture(6))
	golden(t, "sheet.txt", []byte(render(t, s, Metric)))
	golden(t, "sheet_us.txt", []byte(render(t, s, US)))
}

// lengthen gives everything that comes from the user's files a name as long as
// no page holds, with letters of two bytes.
func lengthen(in *Input) {
	long := func(s string) string { return s + strings.Repeat(" ünbroken", 4) + strings.Repeat("ö", 95) }
	in.Car.Title, in.Track.Title, in.Box.Title, in.Stock.Title = long("car"), long("track"), long("box"), long("stock")
	in.Car.RadiusSource, in.Event, in.Date = long("radius"), long("event"), long("date")
	in.Box.Clusters[0].Name = long("cluster")
	in.Stock.Finals[0].Name = long("final")
	in.Box.MakerNotes[0].What = long("nut")
	for i := range in.Box.Slots {
		in.Box.Slots[i].Kind = long("slot")
	}
	for i := range in.Stock.Pairs {
		p := &in.Stock.Pairs[i]
		p.ID, p.Mark, p.Note, p.Group, p.Fits = long(p.ID), long(p.Mark), long("note"), long(p.ID), []string{long("slot")}
		p.RunM, p.LifeM = 0, 99999e3
	}
	in.Weather.AirSource, in.Weather.EngineSource, in.Weather.Used.Map = long("air"), long("engine"), long("map")
	in.Weather.Used.TowDrag, in.Weather.Used.TowDownforce = 0.912, 0.943
	for i := range in.TopGear {
		in.TopGear[i].Case = long(in.TopGear[i].Case)
	}
	for i := range in.Alternates {
		in.Alternates[i].Condition = long(in.Alternates[i].Condition)
	}
	for i := range in.Answer.Lap.ThrottleOns {
		in.Answer.Lap.ThrottleOns[i].Corner = long("corner")
	}
	for i := range in.Files {
		in.Files[i].Name = long("file")
	}
	in.Warnings = append(in.Warnings, long("warning"))
	in.Answer.Status = optimize.Stopped
}

// No line is longer than 80 characters, whatever the box and the names.
func TestWidth(t *testing.T) {
	for _, gears := range []int{4, 5, 6, 8} {
		for _, long := range []bool{false, true} {
			for _, u := range []Units{Metric, US} {
				t.Run(fmt.Sprintf("%d gears, long names %t, %s", gears, long, u), func(t *testing.T) {
					in := fixture(gears)
					if long {
						lengthen(&in)
					}
					set := in.Answer.Set
					other := *set
					other.Pairs = slices.Clone(set.Pairs)
					other.Pairs[2] = in.Answer.Near[1].Set.Pairs[2]
					w, err := BuildWhatIf(WhatIfInput{
						Box: in.Box, Stock: in.Stock, Question: in.Event, BaseName: in.Date, CarName: in.Car.Title, TrackName: in.Track.Title,
						Place: func(float64) string { return in.Event }, Unstated: &Unstated{Lap: in.Answer.Lap, Weather: in.Weather, LimiterRPM: 8000},
						Wishes:     []Wish{{Gear: 3, Amount: 150, Unit: "rpm", Ref: 7800, Want: 1.7}},
						Refused:    []SetResult{{Set: &other, Lap: onLimiter(fixtureLap(&other, 7000)), UnstatedTime: 83, Refused: in.Event}},
						NotInStock: []string{other.Pairs[2].ID, in.Event},
						LimiterRPM: 8000, Weather: in.Weather, Base: SetResult{Set: set, Lap: onLimiter(in.Answer.Lap)},
						Answers: []SetResult{{Set: &other, Lap: onLimiter(fixtureLap(&other, 7000)), UnstatedTime: 83}}, Files: in.Files, Warnings: in.Warnings,
					})
					require.NoError(t, err)
					l, err := BuildLap(LapInput{
						CarName: in.Car.Title, TrackName: in.Track.Title, Set: set, SetName: in.Event, Lap: in.Answer.Lap,
						LimiterRPM: 8000, PullingRPM: 6000, Weather: in.Weather, Files: in.Files, Warnings: in.Warnings,
					})
					require.NoError(t, err)
					b, err := BuildBarrel(in.Box, in.Files)
					require.NoError(t, err)
					list := fixtureListing()
					list.Title, list.Items[0].Name, list.Items[1].Facts[0] = in.Event, in.Car.Title, in.Track.Title
					list.Inputs, list.Warnings = in.Files, in.Warnings
					for name, v := range map[string]View{"sheet": mustBuild(t, in), "whatif": w, "lap": l, "barrel": b, "listing": list} {
						narrowEnough(t, name, render(t, v, u))
					}
				})
			}
		}
	}
	for gears := 2; gears <= 12; gears += 2 {
		s, err := StudyLayouts(gears, true)
		require.NoError(t, err)
		narrowEnough(t, "study", render(t, s, Metric))
	}
}

func narrowEnough(t *testing.T, name, text string) {
	t.Helper()
	require.True(t, utf8.ValidString(text))
	for i, l := range strings.Split(text, "\n") {
		if n := utf8.RuneCountInString(l); n > pageWidth {
			t.Errorf("%s, line %d is %d characters: %s", name, i+1, n, l)
		}
		if l != strings.TrimRight(l, " ") {
			t.Errorf("%s, line %d ends in spaces", name, i+1)
		}
	}
}

// Nothing is cut off where a cell wraps.
func TestLongCellsWrapWhole(t *testing.T) {
	in := fixture(6)
	mark := strings.Repeat("abcdefghij", 9)
	in.Stock.Pairs[0].Mark = mark
	text := render(t, mustBuild(t, in), Metric)
	kept := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'j' {
			return r
		}
		return -1
	}, column4(text))
	assert.Contains(t, kept, mark)
}

// column4 reads the mark column of the gear table.
func column4(text string) string {
	_, table, _ := strings.Cut(text, "GEARS, in gear order")
	lines := strings.Split(table, "\n")
	at := strings.Index(lines[3], "mark")
	var b strings.Builder
	for _, l := range lines[4:] {
		if l == "" {
			break
		}
		if len(l) > at {
			word, _, _ := strings.Cut(l[at:], " ")
			b.WriteString(word)
		}
	}
	return b.String()
}

// A name cannot start a new line or send a terminal a command.
func TestControlCharacters(t *testing.T) {
	in := fixture(6)
	in.Car.Title = "Dip\nper\x1b[2J\tcar\u2028x"
	text := render(t, mustBuild(t, in), Metric)
	assert.Contains(t, text, "car        Dip per [2J car x\n")
}

func TestStatusLine(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Input)
		want   string
	}{
		"proved":         {func(*Input) {}, "proved: no buildable set is faster by more than 1.00 ms, 12,345,678 sets in the space"},
		"proved, no gap": {func(in *Input) { in.Answer.Gap = 0.004e-3 }, "proved: no buildable set is faster, 12,345,678 sets in the space"},
		"proved, least":  {func(in *Input) { in.Answer.Gap = 0.0056e-3 }, "proved: no buildable set is faster by more than 0.01 ms, 12,345,678 sets in the space"},
		"second stage stopped": {func(in *Input) {
			in.Answer.Status, in.Answer.Gap = optimize.Stopped, 0
			in.Answer.Stages[0].Proved, in.Answer.Stages[1].Proved = true, false
		}, "lap proved: no buildable set is faster; NOT PROVED that no other set with as good a lap is better at what decides next, 12,345,678 sets in the space"},
		"stopped": {func(in *Input) {
			in.Answer.Status, in.Answer.Gap = optimize.Stopped, 0.0123451
			in.Answer.Stages[0].Proved = false
		}, "NOT PROVED: another buildable set may be faster by up to 12.35 ms, 12,345,678 sets in the space"},
		"interrupted": {func(in *Input) {
			in.Answer.Status, in.Answer.Gap, in.Answer.Open = optimize.Stopped, 0.0123451, gearing.Interrupted
			in.Answer.Stages[0].Proved = false
		}, "NOT PROVED (the search was interrupted): another buildable set may be faster by up to 12.35 ms"},
		"out of time": {func(in *Input) {
			in.Answer.Status, in.Answer.Gap, in.Answer.Open = optimize.Stopped, 0, gearing.TimeLimit
			in.Answer.Stages[0].Proved, in.Answer.Stages[1].Proved = true, false
		}, "NOT PROVED (the time limit ended the search) that no other set with as good a lap"},
		"too wide": {func(in *Input) {
			in.Answer.Status, in.Answer.Gap, in.Answer.Open = optimize.Stopped, 0.0123451, gearing.Wide
			in.Answer.Stages[0].Proved = false
		}, "NOT PROVED (nobody stopped the search: its bounds are too wide to decide this circuit): another buildable set may"},
		"given": {func(in *Input) { in.Answer.Status, in.Answer.SetsInSpace = optimize.Given, nil }, "given: the engineer's own set; nothing was searched\n"},
	} {
		t.Run(name, func(t *testing.T) {
			in := fixture(6)
			c.change(&in)
			text := render(t, mustBuild(t, in), Metric)
			_, line, _ := strings.Cut(text, "result     ")
			assert.Contains(t, strings.ReplaceAll(line, "\n           ", " "), c.want)
		})
	}
}

// What must stand on every sheet.
func TestSheetSays(t *testing.T) {
	in := fixture(6)
	for i := range in.TopGear {
		l := *in.TopGear[i].Lap
		l.LimiterTime = 1.2
		in.TopGear[i].Lap = &l
	}
	in.Car.Engine.PullingRPM = 5400
	text := strings.Join(strings.Fields(render(t, mustBuild(t, in), Metric)), " ")
	for _, want := range []string{
		"maker's manual", "series' rules", "qualified people decide", "calibrated torque wrench", "never used again", "eye protection",
		"safely supported", "over-revs the engine", "One person builds, another one checks", "built by ____", "checked by ____",
		"not matched to a logged lap", "where they cost the least time, at the latest 250 rpm below the limiter", "Change of lap time: +0.031 s with every shift 100 rpm earlier",
		"0123456789ab", "Heron manual, issue 3", "<- below pulling rpm", "More than a second of a lap on the limiter",
		"From the fitted set: change gear 3: 38 min; comes off: 6, 4, 5, 2, 3.",
	} {
		assert.Contains(t, text, want)
	}
}

func TestLongestStraight(t *testing.T) {
	seg := func(start, length float64, corner int) tracks.Segment {
		return tracks.Segment{Start: start, Length: length, Corner: corner}
	}
	for name, c := range map[string]struct {
		segments           []tracks.Segment
		start, end, length float64
	}{
		"over the line":            {[]tracks.Segment{seg(0, 100, -1), seg(100, 50, 0), seg(150, 120, -1), seg(270, 30, 1), seg(300, 60, -1)}, 300, 100, 160},
		"inside the lap":           {[]tracks.Segment{seg(0, 50, -1), seg(50, 50, 0), seg(100, 100, -1), seg(200, 70, -1), seg(270, 30, 1), seg(300, 60, -1)}, 100, 270, 170},
		"up to the line":           {[]tracks.Segment{seg(0, 100, 0), seg(100, 50, -1), seg(150, 50, 1), seg(200, 80, -1)}, 200, 280, 80},
		"from the line":            {[]tracks.Segment{seg(0, 90, -1), seg(90, 50, 0), seg(140, 50, -1), seg(190, 80, 1)}, 0, 90, 90},
		"two halves over the line": {[]tracks.Segment{seg(0, 40, -1), seg(40, 50, -1), seg(90, 50, 0), seg(140, 50, -1), seg(190, 80, -1)}, 140, 90, 220},
		"no straight":              {[]tracks.Segment{seg(0, 200, 0), seg(200, 100, 1)}, 0, 300, 300},
		"no corner":                {[]tracks.Segment{seg(0, 200, -1), seg(200, 100, -1)}, 0, 300, 300},
	} {
		t.Run(name, func(t *testing.T) {
			last := c.segments[len(c.segments)-1]
			span, length := longestStraight(&tracks.Track{Segments: c.segments, Length: last.Start + last.Length})
			assert.Equal(t, [3]float64{c.start, c.end, c.length}, [3]float64{span.Start, span.End, length})
		})
	}
}

// A change that needs the deepest layer on one shaft and all of the other: the
// longer list of each shaft is shown.
func TestStripForSeveral(t *testing.T) {
	b := fixtureBox(6, "Heron (invented)")
	st, err := stripFor(b, &b.Clusters[0], []int{6, 2})
	require.NoError(t, err)
	assert.Equal(t, []int{6, 4, 5, 2}, st.ComesOff)
	assert.Equal(t, []string{"gear 6", "gear 4", "gear 5", "gear 2"}, st.Layshaft)
	assert.Equal(t, []string{"gear 6", "dog ring 4-6", "gear 4", "gear 5", "dog ring 2-5", "gear 2"}, st.Mainshaft)
	assert.Equal(t, 10.0+15+2*2+6, st.BenchMin, "a maximum of layers, not a sum")
	assert.Equal(t, 4, st.PositionsDeep)
	_, err = stripFor(b, &b.Clusters[0], []int{gearbox.Reverse})
	require.Error(t, err)
}
