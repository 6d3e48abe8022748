package tracks

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// turn is the angle (rad, left positive) that the line turns over the first x
// (m) of the segment.
func (g *Segment) turn(x float64) float64 {
	return g.K0*x + 0.5*(g.K1-g.K0)*(x/g.Length)*x
}

// End is the distance (m) of the segment's end.
func (g *Segment) End() float64 { return g.Start + g.Length }

// reach is how far (m) the line gets over the first x (m) of the segment,
// along its heading at the start and to the left of that. Straights and arcs
// are closed forms; a clothoid has none in elementary functions and is
// integrated to about 1e-12 of its length, see clothoid.
func (g *Segment) reach(x float64) (ahead, left float64) {
	switch {
	case g.K0 == 0 && g.K1 == 0:
		return x, 0
	case g.K0 == g.K1:
		// 1-cos is written as 2·sin², which keeps its digits on an arc of
		// great radius.
		half := math.Sin(0.5 * g.K0 * x)
		return math.Sin(g.K0*x) / g.K0, 2 * half * half / g.K0
	}
	return clothoid(g.K0, (g.K1-g.K0)/g.Length, x)
}

// clothoid integrates the direction of a line whose curvature begins at k
// (1/m) and grows by rate (1/m²), over x (m). Source: the definition of the
// Fresnel integrals, M. Abramowitz and I. A. Stegun, Handbook of Mathematical
// Functions, section 7.3. 16 Gauss-Legendre points integrate the cosine and
// sine of an angle that turns by up to 1 rad to the last bits of a float64; a
// panel never turns further.
func clothoid(k, rate, x float64) (ahead, left float64) {
	angle := func(s float64) float64 { return (k + 0.5*rate*s) * s }
	most := math.Max(math.Abs(k), math.Abs(k+rate*x)) * math.Abs(x)
	panels := 1 + int(math.Min(most, 1e4))
	for i := range panels {
		a := x * float64(i) / float64(panels)
		b := x * float64(i+1) / float64(panels)
		ahead += quad.Fixed(func(s float64) float64 { return math.Cos(angle(s)) }, a, b, 16, quad.Legendre{}, 0)
		left += quad.Fixed(func(s float64) float64 { return math.Sin(angle(s)) }, a, b, 16, quad.Legendre{}, 0)
	}
	return ahead, left
}

// position is east and north (m) of the start line, x (m) into the segment.
func (g *Segment) position(x float64) (east, north float64) {
	ahead, left := g.reach(x)
	sin, cos := math.Sincos(g.Heading)
	return g.X + ahead*sin - left*cos, g.Y + ahead*cos + left*sin
}

// locate lays the segments one after the other: starts, headings, positions,
// length, and what is missing at the end.
func (t *Track) locate() {
	s, heading := 0.0, t.Heading
	var x, y, z float64
	t.Turned = 0
	for i := range t.Segments {
		g := &t.Segments[i]
		g.Start, g.Heading = s, heading
		g.X, g.Y, g.Z = x, y, z
		x, y = g.position(g.Length)
		z += g.rise(g.Length)
		turned := g.turn(g.Length)
		t.Turned += turned
		heading -= turned
		s += g.Length
	}
	t.Length, t.GapX, t.GapY, t.Climb = s, x, y, z
}
