package sim

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/tracks"
)

// dice draws a number between lo and hi; rapid's or a seeded generator's.
type dice func(lo, hi float64, what string) float64

func rapidly(t *rapid.T) dice {
	return func(lo, hi float64, what string) float64 { return rapid.Float64Range(lo, hi).Draw(t, what) }
}

func seeded(n uint64) dice {
	r := rand.New(rand.NewPCG(n, 3))
	return func(lo, hi float64, _ string) float64 { return lo + (hi-lo)*r.Float64() }
}

func (d dice) count(lo, hi int, what string) int {
	return min(int(d(float64(lo), float64(hi)+1, what)), hi)
}

func (d dice) coin(what string) bool { return d(0, 1, what) < 0.5 }

// car is a single-seater, good or bad, of 4 to 8 gears, under the rules that it
// has; still undone by lawless.
func (d dice) car(t testing.TB) *cars.Car {
	car := demoCar(t)
	car.Mass = d(420, 900, "mass")
	car.FrontShare, car.CGHeight = d(0.35, 0.55, "front share"), d(0.15, 0.5, "cg height")
	car.RearDriven = d(0, 1, "rear driven") < 0.85
	car.Aero.DragArea, car.Aero.DownforceArea = d(0.4, 1.7, "drag area"), d(0, 3.5, "downforce area")
	car.Aero.FrontShare = car.FrontShare + d(-0.08, 0.05, "aero balance")
	mu, k := d(1.0, 1.8, "grip"), d(0, 0.25, "load sensitivity")
	for _, tyre := range []*cars.Tyre{&car.Front, &car.Rear} {
		tyre.MuX, tyre.MuY, tyre.LoadSensitivity = mu, mu*d(0.9, 1.1, "side grip"), k
	}
	car.RollingCoef, car.RollingCoefV = d(0.008, 0.025, "rolling"), d(0, 1e-4, "rolling with speed")
	car.TyreGrowth, car.DriveSlip = d(0, 1.5e-6, "growth"), d(0, 0.04, "slip")
	car.WheelInertia, car.Engine.Inertia = d(0.5, 5, "wheel inertia"), d(0.01, 0.12, "engine inertia")
	car.BoxDrag, car.ShiftInertiaReturn = d(0, 3, "box drag"), math.Max(0, d(-0.5, 1, "inertia return"))
	power := d(0.6, 1.4, "torque")
	for i := range car.Engine.Maps {
		m := &car.Engine.Maps[i]
		m.Torque = append([]float64(nil), m.Torque...)
		for j := range m.Torque {
			m.Torque[j] *= power
		}
	}
	n := d.count(4, 8, "gears")
	box := &gearbox.Box{Name: "drawn", Gears: n, DownshiftTime: d(0.05, 0.25, "downshift time")}
	tau := d(0.01, 0.2, "shift time")
	car.Efficiency = nil
	for range n {
		box.UpshiftTime = append(box.UpshiftTime, tau)
		car.Efficiency = append(car.Efficiency, d(0.9, 0.99, "efficiency"))
	}
	box.UpshiftTime = box.UpshiftTime[:n-1]
	car.Box = box
	return car
}

// set is a set of total ratios that suits a car of n gears more or less.
func (d dice) set(n int) []float64 {
	top := d(2.9, 4.6, "top gear")
	first := top * d(1.9, 3.2, "spread")
	set := make([]float64, n)
	bend := d(0.7, 1.3, "progression")
	for g := range set {
		f := math.Pow(float64(g)/float64(n-1), bend)
		set[g] = first * math.Pow(top/first, f)
	}
	return set
}

// lawless takes the rules away that can make a better car slower: pulling rpm,
// over-rev, time for downshifts (model.md, Laws).
func lawless(car *cars.Car) *cars.Car {
	box := *car.Box
	box.DownshiftTime = 0
	car.Box = &box
	car.Engine.PullingRPM, car.Engine.OverRevRPM = 0, 1e9
	return car
}

// track is a lap of one to four corners; it need not close on the map.
func (d dice) track(rules bool) *tracks.Track {
	b := newTrack()
	for range d.count(1, 4, "corners") {
		b.add(d(15, 350, "straight"), 0, 0, 0, 0, d(-0.05, 0.05, "grade"), -1)
		radius := math.Exp(d(math.Log(12), math.Log(250), "log radius"))
		angle := d(0.3, 3, "angle")
		spiral := math.Max(0, d(-0.5, 0.8, "spiral")) * angle * radius
		if spiral < 0.5 {
			spiral = 0
		}
		if d.coin("right") {
			angle = -angle
		}
		b.corner(radius, angle, spiral, d(-0.03, 0.12, "bank"))
	}
	b.add(d(20, 400, "last straight"), 0, 0, 0, 0, d(-0.05, 0.05, "last grade"), -1)
	b.t.PitExit = d(0, 0.2, "pit exit") * b.t.Length
	if rules && d.coin("no-shift place") {
		s := d(0, 0.9, "no shift from") * b.t.Length
		b.t.NoShift = []tracks.Span{{Start: s, End: s + 0.08*b.t.Length}}
	}
	return b.t
}

// day is a day's weather.
func (d dice) day() Conditions {
	c := stillAir(d(0, 80, "fuel"))
	c.AirDensity, c.EngineFactor, c.Grip = d(1, 1.3, "density"), d(0.85, 1.05, "engine factor"), d(0.8, 1.15, "grip factor")
	c.WindSpeed, c.WindFrom = d(0, 12, "wind"), d(-math.Pi, math.Pi, "wind from")
	if d.coin("tow") {
		c.TowDrag, c.TowDownforce, c.TowWhere = d(0.7, 1, "tow drag"), d(0.8, 1, "tow downforce"), []string{tracks.Straights}
	}
	return c
}
