package cars

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"layshaft/internal/units"
)

// Curve is full-throttle torque over engine speed between the points of an
// EngineMap: a piecewise cubic with a continuous slope that is monotone
// between neighbouring points, so that it never rises above the higher nor
// falls below the lower of the two. Slopes after F. N. Fritsch and
// J. Butland, "A Method for Constructing Local Monotone Piecewise Cubic
// Interpolants", SIAM J. Sci. Stat. Comput. 5(2), 1984, as gonum's interp
// package computes them. A Curve is immutable and safe for concurrent use.
//
// Straight lines between the points were the alternative; their kinks cost
// the lap's integrator its order.
type Curve struct {
	low, top float64 // 1/min, ends of the table
	last     float64 // N·m at top
	cell     float64 // cells of the index per 1/min
	index    []int32 // by cell: a segment at or before every speed in the cell
	segments []segment
}

// segment is one cubic, a0 + a1·d + a2·d² + a3·d³ with d = rpm - start.
type segment struct {
	start, end     float64 // 1/min; the last segment ends at +Inf
	a0, a1, a2, a3 float64 // N·m per (1/min)^k
}

// The index has at least fewestCells, so that few cells hold a point of the
// table and the branch for them is foretold; mostCells bounds the index of a
// table with two points very close together, which may then share a cell and
// be stepped through.
const (
	fewestCells = 512
	mostCells   = 4096
)

// Curve fits the torque curve of the map. It fails when the table has fewer
// than three points, lengths that differ, values that are not finite, or
// speeds that do not increase strictly.
func (m *EngineMap) Curve() (*Curve, error) {
	n := len(m.RPM)
	if n < 3 {
		return nil, fmt.Errorf("engine map %q: a torque curve needs at least 3 points, got %d", m.Name, n)
	}
	if len(m.Torque) != n {
		return nil, fmt.Errorf("engine map %q: %d engine speeds but %d torques; give one torque for each speed", m.Name, n, len(m.Torque))
	}
	gap := math.Inf(1)
	for i := range n {
		if !finite(m.RPM[i]) || !finite(m.Torque[i]) {
			return nil, fmt.Errorf("engine map %q: point %d (%g 1/min, %g N·m) is not finite", m.Name, i+1, m.RPM[i], m.Torque[i])
		}
		if i > 0 {
			d := m.RPM[i] - m.RPM[i-1]
			if d <= 0 {
				return nil, fmt.Errorf("engine map %q: engine speed %g after %g 1/min does not increase", m.Name, m.RPM[i], m.RPM[i-1])
			}
			gap = min(gap, d)
		}
	}
	var fit interp.FritschButland
	if err := fit.Fit(m.RPM, m.Torque); err != nil {
		return nil, fmt.Errorf("engine map %q: %w", m.Name, err)
	}
	c := &Curve{
		low: m.RPM[0], top: m.RPM[n-1], last: m.Torque[n-1],
		segments: make([]segment, n-1),
	}
	for i := range n - 1 {
		// Hermite form, the same arithmetic as gonum's own.
		h, dy := m.RPM[i+1]-m.RPM[i], m.Torque[i+1]-m.Torque[i]
		s0, s1 := fit.PredictDerivative(m.RPM[i]), fit.PredictDerivative(m.RPM[i+1])
		c.segments[i] = segment{
			start: m.RPM[i], end: m.RPM[i+1],
			a0: m.Torque[i], a1: s0,
			a2: (3*dy - (2*s0+s1)*h) / h / h,
			a3: (-2*dy + (s0+s1)*h) / h / h / h,
		}
	}
	c.segments[n-2].end = math.Inf(1)
	c.buildIndex(gap)
	return c, nil
}

// buildIndex makes cells no wider than the narrowest segment, so that At
// steps over at most one point.
func (c *Curve) buildIndex(gap float64) {
	span := c.top - c.low
	cells := mostCells
	if w := math.Ceil(span / gap); w < mostCells {
		cells = max(int(w), fewestCells)
	}
	c.cell = float64(cells) / span
	c.index = make([]int32, cells+1)
	// A speed in cell k lies beyond every point whose own cell is below k:
	// the map from speed to cell never decreases, rounding included.
	seg := 0
	for k := range c.index {
		for seg+1 < len(c.segments) && int((c.segments[seg+1].start-c.low)*c.cell) < k {
			seg++
		}
		c.index[k] = int32(seg)
	}
}

// At returns the torque (N·m) at an engine speed (1/min). Outside the table,
// and for NaN, it returns 0: no torque is invented. At the ends of the table
// it returns the end points themselves.
func (c *Curve) At(rpm float64) float64 {
	if !(rpm >= c.low && rpm < c.top) {
		if rpm == c.top {
			return c.last
		}
		return 0
	}
	s := &c.segments[c.index[int((rpm-c.low)*c.cell)]]
	if rpm >= s.end {
		s = c.next(rpm)
	}
	d := rpm - s.start
	return ((s.a3*d+s.a2)*d+s.a1)*d + s.a0
}

// next finds the segment by walking on from the indexed one; kept apart so
// that At stays small.
func (c *Curve) next(rpm float64) *segment {
	i := int(c.index[int((rpm-c.low)*c.cell)])
	for rpm >= c.segments[i].end {
		i++
	}
	return &c.segments[i]
}

// Range returns the ends of the torque table (1/min).
func (c *Curve) Range() (low, top float64) { return c.low, c.top }

// PeakPower returns the greatest power (W) inside the table and its engine
// speed (1/min), found on a raster of 1/1000 of the table and refined to
// better than 0.01 1/min by golden-section search.
func (c *Curve) PeakPower() (rpm, power float64) {
	return c.peak(func(n float64) float64 { return c.At(n) * n * units.FromRPM })
}

// PeakTorque returns the greatest torque (N·m) and its engine speed (1/min).
func (c *Curve) PeakTorque() (rpm, torque float64) { return c.peak(c.At) }

func (c *Curve) peak(f func(float64) float64) (rpm, value float64) {
	const raster = 1000
	step := (c.top - c.low) / raster
	rpm, value = c.low, f(c.low)
	for i := 1; i <= raster; i++ {
		n := min(c.low+step*float64(i), c.top)
		if y := f(n); y > value {
			rpm, value = n, y
		}
	}
	lo, hi := max(rpm-step, c.low), min(rpm+step, c.top)
	const golden = 0.6180339887498949
	for hi-lo > 1e-3 {
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if f(a) >= f(b) {
			hi = b
		} else {
			lo = a
		}
	}
	if y := f(0.5 * (lo + hi)); y > value {
		rpm, value = 0.5*(lo+hi), y
	}
	return rpm, value
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
