package tracks

import (
	"fmt"
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// Fresnel integrals C(t), S(t) = integral of cos, sin of (pi/2)u² from 0 to t.
// Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions,
// Table 7.7 (seven digits there); the further digits are those of the test
// suites and documentation of two numerical libraries.
func TestClothoidAgainstFresnelTables(t *testing.T) {
	for _, c := range []struct{ t, c, s float64 }{
		{0.5, 0.4923442259, 0.0647324329},
		{1, 0.7798934004, 0.4382591474},
		{1.5, 0.4452611760, 0.6975049601},
		{2, 0.4882534061, 0.3434156784},
		{3, 0.6057207893, 0.4963129990},
	} {
		ahead, left := clothoid(0, math.Pi, c.t)
		// The table is rounded at 1e-10.
		numtest.Equal(t, fmt.Sprintf("C(%g)", c.t), c.c, ahead, 1e-10, 0)
		numtest.Equal(t, fmt.Sprintf("S(%g)", c.t), c.s, left, 1e-10, 0)
		_, right := clothoid(0, -math.Pi, c.t)
		numtest.Equal(t, fmt.Sprintf("S(%g) to the right", c.t), -c.s, right, 1e-10, 0)
	}
	// The other convention: integral of cos u², sin u² from 0 to 1. Source: the
	// documentation of a library for arbitrary-precision arithmetic.
	ahead, left := clothoid(0, 2, 1)
	numtest.Equal(t, "integral of cos u²", 0.904524237900272, ahead, 1e-14, 0)
	numtest.Equal(t, "integral of sin u²", 0.3102683017, left, 1e-10, 0)
}

// The end of a spiral by the power series that road design handbooks use for
// setting out: x = L(1 - a²/10 + a⁴/216 - ...), y = L(a/3 - a³/42 + a⁵/1320 -
// ...), a = L/(2R). Common practice; here carried far enough for 1e-9 m.
func TestSpiralEndAgainstSeries(t *testing.T) {
	for _, c := range []struct{ length, radius float64 }{{70, 190}, {8, 17}, {60, 230}, {12, 30}, {60, 45}} {
		a := c.length / (2 * c.radius)
		var x, y float64
		term := 1.0 // aⁿ/n!
		for n := range 24 {
			v := term * c.length / float64(2*n+1)
			switch n % 4 {
			case 0:
				x += v
			case 1:
				y += v
			case 2:
				x -= v
			case 3:
				y -= v
			}
			term *= a / float64(n+1)
		}
		g := Segment{Length: c.length, K1: 1 / c.radius}
		ahead, left := g.reach(c.length)
		what := fmt.Sprintf("spiral %g m to radius %g m: ", c.length, c.radius)
		numtest.Equal(t, what+"ahead", x, ahead, 1e-9, 0)
		numtest.Equal(t, what+"left", y, left, 1e-9, 0)
		// A spiral turns as much as half its length of the arc does.
		numtest.Equal(t, what+"turn", a, g.turn(c.length), 1e-15, 0)
		// Walked the other way it is the same curve.
		back := Segment{Length: c.length, K0: 1 / c.radius}
		bx, by := back.reach(c.length)
		sin, cos := math.Sincos(a)
		numtest.Equal(t, what+"back ahead", ahead*cos+left*sin, bx, 1e-9, 0)
		numtest.Equal(t, what+"back left", ahead*sin-left*cos, by, 1e-9, 0)
	}
}

// An arc is the chord 2R·sin(angle/2) from its start, whatever its radius; and
// the clothoid integral without growth of curvature is the same arc.
func TestArc(t *testing.T) {
	for _, radius := range []float64{12, 250, 1e7} {
		for _, length := range []float64{1e-3, 10, 30} {
			for _, sign := range []float64{1, -1} {
				g := Segment{Length: length, K0: sign / radius, K1: sign / radius}
				ahead, left := g.reach(length)
				what := fmt.Sprintf("radius %g m, length %g m", sign*radius, length)
				numtest.Equal(t, what+": chord", 2*radius*math.Sin(length/(2*radius)), math.Hypot(ahead, left), 0, 1e-14)
				cx, cy := clothoid(g.K0, 0, length)
				numtest.Equal(t, what+": ahead", cx, ahead, 0, 1e-14)
				numtest.Equal(t, what+": left", cy, left, 1e-18, 1e-12)
			}
		}
	}
}
