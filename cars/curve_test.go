package cars

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/interp"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// randomMap is a torque table with uneven gaps, some of them tiny.
func randomMap(r *rand.Rand) *EngineMap {
	n := 3 + r.IntN(20)
	m := &EngineMap{Name: "random"}
	rpm := 500 + 4000*r.Float64()
	for range n {
		m.RPM = append(m.RPM, rpm)
		m.Torque = append(m.Torque, 50+400*r.Float64())
		switch r.IntN(4) {
		case 0:
			rpm += 0.01 + 0.1*r.Float64()
		case 1:
			rpm += 11
		default:
			rpm += 100 + 900*r.Float64()
		}
	}
	return m
}

// The fast evaluation against gonum's own interpolant of the same method
// (F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984).
func TestCurveEqualsFritschButland(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		m := randomMap(r)
		c, err := m.Curve()
		require.NoError(t, err)
		var want interp.FritschButland
		require.NoError(t, want.Fit(m.RPM, m.Torque))
		lo, hi := c.Range()
		for range 200 {
			n := lo + (hi-lo)*r.Float64()
			numtest.Equal(t, "torque (N·m)", want.Predict(n), c.At(n), 0, 1e-12)
		}
		for i, n := range m.RPM {
			numtest.Equal(t, "torque at a point (N·m)", m.Torque[i], c.At(n), 0, 0)
			for _, near := range []float64{math.Nextafter(n, 0), math.Nextafter(n, 1e9)} {
				if near >= lo && near <= hi {
					numtest.Equal(t, "torque beside a point (N·m)", want.Predict(near), c.At(near), 0, 1e-12)
				}
			}
		}
	}
}

// No torque that the user did not write: between two points the curve stays
// between them.
func TestCurveStaysBetweenItsPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		m := randomMap(r)
		c, err := m.Curve()
		require.NoError(t, err)
		for i := range len(m.RPM) - 1 {
			lo, hi := math.Min(m.Torque[i], m.Torque[i+1]), math.Max(m.Torque[i], m.Torque[i+1])
			prev := m.Torque[i]
			for k := 1; k <= 20; k++ {
				y := c.At(m.RPM[i] + (m.RPM[i+1]-m.RPM[i])*float64(k)/20)
				if y < lo-1e-9 || y > hi+1e-9 {
					t.Fatalf("%g N·m between points of %g and %g N·m", y, m.Torque[i], m.Torque[i+1])
				}
				if (y-prev)*(m.Torque[i+1]-m.Torque[i]) < -1e-9 {
					t.Fatalf("the curve turns between points %d and %d", i, i+1)
				}
				prev = y
			}
		}
	}
}

func TestCurveSlopeIsContinuous(t *testing.T) {
	m := &EngineMap{RPM: []float64{3000, 4000, 5500, 6000, 8000}, Torque: []float64{200, 260, 300, 290, 220}}
	c, err := m.Curve()
	require.NoError(t, err)
	const h = 1e-3
	for _, n := range m.RPM[1:4] {
		left, right := (c.At(n)-c.At(n-h))/h, (c.At(n+h)-c.At(n))/h
		// One-sided differences differ by the second derivative times h.
		numtest.Equal(t, "slope (N·m·min)", left, right, 1e-5, 0)
	}
}

func TestCurveOutsideTheTable(t *testing.T) {
	m := &EngineMap{RPM: []float64{3000, 5000, 8000}, Torque: []float64{200, 260, 220}}
	c, err := m.Curve()
	require.NoError(t, err)
	lo, hi := c.Range()
	require.Equal(t, []float64{3000, 8000}, []float64{lo, hi})
	for _, n := range []float64{0, -1, math.Nextafter(3000, 0), math.Nextafter(8000, 1e9), math.Inf(1), math.Inf(-1), math.NaN()} {
		require.Equal(t, 0.0, c.At(n), "at %g", n)
	}
	require.Equal(t, 200.0, c.At(3000))
	require.Equal(t, 220.0, c.At(8000))
}

func TestCurveRefuses(t *testing.T) {
	for want, m := range map[string]EngineMap{
		"at least 3 points":   {RPM: []float64{1, 2}, Torque: []float64{1, 2}},
		"but 2 torques":       {RPM: []float64{1, 2, 3}, Torque: []float64{1, 2}},
		"is not finite":       {RPM: []float64{1, 2, 3}, Torque: []float64{1, math.NaN(), 2}},
		"does not increase":   {RPM: []float64{1, 3, 3}, Torque: []float64{1, 2, 2}},
		"2 after 3 1/min doe": {RPM: []float64{1, 3, 2}, Torque: []float64{1, 2, 2}},
	} {
		_, err := m.Curve()
		require.ErrorContains(t, err, want)
	}
}

// A table made of the cubic engine of R. N. Jazar, Vehicle Dynamics, ch. 4
// (from memory): P = PM·(x + x² - x³), x = speed / speed of peak power. Its
// power peaks at x = 1 and its torque, PM/wM·(1 + x - x²), at x = 1/2 with
// 1.25·PM/wM.
func TestCurvePeaksOfCubicEngine(t *testing.T) {
	const peak, at = 200e3, 6000.0
	m := &EngineMap{}
	for x := 0.2; x < 1.21; x += 0.05 {
		m.RPM = append(m.RPM, x*at)
		m.Torque = append(m.Torque, peak/(at*units.FromRPM)*(1+x-x*x))
	}
	c, err := m.Curve()
	require.NoError(t, err)
	rpm, power := c.PeakPower()
	// Points 5 % apart: the flattened interpolant is off by second order.
	numtest.Equal(t, "peak power (W)", peak, power, 0, 1e-3)
	numtest.Equal(t, "its speed (1/min)", at, rpm, 60, 0)
	rpm, torque := c.PeakTorque()
	numtest.Equal(t, "peak torque (N·m)", 1.25*peak/(at*units.FromRPM), torque, 0, 1e-3)
	numtest.Equal(t, "its speed (1/min)", 0.5*at, rpm, 60, 0)
}

func BenchmarkCurveAt(b *testing.B) {
	src := example(b, "wren")
	car, err := Parse(src)
	require.NoError(b, err)
	c, err := car.Engine.Maps[0].Curve()
	require.NoError(b, err)
	sum, rpm := 0.0, 4000.0
	b.ReportAllocs()
	for b.Loop() {
		sum += c.At(rpm)
		if rpm += 13.7; rpm > 9000 {
			rpm -= 5000
		}
	}
	if sum == 0 {
		b.Fatal("no torque")
	}
}
