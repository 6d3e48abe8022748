package sim

import (
	"math"
	"sort"

	"layshaft/cars"
	"layshaft/tracks"
)

// Step lengths (m) before refinement. Straights are smooth, so few steps of a
// fourth-order scheme serve them; where curvature changes the friction ellipse
// opens like a square root and wants short steps. The work-precision test
// measures what they leave.
const (
	straightStep = 16.0
	spiralParts  = 6   // at least so many steps in a spiral
	leastStep    = 3.0 // at the beginning of a straight, where the car may be slow
	stepGrowth   = 16  // m of straight per m of step
	arcStep      = 8.0
	spiralStep   = 5.0
)

// topU bounds the square of any speed considered: (150 m/s)².
const topU = 150.0 * 150.0

// cell is one step of the mesh, inside one segment of the track.
type cell struct {
	s, h       float64 // m, start and length
	p0, pm, p1 place   // at its start, middle and end
	uniform    bool    // p0 == p1
	noShift    bool    // no shift may begin here
	straight   bool
	segment    int

	// The envelope (envelope.go) as the square of speed (m²/s²) at the nodes;
	// topU where there is none.
	env        [envSub + 1]float64
	brake      [envSub + 1]float64   // the same without the drive limit
	cap0, cap1 float64               // its ends
	capLow     float64               // its least
	capHigh    float64               // its most
	clock      [envSub/2 + 1]float64 // s, along it from the cell's start to every second node
	capTime    float64               // s, along it from start to end
	pulling    uint32                // bit j: in part j the driven tyres hold the car back
	falls      bool                  // it is lower at the end, and not for want of grip to drive with
	free       bool                  // there is no limit in the cell
	sure       bool                  // it falls more steeply than any car slows by itself
	ride       int                   // number of sure cells from here on
}

// at returns the place x (m) into the cell.
func (c *cell) at(x float64) place {
	if c.uniform {
		return c.p0
	}
	return through(&c.p0, &c.pm, &c.p1, x/c.h)
}

// span finds the pair of parts that holds x (m into the cell): its first node
// and where in the pair x lies, 0 to 1.
func (c *cell) span(x float64) (j int, f float64) {
	y := x / c.h * (envSub / 2)
	i := int(y)
	if i > envSub/2-1 {
		i = envSub/2 - 1
	}
	return 2 * i, y - float64(i)
}

// capAt is the envelope (as v²) x (m) into the cell: parabolas through three
// nodes each.
func (c *cell) capAt(x float64) float64 {
	j, f := c.span(x)
	e0, e1, e2 := c.env[j], c.env[j+1], c.env[j+2]
	u := e0*(1-f)*(1-2*f) + 4*e1*f*(1-f) + e2*f*(2*f-1)
	// Where the envelope ends steeply the parabola undershoots.
	return max(u, min(e0, min(e1, e2)))
}

// capSlope is the slope (m/s²) of the envelope x (m) into the cell, by the
// parabola that begins at node j.
func (c *cell) capSlope(j int, x float64) float64 {
	h := c.h / envSub
	f := x/(2*h) - float64(j/2)
	return (c.env[j]*(4*f-3) + c.env[j+1]*(4-8*f) + c.env[j+2]*(4*f-1)) / (2 * h)
}

// capTimeFrom is the time (s) along the envelope from x to the end of the cell.
func (c *cell) capTimeFrom(x float64) float64 {
	j, f := c.span(x)
	left := c.capTime - c.clock[j/2+1]
	if f <= 0 {
		return c.capTime - c.clock[j/2]
	}
	// Gauss-Legendre, three points: the integrand is smooth inside a pair.
	const a, w0, w1 = 0.7745966692414834, 8.0 / 9, 5.0 / 9
	l := c.h * (2.0 / envSub) * (1 - f)
	mid, half := x+0.5*l, 0.5*l
	return left + half*(w0/math.Sqrt(c.capAt(mid))+
		w1/math.Sqrt(c.capAt(mid-a*half))+w1/math.Sqrt(c.capAt(mid+a*half)))
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
			step = min(spiralStep, seg.Length/spiralParts)
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
				c.pm = makePlace(car, seg, 0.5*(x0+x1), cond)
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
			x += min(step, leastStep+(x-a)/stepGrowth)
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

// spanEnds are the places (m) at which a no-shift span begins or ends, and the
// pit exit.
func spanEnds(t *tracks.Track) []float64 {
	var b []float64
	for _, s := range t.NoShift {
		b = append(b, s.Start, s.End)
	}
	b = append(b, t.PitExit) // where a car may be slow
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
