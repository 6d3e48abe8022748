package sim

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// cornerChecks are corners: the speed that one allows, and the way from the
// least speed of a friction circle to the greatest.
func cornerChecks() []check {
	const c3 = "OpenStax, Calculus Volume 3, section 3.4, student project: v² = r g (sin b + mu cos b)/(cos b - mu sin b)"
	const frictionless = "OpenStax, University Physics Volume 1, section 6.3: v² = r g tan b"
	return []check{
		{name: "banked corner with friction, greatest speed", tol: 1e-6, source: c3, run: bankedLimit},
		{name: "banked corner with friction, least speed", tol: 1e-6, source: c3 + ", mu negative", run: bankedLeast},
		{name: "banked corner without friction", tol: 1e-6, run: pureBank, source: frictionless},
		{name: "banked corner without friction, demand", tol: 1e-6, abs: true, run: pureBankDemand, source: frictionless},
		{name: "corner with downforce", tol: 1e-6, run: downforceCircle,
			source: "derived: v² = mu m g/(m/r - mu k); data of Lenzo and Rossi, Appl. Sci. 10(4), 2020, 1498"},
		{name: "friction circle on a flat arc", tol: 1e-6, refine: 5,
			source: "Mungan, The Physics Teacher 44, 2006: v² = mu g r sin(2 phi)",
			run: func(t testing.TB, refine int) []figure {
				return ellipseArc{radius: 50, mu: textbookG / units.Gravity}.figures(t, refine, 0.05, 2*40*units.FromDeg)
			}},
		{name: "friction circle on a banked arc, from the least speed to the greatest", tol: 1e-6, refine: 4,
			source: "derived: v²/r swings like a sine between the two speeds of the bank",
			run: func(t testing.TB, refine int) []figure {
				return ellipseArc{radius: 100, mu: 0.3, bank: 31 * units.FromDeg}.figures(t, refine, 0.1, math.Pi-0.15)
			}},
	}
}

// bankSpeed is C3's formula; mu < 0 gives the least speed.
func bankSpeed(radius, bank, mu float64) float64 {
	s, c := math.Sincos(bank)
	return math.Sqrt(radius * units.Gravity * (s + mu*c) / (c - mu*s))
}

// bankedCases are radius (m), bank (deg) and grip of the sources that
// TestCornerLimit names, and two on which the car cannot stand.
func bankedCases() [][3]float64 {
	return [][3]float64{
		{44, 16, 0.67}, {211 * foot, 24, 0.98}, {251 * foot, 28, 0.98},
		{211 * foot, 24, 0.1}, {100, 31, 0.3}, {100, 65, 0.2},
	}
}

// bankedCircle is one full circle with a bank (rad).
func bankedCircle(radius, bank float64) *tracks.Track {
	tr := circle(radius)
	tr.Segments[0].Bank0, tr.Segments[0].Bank1 = bank, bank
	return tr
}

func bankedLimit(t testing.TB, refine int) []figure {
	speed, time := worst{what: "speed (m/s)"}, worst{what: "lap of the circle (s)"}
	for _, c := range bankedCases() {
		bank := c[1] * units.FromDeg
		m := model(t, oneGear(point(900, c[2], flatTorque(20e3))), bankedCircle(c[0], bank), 0, refine)
		v := bankSpeed(c[0], bank, c[2])
		speed.add(v, m.CornerSpeed(10))
		time.add(2*math.Pi*c[0]/v, m.NewSolver().LapTime([]float64{1}))
	}
	return []figure{speed.f, time.f}
}

// bankedLeast asks the loads at the least speed for the grip that they need.
// (The lap's own way up from there is the friction circle on a banked arc.)
func bankedLeast(t testing.TB, _ int) []figure {
	w := worst{what: "grip needed there"}
	for _, c := range bankedCases() {
		bank := c[1] * units.FromDeg
		if c[2] >= math.Tan(bank) {
			continue // the car can stand
		}
		car := point(900, c[2], flatTorque(1))
		l := bodyOf(t, car).at(placeOn(car, c[0], bank, 0), bankSpeed(c[0], bank, -c[2]))
		w.add(c[2], l.fy/(l.nf+l.nr))
	}
	return []figure{w.f}
}

// pureBank drives round a bank flat out with a thrust that drag takes back at
// the frictionless speed. Only there does cornering drag, large on purpose,
// vanish.
func pureBank(t testing.TB, refine int) []figure {
	const radius, bank, k = 100.0, 31 * units.FromDeg, 0.72
	v := math.Sqrt(radius * units.Gravity * math.Tan(bank))
	car := point(900, 0.8, flatTorque(k*v*v))
	car.Aero.DragArea = 2 * k / 1.225
	car.Rear.Stiffness = 2 // 1/rad
	car.Efficiency = []float64{1}
	lap := model(t, oneGear(car), bankedCircle(radius, bank), 1.225, refine).Lap([]float64{1})
	require.Empty(t, lap.Infeasible)
	return []figure{
		{"speed (m/s)", v, lap.TopSpeed},
		{"lap of the circle (s)", 2 * math.Pi * radius / v, lap.Time},
	}
}

// pureBankDemand is the side force left at that speed: cornering drag feels its
// square only.
func pureBankDemand(t testing.TB, _ int) []figure {
	car := point(900, 0.8, flatTorque(1))
	var f []figure
	for _, deg := range []float64{5, 31, 65} {
		bank := deg * units.FromDeg
		l := bodyOf(t, car).at(placeOn(car, 100, bank, 0), math.Sqrt(100*units.Gravity*math.Tan(bank)))
		f = append(f, figure{fmt.Sprintf("side force / weight at %g°", deg), 0, l.fy / (900 * units.Gravity)})
	}
	return f
}

func downforceCircle(t testing.TB, refine int) []figure {
	const mass, k, density = 620.0, 2.15, 1.225
	speed, time := worst{what: "speed (m/s)"}, worst{what: "lap of the circle (s)"}
	for _, c := range [][2]float64{{1, 100}, {1, 200}, {1.5, 100}} {
		mu, radius := c[0], c[1]
		car := point(mass, mu, flatTorque(6000))
		car.Aero.DownforceArea = 2 * k / density
		m := model(t, oneGear(car), circle(radius), density, refine)
		v := math.Sqrt(mu * mass * units.Gravity / (mass/radius - mu*k))
		speed.add(v, m.CornerSpeed(10))
		time.add(2*math.Pi*radius/v, m.NewSolver().LapTime([]float64{1}))
	}
	return []figure{speed.f, time.f}
}

// ellipseArc is an arc on which a car with more force than grip always uses
// the whole friction circle. With x = v²/r the normal load is m (g cos b + x
// sin b) and the lateral demand m (x cos b - g sin b), so that
//
//	dx/dphi = 2 sqrt(C + B x - A x²),  A = cos²b - mu² sin²b,
//	B = g sin 2b (1 + mu²),  C = g² (mu² cos²b - sin²b),
//
// solved by x = B/2A - R cos(theta), theta = 2 sqrt(A) phi, R² = (B/2A)² + C/A:
// from the least speed that the bank holds (theta 0) to the greatest (theta
// pi). Without bank x starts at 0 with theta pi/2, which is the source's
// mu g sin(2 phi).
type ellipseArc struct {
	radius, mu, bank float64 // m, -, rad
}

// swing gives sqrt(A), the middle of x and its amplitude (both m/s²).
func (e ellipseArc) swing() (rootA, mid, amplitude float64) {
	const g = units.Gravity
	s, c := math.Sincos(e.bank)
	a := c*c - e.mu*e.mu*s*s
	mid = g * s * c * (1 + e.mu*e.mu) / a
	return math.Sqrt(a), mid, math.Sqrt(mid*mid + g*g*(e.mu*e.mu*c*c-s*s)/a)
}

// speed is the speed (m/s) at the angle phi (rad) from the start at theta0; on
// the flat, where the car cannot be slower than 0, theta counts from there.
func (e ellipseArc) speed(theta0, phi float64) float64 {
	rootA, mid, amplitude := e.swing()
	if e.bank == 0 {
		theta0 += math.Pi / 2
	}
	return math.Sqrt(e.radius * (mid - amplitude*math.Cos(theta0+2*rootA*phi)))
}

// lap drives the arc from theta0 to theta1 (rad).
func (e ellipseArc) lap(t testing.TB, refine int, theta0, theta1 float64) *Lap {
	rootA, _, _ := e.swing()
	arc := newTrack()
	arc.t.Corners = append(arc.t.Corners, tracks.Corner{Name: "arc"})
	arc.add(e.radius*(theta1-theta0)/(2*rootA), 1/e.radius, 1/e.radius, e.bank, e.bank, 0, 0)
	arc.t.Corners[0].End, arc.t.Corners[0].Radius = arc.s, e.radius
	return stretch(t, point(700, e.mu, flatTorque(1e6)), arc.t, 0, e.speed(theta0, 0), refine)
}

func (e ellipseArc) figures(t testing.TB, refine int, theta0, theta1 float64) []figure {
	return along(e.lap(t, refine, theta0, theta1),
		func(s float64) float64 { return e.speed(theta0, s/e.radius) },
		func(s float64) float64 {
			f := func(phi float64) float64 { return e.radius / e.speed(theta0, phi) }
			return quad.Fixed(f, 0, s/e.radius, 100, nil, 0)
		})
}

// From rest to 45°, the corner's limit, on 50 m with mu g 9.8 m/s²: 2.961312 s,
// from the integral 1.311028777 of 1/sqrt(sin 2 phi) (recomputed). The model
// starts at 0.05 rad and stops at 44.9°; what is missing is the integral's.
func TestFrictionCircle(t *testing.T) {
	integral := func(a, b float64) float64 {
		// phi = x² takes the root out of the start.
		return quad.Fixed(func(x float64) float64 { return 2 * x / math.Sqrt(math.Sin(2*x*x)) },
			math.Sqrt(a), math.Sqrt(b), 100, nil, 0)
	}
	numtest.Equal(t, "integral to 45°", 1.311028777, integral(0, math.Pi/4), 1e-9, 0)
	const end = 44.9 * units.FromDeg
	missing := math.Sqrt(50/textbookG) * (integral(0, 0.05) + integral(end, math.Pi/4))
	for _, c := range []struct {
		refine int
		tol    float64 // s
	}{{0, 5e-3}, {4, 5e-6}} { // near 45° the circle opens like a root
		lap := ellipseArc{radius: 50, mu: textbookG / units.Gravity}.lap(t, c.refine, 0.1, 2*end)
		numtest.Equal(t, "time to 45° (s)", 2.961312, lap.Time+missing, c.tol, 0)
	}
}

// At the corner's limit no grip is left to accelerate with: a car that keeps on
// turning goes round at that speed, to the end of the circle.
func TestFrictionCircleEndsOnTheLimit(t *testing.T) {
	const radius = 50.0
	car := point(700, 1, flatTorque(1e6))
	lap := stretch(t, car, circle(radius), 0, 15, 0)
	numtest.Equal(t, "speed in the end (m/s)", math.Sqrt(units.Gravity*radius), lastSample(lap).V, 0, 1e-9)
	require.Equal(t, Capped, lastSample(lap).Phase)
}
