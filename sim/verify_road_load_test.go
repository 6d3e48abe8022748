package sim

import (
	"math"
	"testing"

	"layshaft/cars"
	"layshaft/internal/numtest"
)

// Drag-limited speed is where thrust equals drag: the same balance as the
// terminal speed of a fall, with a thrust of m·g. Source: OpenStax, University
// Physics Volume 1, section 6.4, text, example and problems (g 9.80, air 1.21
// kg/m³); tolerance half a unit of the last digit printed. The car is driven
// there at full throttle on a straight of 20 km, from below and from above.
func TestTerminalSpeed(t *testing.T) {
	for _, c := range []struct {
		what             string
		mass, coef, area float64 // kg, -, m²
		want             float64 // m/s, as printed
		exact            float64 // m/s, recomputed
	}{
		{"text", 75, 0.70, 0.18, 98, 98.19},
		{"example", 85, 1.0, 0.70, 44, 44.35},
		{"problems, head first", 80, 0.70, 0.140, 115, 114.99},
	} {
		car := point(c.mass, 1e3, flatTorque(c.mass*textbookG))
		car.Aero.DragArea = c.coef * c.area
		for _, v0 := range []float64{20, 140} {
			v := lastSample(stretch(t, car, newTrack().straight(20000).t, 1.21, v0, 0)).V
			numtest.Equal(t, c.what+": terminal speed (m/s)", c.want, v, 0.5, 0)
			numtest.Equal(t, c.what+": terminal speed, recomputed (m/s)", c.exact, v, 0.005, 0)
		}
	}
}

// OpenStax, University Physics Volume 1, section 6.4, problems: drag grows by
// 2.86 from 65 to 110 km/h; a body of 100 kg that falls at 60 m/s has
// b = 0.27 kg/m in f = b v².
func TestDragGrowsWithSpeedSquared(t *testing.T) {
	car := point(100, 1, flatTorque(1))
	car.Aero.DragArea = 2 * 0.27222 / 1.225
	m := model(t, car, newTrack().straight(100).t, 1.225, 0)
	numtest.Equal(t, "ratio of drags", 2.86, m.RoadLoad(110*kmh)/m.RoadLoad(65*kmh), 0.005, 0)
	numtest.Equal(t, "drag at 60 m/s (N)", 100*textbookG, m.RoadLoad(60), 0.05, 0)
}

// F. L. Mannering, S. S. Washburn, W. P. Kilareski, Principles of Highway
// Engineering and Traffic Analysis, 4th ed., problem 2.31 with the solutions
// manual: 2000 lb, Cd 0.35, 20 ft², air 0.002045 slug/ft³, 70 mph, grade 5 %,
// rolling 0.01(1 + V/147) with V in ft/s. Printed: grade 100, air 75.44,
// rolling 33.97 lb, in all 209.41. The book takes the sine of a grade for its
// tangent and its cosine for 1, so level and grade are held separately.
func TestRoadLoad(t *testing.T) {
	const slug = pound / foot // kg, in s²/ft·lb: a pound per ft/s²
	car := point(2000*poundMass, 1, flatTorque(1))
	car.RollingCoef = 0.01
	car.RollingCoefV = 0.01 / (147 * foot)
	car.Aero.DragArea = 0.35 * 20 * foot * foot
	const v = 70 * mph
	density := 0.002045 * slug / (foot * foot * foot)
	m := model(t, car, newTrack().straight(100).t, density, 0)
	numtest.Equal(t, "air and rolling (lb)", 75.44+33.97, m.RoadLoad(v)/pound, 0.005, 0)

	car.RollingCoef, car.RollingCoefV = 0, 0
	m = model(t, car, newTrack().straight(100).t, density, 0)
	numtest.Equal(t, "air (lb)", 75.44, m.RoadLoad(v)/pound, 0.005, 0)

	car.Aero.DragArea = 0
	l := bodyOf(t, car).at(placeOn(car, math.Inf(1), 0, math.Asin(0.05)), v)
	numtest.Equal(t, "grade (lb)", 100, l.resist/pound, 0.005, 0)
	l = bodyOf(t, car).at(placeOn(car, math.Inf(1), 0, -math.Asin(0.05)), v)
	numtest.Equal(t, "the same downhill (lb)", -100, l.resist/pound, 0.005, 0)
}

// Same book, problem 2.6 (data as printed; the steps are recomputed, its 9.1 %
// from memory): 3200 lb, Cd 0.35, 25 ft², air 0.002378 slug/ft³, wheel radius
// 14 in, efficiency 0.93, overall ratio 3.2, driveline slip 3.5 %, 210 lb·ft at
// 3600 rpm: effort 535.68 lb at 132.63 ft/s, air 183.02, rolling 60.87 lb,
// greatest grade 9.12 %.
func TestGreatestGrade(t *testing.T) {
	const slug = pound / foot
	torque := 210 * pound * foot
	car := point(3200*poundMass, 1, cars.EngineMap{
		RPM: []float64{1000, 3600, 5000}, Torque: []float64{torque, torque, torque}, LimiterRPM: 4900,
	})
	car.RollingCoef, car.RollingCoefV = 0.01, 0.01/(147*foot)
	car.Aero.DragArea = 0.35 * 25 * foot * foot
	car.TyreRadius = 14 * foot / 12
	// The book lets the car fall behind the wheels by 3.5 %; ours lets the
	// wheels run ahead of the car.
	car.DriveSlip = 1/(1-0.035) - 1
	car.Efficiency = []float64{0.93, 0.93}
	m := model(t, car, newTrack().straight(100).t, 0.002378*slug/(foot*foot*foot), 0)
	v := m.Speed(3600, 3.2)
	numtest.Equal(t, "speed (ft/s)", 132.63, v/foot, 0.005, 0)
	numtest.Equal(t, "engine speed back (1/min)", 3600, m.RPM(v, 3.2), 0, 1e-12)
	effort := m.TractiveEffort(v, 1, 3.2)
	numtest.Equal(t, "tractive effort (lb)", 535.68, effort/pound, 0.005, 0)
	numtest.Equal(t, "air and rolling (lb)", 183.02+60.87, m.RoadLoad(v)/pound, 0.01, 0)
	numtest.Equal(t, "greatest grade (%)", 9.12, 100*(effort-m.RoadLoad(v))/(3200*pound), 0.005, 0)
}
