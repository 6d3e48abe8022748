package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
)

func fixtureWhatIf() WhatIfInput {
	in := fixture(6)
	base := in.Answer.Set
	with := func(gear int, id string) *gearbox.Set {
		s := *base
		s.Pairs = slices.Clone(base.Pairs)
		s.Pairs[gear-1] = in.Stock.Pair(id)
		return &s
	}
	shorter, taller, both := with(6, "P25-29"), with(6, "P26-27"), with(6, "P26-27")
	both.Pairs[2] = in.Stock.Pair("P18-33")
	lap := func(s *gearbox.Set, gain, rpm float64) SetResult {
		l := onLimiter(fixtureLap(s, rpm))
		l.Time -= gain
		return SetResult{Set: s, Lap: l}
	}
	return WhatIfInput{
		Box: in.Box, Stock: in.Stock, Question: "gears 3 and 6 may change", BaseName: "fitted set of heron.toml",
		CarName: "Dipper (invented)", TrackName: "Alderfen (invented)", LimiterRPM: in.LimiterRPM, Weather: in.Weather,
		Base: SetResult{Set: base, Lap: onLimiter(in.Answer.Lap)},
		Answers: []SetResult{
			lap(shorter, -0.0123, 8000), lap(both, 0.0466, 7401), lap(taller, 0.0456, 7400), {Set: base, Lap: onLimiter(in.Answer.Lap)},
		},
		Place: func(float64) string { return "after Long Reed" },
		Files: in.Files, Warnings: in.Warnings,
	}
}

// fixtureWish is a what-if report with everything that a question can bring with it:
// wishes, conditions, a pair that may not be used and one that is not in stock.
func fixtureWish() WhatIfInput {
	in := fixtureWhatIf()
	stock := *in.Stock
	stock.Pairs = append(slices.Clone(stock.Pairs), gearbox.Pair{ID: "NOT IN STOCK 27/28", Layshaft: 27, Mainshaft: 28, Count: 1, Fits: []string{"loose"}})
	stock.Pair("P26-27").Place = "car 2"
	in.Stock, in.NotInStock = &stock, []string{"NOT IN STOCK 27/28"}
	with := func(id string, gain float64) SetResult {
		s := *in.Base.Set
		s.Pairs = slices.Clone(s.Pairs)
		s.Pairs[5] = stock.Pair(id)
		l := onLimiter(fixtureLap(&s, 7500))
		l.Time -= gain
		l.ThrottleOns[1].RPM, l.ThrottleOns[1].Gear = 5900, 4
		return SetResult{Set: &s, Lap: l, UnstatedTime: l.Time - 2*gain}
	}
	in.Question = "gear 6 taller by about 4 %; might be bought: NOT IN STOCK 27/28, in the conditions stated"
	in.Wishes = []Wish{{Gear: 6, Taller: true, Amount: 4, Unit: "%", Ref: 7612.4, Driven: true, Want: 0.96 * 28 / 25}}
	in.Unstated = &Unstated{Lap: in.Base.Lap, Weather: in.Weather, LimiterRPM: 8000}
	in.Answers = []SetResult{with("P26-27", 0.01), with("NOT IN STOCK 27/28", 0.02)}
	stock.Pair("P25-29").InspectionDue = true
	refused := with("P25-29", 0.03)
	refused.Refused = "P25-29: due for inspection"
	in.Refused = []SetResult{refused}
	box := *in.Box
	for _, slot := range box.Slots {
		for _, shaft := range []string{gearbox.OnLayshaft, gearbox.OnMainshaft} {
			box.Steps = append(box.Steps, gearbox.BuildStep{Part: gearbox.GearStep, Shaft: shaft, Positions: []int{slot.Position}, MarksFace: gearbox.Outer})
		}
	}
	box.Steps = append(box.Steps, gearbox.BuildStep{Part: gearbox.LockRingStep, Shaft: gearbox.OnMainshaft, MustBeNew: true})
	in.Box = &box
	return in
}

func fixtureLapInput() LapInput {
	in := fixture(6)
	in.Answer.Lap.Energy = fixtureEnergy()
	return LapInput{
		CarName: "Dipper (invented)", TrackName: "Alderfen (invented)", Set: in.Answer.Set, SetName: "--set", Lap: in.Answer.Lap,
		LimiterRPM: 8000, PullingRPM: 5400, ShiftMarginRPM: 250, Sensitivity: in.Sensitivity, Loss: in.Loss, Weather: in.Weather, Trace: true, Files: in.Files, Warnings: in.Warnings,
	}
}

func fixtureListing() *Listing {
	return &Listing{
		Title: "TRACKS", NameHead: "track",
		Columns: []Column{{"title", "title", 0}, {"length_m", "length|m", 0}, {"corners_count", "corners", 0}, {"embedded", "built in", 0}, {"note", "", 0}},
		Items: []Item{
			{"alderfen", []any{"Alderfen (invented)", 3000.4, 2, true, nil}},
			{"reedmere", []any{"Reedmere (invented)", nil, 14, false, "in the JSON only"}},
		},
		Notes: []string{"Lengths along the driven line."},
	}
}

func TestReportsGolden(t *testing.T) {
	w, err := BuildWhatIf(fixtureWhatIf())
	require.NoError(t, err)
	golden(t, "whatif.txt", []byte(render(t, w, Metric)))
	w, err = BuildWhatIf(fixtureWish())
	require.NoError(t, err)
	golden(t, "whatif_wish.txt", []byte(render(t, w, Metric)))
	l, err := BuildLap(fixtureLapInput())
	require.NoError(t, err)
	golden(t, "lap.txt", []byte(render(t, l, Metric)))
	b, err := BuildBarrel(fixtureBox(6, "Heron (invented)"), nil)
	require.NoError(t, err)
	golden(t, "barrel.txt", []byte(render(t, b, Metric)))
	golden(t, "listing.txt", []byte(render(t, fixtureListing(), Metric)))
	golden(t, "listing.json", []byte(renderJSON(t, fixtureListing())))
	s, err := StudyLayouts(6, false)
	require.NoError(t, err)
	golden(t, "study.txt", []byte(render(t, s, Metric)))
}

// Fastest first; gain positive = faster; what comes off ends with or holds the
// changed gears; bench minutes by hand: open 10 + layer + 2 a pair + close 6.
func TestWhatIfRanks(t *testing.T) {
	r, err := BuildWhatIf(fixtureWhatIf())
	require.NoError(t, err)
	require.Len(t, r.Answers, 4)
	var gains []float64
	for _, a := range r.Answers {
		gains = append(gains, *a.GainS)
	}
	assert.Equal(t, []float64{0.0466, 0.0456, 0, -0.0123}, gains)
	first, second, base := r.Answers[0], r.Answers[1], r.Answers[2]
	assert.Equal(t, []int{3, 6}, first.ChangedGears)
	assert.Equal(t, []int{6, 4, 5, 2, 3}, first.ComesOff, "third stands in position 2 of 1, 3, 2, 5, 4, 6")
	assert.Equal(t, 10.0+20+2*2+6, first.BenchMin, "five positions deep")
	assert.Equal(t, []int{6}, second.ComesOff, "sixth is outermost: it comes off alone (common practice)")
	assert.Equal(t, 10.0+0+2+6, second.BenchMin)
	assert.Equal(t, 600, *second.HeadroomRPM)
	assert.Empty(t, base.ChangedGears)
	assert.Equal(t, []int{}, base.ComesOff)
	assert.Zero(t, base.BenchMin)
}

func TestWhatIfRefusesWhatCannotBeBuilt(t *testing.T) {
	in := fixtureWhatIf()
	in.Stock.Pair("P26-27").InspectionDue = true
	_, err := BuildWhatIf(in)
	require.ErrorContains(t, err, "P26-27 is due for inspection")

	in = fixtureWhatIf() // a fault of the base is in the car already: said, not refused
	in.Stock.Pair("P16-35").InspectionDue = true
	r, err := BuildWhatIf(in)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "the base could not be built again as it is: gear 2: pair P16-35 is due for inspection")
}

func TestWhatIfTampered(t *testing.T) {
	for name, tamper := range map[string]func(*WhatIf){
		"gain":           func(r *WhatIf) { *r.Answers[0].GainS += 1e-6 },
		"lap":            func(r *WhatIf) { *r.Answers[1].LapTimeS += 0.001 },
		"comes off":      func(r *WhatIf) { r.Answers[0].ComesOff = []int{6} },
		"missing gain":   func(r *WhatIf) { r.Answers[0].GainS = nil },
		"lap time a NaN": func(r *WhatIf) { *r.Answers[0].LapTimeS = math.NaN() },
	} {
		t.Run(name, func(t *testing.T) {
			r, err := BuildWhatIf(fixtureWhatIf())
			require.NoError(t, err)
			tamper(r)
			refuses(t, r)
		})
	}
}

// refuses holds both views to an error and no byte.
func refuses(t *testing.T, v View) {
	t.Helper()
	var b strings.Builder
	require.Error(t, v.Text(&b, TextOptions{}))
	require.Error(t, v.JSON(&b))
	require.Empty(t, b.String(), "something was printed")
}

func TestLapTampered(t *testing.T) {
	for name, tamper := range map[string]func(*LapReport){
		"time in gear": func(r *LapReport) { r.Gears[3].TimeInGearS += 0.001 },
		"rpm swapped":  func(r *LapReport) { s := &r.Shifts[0]; s.RPMBefore, s.RPMAfter = s.RPMAfter, s.RPMBefore },
		"no lap time":  func(r *LapReport) { r.LapTimeS = math.NaN() },
	} {
		t.Run(name, func(t *testing.T) {
			r, err := BuildLap(fixtureLapInput())
			require.NoError(t, err)
			tamper(r)
			refuses(t, r)
		})
	}
}

func TestLapCannotDrive(t *testing.T) {
	in := fixtureLapInput()
	in.Lap.Infeasible = "gear 1 over-revs at Sluice: 9100 rpm, limit 8000"
	_, err := BuildLap(in)
	require.ErrorIs(t, err, ErrCannotDrive)
	require.ErrorContains(t, err, "over-revs at Sluice")
	_, err = BuildLap(LapInput{})
	require.ErrorIs(t, err, ErrNoSet)
}

func TestTraceOnlyWhenAsked(t *testing.T) {
	in := fixtureLapInput()
	in.Trace = false
	r, err := BuildLap(in)
	require.NoError(t, err)
	assert.Contains(t, renderJSON(t, r), `"trace": null`)
	in.Trace = true
	r, err = BuildLap(in)
	require.NoError(t, err)
	require.Len(t, r.Trace, len(in.Lap.Samples))
	assert.Nil(t, r.Trace[0].LimitKmh, "no limit is null, not infinity")
}

// Counts of layouts without neighbours on one fork: OEIS A000806, absolute
// values; with neighbours sharing: OEIS A001147.
func TestStudyLayouts(t *testing.T) {
	for gears, want := range map[int]int{4: 1, 6: 5, 8: 36, 10: 329} {
		r, err := StudyLayouts(gears, false)
		require.NoError(t, err)
		assert.Len(t, r.Layouts, want, "%d gears", gears)
	}
	r, err := StudyLayouts(6, true)
	require.NoError(t, err)
	assert.Len(t, r.Layouts, 15)
	r, err = StudyLayouts(2, false)
	require.NoError(t, err)
	assert.Contains(t, renderJSON(t, r), `"layouts": []`)
	for _, gears := range []int{-1, 0, 13} {
		_, err = StudyLayouts(gears, false)
		require.ErrorContains(t, err, fmt.Sprintf("layouts of %d gears", gears))
	}
}

func TestListingRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		facts []any
		want  string
	}{
		"too few facts":  {[]any{"a"}, "1 facts for 5 columns"},
		"NaN":            {[]any{"a", math.NaN(), 1, true, nil}, "length_m is NaN"},
		"an odd type":    {[]any{"a", 1.0, struct{}{}, true, nil}, "corners_count is a struct {}"},
		"an infinity":    {[]any{"a", math.Inf(1), 1, true, nil}, "length_m is +Inf"},
		"too many facts": {[]any{"a", 1.0, 1, true, nil, nil}, "6 facts for 5 columns"},
	} {
		t.Run(name, func(t *testing.T) {
			l := fixtureListing()
			l.Items[1].Facts = c.facts
			require.ErrorContains(t, l.Check(), c.want)
			refuses(t, l)
		})
	}
}

// What is left is rounded down, in a listing and under a change: 341.8 km are not
// 342, and run + left never exceed the limit.
func TestKilometresLeftRoundDown(t *testing.T) {
	l := &Listing{Title: "PAIRS", Columns: []Column{{"life_left_km", "left|km", 0}}, Items: []Item{{"20/33", []any{KmLeft(341.8)}}}}
	require.Regexp(t, `(?m)^20/33\s+341$`, render(t, l, Metric))
	left := 341.8
	b := &Booking{Store: "x.store", Cards: []Card{{PairID: "20/33", RunKm: 3658.2, LeftKm: &left, State: "ready"}}}
	require.Regexp(t, `(?m)^20/33\s+-\s+3658\.2\s+341 `, render(t, b, Metric))
	bad := &Listing{Columns: []Column{{"life_left_km", "", 0}}, Items: []Item{{"a", []any{KmLeft(math.NaN())}}}}
	require.ErrorContains(t, bad.Check(), "life_left_km is NaN")
}
