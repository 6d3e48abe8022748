package sheet

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A printed table of the trade has two digits swapped in an rpm column, unseen
// (common practice: the sheet tests its own sums). Every change below must stop
// both views, with nothing written.
func TestTamperedSheet(t *testing.T) {
	swap := func(a, b *int) { *a, *b = *b, *a }
	for name, c := range map[string]struct {
		tamper func(*Sheet)
		want   string
	}{
		"two digits swapped in rpm after": {func(s *Sheet) { *s.Gears[0].RPMAfterUpshift = 6212 }, "gear 1: rpm after 6212"},
		"drop":                            {func(s *Sheet) { *s.Gears[2].RPMDrop++ }, "gear 3: rpm after"},
		"rpm after and drop exchanged":    {func(s *Sheet) { swap(s.Gears[1].RPMAfterUpshift, s.Gears[1].RPMDrop) }, "gear 2: 7750 rpm over a step"},
		"upshift and after raised alike":  {func(s *Sheet) { *s.Gears[1].RPMAfterUpshift += 9; *s.Gears[1].UpshiftRPM += 9 }, "gear 2: 7759 rpm over a step"},
		"layshaft teeth":                  {func(s *Sheet) { s.Gears[3].LayshaftTeeth++ }, "gear 4: ratio"},
		"shafts exchanged":                {func(s *Sheet) { g := &s.Gears[3]; swap(&g.LayshaftTeeth, &g.MainshaftTeeth) }, "gear 4: ratio"},
		"ratio":                           {func(s *Sheet) { s.Gears[0].Ratio += 1e-9 }, "gear 1: ratio"},
		"overall ratio":                   {func(s *Sheet) { s.Gears[5].OverallRatio *= 1.0001 }, "gear 6: overall ratio"},
		"final drive":                     {func(s *Sheet) { s.FinalDrive.DrivenTeeth++ }, "gear 1: overall ratio"},
		"a drop pair that is not counted": {func(s *Sheet) { s.Drop = &Teeth{DrivingTeeth: 20, DrivenTeeth: 21} }, "gear 1: overall ratio"},
		"step":                            {func(s *Sheet) { *s.Gears[0].StepRatio += 0.001 }, "gear 1: step"},
		"no teeth":                        {func(s *Sheet) { s.Gears[0].LayshaftTeeth = 0 }, "gear 1: a gear, final drive or drop pair without teeth"},
		"gears out of order":              {func(s *Sheet) { s.Gears[0], s.Gears[1] = s.Gears[1], s.Gears[0] }, "line 1 of the gear table is gear 2"},
		"fork":                            {func(s *Sheet) { s.Gears[0].Fork = 2 }, "gear 1: fork 2"},
		"stack position":                  {func(s *Sheet) { s.Gears[4].StackPosition = 5 }, "gear 5: stack position 5"},
		"comes off":                       {func(s *Sheet) { s.Gears[5].Strip.ComesOff = []int{4} }, "gear 6: the gear itself is not among"},
		"top gear with an upshift":        {func(s *Sheet) { s.Gears[5].UpshiftRPM = s.Gears[4].UpshiftRPM }, "gear 6 is the top gear"},
		"upshift missing":                 {func(s *Sheet) { s.Gears[1].RPMDrop = nil }, "gear 2: a number of its upshift is missing"},
		"limiter below the upshift":       {func(s *Sheet) { s.LimiterRPM = 7000 }, "above the limiter"},
		"headroom":                        {func(s *Sheet) { s.TopGear[1].HeadroomRPM = 201 }, "tow: rpm 7898 + headroom 201"},
		"speed at the limiter":            {func(s *Sheet) { s.Gears[1].SpeedAtLimiterKmh = 99 }, "gear 1: 105.9"},
		"lap time not a number":           {func(s *Sheet) { s.LapTimeS = math.NaN() }, "lap time is NaN"},
		"no gears":                        {func(s *Sheet) { s.Gears = nil }, "no gears"},
		"build order, mark of one gear":   {func(s *Sheet) { stepOf(s, 4, "mainshaft").Gears[0].Mark = "31/21" }, "gear 4 has the mark 31/21, in the gear table 21/31"},
		"build order, teeth of the other": {func(s *Sheet) { *stepOf(s, 4, "layshaft").Gears[0].Teeth = 31 }, "gear 4 has 31 teeth, in the gear table 21"},
		"build order, another pair":       {func(s *Sheet) { stepOf(s, 4, "layshaft").Gears[0].PairID = "x" }, "gear 4 is pair x"},
		"build order, dog side":           {func(s *Sheet) { stepOf(s, 4, "mainshaft").Gears[0].DogSide = "inner" }, `gear 4 has its dogs on side "inner"`},
		"build order, fork":               {func(s *Sheet) { *stepOf(s, 4, "mainshaft").Fork = 1 }, "gear 4 on fork 1"},
		"build order, no fork":            {func(s *Sheet) { stepOf(s, 4, "mainshaft").Fork = nil }, "gear 4 on fork -"},
		"build order, another gear":       {func(s *Sheet) { stepOf(s, 4, "mainshaft").Gears[0].Gear = 6 }, "gears [6], at its stack positions stand [4]"},
		"build order, off the stack":      {func(s *Sheet) { stepOf(s, 4, "mainshaft").Positions[0] = 7 }, "stack position 7, the stack has 6"},
		"build order, a step lost":        {func(s *Sheet) { s.BuildOrder = s.BuildOrder[1:] }, "has the number 2"},
		"build order, the last step lost": {func(s *Sheet) { s.BuildOrder = s.BuildOrder[:len(s.BuildOrder)-1] }, "build order of the mainshaft"},
		"build order, shafts exchanged":   {func(s *Sheet) { stepOf(s, 4, "mainshaft").Shaft = "layshaft" }, "build order of the layshaft"},
		"build order, box turned round":   {func(s *Sheet) { s.OpensAt = "housing" }, "the box is built in the order [6 5 4 3 2 1]"},
		"build order gone":                {func(s *Sheet) { s.BuildOrder = nil }, "the build order or the bench rules are missing"},
		"a depth lost":                    {func(s *Sheet) { s.Bench.DepthMin = s.Bench.DepthMin[1:] }, "6 slots and 5 depths"},
		"a cut gear more":                 {func(s *Sheet) { s.Bench.Slots[2].CutOn = true }, "the layshaft goes in 0 times"},
		"a carrier beyond the stack":      {func(s *Sheet) { s.Bench.CarrierAfter = 6 }, "the bearing carrier after position 6"},
		"minutes not a number":            {func(s *Sheet) { s.Bench.PerPairMin = math.NaN() }, "a bench time is NaN"},
	} {
		t.Run(name, func(t *testing.T) {
			s := mustBuild(t, fixture(6))
			require.NoError(t, s.Check())
			c.tamper(s)
			require.ErrorContains(t, s.Check(), c.want)
			refuses(t, s)
		})
	}
}

// stepOf finds the step that puts a gear on a shaft.
func stepOf(s *Sheet, gear int, shaft string) *BuildStep {
	for i := range s.BuildOrder {
		if st := &s.BuildOrder[i]; st.Part == "gear" && st.Shaft == shaft && st.Gears[0].Gear == gear {
			return st
		}
	}
	panic("no such step")
}

// The rendered characters are read again: a fault between model and paper is
// caught too.
func TestProofReading(t *testing.T) {
	for name, c := range map[string]struct {
		row, col int
		cell     string
		want     string
	}{
		"ratio rounded the wrong way": {1, colRatio, "2.187", "ratio is printed as 2.187, the teeth give 2.188"},
		"overall":                     {0, colOverall, "8.583", "overall is printed as 8.583, the teeth give 8.538"},
		"step":                        {0, colStep, "1.265", "step is printed as 1.265"},
		"digits swapped":              {2, colAfter, "6857", "6857 + 1163 is not 7750"},
		"teeth":                       {4, colLay, "24", "the teeth give"},
		"not a number":                {4, colLay, "2e", `holds "2e"`},
	} {
		t.Run(name, func(t *testing.T) {
			s := mustBuild(t, fixture(6))
			rows := s.gearCells(display{})
			require.NoError(t, s.proofRead(rows))
			rows[c.row][c.col] = c.cell
			p, err := s.page(display{}, rows)
			require.ErrorContains(t, err, c.want)
			require.Nil(t, p)
		})
	}
	s := mustBuild(t, fixture(6))
	require.ErrorContains(t, s.proofRead(s.gearCells(display{})[:5]), "5 lines are printed for 6 gears")
}

// The last check against gearbox and stock shares nothing with the search; what
// it finds is an error and there is no sheet.
func TestSetIsCheckedAgain(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*Input)
		want  string
	}{
		"not in the shop": {func(in *Input) { in.Stock.Pairs[3].Count = 0 }, "P21-31: 1 needed, 0 in the stock"},
		"out of life":     {func(in *Input) { in.Stock.Pairs[3].RunM = 9e6 }, "P21-31 is out of life"},
		"wrong slot":      {func(in *Input) { in.Stock.Pairs[3].Fits = []string{"wide"} }, "P21-31 fits [wide]"},
		"step range":      {func(in *Input) { in.Limits.StepMax = 1.2 }, "is above 1.2"},
		"an alternate":    {func(in *Input) { in.Stock.Pair("P26-27").InspectionDue = true }, "alternate P26-27 for gear 6: gear 6: pair P26-27 is due"},
		"a near set":      {func(in *Input) { in.Stock.Pair("P18-33").Count = 0 }, "near set 2: gear 3: pair P18-33: 1 needed, 0"},
		"no such gear":    {func(in *Input) { in.Alternates[0].List[0].Gear = 7 }, "alternate for gear 7"},
		"other stack": {func(in *Input) {
			in.Box.Clusters[0].Name = "other"
			c := *in.Answer.Set.Cluster
			c.Name = "standard"
			in.Answer.Set.Cluster = &c
		}, "is not listed"},
	} {
		t.Run(name, func(t *testing.T) {
			in := fixture(6)
			c.spoil(&in)
			s, err := Build(in)
			require.ErrorContains(t, err, c.want)
			assert.Nil(t, s)
		})
	}
	in := fixture(6) // allowed by a named person: both print
	in.Stock.Pairs[3].RunM = 9e6
	in.Waived = map[string]string{"P21-31": "chief mechanic: crack-tested yesterday"}
	assert.Contains(t, render(t, mustBuild(t, in), Metric), "ALLOWED AGAINST THE STOCK'S RULES: chief mechanic: crack-tested")
}

func TestBuildRefuses(t *testing.T) {
	_, err := Build(Input{})
	require.ErrorIs(t, err, ErrNoSet)

	in := fixture(6)
	in.Answer.Lap.Infeasible = "gear 2 over-revs at Sluice"
	_, err = Build(in)
	require.ErrorIs(t, err, ErrCannotDrive)
	require.ErrorContains(t, err, "Sluice")

	in = fixture(6)
	in.Answer.Lap.CrossRPM[2] = math.NaN()
	_, err = Build(in)
	require.ErrorContains(t, err, "gear 3: the lap gives no upshift rpm")

	in = fixture(6)
	in.Speed = func(_, _ float64) float64 { return math.NaN() }
	_, err = Build(in)
	require.ErrorContains(t, err, "speed at the limiter is NaN")

	in = fixture(6) // a case that cannot be driven is told, the others stand
	in.TopGear[1].Lap.Infeasible = "no gear pulls at Sluice"
	s := mustBuild(t, in)
	assert.Len(t, s.TopGear, 4)
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "top-gear table, tow: no gear pulls at Sluice")

	in = fixture(6)
	in.Answer.Lap.NumericalError = 0.0004
	s = mustBuild(t, in)
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "more than a quarter of the proof gap")

	require.Error(t, s.Text(&strings.Builder{}, TextOptions{Units: "furlongs"}))
}
