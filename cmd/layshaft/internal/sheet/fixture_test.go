package sheet

import (
	"flag"
	"fmt"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/optimize/gearing"
	"layshaft/sim"
	"layshaft/tracks"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// golden compares with testdata/name. It detects change and proves nothing.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

// fixtureTeeth are layshaft and mainshaft teeth from first gear on.
var fixtureTeeth = [][2]int{{13, 36}, {16, 35}, {19, 33}, {21, 31}, {23, 29}, {25, 28}, {27, 26}, {29, 24}}

// fixtureBox is an invented box; stacks are the forks one after the other, so
// that the gears of a fork stand side by side. Minutes are round: open 10,
// each layer 5 more, 2 for a pair, close 6.
func fixtureBox(gears int, name string) *gearbox.Box {
	forks := [][]gearbox.Fork{
		4: {{1, 3}, {2, 4}},
		5: {{gearbox.Reverse, 1}, {2, 4}, {3, 5}},
		6: {{1, 3}, {2, 5}, {4, 6}},
		8: {{1, 3}, {2, 5}, {4, 7}, {6, 8}},
	}[gears]
	b := &gearbox.Box{
		Name: "heron", Title: name, Gears: gears, StepMin: 1.05, StepMax: 1.6, DownshiftTime: 0.06,
		MakerNotes: []gearbox.MakerNote{{What: "cluster nut", Value: "as the manual says", Source: "Heron manual, issue 3, page 12"}},
	}
	c := gearbox.Cluster{Name: "standard", Forks: forks}
	for _, f := range forks {
		c.Stack = append(c.Stack, f...)
	}
	b.Clusters = []gearbox.Cluster{c}
	b.Strip = gearbox.Strip{LastOnFirstOff: "outer", Opening: 600, PerPair: 120, Closing: 360}
	for i := range c.Stack {
		b.Slots = append(b.Slots, gearbox.Slot{Position: i + 1, Kind: "loose"})
		b.Strip.Depth = append(b.Strip.Depth, 300*float64(i))
	}
	for range gears - 1 {
		b.UpshiftTime = append(b.UpshiftTime, 0.045)
	}
	b.CentreDistance = 0.08
	b.Endurances = []gearbox.Endurance{{SlotKind: "loose", Force: 14000, Cycles: 3e6, Exponent: 8.738, Source: "invented for the fixture"}}
	return b
}

func fixtureStock(gears int) *gearbox.Stock {
	s := &gearbox.Stock{
		Name: "heron", Title: "Heron pair store (invented)",
		Finals: []gearbox.Drive{{Name: "A", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}, Fitted: true, Count: 1}},
	}
	add := func(lay, main int) {
		s.Pairs = append(s.Pairs, gearbox.Pair{
			ID: fmt.Sprintf("P%d-%d", lay, main), Layshaft: lay, Mainshaft: main, Mark: fmt.Sprintf("%d/%d", lay, main),
			Count: 2, Fits: []string{"loose"}, RunM: 400e3, LifeM: 2500e3,
		})
	}
	for _, t := range fixtureTeeth[:gears] {
		add(t[0], t[1])
	}
	for i := range s.Pairs {
		s.Fitted = append(s.Fitted, s.Pairs[i].ID)
	}
	s.Pairs[3].Damage, s.Pairs[3].DamageM = 0.35, s.Pairs[3].RunM
	s.Pairs[0].LifeM, s.Pairs[1].Count, s.Pairs[2].Note = 0, 1, "chip on one tooth dressed, looked at after the last event"
	top := fixtureTeeth[gears-1]
	add(18, 33) // alternates: for third, and a shorter and a taller top
	add(top[0], top[1]+1)
	add(top[0]+1, top[1]-1)
	s.Fitted[2] = "P18-33"
	return s
}

// fixtureRadius makes the speeds of the fixture plain: v = rpm/60 · 2π r / total.
const fixtureRadius = 0.3 // m

func fixtureSpeed(rpm, total float64) float64 {
	return rpm / 60 * 2 * math.Pi * fixtureRadius / total
}

func fixtureTrack() *tracks.Track {
	return &tracks.Track{
		Name: "alderfen", Title: "Alderfen (invented)", Length: 3000,
		Segments: []tracks.Segment{
			{Start: 0, Length: 400, Corner: -1},
			{Start: 400, Length: 300, Corner: 0},
			{Start: 700, Length: 900, Corner: -1},
			{Start: 1600, Length: 500, Corner: 1},
			{Start: 2100, Length: 900, Corner: -1},
		},
		Corners: []tracks.Corner{{Name: "Sluice", Start: 400, End: 700}, {Name: "Long Reed", Start: 1600, End: 2100}},
	}
}

// fixtureLap is made by hand, not by sim: what the sheet shows is what it is
// given. The longest straight runs over the line, from 2100 to 400 m.
func fixtureLap(set *gearbox.Set, topRPM float64) *sim.Lap {
	n := len(set.Pairs)
	total := set.TotalRatios()
	l := &sim.Lap{
		Time: 83.4567891, NumericalError: 0.00012301, TopSpeed: fixtureSpeed(topRPM, total[n-1]), TopSpeedAt: 390,
		TimeInGear: make([]float64, n), MaxRPM: make([]float64, n), LimiterTime: 0.35,
		ThrottleOns: []sim.ThrottleOn{
			{S: 640, Corner: "Sluice", V: 30, Gear: 2, RPM: 5321.4},
			{S: 2050, Corner: "Long Reed", V: 45, Gear: 3, RPM: 6100.2},
		},
	}
	rest := l.Time
	for g := n - 1; g > 0; g-- { // first gear is never engaged
		l.TimeInGear[g] = l.Time / float64(n-1)
		if g == 1 {
			l.TimeInGear[g] = rest
		}
		rest -= l.TimeInGear[g]
		l.MaxRPM[g] = 7800
		l.Shifts = append(l.Shifts, sim.Shift{S: 2100 + 100*float64(g), From: g, To: g + 1, RPMBefore: 7750, RPMAfter: 7750 * total[g] / total[g-1], V: fixtureSpeed(7750, total[g-1])})
	}
	slices.Reverse(l.Shifts)
	l.MaxRPM[n-1] = topRPM
	for range n - 1 {
		l.CrossRPM = append(l.CrossRPM, 7749.6)
	}
	for s := 0.0; s <= 3000; s += 100 {
		v, g := 40.0, 3
		if s <= 400 || s > 2900 {
			v, g = l.TopSpeed-math.Abs(s-400)/100, n
		}
		l.Samples = append(l.Samples, sim.Sample{S: s, T: l.Time * s / 3000, V: v, Gear: g, RPM: v / fixtureSpeed(1, total[g-1]), Phase: sim.Driving, Limit: math.Inf(1)})
	}
	return l
}

// fixtureDuties: second gear 600 m, the taller ones the rest of 3000 m in equal
// parts; 1000 turns a gear, half of them at 250 N·m.
func fixtureDuties(gears int) []sim.Duty {
	out := make([]sim.Duty, gears)
	for g := 1; g < gears; g++ {
		out[g] = sim.Duty{Way: 2400 / float64(gears-2), Time: 16, Turns: 1000, Loads: []gearbox.Load{{Cycles: 500, Size: 250}}}
	}
	out[1].Way = 600
	return out
}

// onLimiter is the lap with the sample at which its time on the limiter begins.
func onLimiter(lap *sim.Lap) *sim.Lap {
	l := *lap
	i := slices.IndexFunc(l.Samples, func(s sim.Sample) bool { return s.S == 400 })
	on := l.Samples[i-1]
	on.S, on.T, on.Phase = 390, l.Samples[i].T-l.LimiterTime, sim.Limiting
	l.Samples = slices.Insert(slices.Clone(l.Samples), i, on)
	return &l
}

// fixture is an input with a proved set of so many gears.
func fixture(gears int) Input {
	box, stock := fixtureBox(gears, "Heron (invented)"), fixtureStock(gears)
	set := &gearbox.Set{Cluster: &box.Clusters[0], Final: &stock.Finals[0]}
	for i := range gears {
		set.Pairs = append(set.Pairs, &stock.Pairs[i])
	}
	lap := fixtureLap(set, 7612.4)
	out := *lap
	out.Time = 61.25
	other := *set
	other.Pairs = slices.Clone(set.Pairs)
	other.Pairs[2] = stock.Pair("P18-33")
	temp, pressure := 24.5, 1002.0
	return Input{
		Car: &cars.Car{
			Name: "dipper", Title: "Dipper (invented)", RadiusSource: "measured on the car by the team, loaded, at 1.6 bar",
			Engine: cars.Engine{PullingRPM: 5200, ShiftMarginRPM: 250},
		},
		Track: fixtureTrack(), Stock: stock, Box: box,
		Answer: &gearing.Answer{
			Set: set, Lap: lap, OutLap: &out, Status: optimize.Proved, Gap: 0.001, SetsInSpace: big.NewInt(12345678),
			Stages: []gearing.Stage{{Name: "lap", Value: lap.Time, Gap: 0.001, Proved: true}, {Name: "out lap", Value: out.Time, Gap: 0.001, Proved: true}},
			Near:   []gearing.Near{{Set: set, LapTime: lap.Time}, {Set: &other, LapTime: lap.Time + 0.0021, OutTime: 61.3}},
		},
		Speed: fixtureSpeed, LimiterRPM: 8000,
		Weather: Weather{
			Used:      sim.Conditions{AirDensity: 1.16912, EngineFactor: 0.9876, TowDrag: 1, TowDownforce: 1, TowWhere: []string{tracks.Straights}, Fuel: 40, Grip: 1, WindSpeed: 15 / 3.6, WindFrom: math.Pi * 1.5},
			Given:     GivenAir{AirTempC: &temp, StationPressureHpa: &pressure},
			AirSource: "moist air by CIPM-2007", EngineSource: "corrected by ISO 1585",
		},
		TopGear: []TopGearCase{
			{"alone", lap}, {"tow", fixtureLap(set, 7898.2)}, {"headwind 15 km/h", fixtureLap(set, 7350)},
			{"tailwind 15 km/h", fixtureLap(set, 8000)}, {"light fuel", fixtureLap(set, 7620)},
		},
		Alternates: []AlternateSet{
			{"as on the sheet", []gearing.Alternate{
				{Gear: 3, Pair: stock.Pair("P18-33"), LapTime: lap.Time + 0.0021, Loss: 0.0021},
				{Gear: gears, Pair: &stock.Pairs[gears+1], LapTime: lap.Time + 0.0123, Loss: 0.0123},
			}},
			{"tow", []gearing.Alternate{{Gear: gears, Pair: &stock.Pairs[gears+2], LapTime: 83.1204, Loss: -0.0314}}},
		},
		Loss:        fixtureLoss(gears),
		Duties:      fixtureDuties(gears),
		Sensitivity: &sim.Sensitivity{ShiftEarly: 0.0312, ShiftLate: -0.0111, InertiaReturn: -0.1049},
		Files: []InputFile{
			{"car", "dipper.toml", strings.Repeat("0123456789abcdef", 4), true},
			{"track", "alderfen.toml", strings.Repeat("fedcba9876543210", 4), true},
			{"stock", "heron.toml", strings.Repeat("00ff", 16), false},
			{"gearbox", "heron.toml", strings.Repeat("a1b2", 16), false},
		},
		Event: "Round 3, practice (invented)", Date: "2031-05-04",
		Warnings: []string{"dipper.toml: downforce is stated for one ride height only"},
	}
}

func mustBuild(t *testing.T, in Input) *Sheet {
	t.Helper()
	s, err := Build(in)
	require.NoError(t, err)
	return s
}

func render(t *testing.T, v View, u Units) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, v.Text(&b, TextOptions{Units: u}))
	return b.String()
}

func renderJSON(t *testing.T, v View) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, v.JSON(&b))
	return b.String()
}
