package sim

import (
	"math"
	"testing"

	"layshaft/cars"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// brakeChecks are the ends of straights. The samples on the braking curve are
// held against speed and time as functions of the way to the bend.
func brakeChecks() []check {
	const gillespie = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 3 (from memory): x = (m/2c) ln(1 + c v²/F)"
	return []check{
		{name: "braking with drag", tol: 1e-6, refine: 2, source: gillespie,
			run: func(t testing.TB, refine int) []figure { return brakings()[0].figures(t, refine) }},
		{name: "braking with drag and downforce", tol: 1e-6, refine: 2, source: gillespie + ", mu times downforce joining the drag",
			run: func(t testing.TB, refine int) []figure { return brakings()[1].figures(t, refine) }},
	}
}

const stopStraight = 1500.0 // m

// stopTrack ends a straight in a hairpin.
func stopTrack(radius float64) *tracks.Track {
	return newTrack().straight(stopStraight).corner(radius, math.Pi, 0, 0).t
}

// braking is a stop against a constant force with drag c v² and downforce kz
// v², from 80 m/s and more into a bend. Published (recomputed): m 600 kg, F
// 600·9.81·1.5 N, c 0.72, 80 m/s to rest: 174.988 m in 4.70809 s; m 620, mu
// 1.5, kz 2.15: 104.228 m.
type braking struct {
	mass, mu, kz float64 // kg, -, kg/m
	way, time    float64 // m and s from 80 m/s to rest; NaN = not at hand
}

const brakeG, brakeDrag, brakeRadius = 9.81, 0.72, 20.0 // m/s², kg/m, m

func brakings() []braking {
	return []braking{
		{600, 1.5, 0, 174.988, 4.70809},
		{620, 1.5, 2.15, 104.228, math.NaN()},
	}
}

func (b braking) force() float64 { return b.mass * b.mu * brakeG }
func (b braking) k() float64     { return brakeDrag + b.mu*b.kz }

// bend is the speed of the bend: lateral force and drag share the circle.
func (b braking) bend() float64 {
	return math.Sqrt(b.force() / (math.Hypot(b.mass/brakeRadius, brakeDrag) - b.mu*b.kz))
}

// before is the speed x (m) before the bend, timeTo the time from v to v1.
func (b braking) before(x float64) float64 {
	w := b.force() / b.k()
	return math.Sqrt((w+b.bend()*b.bend())*math.Exp(2*b.k()*x/b.mass) - w)
}

func (b braking) timeTo(v, v1 float64) float64 {
	q := math.Sqrt(b.k() / b.force())
	return b.mass / math.Sqrt(b.k()*b.force()) * (math.Atan(v*q) - math.Atan(v1*q))
}

func (b braking) wayToRest(v float64) float64 {
	return b.mass / (2 * b.k()) * math.Log(1+b.k()*v*v/b.force())
}

func (b braking) lap(t testing.TB, refine int) *Lap {
	mu := b.mu * brakeG / units.Gravity
	car := point(b.mass, mu, flatTorque(8000))
	car.Aero.DragArea = 2 * brakeDrag / 1.225
	car.Aero.DownforceArea = 2 * b.kz * (b.mu / mu) / 1.225 // mu·kz as given
	return stretch(t, car, stopTrack(brakeRadius), 1.225, 60, refine)
}

// onTheBrakes are the samples of the lap on the braking curve, the last at the
// beginning of the bend.
func onTheBrakes(t testing.TB, lap *Lap) []Sample {
	t.Helper()
	var on []Sample
	for _, p := range lap.Samples {
		if p.S > stopStraight+1e-9 {
			break
		}
		if p.Phase == Capped {
			on = append(on, p)
		}
	}
	if len(on) < 5 || on[0].V < 80 || math.Abs(on[len(on)-1].S-stopStraight) > 1e-9 {
		t.Fatalf("%d samples on the brakes: want some from 80 m/s on to the bend", len(on))
	}
	return on
}

func (b braking) figures(t testing.TB, refine int) []figure {
	on := onTheBrakes(t, b.lap(t, refine))
	end := on[len(on)-1]
	speed, clock := worst{what: "speed (m/s)"}, worst{what: "time still to the bend (s)"}
	for _, p := range on {
		v := b.before(stopStraight - p.S)
		speed.add(v, p.V)
		if p.S < end.S {
			clock.add(b.timeTo(v, b.bend()), end.T-p.T)
		}
	}
	first := on[0]
	return []figure{speed.f, clock.f, {
		"time from first to last (s)",
		b.timeTo(b.before(stopStraight-first.S), b.bend()), end.T - first.T,
	}}
}

func TestBrakingWithDrag(t *testing.T) {
	for _, b := range brakings() {
		on := onTheBrakes(t, b.lap(t, 0))
		first, end := on[0], on[len(on)-1]
		// From 80 m/s down to the first sample and from the bend to rest the
		// same closed form.
		way := b.wayToRest(80) - b.wayToRest(first.V) + end.S - first.S + b.wayToRest(end.V)
		numtest.Equal(t, "way (m)", b.way, way, 5e-4, 0)
		if !math.IsNaN(b.time) {
			time := b.timeTo(80, first.V) + end.T - first.T + b.timeTo(end.V, 0)
			numtest.Equal(t, "time (s)", b.time, time, 5e-5, 0)
		}
	}
}

// Stopping distances on the level with mu 0.8 (lecture notes of a university
// course in traffic engineering, table for 10 to 100 km/h, g 9.8): on the
// braking curve v² is linear in the way, and v²/(2 mu g) is left in the bend.
func TestStoppingDistance(t *testing.T) {
	const decel = 0.8 * textbookG
	const stopRadius = 0.5 // m: the car all but stops
	car := point(1200, decel/units.Gravity, flatTorque(3000))
	car.Wheelbase = 0.5 // a car that fits into the bend
	on := onTheBrakes(t, stretch(t, car, stopTrack(stopRadius), 0, 100, 0))
	bend := on[len(on)-1].V
	numtest.Equal(t, "speed of the bend (m/s)", math.Sqrt(decel*stopRadius), bend, 0, 1e-9)
	for i, want := range []float64{0.49, 1.97, 4.43, 7.87, 12.30, 17.72, 24.11, 31.49, 39.86, 49.21} {
		u := float64(10*(i+1)) * kmh
		u *= u
		way := math.NaN()
		for j := 1; j < len(on); j++ {
			a, b := on[j-1], on[j]
			if a.V*a.V >= u && b.V*b.V <= u {
				way = stopStraight - a.S - (b.S-a.S)*(a.V*a.V-u)/(a.V*a.V-b.V*b.V)
			}
		}
		numtest.Equal(t, "stopping distance (m)", want, way+bend*bend/(2*decel), 0.006, 0)
	}
}

// Braking in a bend, in the manner of Meriam and Kraige, Dynamics, ch. 3 (data
// as printed, answer from memory): 200 ft circle, 3000 lb, 25 mph, all tyres
// together 2400 lb: 21.97 ft/s² with g 32.2 ft/s².
func TestBrakingInABend(t *testing.T) {
	car := point(3000*poundMass, 0.8*32.2*foot/units.Gravity, flatTorque(1))
	for _, share := range []float64{1e-9, 0.5, 0.7} { // the split must not matter to equal tyres
		car.FrontShare = share
		b, p := bodyOf(t, car), placeOn(car, 100*foot, 0, 0)
		l := b.at(p, 25*mph)
		numtest.Equal(t, "deceleration (ft/s²)", 21.97, b.brakeLimit(p, &l)/b.mass/foot, 0.005, 0)
	}
}

// hairpin is straight, hairpin, straight after B. Beckman, The Physics of
// Racing, parts 17 and 18 (2000): straights of 650 ft, a hairpin of inner
// radius 100 and outer radius 200 ft taken on one arc of radius R that begins
// 10·sqrt(2R - 300) ft before the straights' ends; exit at g/2. Printed: times
// to three digits. Entry at 100 mph, braking and cornering at 1 g, g 32 ft/s²
// do not stand in the excerpt seen; with them all 16 printed numbers come out.
type hairpin struct {
	radius                float64 // ft
	entryArc, exit, total float64 // s, mph, s
	printed               string  // which of them
}

func hairpins() []hairpin {
	return []hairpin{
		{150, 11.872, 109.091, 17.541, "printed"},
		{152, 11.773, 107.857, 17.301, "printed"},
		{154, 11.754, 107.422, 17.213, "recomputed"},
		{200, 12.077, 105.627, 16.760, "recomputed"},
	}
}

// figures drives the hairpin twice: with an engine that the limiter holds at
// 100 mph, for the way in, and with one that gives g/2, for the way out.
func (h hairpin) figures(t testing.TB, refine int) []figure {
	const g, mass = 32 * foot, 700.0
	straight := (650 - 10*math.Sqrt(2*h.radius-300)) * foot
	arcEnd := straight + math.Pi*h.radius*foot
	track := newTrack().straight(straight).corner(h.radius*foot, math.Pi, 0, 0).straight(straight).t
	at := func(lap *Lap) Sample {
		for _, p := range lap.Samples {
			if math.Abs(p.S-arcEnd) < 1e-6 {
				return p
			}
		}
		t.Fatalf("R %g ft: no sample at the end of the arc", h.radius)
		return Sample{}
	}
	held := cars.EngineMap{RPM: []float64{1, 3000, 6000}, Torque: []float64{1e3, 1e3, 1e3}}
	held.LimiterRPM = 100 * mph / 0.3 * units.ToRPM
	in := stretch(t, point(mass, g/units.Gravity, held), track, 0, 100*mph, refine)
	if in.Samples[0].Phase != Limiting {
		t.Fatalf("R %g ft: want a start on the limiter", h.radius)
	}
	out := stretch(t, point(mass, g/units.Gravity, flatTorque(mass*g/2)), track, 0, 60*mph, refine)
	return []figure{
		{"entry and arc (s)", h.entryArc, at(in).T},
		{"exit speed (mph)", h.exit, lastSample(out).V / mph},
		{"in all (s)", h.total, at(in).T + out.Time - at(out).T},
	}
}
