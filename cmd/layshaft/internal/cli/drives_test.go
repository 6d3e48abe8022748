package cli

import (
	"math"
	"testing"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
	"layshaft/sim"
	"layshaft/tracks"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPickDrives(t *testing.T) {
	drives := func(fitted int, counts ...int) []gearbox.Drive {
		var out []gearbox.Drive
		for i, n := range counts {
			out = append(out, gearbox.Drive{Name: string(rune('A' + i)), Teeth: gearbox.Teeth{Driving: 11, Driven: 34 + i}, Count: n, Fitted: i == fitted})
		}
		return out
	}
	for name, k := range map[string]struct {
		want   string
		all    []gearbox.Drive
		locked bool
		names  string
		why    string
	}{
		"the fitted one":       {finalFixed, drives(1, 1, 1, 1), false, "B", ""},
		"the only one":         {finalFixed, drives(-1, 0, 1), false, "B", ""},
		"none fitted":          {finalFixed, drives(-1, 1, 1), false, "", "name one with --final-drive NAME, or any: A, B"},
		"none fitted, one out": {finalFixed, drives(-1, 1, 0, 1), false, "", "name one with --final-drive NAME, or any: A, C"},
		"any":                  {finalAny, drives(0, 1, 0, 1), false, "AC", ""},
		"any of none":          {finalAny, drives(-1, 0, 0), false, "", "count above 0"},
		"any, but locked":      {finalAny, drives(0, 1, 1), true, "", "fixed for the event"},
		"named":                {"C", drives(0, 1, 1, 1), false, "C", ""},
		"named, but locked":    {"C", drives(0, 1, 1, 1), true, "", "fixed for the event"},
		"the fitted, locked":   {"A", drives(0, 1, 1, 1), true, "A", ""},
		"in another car":       {"A", []gearbox.Drive{{Name: "A", FittedIn: []string{"1"}}}, false, "", "all there are stand in car 1"},
		"named, none there":    {"B", drives(0, 1, 0), false, "", "count 0"},
		"named, in the car":    {"A", drives(0, 0, 1), false, "A", ""},
		"unknown":              {"Q", drives(0, 1, 1), false, "", `"Q" is not a final drive of the stock`},
		"unknown, near a word": {"fixd", drives(0, 1, 1), false, "", "did you mean fixed?"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := pickDrives("--final-drive", "final drive", k.want, k.all, k.locked)
			if k.why != "" {
				require.ErrorContains(t, err, k.why)
				return
			}
			require.NoError(t, err)
			names := ""
			for _, d := range got {
				names += d.Name
			}
			assert.Equal(t, k.names, names)
		})
	}
}

// The straight over the start line counts as one, from its first metre.
func TestLongestStraight(t *testing.T) {
	corner, straight := 0, -1
	seg := func(length, heading float64, c int) tracks.Segment {
		return tracks.Segment{Length: length, Heading: heading, Corner: c}
	}
	over := &tracks.Track{Heading: 1, Segments: []tracks.Segment{
		seg(300, 1, straight), seg(100, 1, corner), seg(500, 2, straight), seg(100, 2, corner), seg(250, 1, straight),
	}}
	numtest.Equal(t, "heading over the line", 1, longestStraight(over), 0, 1e-15)
	over.Segments[2].Length = 600
	numtest.Equal(t, "heading of the back straight", 2, longestStraight(over), 0, 1e-15)
	numtest.Equal(t, "one straight all round", 3, longestStraight(&tracks.Track{Heading: 0.5, Segments: []tracks.Segment{seg(9, 3, straight)}}), 0, 1e-15)
}

// Head and tail wind blow along the straight, from ahead and from behind; the
// engineer's own tow is the case in the table.
func TestCases(t *testing.T) {
	got := cases(sim.Conditions{TowDrag: 1, TowDownforce: 1, Fuel: 20}, 3)
	require.Len(t, got, 5)
	numtest.Equal(t, "headwind from", 3, got[2].cond.WindFrom, 0, 1e-15)
	numtest.Equal(t, "tailwind opposite", -1, math.Cos(got[3].cond.WindFrom-got[2].cond.WindFrom), 0, 1e-12)
	numtest.Equal(t, "wind", 15/3.6, got[2].cond.WindSpeed, 0, 1e-12)
	numtest.Equal(t, "light fuel", 3, got[4].cond.Fuel, 0, 0)
	numtest.Equal(t, "light fuel, lighter already", 2, cases(sim.Conditions{TowDrag: 1, TowDownforce: 1, Fuel: 2}, 3)[4].cond.Fuel, 0, 0)
	own := cases(sim.Conditions{TowDrag: 0.8, TowDownforce: 0.7}, 0)
	numtest.Equal(t, "alone", 1, own[0].cond.TowDrag, 0, 0)
	numtest.Equal(t, "own tow", 0.8, own[1].cond.TowDrag, 0, 0)
	assert.Contains(t, own[1].name, "0.80")
}
