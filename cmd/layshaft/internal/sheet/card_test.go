package sheet

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/sim"
	"layshaft/tracks"
)

func mustDriverCard(t *testing.T, s *Sheet) *DriverCard {
	t.Helper()
	c, err := DriverCardOf(s)
	require.NoError(t, err)
	return c
}

func TestCardGolden(t *testing.T) {
	in := fixture(6)
	in.Car.Engine.OverRevRPM = 8300
	c := mustDriverCard(t, mustBuild(t, in))
	golden(t, "card.txt", []byte(render(t, c, Metric)))
	golden(t, "card_us.txt", []byte(render(t, c, US)))
}

// What the card is of stands at its foot.
func TestCardFoot(t *testing.T) {
	in := fixture(6)
	in.Session, in.Revision = "second practice (invented)", 3
	text := strings.Join(strings.Fields(render(t, mustDriverCard(t, mustBuild(t, in)), Metric)), " ")
	for _, want := range []string{
		"car Dipper (invented)", "track Alderfen (invented), Round 3, practice (invented), second practice (invented)",
		"set 13/36, 16/35, 19/33, 21/31, 23/29, 25/28; final 12/37", "revision 3; date 2031-05-04",
	} {
		assert.Contains(t, text, want)
	}
}

// The card of a sheet that was saved and read is the card of the sheet.
func TestCardOfASavedSheet(t *testing.T) {
	s := mustBuild(t, fixture(6))
	var saved bytes.Buffer
	require.NoError(t, s.JSON(&saved))
	back, err := Read("saved.json", saved.Bytes())
	require.NoError(t, err)
	require.Equal(t, renderJSON(t, mustDriverCard(t, s)), renderJSON(t, mustDriverCard(t, back)))

	// One of a version that knew no cards.
	back.OverRevRPM = 0
	_, err = DriverCardOf(back)
	require.ErrorIs(t, err, ErrOldSheet)
	*s.Gears[1].RPMDrop++
	_, err = DriverCardOf(s)
	require.ErrorContains(t, err, "sums do not add up")
}

// One small page: 45 lines with eight gears and 14 corners, none wider than 80
// columns, whatever the names.
func TestCardIsOnePage(t *testing.T) {
	for _, u := range []Units{Metric, US} {
		in := fixture(8)
		in.Car.Engine.OverRevRPM = 8300
		tr := *in.Track
		tr.Corners, tr.Segments = nil, nil
		for i := range 14 {
			at := 200 * float64(i)
			tr.Corners = append(tr.Corners, tracks.Corner{Name: "Invented Corner", Start: at, End: at + 100})
			tr.Segments = append(tr.Segments, tracks.Segment{Start: at, Length: 100, Corner: i}, tracks.Segment{Start: at + 100, Length: 100, Corner: -1})
		}
		in.Track = &tr
		text := render(t, mustDriverCard(t, mustBuild(t, in)), u)
		assert.LessOrEqual(t, strings.Count(text, "\n"), 45, text)
		narrowEnough(t, "card", text)
		lengthen(&in)
		narrowEnough(t, "card", render(t, mustDriverCard(t, mustBuild(t, in)), u))
	}
}

// The speed for a downshift of the fixture: v = rpm/60 · 2π r / total, of the
// gear that the shift leads to, never above it.
func TestDownshiftSpeeds(t *testing.T) {
	in := fixture(6)
	in.Car.Engine.OverRevRPM = 8300
	total := in.Answer.Set.TotalRatios()
	for over, want := range map[float64]float64{8300: 8300, 0: 8000} { // none stated: the limiter
		in.Car.Engine.OverRevRPM = over
		s := mustBuild(t, in)
		for g := range 5 {
			kmh := want / 60 * 2 * 3.141592653589793 * 0.3 / total[g] * 3.6
			numtest.Equal(t, "down into it (km/h)", kmh, *s.Gears[g].DownshiftMaxKmh, 0.001, 0)
			require.LessOrEqual(t, *s.Gears[g].DownshiftMaxKmh, kmh+1e-9)
		}
		require.Nil(t, s.Gears[5].DownshiftMaxKmh)
	}
	require.Equal(t, "113.4", display{}.speedDown(113.499))
	require.Equal(t, "113.5", display{}.speedDown(113.5))
	require.Equal(t, "70.4", display{us: true}.speedDown(113.45)) // 70.494 mph
}

// Corners off a trace made by hand, one over the line.
func TestCornersOfATrace(t *testing.T) {
	tr := &tracks.Track{Length: 1000, Corners: []tracks.Corner{
		{Name: "A", Start: 100, End: 200}, {Start: 300, End: 400}, {Name: "C", Start: 500, End: 501}, {Name: "D", Start: 950, End: 50},
	}}
	at := func(s, v float64, gear int, p sim.Phase) sim.Sample {
		return sim.Sample{S: s, V: v, Gear: gear, Phase: p}
	}
	lap := &sim.Lap{
		Samples: []sim.Sample{
			at(0, 30, 2, sim.Capped), at(40, 25, 1, sim.Capped), at(60, 28, 1, sim.Driving),
			at(100, 40, 3, sim.Capped), at(150, 35, 3, sim.Capped), at(200, 36, 2, sim.Capped),
			at(240, 37, 2, sim.Driving), at(300, 50, 4, sim.Driving), at(400, 55, 4, sim.Shifting),
			at(490, 52, 5, sim.Capped), at(600, 50, 5, sim.Capped), at(900, 60, 5, sim.Driving), at(960, 33, 4, sim.Capped), at(1000, 30, 2, sim.Capped),
		},
		ThrottleOns: []sim.ThrottleOn{
			{S: 55, V: 27, Gear: 1, RPM: 6000.4}, {S: 240, V: 37, Gear: 2, RPM: 7000}, {S: 270, V: 40, Gear: 3, RPM: 7100}, {S: 650, V: 51, Gear: 5, RPM: 7300},
		},
	}
	got := corners(tr, lap)
	names, gears, apex, on := []string{}, []int{}, []float64{}, []string{}
	for _, c := range got {
		names, gears, apex, on = append(names, c.Corner), append(gears, c.Gear), append(apex, c.DistanceM), append(on, whole(c.ThrottleRPM))
	}
	assert.Equal(t, []string{"T1 A", "T2", "T3 C", "T4 D"}, names)
	assert.Equal(t, []int{2, 4, 5, 1}, gears)
	assert.Equal(t, []float64{150, 300, 490, 40}, apex, "a corner between two samples is taken at the one before")
	assert.Equal(t, []string{"7000", "-", "7300", "6000"}, on, "the first full throttle after the slowest place")
	assert.Equal(t, []bool{false, true, false, false}, []bool{got[0].FlatOut, got[1].FlatOut, got[2].FlatOut, got[3].FlatOut})
	numtest.Equal(t, "slowest (km/h)", 90, got[3].ApexSpeedKmh, 0, 0)
}

// An upshift that begins where the corner begins: it is taken in the new gear.
func TestCornerAfterAnUpshiftAtItsEntry(t *testing.T) {
	tr := &tracks.Track{Length: 1000, Corners: []tracks.Corner{{Start: 100, End: 200}}}
	lap := &sim.Lap{Samples: []sim.Sample{
		{S: 90, V: 44, Gear: 3}, {S: 100, V: 45, Gear: 3, Phase: sim.Shifting}, {S: 102, V: 44.9, Gear: 4}, {S: 200, V: 60, Gear: 4},
	}}
	got := corners(tr, lap)
	assert.Equal(t, 4, got[0].Gear)
	numtest.Equal(t, "slowest place, m", 102, got[0].DistanceM, 0, 0)
	lap.Samples = lap.Samples[:2] // nothing else in the corner: the gear of the shift
	got = corners(tr, lap)
	assert.Equal(t, 3, got[0].Gear)
	numtest.Equal(t, "slowest place, m", 100, got[0].DistanceM, 0, 0)
}
