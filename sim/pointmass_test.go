package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// Units of the published examples; exact by definition.
const (
	foot      = 0.3048      // m
	mile      = 5280 * foot // m
	poundMass = 0.45359237  // kg
	pound     = poundMass * units.Gravity
	mph       = mile / 3600 // m/s
	kmh       = 1 / 3.6     // m/s
)

// textbookG is the gravity (m/s²) of most published examples. The program
// takes the standard 9.80665: where a test quotes mu and a speed, mu·g is held
// at the example's product by scaling mu.
const textbookG = 9.80

// point reduces the real car to the point mass of the textbooks: one grip
// coefficient whatever the load, no load transfer, no cornering drag, nothing
// that rolls or turns or slips, no air. Nearly all weight is on the driven
// axle, so that it may use the whole friction circle. Tests then put back the
// one thing that they are about. The wheel turns once per turn of the engine.
func point(mass, mu float64, torque cars.EngineMap) *cars.Car {
	tyre := cars.Tyre{MuX: mu, MuY: mu, RefLoad: 2000, Stiffness: 1e15}
	return &cars.Car{
		Name: "point", Mass: mass, FrontShare: 1e-9, Wheelbase: 3, RearDriven: true,
		Front: tyre, Rear: tyre, TyreRadius: 0.3,
		Engine:     cars.Engine{Maps: []cars.EngineMap{torque}, OverRevRPM: 1e6},
		Aero:       cars.Aero{FrontShare: 1e-9},
		Efficiency: []float64{1, 1},
		Box:        &gearbox.Box{Gears: 2, UpshiftTime: []float64{0}},
	}
}

// flatTorque is an engine that gives force (N) at the wheels of point at any
// speed up to 190 m/s.
func flatTorque(force float64) cars.EngineMap {
	t := force * 0.3
	return cars.EngineMap{RPM: []float64{1, 3000, 6000, 6100}, Torque: []float64{t, t, t, t}, LimiterRPM: 6050}
}

// flatPower is an engine that gives power (W) from 8 to 120 m/s in point, with
// points so close that the curve between them is off by less than 1e-8.
func flatPower(power float64) cars.EngineMap {
	m := cars.EngineMap{LimiterRPM: 120 / 0.3 * units.ToRPM}
	for rpm := 8 / 0.3 * units.ToRPM; rpm < m.LimiterRPM+2; rpm++ {
		m.RPM = append(m.RPM, rpm)
		m.Torque = append(m.Torque, power/(rpm*units.FromRPM))
	}
	return m
}

// model makes the model of a test on the standard day; density (kg/m³) 0
// stands for the standard one.
func model(t testing.TB, car *cars.Car, track *tracks.Track, density float64, refine int) *Model {
	t.Helper()
	cond := stillAir(0)
	if density > 0 {
		cond.AirDensity = density
	}
	m, err := New(car, track, cond, &Settings{Refine: refine})
	require.NoError(t, err)
	return m
}

// placeOn is a place in an arc of the radius (m, +Inf for a straight) with
// bank and grade (rad), made by the program's own makePlace.
func placeOn(car *cars.Car, radius, bank, grade float64) *place {
	cond := stillAir(0)
	seg := tracks.Segment{Length: 1, K0: 1 / radius, K1: 1 / radius, Bank0: bank, Bank1: bank, Grade: grade, Grip: 1}
	p := makePlace(car, &seg, 0.5, &cond)
	return &p
}

// bodyOf is the program's reduction of a car, without fuel.
func bodyOf(t testing.TB, car *cars.Car) *body {
	t.Helper()
	cond := stillAir(0)
	b, err := newBody(car, &car.Engine.Maps[0], &cond)
	require.NoError(t, err)
	return b
}

// circle is one full circle to the left.
func circle(radius float64) *tracks.Track {
	b := newTrack()
	b.t.Corners = append(b.t.Corners, tracks.Corner{Name: "circle", End: 2 * math.Pi * radius})
	b.add(2*math.Pi*radius, 1/radius, 1/radius, 0, 0, 0, 0)
	return b.t
}
