package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// Sources of this file, as named in each case:
//
//	UP   OpenStax, University Physics Volume 1
//	CP   OpenStax, College Physics
//	C3   OpenStax, Calculus Volume 3, section 3.4, student project "Navigating
//	     a Banked Turn": v² = r g (sin b + mu cos b)/(cos b - mu sin b); for the
//	     least speed the sign of mu changes
//
// Tolerances are half a unit of the last digit printed, or a little more where
// the example itself rounded on the way.

// toStandard takes a speed of an example with textbookG to the program's
// gravity: with all forces in proportion to g, speeds go with its root.
func toStandard() float64 { return math.Sqrt(units.Gravity / textbookG) }

// needed is the share of the road-normal load that the place asks sideways at
// v (m/s, as in the example): the least grip coefficient that holds the car.
func needed(t *testing.T, radius, bank, v float64) float64 {
	t.Helper()
	car := point(900, 1, flatTorque(1))
	l := bodyOf(t, car).at(placeOn(car, radius, bank, 0), v*toStandard())
	return l.fy / (l.nf + l.nr)
}

func TestFlatCornerNeedsThisGrip(t *testing.T) {
	for _, c := range []struct {
		source          string
		radius, v       float64 // m, m/s
		want, tolerance float64
	}{
		{"UP section 6.3, example on the flat curve", 500, 25, 0.13, 0.005},
		{"UP section 6.3, check your understanding", 182.9, 96.8 * kmh, 0.40, 0.005},
		{"CP section 6.3, problems", 50, 30, 1.84, 0.005},
	} {
		numtest.Equal(t, c.source+": grip coefficient", c.want, needed(t, c.radius, 0, c.v), c.tolerance, 0)
	}
}

func TestFlatCornerForce(t *testing.T) {
	car := point(900, 1, flatTorque(1))
	l := bodyOf(t, car).at(placeOn(car, 500, 0, 0), 25)
	// UP section 6.3, example on the flat curve: 1125 N, exact.
	numtest.Equal(t, "lateral force (N)", 1125, l.fy, 1e-9, 0)
}

// Where a banked curve needs no grip at all. The model is asked for the speed
// at which the lateral demand of (4.2) vanishes.
func TestFrictionlessBank(t *testing.T) {
	for _, c := range []struct {
		source          string
		radius, bank    float64 // m, deg
		want, tolerance float64 // m/s
	}{
		{"UP section 6.3, example on the steeply banked curve", 100, 31, 24.3, 0.05},
		{"CP section 6.3, example", 100, 65, 45.8, 0.05},
		{"UP section 6.3, problems", 500, 5, 20.7, 0.05},
		{"UP section 6.3, problems", 100, 15, 16.2, 0.05},
	} {
		car := point(900, 1, flatTorque(1))
		b, p := bodyOf(t, car), placeOn(car, c.radius, c.bank*units.FromDeg, 0)
		lo, hi := 1.0, 100.0
		for range 200 { // |demand| falls to 0 and rises again
			a, z := lo+(hi-lo)/3, hi-(hi-lo)/3
			if b.at(p, a).fy < b.at(p, z).fy {
				hi = z
			} else {
				lo = a
			}
		}
		v := lo / toStandard()
		numtest.Equal(t, c.source+": speed (m/s)", c.want, v, c.tolerance, 0)
		numtest.Equal(t, c.source+": demand left (N)", 0, b.at(p, lo).fy, 1e-3, 0)
	}
}

func TestBankForASpeed(t *testing.T) {
	// UP and CP section 6.3, problems: 105 km/h on a radius of 1.2 km needs no
	// grip at 4.14°.
	lo, hi := 0.1, 20.0
	for range 200 {
		a, z := lo+(hi-lo)/3, hi-(hi-lo)/3
		if needed(t, 1200, a*units.FromDeg, 105*kmh) < needed(t, 1200, z*units.FromDeg, 105*kmh) {
			hi = z
		} else {
			lo = a
		}
	}
	numtest.Equal(t, "bank (deg)", 4.14, lo, 0.005, 0)
}

// The least speed of a banked curve: at 20 km/h on 15° the car wants to slide
// down, and holds with a coefficient of 0.234 (UP and CP section 6.3,
// problems).
func TestBankSlidesDown(t *testing.T) {
	const v = 20 * kmh
	numtest.Equal(t, "grip coefficient", 0.234, needed(t, 100, 15*units.FromDeg, v), 0.0005, 0)
	for _, c := range []struct {
		mu    float64
		holds bool
	}{{0.2335, false}, {0.2355, true}} {
		car := point(900, c.mu, flatTorque(1))
		b, p := bodyOf(t, car), placeOn(car, 100, 15*units.FromDeg, 0)
		l := b.at(p, v*toStandard())
		// The tyres have something left for the way ahead only where they hold.
		left := b.driveLimit(p, &l)
		require.Equal(t, c.holds, left > 0, "mu %g: %g N left", c.mu, left)
	}
}

func TestCornerLimit(t *testing.T) {
	const c3G = 32.174 * foot // m/s², gravity of the C3 rows
	for _, c := range []struct {
		source          string
		radius, bank    float64 // m, deg
		mu, g           float64
		want, tolerance float64 // m/s
	}{
		{"UP section 6.3, problems", 65, 0, 0.70, textbookG, 21, 0.5},
		// University physics homework (flat force diagram on a bank of 16°,
		// r 44 m, mu 0.67, g 9.8), answer 22.5977 m/s.
		{"banked curve with friction", 44, 16, 0.67, textbookG, 22.5977, 5e-5},
		// C3 prints no numbers; these are its formula with its data.
		{"C3, inner edge", 211 * foot, 24, 0.98, c3G, 89.33 * mph, 0.005},
		{"C3, outer edge", 251 * foot, 28, 0.98, c3G, 108.86 * mph, 0.005},
		// mu below tan(bank): the car cannot even stand, and the limit is the
		// end of the range of speeds that it can hold.
		{"C3, inner edge in the wet", 211 * foot, 24, 0.1, c3G, 42.44 * mph, 0.005},
	} {
		car := point(1900, c.mu*c.g/units.Gravity, flatTorque(1))
		if c.bank > 0 {
			// On a bank mu and g do not only appear as a product: keep mu,
			// scale the speed.
			car = point(1900, c.mu, flatTorque(1))
		}
		v := math.Sqrt(bodyOf(t, car).cornerLimit(placeOn(car, c.radius, c.bank*units.FromDeg, 0)))
		if c.bank > 0 {
			v *= math.Sqrt(c.g / units.Gravity)
		}
		numtest.Equal(t, c.source+": speed (m/s)", c.want, v, c.tolerance, 0)
		right := math.Sqrt(bodyOf(t, car).cornerLimit(placeOn(car, -c.radius, -c.bank*units.FromDeg, 0)))
		left := math.Sqrt(bodyOf(t, car).cornerLimit(placeOn(car, c.radius, c.bank*units.FromDeg, 0)))
		numtest.Equal(t, c.source+": to the right as to the left", left, right, 0, 1e-12)
	}
}

// Slide speed on a flat circle of 720 ft with mu 0.8 and g 32.2 ft/s²: 92.86
// mph steady, 84.19 mph while gaining 10 mph each second (a practice set of
// dynamics problems; the answers are recomputed).
func TestSlideSpeedWhileAccelerating(t *testing.T) {
	car := point(1500, 0.8*32.2*foot/units.Gravity, flatTorque(1))
	b, p := bodyOf(t, car), placeOn(car, 720*foot, 0, 0)
	numtest.Equal(t, "steady (mph)", 92.86, math.Sqrt(b.cornerLimit(p))/mph, 0.005, 0)
	l := b.at(p, 84.19*mph)
	numtest.Equal(t, "acceleration left at 84.19 mph (mph/s)", 10, b.driveLimit(p, &l)/b.mass/mph, 0.01, 0)
}

// Circle speeds with downforce, of the point mass in B. Lenzo and V. Rossi, "A
// Simple Mono-Dimensional Approach for Lap Time Optimisation", Appl. Sci.
// 10(4), 2020, 1498 (620 kg, downforce 2.15 N s²/m²). Its grip coefficients are
// not at hand; the speeds follow from v² = mu m g/(m/R - mu k), g 9.81.
func TestCircleWithDownforce(t *testing.T) {
	const g, density = 9.81, 1.225
	for _, c := range []struct {
		mu, radius, want float64 // m, m/s
		lap              float64 // s, round the circle; 0 = not asked
	}{
		{1.0, 100, 38.7528, 16.2135},
		{1.0, 200, 80.0145, 15.7051},
		{1.5, 100, 55.3774, 11.3461},
		{1.5, 200, math.Inf(1), 0}, // downforce outgrows demand: no limit
	} {
		mu := c.mu * g / units.Gravity
		car := point(620, mu, flatTorque(6000))
		car.Aero.DownforceArea = 2 * 2.15 * (c.mu / mu) / density // mu·k as given
		m := model(t, car, circle(c.radius), density, 0)
		v := m.CornerSpeed(10)
		if math.IsInf(c.want, 1) {
			require.True(t, math.IsInf(v, 1), "mu %g, r %g: want no limit, got %g m/s", c.mu, c.radius, v)
			lap := m.Lap([]float64{1.2, 1})
			numtest.Finite(t, "lap without a corner limit (s)", lap.Time, lap.TopSpeed)
			continue
		}
		numtest.Equal(t, "circle speed (m/s)", c.want, v, 5e-5, 0)
		numtest.Equal(t, "lap of the circle (s)", c.lap, m.NewSolver().LapTime([]float64{1.2, 1}), 5e-5, 0)
	}
}
