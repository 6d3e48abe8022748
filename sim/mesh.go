package sim

import (
	"math"
	"sort"

	"layshaft/cars"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// Step lengths (m) before refinement. Straights are smooth, so few steps of a
// fourth-order scheme serve them; where curvature changes the friction ellipse
// opens like a square root and wants short steps. The work-precision test
// measures what they leave.
const (
	straightStep = 8.0
	spiralParts  = 24  // at least so many steps in a spiral
	leastStep    = 2.5 // at the beginning of a straight, where the car may be slow
	stepGrowth   = 25  // m of straight per m of step
	arcStep      = 4.0
	spiralStep   = 1.0
)

// topU bounds the square of any speed considered: (150 m/s)².
const topU = 150.0 * 150.0

// cell is one step of the mesh, inside one segment of the track.
type cell struct {
	s, h     float64 // m, start and length
	p0, p1   place   // at its two ends
	uniform  bool    // p0 == p1
	noShift  bool    // no shift may begin here
	straight bool
	segment  int

	// Corner and braking limit as the square of speed (m²/s²) at the start,
	// the middle and the end of the cell; topU where there is none.
	cap0, capM, cap1 float64
	capLow           float64 // the least of the three
	capTime          float64 // s, along the limit from start to end
}

// at returns the place x (m) into the cell.
func (c *cell) at(x float64) place {
	if c.uniform {
		return c.p0
	}
	return lerp(&c.p0, &c.p1, x/c.h)
}

// capAt is the limit (as v²) x (m) into the cell: the parabola through three
// points.
func (c *cell) capAt(x float64) float64 {
	f := x / c.h
	u := c.cap0*(1-f)*(1-2*f) + 4*c.capM*f*(1-f) + c.cap1*f*(2*f-1)
	if u < c.capLow {
		return c.capLow // where the limit ends steeply the parabola undershoots
	}
	return u
}

// capTimeFrom is the time (s) along the limit from x to the end of the cell.
func (c *cell) capTimeFrom(x float64) float64 {
	// Gauss-Legendre, three points: the integrand is smooth inside a cell.
	const a, w0, w1 = 0.7745966692414834, 8.0 / 9, 5.0 / 9
	l := c.h - x
	mid, half := x+0.5*l, 0.5*l
	return half * (w0/math.Sqrt(c.capAt(mid)) +
		w1/math.Sqrt(c.capAt(mid-a*half)) + w1/math.Sqrt(c.capAt(mid+a*half)))
}

// buildMesh cuts the track into cells and fills in the places.
func buildMesh(car *cars.Car, t *tracks.Track, cond *Conditions, refine int) []cell {
	breaks := spanEnds(t)
	var cells []cell
	for i := range t.Segments {
		seg := &t.Segments[i]
		straight := seg.K0 == 0 && seg.K1 == 0
		step := arcStep
		switch {
		case straight:
			step = straightStep
		case seg.K0 != seg.K1:
			step = math.Min(spiralStep, seg.Length/spiralParts)
		}
		cuts := []float64{0}
		for _, b := range breaks {
			if x := b - seg.Start; x > 1e-9 && x < seg.Length-1e-9 {
				cuts = append(cuts, x)
			}
		}
		cuts = append(cuts, seg.Length)
		for j := 1; j < len(cuts); j++ {
			a, b := cuts[j-1], cuts[j]
			for _, x := range nodes(a, b, step, straight, refine) {
				x0, x1 := x[0], x[1]
				c := cell{s: seg.Start + x0, h: x1 - x0, segment: i, straight: straight}
				c.p0 = makePlace(car, seg, x0, cond)
				c.p1 = makePlace(car, seg, x1, cond)
				c.uniform = c.p0 == c.p1
				c.noShift = inSpans(t, c.s+0.5*c.h)
				cells = append(cells, c)
			}
		}
	}
	return cells
}

// nodes cuts the stretch from a to b (m into its segment) into steps: of equal
// length, or on a straight growing with the distance from its start. Refining
// halves the very same steps.
func nodes(a, b, step float64, straight bool, refine int) [][2]float64 {
	var ends []float64
	if straight {
		for x := a; x < b-1e-9; {
			ends = append(ends, x)
			x += math.Min(step, leastStep+x/stepGrowth)
			if b-x < 0.5*leastStep {
				break
			}
		}
		ends = append(ends, b)
	} else {
		n := int(math.Ceil((b-a)/step - 1e-9))
		for k := range n {
			ends = append(ends, a+(b-a)*float64(k)/float64(n))
		}
		ends = append(ends, b)
	}
	var out [][2]float64
	parts := 1 << refine
	for i := 1; i < len(ends); i++ {
		x, h := ends[i-1], ends[i]-ends[i-1]
		for k := range parts {
			x0, x1 := x+h*float64(k)/float64(parts), x+h*float64(k+1)/float64(parts)
			if k == parts-1 {
				x1 = ends[i]
			}
			out = append(out, [2]float64{x0, x1})
		}
	}
	return out
}

// spanEnds are the places (m) at which a no-shift span begins or ends.
func spanEnds(t *tracks.Track) []float64 {
	var b []float64
	for _, s := range t.NoShift {
		b = append(b, s.Start, s.End)
	}
	sort.Float64s(b)
	return b
}

func inSpans(t *tracks.Track, s float64) bool {
	for _, sp := range t.NoShift {
		if sp.Start <= sp.End {
			if s >= sp.Start && s < sp.End {
				return true
			}
		} else if s >= sp.Start || s < sp.End {
			return true
		}
	}
	return false
}

// makePlace evaluates equations (2.1) to (4.3) x (m) into a segment.
func makePlace(car *cars.Car, seg *tracks.Segment, x float64, cond *Conditions) place {
	f := x / seg.Length
	k := seg.K0 + (seg.K1-seg.K0)*f
	bank := seg.Bank0 + (seg.Bank1-seg.Bank0)*f
	heading := seg.Heading - (seg.K0*x + 0.5*(seg.K1-seg.K0)*f*x) // (2.2)
	sb, cb := math.Sincos(bank)
	sg, cg := math.Sincos(seg.Grade)
	towD, towL := 1.0, 1.0
	if !cond.TowStraights || (seg.K0 == 0 && seg.K1 == 0) {
		towD, towL = cond.TowDrag, cond.TowDownforce
	}
	const g = units.Gravity
	return place{
		gn: g * cg * cb, kn: k * sb,
		gy: -g * cg * sb, ky: k * cb,
		gx:   g * sg,
		wind: cond.WindSpeed * math.Cos(cond.WindFrom-heading),
		drag: 0.5 * cond.AirDensity * car.Aero.DragArea * towD,
		lift: 0.5 * cond.AirDensity * car.Aero.DownforceArea * towL,
		grip: seg.Grip * cond.Grip,
	}
}
