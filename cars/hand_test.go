package cars

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// What examples/wren.toml derives by hand in its comments, for 20 kg of fuel,
// still air of 1.225 kg/m³ and an engine factor of 1. The lap is held against
// the same numbers.
const (
	handTopSpeed     = 79.23  // m/s, power-limited
	handTopRatio     = 3.3587 // total ratio in top gear ...
	handTopRPM       = 8500.0 // ... that is drag-limited at this speed, 1/min
	handTo100        = 2.533  // s, from rest, limited by the rear tyres
	handCornerSpeed  = 46.92  // m/s at 100 m radius, flat
	handCornerG      = 2.245
	handTractionEnds = 35.88 // m/s, where power takes over from grip
)

const handDensity = 1.225 // kg/m³

func example(t testing.TB, name string) datafile.Source {
	t.Helper()
	src, err := datafile.Read(name, Embedded(), ExampleDir, ".toml")
	require.NoError(t, err)
	return src
}

func wren(t testing.TB) (*Car, *Curve) {
	t.Helper()
	c, err := Parse(example(t, "wren"))
	require.NoError(t, err)
	curve, err := c.Engine.Maps[0].Curve()
	require.NoError(t, err)
	return c, curve
}

// resistance is drag and rolling resistance (N) on the level.
func resistance(c *Car, v float64) float64 {
	q := 0.5 * handDensity * v * v
	load := (c.Mass+c.Fuel)*units.Gravity + q*c.Aero.DownforceArea
	return q*c.Aero.DragArea + load*(c.RollingCoef+c.RollingCoefV*v+c.RollingCoefVV*v*v)
}

// root bisects a falling function between lo and hi.
func root(f func(float64) float64, lo, hi float64) float64 {
	for range 200 {
		if mid := 0.5 * (lo + hi); f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return 0.5 * (lo + hi)
}

// The hand value takes the peak at a point of the table; the curve's own peak
// is 0.03 % higher, a hundredth of that share in speed.
func TestWrenTopSpeed(t *testing.T) {
	c, curve := wren(t)
	_, power := curve.PeakPower()
	atTread := power * c.Efficiency[5] / (1 + c.DriveSlip)
	v := root(func(v float64) float64 { return atTread/v - resistance(c, v) }, 20, 150)
	numtest.Equal(t, "top speed (m/s)", handTopSpeed, v, 0.02, 0)
}

func TestWrenDragLimitedRPM(t *testing.T) {
	c, curve := wren(t)
	rpmAt := func(v float64) float64 {
		return v / c.Radius(v) * handTopRatio * (1 + c.DriveSlip) * units.ToRPM
	}
	v := root(func(v float64) float64 {
		return curve.At(rpmAt(v))*handTopRatio*c.Efficiency[5]/c.Radius(v) - resistance(c, v)
	}, 50, 83)
	numtest.Equal(t, "drag-limited speed (1/min)", handTopRPM, rpmAt(v), 1, 0)
}

// traction is what the rear tyres can drive (N), with the load that the drive
// itself moves back.
func traction(c *Car, v float64) float64 {
	q := 0.5 * handDensity * v * v * c.Aero.DownforceArea
	load := (1-c.FrontShare)*(c.Mass+c.Fuel)*units.Gravity + (1-c.Aero.FrontShare)*q
	x := 0.0
	for range 60 {
		x, _ = c.Rear.Capacity(load+x*c.CGHeight/c.Wheelbase, 1)
	}
	return x
}

// The hand value is a closed form with one grip coefficient for the whole run;
// here dv/dt is integrated (midpoint rule, 20,000 steps) with the coefficient
// of each moment.
func TestWrenToHundred(t *testing.T) {
	c, curve := wren(t)
	const steps = 20000
	dv := 100 / 3.6 / steps
	time := 0.0
	for i := range steps {
		v := (float64(i) + 0.5) * dv
		time += dv * (c.Mass + c.Fuel) / (traction(c, v) - resistance(c, v))
	}
	numtest.Equal(t, "0-100 km/h (s)", handTo100, time, 0.003, 0)

	_, power := curve.PeakPower()
	atTread := power * c.Efficiency[0] / (1 + c.DriveSlip)
	v := root(func(v float64) float64 { return atTread/v - traction(c, v) }, 10, 80)
	numtest.Equal(t, "grip rules up to (m/s)", handTractionEnds, v, 0.03, 0)
	require.Greater(t, v, 100/3.6, "0-100 km/h must be limited by grip alone")
}

// The greatest speed at which both axles hold, by bisection on the grip left.
func TestWrenCorner(t *testing.T) {
	c, _ := wren(t)
	const radius = 100.0
	m := c.Mass + c.Fuel
	spare := func(v float64) (front, rear float64) {
		q := 0.5 * handDensity * v * v * c.Aero.DownforceArea
		fy := m * v * v / radius
		nf := c.FrontShare*m*units.Gravity + c.Aero.FrontShare*q
		nr := (1-c.FrontShare)*m*units.Gravity + (1-c.Aero.FrontShare)*q
		ff, fr := c.FrontShare*fy, (1-c.FrontShare)*fy
		x := resistance(c, v) + ff*ff/(c.Front.Stiffness*nf) + fr*fr/(c.Rear.Stiffness*nr)
		moved := x * c.CGHeight / c.Wheelbase
		_, yf := c.Front.Capacity(nf-moved, 1)
		xr, yr := c.Rear.Capacity(nr+moved, 1)
		return 1 - ff/yf, 1 - math.Hypot(x/xr, fr/yr)
	}
	v := root(func(v float64) float64 { f, r := spare(v); return math.Min(f, r) }, 5, 90)
	numtest.Equal(t, "corner speed (m/s)", handCornerSpeed, v, 0.01, 0)
	numtest.Equal(t, "lateral acceleration (g)", handCornerG, v*v/radius/units.Gravity, 0.001, 0)
	_, rear := spare(v)
	numtest.Equal(t, "share of the rear ellipse", 0.87, 1-rear, 0.005, 0)
}
