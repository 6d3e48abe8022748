package tracks

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

// hill is the stadium with a crest on its long straight, in three vertical
// curves 0 -> 4 -> -4 -> 0 %, symmetrical, so that the lap closes.
func hill(t *testing.T) string {
	t.Helper()
	curve := func(length, from, to float64) string {
		return fmt.Sprintf("kind = \"straight\"\nlength_m = %g\ngrade_percent = %g\ngrade_end_percent = %g\n", length, from, to)
	}
	return edited(t, stadium, "kind = \"straight\"\nlength_m = 300.0\n",
		curve(100, 0, 4)+"[[segment]]\n"+curve(100, 4, -4)+"[[segment]]\n"+curve(100, -4, 0))
}

// By hand: a grade angle that runs linearly over 100 m from 0 to atan 0.04 =
// 0.0399787 rad bends by 3.99787e-4 per m, and rises by ln(1/cos 0.0399787) /
// 3.99787e-4 = 1.99947 m (1/cos = sqrt(1.0016)); the parabola of road design
// handbooks, (g1+g2)/2·L (from memory), says 2 m.
func TestVerticalCurve(t *testing.T) {
	tr := parse(t, hill(t))
	assert.Empty(t, tr.Warnings)
	start := tr.Corners[0].End
	angle := math.Atan(0.04)
	for _, c := range []struct{ s, grade, vertical, z float64 }{
		{0, 0, angle / 100, 0},
		{50, angle / 2, angle / 100, 0.49977},
		{100, angle, -angle / 50, 1.99947},
		{150, 0, -angle / 50, 1.99947 + 0.99973},
		{200, -angle, angle / 100, 1.99947},
		{250, -angle / 2, angle / 100, 0.49977},
		{300, 0, 0, 0},
	} {
		p := tr.At(start + c.s + 1e-9)
		what := fmt.Sprintf("at %g m: ", c.s)
		numtest.Equal(t, what+"grade (rad)", c.grade, p.Grade, 1e-11, 0)
		numtest.Equal(t, what+"vertical curvature (1/m)", c.vertical, p.Vertical, 1e-15, 0)
		numtest.Equal(t, what+"height (m)", c.z, p.Z, 1e-5, 0)
	}
	numtest.Equal(t, "climb (m)", 0, tr.Climb, 1e-12, 0)
	invariants(t, tr)
}

// The height is the integral of the slope, whatever the curvature: against
// Simpson's rule, and the catenary of equal strength, ln(1/cos 1) = 0.615626
// (from memory).
func TestRise(t *testing.T) {
	unit := Segment{Length: 1, VerticalCurvature: 1}
	numtest.Equal(t, "catenary of equal strength", 0.615626, unit.rise(1), 1e-6, 0)
	for _, kv := range []float64{0, 1e-12, 1e-6, -1e-4, 1e-3, -4e-3} {
		for _, grade := range []float64{0, 0.2, -0.2} {
			g := Segment{Length: 100, Grade: grade, VerticalCurvature: kv}
			const n = 200
			sum := 0.0
			for i := range n {
				h := g.Length / n
				x := h * float64(i)
				sum += h / 6 * (math.Tan(g.GradeAt(x)) + 4*math.Tan(g.GradeAt(x+0.5*h)) + math.Tan(g.GradeAt(x+h)))
			}
			numtest.Equal(t, fmt.Sprintf("height, kv %g, grade %g", kv, grade), sum, g.rise(g.Length), 1e-9, 0)
		}
	}
}

// Over a corner the grade runs through spirals and arc as one.
func TestVerticalCurveInACorner(t *testing.T) {
	text := "close_height_m = 50\n" + edited(t, square(), "bank_deg = 6.0", "grade_percent = -2.0\ngrade_end_percent = 3.0")
	tr := parse(t, text)
	c := tr.Corners[0]
	length := c.End - c.Start
	kv := (math.Atan(0.03) + math.Atan(0.02)) / length
	for _, f := range []float64{0.01, 0.1, 0.5, 0.99} {
		p := tr.At(c.Start + f*length)
		numtest.Equal(t, "grade", math.Atan(-0.02)+kv*f*length, p.Grade, 1e-12, 0)
		numtest.Equal(t, "vertical curvature", kv, p.Vertical, 1e-15, 0)
	}
}

// Mirrored, shifted and cut, the profile stays where it is.
func TestVerticalCurveChanged(t *testing.T) {
	tr := parse(t, hill(t))
	crest := tr.Corners[0].End + 130
	for what, m := range map[string]*Track{
		"mirrored": tr.Mirrored(), "cut": tr.SplitStraight(crest), "shifted": tr.Shifted(crest),
	} {
		for s := 0.3; s < tr.Length; s += 3.3 {
			p, q := tr.At(s), m.At(s)
			if what == "shifted" {
				q = m.At(s - crest)
			}
			numtest.Equal(t, what+": grade", p.Grade, q.Grade, 1e-14, 0)
			numtest.Equal(t, what+": vertical curvature", p.Vertical, q.Vertical, 0, 0)
			z := q.Z
			if what == "shifted" { // heights count from the start line
				z += tr.At(crest).Z
			}
			numtest.Equal(t, what+": height", p.Z, z, 1e-12, 0)
		}
		invariants(t, m)
	}
}

// A jump of the grade in a file with a profile is told with its place; steps
// in a file without one, and joints that fit, are not.
func TestKinkWarns(t *testing.T) {
	tr := parse(t, edited(t, hill(t), "grade_percent = -4\ngrade_end_percent = 0", "grade_percent = -1.5\ngrade_end_percent = -2.5"))
	require.Len(t, tr.Warnings, 1)
	assert.Contains(t, tr.Warnings[0], "segment[5], 200 m after T1 Near (-4.0 to -1.5 %), of segment[6], T2 Far (-2.5 to 0.0 %)")
	assert.Contains(t, tr.Warnings[0], "grade_end_percent")
	seam := edited(t, hill(t), "length_m = 200.0", "length_m = 200.0\ngrade_percent = -1.4\ngrade_end_percent = 1.4")
	require.Len(t, parse(t, seam).Warnings, 1)
	assert.Contains(t, parse(t, seam).Warnings[0], "segment[1], 200 m after T2 Far (1.4 to 0.0 %)")
	assert.Empty(t, circuit(t, "harrowdale").Warnings)
	many := circuit(t, "harrowdale")
	b := built{t: many, pieces: make([]piece, len(many.Segments)), from: make([]int, len(many.Segments))}
	b.pieces[0].gradeEnd = 0.01
	b.warnKinks()
	require.Len(t, many.Warnings, 1)
	assert.Contains(t, many.Warnings[0], ", of 3 more segments: what")
}

func TestClimbWarns(t *testing.T) {
	text := edited(t, stadium, "length_m = 300.0", "length_m = 300.0\ngrade_percent = 0.2")
	tr := parse(t, text)
	require.Len(t, tr.Warnings, 1)
	assert.Contains(t, tr.Warnings[0], "the lap ends 0.60 m above its start")
	assert.Empty(t, parse(t, edited(t, text, "grade_percent = 0.2", "grade_percent = 0.02")).Warnings)
}

// A lap of nothing but profiles is mended by both grades of the longest.
func TestProfileRemedyCloses(t *testing.T) {
	text := edited(t, stadium, "length_m = 300.0", "length_m = 300.0\ngrade_percent = 1.0\ngrade_end_percent = 3.0")
	assert.Contains(t, faults(t, text), "6.000 m above its start")
	assert.Contains(t, faults(t, text), "grade_percent = -0.9999 and grade_end_percent = 1.0001 here")
	text = edited(t, text, "grade_percent = 1.0\ngrade_end_percent = 3.0", "grade_percent = -0.9999\ngrade_end_percent = 1.0001")
	numtest.Equal(t, "climb", 0, parse(t, text).Climb, 1e-3, 0)
}
