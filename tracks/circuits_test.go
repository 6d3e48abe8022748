package tracks

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// What the embedded circuits were made to be.
func TestEmbeddedCircuits(t *testing.T) {
	want := map[string]struct {
		length, within     float64 // m
		corners, turns     int
		tightest, straight [2]float64 // m, bounds
		pitKmh             float64
	}{
		"saltmere":   {2400, 50, 4, 1, [2]float64{190, 230}, [2]float64{350, 450}, 80},
		"harrowdale": {4000, 100, 14, -1, [2]float64{16, 18}, [2]float64{800, 950}, 80},
		"quayside":   {2800, 100, 12, -1, [2]float64{12, 12}, [2]float64{580, 650}, 60},
	}
	require.Len(t, names(), len(want))
	for name, w := range want {
		t.Run(name, func(t *testing.T) {
			tr := circuit(t, name)
			assert.Equal(t, name, tr.Name)
			assert.Contains(t, tr.Title, "(invented)")
			assert.Empty(t, tr.Warnings)
			numtest.Equal(t, "length", w.length, tr.Length, w.within, 0)
			assert.Len(t, tr.Corners, w.corners)
			assert.Equal(t, w.turns, tr.Turns())
			numtest.Equal(t, "turned", float64(w.turns)*2*math.Pi, tr.Turned, 1e-9, 0)
			// File lengths are rounded at 0.1 mm.
			numtest.Equal(t, "gap", 0, math.Hypot(tr.GapX, tr.GapY), 1e-3, 0)
			numtest.Equal(t, "climb", 0, tr.Climb, 1e-2, 0)
			numtest.Equal(t, "pit limit", w.pitKmh, tr.PitLimit*units.ToKmh, 1e-9, 0)
			tightest, angle := math.Inf(1), 0.0
			for i, c := range tr.Corners {
				assert.NotEmpty(t, c.Name)
				tightest = min(tightest, c.Radius)
				angle += c.Angle
				var turned float64
				for j := range tr.Segments {
					if tr.Segments[j].Corner == i {
						turned += tr.Segments[j].turn(tr.Segments[j].Length)
					}
				}
				numtest.Equal(t, "angle of "+c.Name, c.Angle, turned, 1e-9, 0)
			}
			numtest.Equal(t, "corners turn the lap", tr.Turned, angle, 1e-9, 0)
			assert.True(t, tightest >= w.tightest[0] && tightest <= w.tightest[1], "tightest %g", tightest)
			first, last := tr.Segments[0], tr.Segments[len(tr.Segments)-1]
			longest := first.Length + last.Length
			for _, g := range tr.Segments {
				if g.Corner < 0 {
					longest = max(longest, g.Length)
				}
			}
			assert.True(t, longest >= w.straight[0] && longest <= w.straight[1], "longest straight %g", longest)
		})
	}
}

// No two places of a circuit that are more than 40 m apart along the lap come
// nearer than 15 m, the width of a road with its verges: none crosses itself.
func TestCircuitsDoNotCross(t *testing.T) {
	for _, name := range names() {
		tr := circuit(t, name)
		line := tr.Outline(5)
		for i, p := range line {
			for _, q := range line[:i] {
				along := p.S - q.S
				if min(along, tr.Length-along) > 40 && math.Hypot(p.X-q.X, p.Y-q.Y) < 15 {
					t.Fatalf("%s: %.0f m and %.0f m touch", name, q.S, p.S)
				}
			}
		}
	}
}

// Along every circuit curvature is the rate at which the heading falls, and
// the position moves along the heading: central differences over 2 h.
func TestDerivatives(t *testing.T) {
	const h = 1e-3 // m
	for _, name := range names() {
		tr := circuit(t, name)
		for s := 0.37; s < tr.Length; s += 3.1 {
			a, p, b := tr.At(s-h), tr.At(s), tr.At(s+h)
			if a.Segment != b.Segment {
				continue
			}
			numtest.Equal(t, name+": -dheading/ds", p.Curvature, -(b.Heading-a.Heading)/(2*h), 1e-9, 0)
			// The difference is off by h²/6 times the third derivative of the
			// position, at most curvature² + growth of curvature: (1/12 m)²
			// + 1/(12 m · 4 m) at the tightest corner, so 4.6e-9; rounding of
			// 2e-13 m over 2 mm comes on top.
			numtest.Equal(t, name+": dx/ds", math.Sin(p.Heading), (b.X-a.X)/(2*h), 5e-9, 0)
			numtest.Equal(t, name+": dy/ds", math.Cos(p.Heading), (b.Y-a.Y)/(2*h), 5e-9, 0)
			numtest.Equal(t, name+": dz/ds", math.Tan(p.Grade), (b.Z-a.Z)/(2*h), 5e-9, 0)
		}
	}
}
