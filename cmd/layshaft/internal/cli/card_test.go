package cli

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
	"layshaft/tracks"
)

func runJSON(t *testing.T, out any, args ...string) {
	t.Helper()
	code, stdout, errs := run(append(args, "--format", "json", "-q")...)
	require.Zero(t, code, errs)
	require.NoError(t, json.Unmarshal([]byte(stdout), out))
}

type cardJSON struct {
	Gears []struct {
		Gear int
		Down *float64 `json:"downshift_speed_max_kmh"`
	}
	Corners []struct {
		Corner   string
		Gear     int
		Apex     float64  `json:"apex_speed_kmh"`
		On       *float64 `json:"throttle_on_distance_m"`
		OnGear   *int     `json:"throttle_on_gear"`
		OnRPM    *int     `json:"throttle_on_rpm"`
		FlatOut  bool     `json:"flat_out"`
		Distance float64  `json:"distance_m"`
	}
	Ups   int `json:"upshifts_per_lap_count"`
	Downs int `json:"downshifts_per_lap_count"`
}

// The card's corners against the trace that lap prints and the track's own spans,
// and its full throttles against lap's: every one belongs to one corner. On a lap
// that ends as it began there are as many shifts up as down.
func TestCardAgainstTheTrace(t *testing.T) {
	for _, name := range []string{"harrowdale", "quayside", "saltmere"} {
		t.Run(name, func(t *testing.T) {
			var card cardJSON
			runJSON(t, &card, "card", "--track", name)
			var lap struct {
				Trace []struct {
					At    float64 `json:"distance_m"`
					Speed float64 `json:"speed_kmh"`
					Gear  int
					Phase string
				}
				Ons []struct {
					At   float64 `json:"distance_m"`
					Gear int
					RPM  int `json:"engine_rpm"`
				} `json:"throttle_on"`
			}
			runJSON(t, &lap, "lap", "--track", name, "--trace")
			src, err := datafile.Read(name, tracks.Embedded(), tracks.CircuitDir, fileExt)
			require.NoError(t, err)
			track, err := tracks.Parse(src)
			require.NoError(t, err)
			require.Len(t, card.Corners, len(track.Corners))
			found := map[float64]int{}
			for i, c := range card.Corners {
				span := track.Corners[i]
				slowest, gear, held := math.Inf(1), 99, false
				for _, p := range lap.Trace {
					if p.At >= span.Start-0.001 && p.At <= span.End+0.001 {
						slowest, held = math.Min(slowest, p.Speed), held || p.Phase == "capped"
						// A shift up that begins at the entry has left its gear.
						if p.Phase != "shifting" || p.At > span.Start+0.001 {
							gear = min(gear, p.Gear)
						}
					}
				}
				assert.Equal(t, track.Label(i), c.Corner)
				numtest.Equal(t, c.Corner+": slowest (km/h)", slowest, c.Apex, 1e-9, 0)
				if c.OnGear != nil {
					gear = min(gear, *c.OnGear)
				}
				assert.Equal(t, gear, c.Gear, c.Corner)
				assert.Equal(t, !held, c.FlatOut, c.Corner)
				for _, on := range lap.Ons {
					if c.On != nil && on.At == *c.On {
						found[on.At]++
						assert.Equal(t, []int{on.Gear, on.RPM}, []int{*c.OnGear, *c.OnRPM}, c.Corner)
					}
				}
			}
			for _, on := range lap.Ons {
				assert.Equal(t, 1, found[on.At], "full throttle at %g m", on.At)
			}
			assert.Equal(t, card.Ups, card.Downs)
		})
	}
}

// The speed for a downshift by the figures of cars/examples/wren.toml alone:
// 9200 1/min, slip 0.02, radius 0.300 m + 7e-7 v², 13/38 and so on with 12/37, by
// repeated insertion. For second gear by hand: 17/36·12/37 inverted is 6.5294;
// 9200·2π/60 = 963.42 rad/s; at 43.5 m/s r = 0.301325 m;
// 963.42·0.301325/(6.5294·1.02) = 43.589 m/s = 156.9 km/h.
func TestCardDownshiftSpeeds(t *testing.T) {
	var card cardJSON
	runJSON(t, &card, "card")
	teeth := [][2]float64{{13, 38}, {17, 36}, {20, 33}, {22, 30}, {24, 28}}
	for i, z := range teeth {
		v := 50.0
		for range 50 {
			v = 9200 * 2 * math.Pi / 60 * (0.300 + 7e-7*v*v) / (z[1] / z[0] * 37 / 12 * 1.02)
		}
		numtest.Equal(t, "down into it (km/h)", v*3.6, *card.Gears[i].Down, 0.001, 0)
		require.LessOrEqual(t, *card.Gears[i].Down, v*3.6+1e-9)
	}
	numtest.Equal(t, "by hand (km/h)", 156.9, *card.Gears[1].Down, 0.05, 0)
	require.Nil(t, card.Gears[5].Down)
}
