package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// Flat out round a level circle the engine's force holds drag and the tyres'
// cornering drag: F = k u + q u² with u = v², k = ½ rho CdA, q = m / (r² C g):
// side force m u / r, load m g, drag Fy²/(C N) (elementary mechanics; Gillespie,
// Fundamentals of Vehicle Dynamics, ch. 6, for the cornering drag). The hand's
// answer is the positive root u0.
//
// In a wind w its head component swings as w cos(theta). With b = m/(2r) and
// a = k + 2 q u0, to first order b du' = -a du - 2 k v0 w cos(theta), so that
// du = -2 k v0 w (a cos + b sin)/(a² + b²); to second order the mean of u falls
// by what k (w cos)², the product of du and the wind, and q du² leave; and the
// time of the lap is that of the mean of u^(-1/2).
func TestSpeedInTheTurnsOfAnOval(t *testing.T) {
	const mass, radius, force, area, rho = 700.0, 300.0, 4000.0, 1.1, 1.2
	hand := func(stiffness, tow, wind float64) float64 {
		k, q := 0.5*rho*area*tow, mass/(radius*radius*stiffness*units.Gravity)
		u := (math.Sqrt(k*k+4*force*q) - k) / (2 * q)
		a, b := k+2*q*u, mass/(2*radius)
		swing := a*a + b*b
		mean := (k*k*wind*wind*a/swing - k*wind*wind/2 - 2*q*k*k*u*wind*wind/swing) / a
		square := 2 * k * k * u * wind * wind / swing // mean of du²
		return math.Sqrt(u) / (1 - mean/(2*u) + 3*square/(8*u*u))
	}
	lap := func(stiffness, tow, wind, from float64) float64 {
		car := point(mass, 10, flatTorque(force))
		car.Rear.Stiffness, car.Aero.DragArea = stiffness, area
		cond := stillAir(0)
		cond.AirDensity, cond.TowDrag, cond.WindSpeed, cond.WindFrom = rho, tow, wind, from
		m, err := New(car, circle(radius), cond, nil)
		require.NoError(t, err)
		l := m.Lap([]float64{1, 0.99})
		require.Empty(t, l.Infeasible)
		return m.length / l.Time
	}
	base, byHand := lap(30, 1, 0, 0), hand(30, 1, 0)
	numtest.Equal(t, "speed (m/s)", byHand, base, 0, 1e-6)
	for _, c := range []struct {
		what            string
		stiffness, tow  float64
		wind, from, tol float64 // tolerance of the change: share
	}{
		{"stiffer tyres", 45, 1, 0, 0, 1e-4},
		{"softer tyres", 20, 1, 0, 0, 1e-4},
		{"in a tow", 30, 0.7, 0, 0, 1e-4},
		// The hand stops at the second order of the wind.
		{"in a wind", 30, 1, 8, 0, 0.02},
		{"in a wind from elsewhere", 30, 1, 8, 2, 0.02},
	} {
		change := hand(c.stiffness, c.tow, c.wind) - byHand
		numtest.Equal(t, c.what+": change of speed (m/s)", change, lap(c.stiffness, c.tow, c.wind, c.from)-base, 0, c.tol)
	}
}
