package sim

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

var writeSchedules = flag.Bool("schedules", false, "rewrite testdata/recomputed/schedules.json, the shifts that lap.py replays")

const (
	schedulesFile  = "../testdata/recomputed/schedules.json"
	recomputedFile = "../testdata/recomputed/laps.json"
)

// The laps are driven twice: here, with the best schedule of shifts, and by a
// program in another language with other numerics, from MODEL.md, the input
// files and the list of those shifts alone. testdata/recomputed/README.md tells
// what each of the two errs by; the tolerances are the sum.
const (
	lapTol   = 2e-4  // s
	speedTol = 0.002 // m/s, at a shift, at a throttle-on, and the highest
	placeTol = 0.003 // m, by which a shift may have moved since it was written down
)

// scheduled is one lap of schedules.json: what lap.py is told.
type scheduled struct {
	Name        string         `json:"name"`
	Track       string         `json:"track_file"`
	Kind        string         `json:"kind"`
	Set         string         `json:"set"`
	TotalRatio  []float64      `json:"total_ratio,omitempty"`
	Air         float64        `json:"air_density_kgm3"`
	Fuel        float64        `json:"fuel_kg"`
	Grip        float64        `json:"grip_ratio"`
	Wind        float64        `json:"wind_speed_mps"`
	WindFrom    float64        `json:"wind_from_deg"`
	StartGear   int            `json:"start_gear"`
	Shifts      []shiftAt      `json:"shifts"`
	ThrottleOns []throttleGear `json:"throttle_ons"`
}

type shiftAt struct {
	Place   float64 `json:"place_m"`
	From    int     `json:"from_gear"`
	To      int     `json:"to_gear"`
	Braking bool    `json:"braking,omitempty"` // on the limit: takes no drive from the car
}

type throttleGear struct {
	Place float64 `json:"place_m"`
	Gear  int     `json:"gear"`
}

// recomputed is laps.json: what lap.py found.
type recomputed struct {
	Schedules string `json:"schedules_sha256"`
	Laps      []struct {
		Name        string    `json:"name"`
		Length      float64   `json:"length_m"`
		Time        float64   `json:"time_s"`
		TopSpeed    float64   `json:"top_speed_mps"`
		ShiftSpeeds []float64 `json:"shift_speeds_mps"`
		OnSpeeds    []float64 `json:"throttle_on_speeds_mps"`
		Disorder    []string  `json:"disorder"`
	} `json:"laps"`
}

// cases are the laps to drive, without their shifts.
func recomputedCases() []scheduled {
	const demo = "tracks/circuits/"
	lap := func(name, track, kind string, totals ...float64) scheduled {
		s := scheduled{Name: name + ", " + kind, Track: track, Kind: kind, Set: "fitted", TotalRatio: totals, Air: 1.2, Fuel: 20, Grip: 1}
		if totals != nil {
			s.Set = "given"
		}
		return s
	}
	list := []scheduled{
		lap("saltmere", demo+"saltmere.toml", "flying"),
		lap("saltmere", demo+"saltmere.toml", "out"),
		lap("harrowdale", demo+"harrowdale.toml", "flying"),
		lap("harrowdale", demo+"harrowdale.toml", "out"),
		lap("quayside", demo+"quayside.toml", "flying"),
		lap("quayside", demo+"quayside.toml", "out"),
		lap("harrowdale, close", demo+"harrowdale.toml", "flying", 8.2, 7.0, 6.0, 5.1, 4.4, 3.8),
		lap("harrowdale, wide", demo+"harrowdale.toml", "flying", 9.4, 6.3, 4.6, 3.75, 3.35, 3.1),
		lap("larkfell", "testdata/recomputed/larkfell.toml", "flying"),
		lap("larkfell", "testdata/recomputed/larkfell.toml", "out"),
	}
	for i := len(list) - 2; i < len(list); i++ {
		list[i].Wind, list[i].WindFrom = 7, 80
	}
	return list
}

// drive is the lap that the case asks for, on a mesh refined so often.
func (s *scheduled) drive(t *testing.T, refine int) *Lap {
	t.Helper()
	data, err := os.ReadFile("../" + s.Track)
	require.NoError(t, err)
	track, err := tracks.Parse(datafile.Source{Name: s.Track, Data: data})
	require.NoError(t, err)
	m, err := New(demoCar(t), track, Conditions{
		AirDensity: s.Air, EngineFactor: 1, Fuel: s.Fuel, Grip: s.Grip, TowDrag: 1, TowDownforce: 1,
		WindSpeed: s.Wind, WindFrom: s.WindFrom * units.FromDeg,
	}, &Settings{Refine: refine})
	require.NoError(t, err)
	total := s.TotalRatio
	if total == nil {
		stock, err := gearbox.ParseStock(source(t, gearbox.Embedded(), "stocks/wren.toml"))
		require.NoError(t, err)
		set := gearbox.Set{Final: stock.FittedFinal()}
		for _, id := range stock.Fitted {
			set.Pairs = append(set.Pairs, stock.Pair(id))
		}
		total = set.TotalRatios()
	}
	lap := m.OutLap
	if s.Kind == "flying" {
		lap = m.Lap
	}
	l := lap(total)
	require.Empty(t, l.Infeasible)
	return l
}

// write notes the shifts of a lap in the case.
func (s *scheduled) write(l *Lap) {
	round := func(x float64) float64 { return math.Round(x*1e7) / 1e7 }
	s.StartGear = l.Samples[0].Gear
	s.Shifts, s.ThrottleOns = []shiftAt{}, []throttleGear{}
	for _, sh := range l.Shifts {
		s.Shifts = append(s.Shifts, shiftAt{Place: round(sh.S), From: sh.From, To: sh.To, Braking: sh.To < sh.From && !pauses(l, sh.S)})
	}
	for _, on := range l.ThrottleOns {
		s.ThrottleOns = append(s.ThrottleOns, throttleGear{Place: round(on.S), Gear: on.Gear})
	}
}

// pauses says whether the drive is cut from s (m) on.
func pauses(l *Lap, s float64) bool {
	for i := range l.Samples {
		if sm := &l.Samples[i]; math.Abs(sm.S-s) < 1e-9 && sm.Phase == Shifting {
			return true
		}
	}
	return false
}

func TestLapsAgreeWithTheRecomputation(t *testing.T) {
	list := recomputedCases()
	if *writeSchedules {
		for i := range list {
			list[i].write(list[i].drive(t, 0))
		}
		data, err := json.MarshalIndent(map[string]any{
			"what": "shifts chosen by this module, for lap.py to replay; written by go test ./sim -run Recomputation -schedules",
			"laps": list,
		}, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(schedulesFile, append(data, '\n'), 0o644))
		t.Skip("written; now run testdata/recomputed/lap.py")
	}
	data, err := os.ReadFile(schedulesFile)
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	var told struct{ Laps []scheduled }
	require.NoError(t, json.Unmarshal(data, &told))
	require.Len(t, told.Laps, len(list))
	data, err = os.ReadFile(recomputedFile)
	require.NoError(t, err)
	var want recomputed
	require.NoError(t, json.Unmarshal(data, &want))
	require.Equal(t, want.Schedules, hex.EncodeToString(sum[:]), "laps.json is not of these schedules; run lap.py again")
	require.Len(t, want.Laps, len(list))

	for i := range list {
		t.Run(list[i].Name, func(t *testing.T) {
			l := list[i].drive(t, 0)
			list[i].write(l)
			sameSchedule(t, &told.Laps[i], &list[i])
			w := &want.Laps[i]
			require.Equal(t, list[i].Name, w.Name)
			assert.Empty(t, w.Disorder, "gears or rules out of order in the replay")
			numtest.Equal(t, "time, s", w.Time, l.Time, lapTol, 0)
			numtest.Equal(t, "top speed, m/s", w.TopSpeed, l.TopSpeed, speedTol, 0)
			require.Len(t, w.ShiftSpeeds, len(l.Shifts))
			require.Len(t, w.OnSpeeds, len(l.ThrottleOns))
			for j, v := range w.ShiftSpeeds {
				numtest.Equal(t, "speed at a shift, m/s", v, l.Shifts[j].V, speedTol, 0)
			}
			for j, v := range w.OnSpeeds {
				numtest.Equal(t, "speed at a throttle-on, m/s", v, l.ThrottleOns[j].V, speedTol, 0)
			}
		})
	}
}

// sameSchedule refuses a lap whose shifts are no longer those that were
// replayed: its time proves nothing.
func sameSchedule(t *testing.T, told, now *scheduled) {
	t.Helper()
	const remedy = "the schedule is another; run with -schedules, then lap.py"
	require.Equal(t, told.StartGear, now.StartGear, remedy)
	require.Len(t, now.Shifts, len(told.Shifts), remedy)
	require.Len(t, now.ThrottleOns, len(told.ThrottleOns), remedy)
	for i, w := range told.Shifts {
		g := now.Shifts[i]
		numtest.Equal(t, "place of a shift, m: "+remedy, w.Place, g.Place, placeTol, 0)
		w.Place = g.Place
		require.Equal(t, w, g, remedy)
	}
	for i, w := range told.ThrottleOns {
		require.Equal(t, w.Gear, now.ThrottleOns[i].Gear, remedy)
	}
}
