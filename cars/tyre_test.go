package cars

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

const lbf = 4.4482216152605 // N, exact by definition of pound and standard gravity

// loadTable is W. F. Milliken, D. L. Milliken, Race Car Vehicle Dynamics, SAE
// 1995, fig. 2.9 (lateral coefficient over the load of one tyre), as tabulated
// in an encyclopedia; the book itself was not opened.
var loadTable = []struct{ load, mu float64 }{{900, 1.10}, {1350, 1.08}, {1800, 0.97}}

// fitted is the linear law through the table's two ends.
func fitted() Tyre {
	first, last := loadTable[0], loadTable[2]
	return Tyre{
		MuX: first.mu, MuY: first.mu, RefLoad: first.load * lbf,
		LoadSensitivity: 1 - last.mu/first.mu,
	}
}

func TestCapacityAgainstLoadTable(t *testing.T) {
	tyre := fitted()
	for i, row := range loadTable {
		tol := 1e-12
		if i == 1 {
			// The measured coefficient bends; a straight line through the
			// ends lies (1.10+0.97)/2 = 1.035 below 1.08: 4.2 %.
			tol = 0.0425
		}
		_, y := tyre.Capacity(2*row.load*lbf, 1)
		numtest.Equal(t, "axle force (N)", 2*row.mu*row.load*lbf, y, 0, tol)
	}
	// The straight line itself, F = (a + b·n)·n, through the two ends.
	_, y := tyre.Capacity(2*1350*lbf, 1)
	numtest.Equal(t, "axle force in the middle (N)", 2*1350*lbf*1.035, y, 0, 1e-12)
}

// The same source: between 900 and 1,800 lbf the force goes with the load to
// a power between 0.7 and 0.9.
func TestCapacityGrowsLessThanLoad(t *testing.T) {
	tyre := fitted()
	_, low := tyre.Capacity(2*900*lbf, 1)
	_, high := tyre.Capacity(2*1800*lbf, 1)
	n := math.Log2(high / low)
	numtest.Equal(t, "exponent", 0.81855, n, 1e-5, 0)
	require.True(t, n > 0.7 && n < 0.9)
}

func TestCapacityDirectionsAndGrip(t *testing.T) {
	tyre := Tyre{MuX: 1.5, MuY: 1.6, RefLoad: 2000, LoadSensitivity: 0.06}
	x, y := tyre.Capacity(4000, 1)
	numtest.Equal(t, "x (N)", 6000, x, 1e-9, 0)
	numtest.Equal(t, "y (N)", 6400, y, 1e-9, 0)
	x, y = tyre.Capacity(8000, 0.5) // twice the reference: mu down by 6 %
	numtest.Equal(t, "x (N)", 8000*1.5*0.94*0.5, x, 1e-9, 0)
	numtest.Equal(t, "y (N)", 8000*1.6*0.94*0.5, y, 1e-9, 0)
	for _, load := range []float64{0, -1, math.Inf(-1), math.NaN()} {
		x, y = tyre.Capacity(load, 1)
		require.Equal(t, []float64{0, 0}, []float64{x, y})
	}
}

// More load never means less grip: beyond the peak n0·(1+k)/(2k) of the law
// the force stays at mu0·n0·(1+k)²/(4k) a tyre.
func TestCapacityBeyondThePeak(t *testing.T) {
	tyre := Tyre{MuX: 1.5, MuY: 1.6, RefLoad: 2000, LoadSensitivity: 0.25}
	const peakLoad = 2000 * 1.25 / 0.5
	const peakForce = 1.6 * 2000 * 1.25 * 1.25
	last := 0.0
	for load := 100.0; load < 40000; load += 100 {
		_, y := tyre.Capacity(load, 1)
		require.GreaterOrEqual(t, y, last)
		last = y
		if load >= 2*peakLoad {
			numtest.Equal(t, "held force (N)", 2*peakForce, y, 0, 1e-12)
		}
	}
	_, y := tyre.Capacity(math.Inf(1), 1)
	numtest.Equal(t, "force at any load (N)", 2*peakForce, y, 0, 1e-12)
}

func TestLoadForLateralInvertsCapacity(t *testing.T) {
	for _, k := range []float64{0, 0.06, 0.25} {
		tyre := Tyre{MuX: 1.5, MuY: 1.6, RefLoad: 2000, LoadSensitivity: k}
		for _, grip := range []float64{0.6, 1, 1.1} {
			for load := 50.0; load < 9900; load += 137 {
				_, y := tyre.Capacity(load, grip)
				numtest.Equal(t, "load (N)", load, tyre.LoadForLateral(y, grip), 0, 1e-9)
			}
		}
		require.Equal(t, 0.0, tyre.LoadForLateral(0, 1))
		require.True(t, math.IsInf(tyre.LoadForLateral(100, 0), 1))
	}
	tyre := Tyre{MuX: 1.5, MuY: 1.6, RefLoad: 2000, LoadSensitivity: 0.25}
	require.True(t, math.IsInf(tyre.LoadForLateral(2*1.6*2000*1.25*1.25*1.001, 1), 1))
}

func TestRadiusGrows(t *testing.T) {
	c := Car{TyreRadius: 0.3, TyreGrowth: 7e-7}
	numtest.Equal(t, "radius at rest (m)", 0.3, c.Radius(0), 0, 0)
	numtest.Equal(t, "radius at 80 m/s (m)", 0.30448, c.Radius(80), 1e-12, 0)
}

func BenchmarkCapacity(b *testing.B) {
	tyre := Tyre{MuX: 1.5, MuY: 1.6, RefLoad: 2000, LoadSensitivity: 0.06}
	sum, load := 0.0, 100.0
	for b.Loop() {
		x, y := tyre.Capacity(load, 1)
		sum += x + y
		if load += 10; load > 9000 {
			load = 100
		}
	}
	if sum == 0 {
		b.Fatal("no grip")
	}
}
