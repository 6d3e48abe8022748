package tracks

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// A left quarter of radius 50 m, entered going north, ends 50 m north and 50 m
// west of where it began, going west; to the right it ends east. Length by
// hand: 4·(100 + 50·pi/2) for plain arcs.
func TestSignsOfACorner(t *testing.T) {
	for _, c := range []struct {
		direction string
		sign      float64
	}{{"left", 1}, {"right", -1}} {
		text := edited(t, head, "heading_deg = 30.0", "heading_deg = 0.0")
		for range 4 {
			text += "[[segment]]\nkind='corner'\ndirection='" + c.direction + "'\nradius_m=50\nangle_deg=90\nbank_deg=5\n" +
				"[[segment]]\nkind='straight'\nlength_m=100\nbank_deg=2\n"
		}
		tr := parse(t, text)
		numtest.Equal(t, "length", 4*(100+50*math.Pi/2), tr.Length, 1e-9, 0)
		end := tr.At(50 * math.Pi / 2)
		numtest.Equal(t, "x", -50*c.sign, end.X, 1e-9, 0)
		numtest.Equal(t, "y", 50, end.Y, 1e-9, 0)
		numtest.Equal(t, "heading", -90*c.sign, end.Heading*units.ToDeg, 1e-9, 0)
		mid := tr.At(10)
		numtest.Equal(t, "curvature", c.sign/50, mid.Curvature, 1e-15, 0)
		assert.Positive(t, mid.Bank*mid.Curvature, "a bank that helps")
		numtest.Equal(t, "bank of the corner", 5*c.sign, mid.Bank*units.ToDeg, 1e-12, 0)
		numtest.Equal(t, "bank of the straight: left side low", 2, end.Bank*units.ToDeg, 1e-12, 0)
		assert.Equal(t, int(c.sign), tr.Turns())
	}
}

// Curvature and bank grow with the spiral and are whole at its end.
func TestRunOff(t *testing.T) {
	tr := parse(t, edited(t, square(), "length_m = 100.0", "length_m = 100.0\nbank_deg = 2.0"))
	start := tr.Corners[0].Start
	numtest.Equal(t, "start of the corner", 100, start, 1e-12, 0)
	for _, f := range []float64{0, 0.25, 0.5, 1} {
		p := tr.At(start + 20*f)
		numtest.Equal(t, "curvature", f/50, p.Curvature, 1e-15, 0)
		numtest.Equal(t, "bank from that of the straight", 2+f*4, p.Bank*units.ToDeg, 1e-12, 0)
	}
	// The second straight is level: the bank runs out to nothing.
	numtest.Equal(t, "bank at the end", 0, tr.At(tr.Corners[0].End-1e-9).Bank, 1e-10, 0)
	// 50·pi/2 plus half of each spiral.
	numtest.Equal(t, "length of the corner", 50*math.Pi/2+20, tr.Corners[0].End-start, 1e-9, 0)
	// Between two corners without a straight the bank passes through none.
	c := parse(t, ring())
	numtest.Equal(t, "between corners", 0, c.At(c.Corners[0].End).Bank, 1e-12, 0)
}

// ring is four corners with spirals and nothing between.
func ring() string {
	text := head
	for range 4 {
		text += "[[segment]]\nkind='corner'\ndirection='left'\nradius_m=50\nangle_deg=90\nbank_deg=6\nspiral_in_m=20\nspiral_out_m=20\n"
	}
	return text
}

func TestSeam(t *testing.T) {
	for _, name := range names() {
		tr := circuit(t, name)
		line := tr.At(0)
		assert.Equal(t, line, tr.At(tr.Length), name)
		assert.Equal(t, line, tr.At(-tr.Length), name)
		assert.Equal(t, line, tr.At(-1e-300), name)
		for _, s := range []float64{-tr.Length - 3, -3, tr.Length - 3, 2*tr.Length - 3} {
			p := tr.At(s)
			numtest.Equal(t, "distance", tr.Length-3, p.S, 1e-9, 0)
			assert.Equal(t, len(tr.Segments)-1, p.Segment)
		}
		// Over the line heading (less the full turn) and position go on.
		before := tr.At(-1e-9)
		numtest.Equal(t, "heading", line.Heading, before.Heading+tr.Turned, 1e-9, 0)
		numtest.Equal(t, "x", line.X, before.X, 1e-3, 0)
		numtest.Equal(t, "y", line.Y, before.Y, 1e-3, 0)
		assert.Equal(t, line.Curvature, before.Curvature)
		numtest.Equal(t, "bank", line.Bank, before.Bank, 1e-12, 0)
	}
	assert.Panics(t, func() { circuit(t, "quayside").At(math.NaN()) })
}

func TestOutline(t *testing.T) {
	tr := circuit(t, "harrowdale")
	line := tr.Outline(10)
	require.NotEmpty(t, line)
	assert.Equal(t, 0.0, line[0].S)
	numtest.Equal(t, "last", tr.Length, line[len(line)-1].S, 1e-9, 0)
	for i := 1; i < len(line); i++ {
		step := line[i].S - line[i-1].S
		assert.True(t, step > 0 && step <= 10+1e-9, "step %g", step)
		assert.LessOrEqual(t, math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y), step+1e-9)
	}
}

func TestPlace(t *testing.T) {
	tr := parse(t, square())
	assert.Equal(t, "T1 North", tr.Place(100))
	assert.Equal(t, "T1 North", tr.Place(150))
	assert.Equal(t, "10 m after T1 North", tr.Place(tr.Corners[0].End+10))
	assert.Equal(t, "T4 East", tr.Place(-5))
	assert.Equal(t, "0 m after T4 East", tr.Place(0))
	shifted := tr.Shifted(tr.Corners[3].End + 30 - tr.Length)
	assert.Equal(t, "20 m after T4 East", shifted.Place(-10))
	assert.Equal(t, "30 m after T4 East", shifted.Place(0))
	nameless := &Track{Length: 50, Segments: []Segment{{Length: 50, Corner: -1}}}
	assert.Equal(t, "12 m from the line", nameless.Place(12))
}
