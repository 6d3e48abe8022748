package tracks

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"layshaft/internal/numtest"
)

// same compares the road of two points; sign is -1 for a mirror.
func same(t *testing.T, what string, want, got Point, sign float64) {
	t.Helper()
	numtest.Equal(t, what+": curvature", sign*want.Curvature, got.Curvature, 1e-12, 0)
	numtest.Equal(t, what+": bank", sign*want.Bank, got.Bank, 1e-10, 0)
	numtest.Equal(t, what+": grade", want.Grade, got.Grade, 0, 0)
	numtest.Equal(t, what+": grip", want.Grip, got.Grip, 0, 0)
	numtest.Equal(t, what+": heading", math.Cos(want.Heading), math.Cos(got.Heading), 1e-8, 0)
	numtest.Equal(t, what+": heading", sign*math.Sin(want.Heading), math.Sin(got.Heading), 1e-8, 0)
}

func TestMirrored(t *testing.T) {
	for _, name := range names() {
		tr := circuit(t, name)
		m := tr.Mirrored()
		for s := 0.3; s < tr.Length; s += 7.7 {
			p, q := tr.At(s), m.At(s)
			same(t, name, p, q, -1)
			numtest.Equal(t, "x", -p.X, q.X, 1e-9, 0)
			numtest.Equal(t, "y", p.Y, q.Y, 1e-9, 0)
			numtest.Equal(t, "z", p.Z, q.Z, 1e-9, 0)
		}
		numtest.Equal(t, "gap", -tr.GapX, m.GapX, 1e-9, 0)
		assert.Equal(t, -tr.Turns(), m.Turns())
		assert.Equal(t, tr, m.Mirrored(), "twice mirrored is the track itself")
		assert.Equal(t, circuit(t, name), tr, "the original is untouched")
	}
}

func TestShifted(t *testing.T) {
	for _, name := range names() {
		tr := circuit(t, name)
		corner := tr.Corners[1]
		for _, ds := range []float64{0, 12.5, -40, 1000.25, tr.Length - 1e-3, 3 * tr.Length,
			corner.Start, corner.End, corner.Start + 5, (corner.Start + corner.End) / 2} {
			what := fmt.Sprintf("%s by %g m", name, ds)
			m := tr.Shifted(ds)
			numtest.Equal(t, what+": length", tr.Length, m.Length, 1e-9, 0)
			for s := 0.3; s < tr.Length; s += 17.7 {
				same(t, what, tr.At(s+ds), m.At(s), 1)
			}
			for i, c := range tr.Corners {
				numtest.Equal(t, what+": start of "+c.Name, 0, near(m.Corners[i].Start-(c.Start-ds), tr.Length), 1e-8, 0)
				numtest.Equal(t, what+": end of "+c.Name, 0, near(m.Corners[i].End-(c.End-ds), tr.Length), 1e-8, 0)
			}
			for i, n := range tr.NoShift {
				numtest.Equal(t, what+": no shift", 0, near(m.NoShift[i].Start-(n.Start-ds), tr.Length), 1e-8, 0)
			}
			numtest.Equal(t, what+": pit exit", 0, near(m.PitExit-(tr.PitExit-ds), tr.Length), 1e-8, 0)
			assert.Equal(t, tr.Place(ds+900), m.Place(900), what)
			// The gap is a vector on the ground: its size stays.
			numtest.Equal(t, what+": gap", math.Hypot(tr.GapX, tr.GapY), math.Hypot(m.GapX, m.GapY), 1e-8, 0)
		}
		assert.Equal(t, circuit(t, name), tr, "the original is untouched")
	}
}

// near is the distance over a ring.
func near(d, length float64) float64 { return math.Abs(math.Remainder(d, length)) }

func TestSplit(t *testing.T) {
	tr := circuit(t, "saltmere")
	for _, s := range []float64{50, 200, 400, 545, 0, 180, -1} {
		m := tr.SplitStraight(s)
		what := fmt.Sprintf("cut at %g m", s)
		want := len(tr.Segments) + 1
		if s == 0 || s == 180 {
			want--
		}
		assert.Len(t, m.Segments, want, what)
		for x := 0.3; x < tr.Length; x += 7.7 {
			same(t, what, tr.At(x), m.At(x), 1)
			numtest.Equal(t, what+": x", tr.At(x).X, m.At(x).X, 1e-9, 0)
			numtest.Equal(t, what+": y", tr.At(x).Y, m.At(x).Y, 1e-9, 0)
		}
		invariants(t, m)
	}
}
