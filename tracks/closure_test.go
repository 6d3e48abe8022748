package tracks

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

// stadium is two straights of 300 m, joined by left half circles of radius
// 50 m; the start line is 100 m before the first.
const stadium = head + `
[[segment]]
kind = "straight"
length_m = 100.0
[[segment]]
kind = "corner"
name = "Near"
direction = "left"
radius_m = 50.0
angle_deg = 180.0
[[segment]]
kind = "straight"
length_m = 300.0
[[segment]]
kind = "corner"
name = "Far"
direction = "left"
radius_m = 50.0
angle_deg = 180.0
[[segment]]
kind = "straight"
length_m = 200.0
`

// By hand: a full circle and two straights; after the first half circle the
// line is a diameter to the left and turned round.
func TestStadium(t *testing.T) {
	tr := parse(t, edited(t, stadium, "heading_deg = 30.0", "heading_deg = 90.0"))
	half := math.Pi * 50
	numtest.Equal(t, "length", 600+2*half, tr.Length, 1e-9, 0)
	for _, c := range []struct {
		where         string
		s, x, y, head float64
	}{
		{"line", 0, 0, 0, 90},
		{"middle of Near", 100 + half/2, 150, 50, 0},
		{"end of Near", 100 + half, 100, 100, -90},
		{"middle of Far", 400 + 1.5*half, -250, 50, -180},
		{"end of Far", 400 + 2*half, -200, 0, -270},
	} {
		p := tr.At(c.s)
		numtest.Equal(t, c.where+": east", c.x, p.X, 1e-9, 0)
		numtest.Equal(t, c.where+": north", c.y, p.Y, 1e-9, 0)
		numtest.Equal(t, c.where+": heading", c.head, p.Heading*180/math.Pi, 1e-9, 0)
	}
}

// The lengths and the grade that a refusal proposes do close the lap.
func TestRemediesClose(t *testing.T) {
	length := regexp.MustCompile(`segment\[(\d+)\]\.length_m = ([0-9.]+)`)
	for _, name := range []string{"open_gap", "open_gap_two"} {
		text := badFile(t, name)
		remedies := length.FindAllStringSubmatch(faults(t, text), -1)
		require.NotEmpty(t, remedies)
		for _, m := range remedies {
			n, err := strconv.Atoi(m[1])
			require.NoError(t, err)
			text = inSegment(t, text, n, `length_m = [0-9.]+`, "length_m = "+m[2])
		}
		tr := parse(t, text)
		numtest.Equal(t, name, 0, math.Hypot(tr.GapX, tr.GapY), 1e-5, 0)
	}

	text := badFile(t, "open_height")
	m := regexp.MustCompile(`segment\[(\d+)\]\.grade_percent.*closes with (-?[0-9.]+)`).FindStringSubmatch(faults(t, text))
	require.Len(t, m, 3)
	n, err := strconv.Atoi(m[1])
	require.NoError(t, err)
	tr := parse(t, inSegment(t, text, n, `grade_percent = [0-9.]+`, "grade_percent = "+m[2]))
	numtest.Equal(t, "climb", 0, tr.Climb, 1e-3, 0)
}

func badFile(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile("testdata/bad/" + name + ".toml")
	require.NoError(t, err)
	text, _, _ := strings.Cut(string(data), "# want:")
	return text
}

// inSegment replaces what matches in the nth segment (from 1) of a file.
func inSegment(t *testing.T, text string, n int, match, by string) string {
	t.Helper()
	parts := strings.SplitAfter(text, "[[segment]]")
	require.Greater(t, len(parts), n)
	re := regexp.MustCompile(match)
	require.Regexp(t, re, parts[n])
	parts[n] = re.ReplaceAllString(parts[n], by)
	return strings.Join(parts, "")
}

// What the usual tolerances refuse, wider ones accept; what stays open is told.
func TestTolerances(t *testing.T) {
	open := edited(t, stadium, "length_m = 200.0", "length_m = 198.5")
	assert.Contains(t, faults(t, open), "misses its start by 1.5 m")
	assert.Contains(t, faults(t, "close_m = 1.4\n"+open), "1.4 m allowed")
	tr := parse(t, "close_m = 1.6\n"+open)
	numtest.Equal(t, "gap", 1.5, math.Hypot(tr.GapX, tr.GapY), 1e-9, 0)

	steep := edited(t, stadium, "length_m = 300.0", "length_m = 300.0\ngrade_percent = 0.5")
	assert.Contains(t, faults(t, steep), "1.500 m above its start")
	numtest.Equal(t, "climb", 1.5, parse(t, "close_height_m = 1.6\n"+steep).Climb, 1e-9, 0)

	bent := edited(t, stadium, "angle_deg = 180.0", "angle_deg = 180.2")
	assert.Contains(t, faults(t, bent), "turns 360.2 degrees left in all")
	numtest.Equal(t, "turned", 360.2, parse(t, "close_deg = 0.3\nclose_m = 3\n"+bent).Turned*180/math.Pi, 1e-9, 0)
}

// A slope that is longer than its plan by more than the lap can bear is told.
// By hand: at 12 % sqrt(1 + 0.12²) = 1.0072.
func TestSteepGradeWarns(t *testing.T) {
	text := edited(t, stadium, "length_m = 300.0", "length_m = 300.0\ngrade_percent = 12.0")
	text = edited(t, text, "length_m = 200.0", "length_m = 200.0\ngrade_percent = -18.0")
	tr := parse(t, text)
	require.Len(t, tr.Warnings, 2)
	assert.Contains(t, tr.Warnings[0], "segment[3]")
	assert.Contains(t, tr.Warnings[0], "by 0.7 %")
	assert.Contains(t, tr.Warnings[1], "segment[5]")
}

// A span may be a corner, or go over the line; a corner by its length is the
// same corner.
func TestNoShiftAndLength(t *testing.T) {
	spans := "\n[[no_shift]]\ncorner = \"Far\"\n[[no_shift]]\nname = \"line\"\nfrom_m = 900.0\nto_m = 20.0\n[[no_shift]]\nfrom_m = 10.0\nto_m = 40.0\n"
	tr := parse(t, stadium+spans)
	far := tr.Corners[1]
	assert.Equal(t, []Span{
		{Name: "Far", Start: far.Start, End: far.End},
		{Name: "line", Start: 900, End: 20},
		{Name: "10 to 40 m", Start: 10, End: 40},
	}, tr.NoShift)
	byLength := parse(t, edited(t, stadium, "angle_deg = 180.0", fmt.Sprintf("length_m = %.12f", math.Pi*50)))
	numtest.Equal(t, "angle", math.Pi, byLength.Corners[0].Angle, 1e-12, 0)
	numtest.Equal(t, "gap", 0, math.Hypot(byLength.GapX, byLength.GapY), 1e-9, 0)
}
