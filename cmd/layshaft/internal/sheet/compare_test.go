package sheet

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
)

// otherThird is the fixture with pair P18-33 in third, 0.125 s quicker and with
// 12 rpm more at the end of the straight.
func otherThird() Input {
	in := fixture(6)
	in.Answer.Set.Pairs[2] = in.Stock.Pair("P18-33")
	in.Answer.Near, in.Alternates = nil, nil
	in.Answer.Lap.Time -= 0.125
	in.Answer.Lap.MaxRPM[5] += 12
	in.Loss = LossInput{Why: "not asked for"}
	return in
}

func compareSheets(t *testing.T, old, now *Sheet) *Comparison {
	t.Helper()
	c, err := BuildComparison(Compared{Sheet: old, Name: "old.json", SHA256: "aa"}, Compared{Sheet: now, Name: "new.json", SHA256: "bb"})
	require.NoError(t, err)
	return c
}

// By hand: lap 83.456789 against 83.331789 s; the old headroom is 8000 - 7612,
// the new one 8000 - 7624. Third stands at position 2 of 1, 3, 2, 5, 4, 6: five
// positions deep, 10 + 20 + 2 + 6 min of the fixture; 6, 4, 5, 2, 3 come off,
// and on the mainshaft the rings 4-6 and 2-5, not that of 1-3, which lies deeper.
func TestCompareByHand(t *testing.T) {
	now := mustBuild(t, otherThird())
	c := compareSheets(t, mustBuild(t, fixture(6)), now)
	require.Empty(t, c.NotComparable)
	numtest.Equal(t, "gain", 0.125, *c.GainS, 1e-9, 0) // of values to 1e-6
	assert.Equal(t, -12, *c.HeadroomRPM)
	assert.Equal(t, 388-12, *c.New.HeadroomRPM)
	for _, g := range c.Gears {
		assert.Equal(t, g.Gear == 3, g.Changed)
	}
	// 33/18 over 33/19: 19/18 - 1 = 5.56 % shorter.
	numtest.Equal(t, "ratio", 5.56, *c.Gears[2].RatioChange, 1e-9, 0)
	r := c.Rebuild
	require.NotNil(t, r)
	assert.Equal(t, []int{3}, r.ChangedGears)
	numtest.Equal(t, "minutes", 10+20+2+6, r.BenchMin, 1e-9, 0)
	assert.Equal(t, []int{6, 4, 5, 2, 3}, r.ComesOff)
	var off []string
	for i, s := range r.Off {
		text := s.Shaft + " " + s.Part
		for _, g := range s.Gears {
			text += fmt.Sprint(" ", g.Gear)
		}
		off = append(off, text)
		assert.Equal(t, s.Part == "gear" && s.Gears[0].Gear == 3, s.Changed)
		assert.Equal(t, s.Step, r.On[len(r.On)-1-i].Step)
	}
	assert.Equal(t, []string{
		"mainshaft gear 6", "layshaft gear 6", "mainshaft dog ring 4 6", "mainshaft gear 4", "layshaft gear 4",
		"mainshaft gear 5", "layshaft gear 5", "mainshaft dog ring 2 5", "mainshaft gear 2", "layshaft gear 2",
		"mainshaft gear 3", "layshaft gear 3",
	}, off)
	require.Len(t, r.PairsOut, 1)
	assert.Equal(t, "P19-33", r.PairsOut[0].PairID)
	assert.Equal(t, 3, *r.PairsOut[0].From)
	assert.Nil(t, r.PairsOut[0].To)
	assert.Equal(t, "P18-33", r.PairsIn[0].PairID)
	assert.Equal(t, []GearTurns{{Gear: 3, WheelTurn: now.Gears[2].WheelTurn}}, c.WheelTurns)
	assert.Contains(t, render(t, c, Metric), "not known: the gearbox file has no steps table")

	back := compareSheets(t, now, mustBuild(t, fixture(6)))
	numtest.Equal(t, "and back", -0.125, *back.GainS, 1e-9, 0)
	golden(t, "compare.txt", []byte(render(t, c, Metric)))
}

// A lap time is subtracted only where all that it rests on is the same.
func TestNotComparable(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Sheet)
		want   string
	}{
		"track":           {func(s *Sheet) { s.Track = "Elsewhere" }, "track: Alderfen (invented) against Elsewhere"},
		"track file":      {func(s *Sheet) { s.Inputs[1].SHA256 = "ff" }, "track file: "},
		"car":             {func(s *Sheet) { s.Car = "Another" }, "car: Dipper (invented) against Another"},
		"car file":        {func(s *Sheet) { s.Inputs[0].SHA256 = "ff" }, "car file: "},
		"air":             {func(s *Sheet) { s.Conditions.AirDensityKgm3 = 1.169121 }, "air density: 1.16912 kg/m3 against 1.169121 kg/m3"},
		"engine":          {func(s *Sheet) { s.Conditions.EngineFactorRatio = 1 }, "engine factor"},
		"map":             {func(s *Sheet) { s.Conditions.Map = "wet" }, "engine map: - against wet"},
		"wind":            {func(s *Sheet) { s.Conditions.WindKmh = 0 }, "wind: 15 km/h from 270 deg against none"},
		"wind turned":     {func(s *Sheet) { s.Conditions.WindFromDeg = 271 }, "against 15 km/h from 271 deg"},
		"tow":             {func(s *Sheet) { s.Conditions.TowDragRatio = 0.9 }, "tow: none against drag x 0.9"},
		"fuel, by a gram": {func(s *Sheet) { s.Conditions.FuelKg += 0.001 }, "fuel: 40 kg against 40.001 kg"},
		"grip":            {func(s *Sheet) { s.Conditions.GripRatio = 0.98 }, "grip"},
		"driver's shifts": {func(s *Sheet) { s.Conditions.DriverShiftRPM = []int{7000, 7100} }, "driver's shift rpm: the quickest against 7000, 7100"},
		"on the limiter":  {func(s *Sheet) { v := 0.5; s.Conditions.LimiterMostS = &v }, "most on the limiter: no bound against 0.5 s"},
	} {
		t.Run(name, func(t *testing.T) {
			old, now := mustBuild(t, fixture(6)), mustBuild(t, otherThird())
			c.change(now)
			got := compareSheets(t, old, now)
			require.Len(t, got.NotComparable, 1)
			assert.Contains(t, got.NotComparable[0], c.want)
			assert.Nil(t, got.GainS)
			assert.Nil(t, got.OutLapGainS)
			assert.Nil(t, got.TopChangeKmh)
			assert.Nil(t, got.HeadroomRPM)
			assert.Nil(t, got.LimiterS)
			require.NotNil(t, got.Rebuild, "the bench does not care for the weather")
			text := render(t, got, Metric)
			assert.Contains(t, text, "NOT COMPARABLE")
			assert.NotContains(t, text, "0.125")
		})
	}
	old, now := mustBuild(t, fixture(6)), mustBuild(t, fixture(6))
	now.Inputs[0].Name = "renamed.toml"
	assert.Empty(t, compareSheets(t, old, now).NotComparable, "the bytes count, not the name")
}

// What leaves no plan, and what the plan says beside.
func TestComparePlans(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Sheet)
		reason string // "" = a plan
		warn   string
	}{
		"another gearbox":    {func(s *Sheet) { s.Gearbox = "Bittern" }, "the sheets are of two gearboxes (Heron (invented) and Bittern)", ""},
		"from an old time":   {func(s *Sheet) { s.Bench, s.BuildOrder = nil, nil }, "make it again", ""},
		"slots changed":      {func(s *Sheet) { s.Bench.Slots[1].Kind = "wide" }, "its file was changed", ""},
		"carrier changed":    {func(s *Sheet) { s.Bench.CarrierAfter = 2 }, "its file was changed", ""},
		"minutes changed":    {func(s *Sheet) { s.Bench.PerPairMin++ }, "", "the new sheet's count"},
		"other gearbox file": {func(s *Sheet) { s.Inputs[3].SHA256 = "ff" }, "", "different gearbox files"},
		"an older revision":  {func(s *Sheet) { s.Revision = 1 }, "", "are they the right way round?"},
	} {
		t.Run(name, func(t *testing.T) {
			old, now := mustBuild(t, fixture(6)), mustBuild(t, otherThird())
			old.Revision = 2
			c.change(now)
			got := compareSheets(t, old, now)
			if c.reason != "" {
				assert.Nil(t, got.Rebuild)
				assert.Contains(t, got.NoRebuild, c.reason)
				assert.Contains(t, render(t, got, Metric), "NO PLAN: ")
			} else {
				assert.NotNil(t, got.Rebuild)
			}
			if c.warn != "" {
				assert.Contains(t, strings.Join(got.Warnings, "\n"), c.warn)
			}
		})
	}
	same := compareSheets(t, mustBuild(t, fixture(6)), mustBuild(t, fixture(6)))
	assert.Empty(t, same.Rebuild.Off)
	assert.Empty(t, same.Differs)
	assert.Contains(t, render(t, same, Metric), "No pair changes: nothing comes off the shafts.")

	drive := fixture(6)
	drive.Answer.Set.Final = &gearbox.Drive{Name: "B", Teeth: gearbox.Teeth{Driving: 12, Driven: 38}, Count: 1}
	drive.Stock.Finals = append(drive.Stock.Finals, *drive.Answer.Set.Final)
	drive.Answer.Near, drive.Alternates = nil, nil
	c := compareSheets(t, mustBuild(t, fixture(6)), mustBuild(t, drive))
	assert.True(t, c.Rebuild.OtherFinal)
	assert.Len(t, c.WheelTurns, 6, "another final drive changes every count")
	numtest.Equal(t, "no minutes of ours", 0, c.Rebuild.BenchMin, 0, 0)
	assert.Contains(t, strings.Join(strings.Fields(render(t, c, Metric)), " "), "The final drive changes too: no minutes are known for that")

	_, err := BuildComparison(Compared{Sheet: &Sheet{}, Name: "x.json"}, Compared{Sheet: &Sheet{}})
	require.ErrorContains(t, err, "x.json: the sums do not add up")
}

// A gain below both numerical errors together is no gain.
func TestSmallGain(t *testing.T) {
	in := fixture(6)
	in.Answer.Lap.Time += 0.0002
	in.Loss = LossInput{Why: "not asked for"}
	c := compareSheets(t, mustBuild(t, fixture(6)), mustBuild(t, in))
	assert.Contains(t, strings.Join(c.Warnings, "\n"), "neither set is proved faster")
}

// thin is as much of a sheet as a plan needs.
func thin(b *gearbox.Box, set *gearbox.Set) *Sheet {
	s := &Sheet{
		Gearbox: b.Title, Cluster: set.Cluster.Name, OpensAt: opensAt(b), Forks: forkLists(set.Cluster.Forks),
		Stack: set.Cluster.Stack, Bench: benchOf(b), StepsStated: b.StepsStated(), BuildOrder: buildSteps(b.BuildOrder(set)),
		FinalDrive: *teeth(set.Final), Drop: teeth(set.Drop),
	}
	for i, p := range set.Pairs {
		s.Gears = append(s.Gears, Gear{Gear: i + 1, PairID: p.ID, LayshaftTeeth: p.Layshaft, MainshaftTeeth: p.Mainshaft, Mark: p.Mark, Group: p.Group})
	}
	return s
}

// Two saved sheets give the plan that the gearbox file itself gives: every
// subset of gears, every pair of clusters, both embedded boxes.
func TestPlanOutOfSavedSheets(t *testing.T) {
	for _, name := range []string{"wren-six", "plover-five"} {
		src, err := datafile.Read(name, gearbox.Embedded(), gearbox.BoxDir, ".toml")
		require.NoError(t, err)
		b, err := gearbox.ParseBox(src)
		require.NoError(t, err)
		set := func(c *gearbox.Cluster, changed int) *gearbox.Set {
			out := &gearbox.Set{Cluster: c, Final: &gearbox.Drive{Name: "A", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}}}
			for g := range b.Gears {
				p := &gearbox.Pair{ID: fmt.Sprint("old ", g), Layshaft: 13 + g, Mainshaft: 40 - g, Mark: fmt.Sprint("m", g)}
				if changed&(1<<g) != 0 {
					p = &gearbox.Pair{ID: fmt.Sprint("new ", g), Layshaft: 14 + g, Mainshaft: 40 - g, Mark: fmt.Sprint("n", g), Group: "G"}
				}
				out.Pairs = append(out.Pairs, p)
			}
			return out
		}
		for i := range b.Clusters {
			for k := range b.Clusters {
				for changed := range 1 << b.Gears {
					from, to := set(&b.Clusters[i], 0), set(&b.Clusters[k], changed)
					got, why, warnings := rebuild(saved(t, thin(b, from)), saved(t, thin(b, to)))
					require.Empty(t, why)
					require.Empty(t, warnings)
					want := rebuildOf(b, b.Rebuild(from, to))
					require.Equal(t, text(t, want), text(t, got), "%s %d to %d, %b", name, i, k, changed)
					require.Equal(t, i != k, got.EverythingOff)
				}
			}
		}
	}
}

func saved(t *testing.T, s *Sheet) *Sheet {
	t.Helper()
	out := &Sheet{}
	require.NoError(t, json.Unmarshal([]byte(text(t, s)), out))
	return out
}

func text(t *testing.T, v any) string {
	t.Helper()
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return string(data)
}

// A steps table reads on paper: a tick for each step, marks, NEW, quoted notes,
// all within the page whatever the names are.
func TestStepsOnPaper(t *testing.T) {
	src, err := datafile.Read("plover-five", gearbox.Embedded(), gearbox.BoxDir, ".toml")
	require.NoError(t, err)
	b, err := gearbox.ParseBox(src)
	require.NoError(t, err)
	for _, id := range []string{"P", "a rather long name of a pair, number "} {
		set := &gearbox.Set{Cluster: &b.Clusters[0], Final: &gearbox.Drive{}}
		for g := range b.Gears {
			set.Pairs = append(set.Pairs, &gearbox.Pair{ID: fmt.Sprint(id, g+1), Layshaft: 13 + g, Mainshaft: 36 - g, Mark: fmt.Sprintf("%d/%d", 13+g, 36-g)})
		}
		p := &page{}
		thin(b, set).textBuildOrder(p)
		out := p.text()
		for _, l := range strings.Split(out, "\n") {
			assert.LessOrEqual(t, width(l), pageWidth, l)
		}
		assert.Equal(t, len(b.Steps), strings.Count(out, tick))
		assert.Len(t, regexp.MustCompile(`(?m)^\[ \].* NEW$`).FindAllString(out, -1), 4) // two snap rings, lock ring, split pin
		assert.Contains(t, out, "layshaft nut: see table 4; read it there, not here (Plover workshop")
		assert.Regexp(t, `lay +layshaft +2 +14 14/35 [^R]+\n +1 +13 13/36 [^R]+\n +R +- - `, out)
	}
}
