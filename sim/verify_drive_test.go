package sim

import (
	"math"
	"testing"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// The car of Example Problem 1 in T. D. Gillespie, Fundamentals of Vehicle
// Dynamics, SAE 1992, ch. 2. Its data and answers are from memory; the answers
// were recomputed.
const (
	gillespieRadius = 12.589 * foot / 12 // 801 turns to the mile
	gillespieFinal  = 2.92
)

func gillespieRatios() []float64 { return []float64{4.28, 2.79, 1.83, 1.36, 1.00} }

func gillespie() *cars.Car {
	car := point(1500, 10, cars.EngineMap{LimiterRPM: 5200})
	m := &car.Engine.Maps[0]
	for i, t := range []float64{120, 132, 145, 160, 175, 181, 190, 198, 200, 201, 198, 180} {
		m.RPM = append(m.RPM, 800+400*float64(i))
		m.Torque = append(m.Torque, t*pound*foot)
	}
	car.TyreRadius = gillespieRadius
	car.Efficiency = nil
	for _, e := range []float64{0.966, 0.967, 0.972, 0.973, 0.970} {
		car.Efficiency = append(car.Efficiency, e*0.99)
	}
	car.Box = &gearbox.Box{Gears: 5, UpshiftTime: []float64{0, 0, 0, 0}}
	return car
}

// First gear 2290 lb at 26.4 mph, fifth 537 lb at 112.9 mph, both at 4400
// 1/min.
func TestTractiveEffort(t *testing.T) {
	m := model(t, gillespie(), newTrack().straight(100).t, 0, 0)
	for _, c := range []struct {
		gear        int
		force, pace float64 // lb, mph
	}{{1, 2290, 26.4}, {5, 537, 112.9}} {
		total := gillespieRatios()[c.gear-1] * gillespieFinal
		v := m.Speed(4400, total)
		numtest.Equal(t, "speed (mph)", c.pace, v/mph, 0.05, 0)
		numtest.Equal(t, "tractive effort (lb)", c.force, m.TractiveEffort(v, c.gear, total)/pound, 0.5, 0)
	}
}

// Speeds at 5200 1/min in the five gears, recomputed.
func TestSpeedsInTheGears(t *testing.T) {
	m := model(t, gillespie(), newTrack().straight(100).t, 0, 0)
	for i, want := range []float64{31.17, 47.81, 72.89, 98.08, 133.39} {
		numtest.Equal(t, "speed (mph)", want, m.Speed(5200, gillespieRatios()[i]*gillespieFinal)/mph, 0.005, 0)
	}
}

// Engine 0.8 and gear 1.3 behind 4.28 x 2.92, final drive 1.2 behind 2.92,
// wheels 11, all in in·lb·s²: 349.2 in·lb·s² at the wheels, a mass of 2.2032
// lb·s²/in.
func TestTurningMass(t *testing.T) {
	const inch = foot / 12
	car := gillespie()
	car.TyreRadius = 12.59 * inch // rounded as in the example
	car.Engine.Inertia = (0.8 + 1.3) * pound * inch
	car.WheelInertia = (1.2*gillespieFinal*gillespieFinal + 11) * pound * inch
	b := bodyOf(t, car)
	d := b.newDrive(4.28*gillespieFinal, 1)
	numtest.Equal(t, "inertia at the wheels (in·lb·s²)", 349.2, d.inertia/(pound*inch), 0.05, 0)
	_, turning := b.engineForce(b.speedAt(3000, d.perV), &d)
	numtest.Equal(t, "turning mass (lb·s²/in)", 2.2032, turning/(pound/inch), 5e-5, 0)
}

// The trade's rule of thumb, engine speed = mph x ratio x 336 / tyre diameter
// in inches (common practice; 336 stands for 1056/pi = 336.135): 65 mph, 3.08
// and 30 in give 2242; 8000 1/min, 0.771 x 4.062 and 24.7165 in give 187.9 mph.
// 0.04 % is the rounding of 336.
func TestRuleOfThumb(t *testing.T) {
	car := gillespie()
	car.TyreRadius = 15 * foot / 12
	m := model(t, car, newTrack().straight(100).t, 0, 0)
	numtest.Equal(t, "engine speed (1/min)", 2242.24, m.RPM(65*mph, 3.08), 0, 4.1e-4)
	car.TyreRadius = 0.5 * 24.71653543307 * foot / 12
	m = model(t, car, newTrack().straight(100).t, 0, 0)
	v := m.Speed(8000, 0.771*4.062)
	numtest.Equal(t, "speed by the rule (mph)", 187.907, v/mph, 0, 4.1e-4)
	numtest.Equal(t, "speed with pi (mph)", 187.832, v/mph, 5e-4, 0)
}

// With a tyre that grows, speed and engine speed must still invert each other
// (7.1), (7.2), up to where the growth outruns them.
func TestGrowingTyre(t *testing.T) {
	b := bodyOf(t, demoCar(t))
	for _, ratio := range demoRatios() {
		d := b.newDrive(ratio, 1)
		for rpm := 1000.0; rpm <= 9000; rpm += 500 {
			v := b.speedAt(rpm, d.perV)
			numtest.Equal(t, "engine speed back (1/min)", rpm, b.rpmAt(v, d.perV), 0, 1e-12)
		}
	}
	// No root: the greatest engine speed is at sqrt(r0/growth).
	v := b.speedAt(1e6, b.newDrive(3, 1).perV)
	numtest.Equal(t, "speed (m/s)", math.Sqrt(b.r0/b.growth), v, 0, 1e-12)
}

// P = P_M (x + x² - x³), x = n/n_M: engine polynomial of R. N. Jazar, Vehicle
// Dynamics, ch. 4 (from memory). Full-throttle curves of adjacent gears cross,
// with q = 1/step, at x = (1 + q + sqrt((1+q)² + 4(1+q+q²)))/(2(1+q+q²)) in the
// shorter gear (derived, checked numerically).
func cubicEngine() cars.EngineMap {
	const atMax, torque = 6000.0, 300.0 // 1/min, N·m at x = 0 and 1
	m := cars.EngineMap{LimiterRPM: 1.3 * atMax}
	for x := 0.3; x < 1.32; x += 0.002 {
		m.RPM = append(m.RPM, x*atMax)
		m.Torque = append(m.Torque, torque*(1+x-x*x))
	}
	return m
}

// cubicCrossing is that x for a step.
func cubicCrossing(step float64) float64 {
	q := 1 / step
	return (1 + q + math.Sqrt((1+q)*(1+q)+4*(1+q+q*q))) / (2 * (1 + q + q*q))
}

const cubicSource = "engine of Jazar, Vehicle Dynamics, ch. 4 (from memory); crossing derived"

// gearChecks are shifts that have a closed form.
func gearChecks() []check {
	return []check{
		{name: "crossing of tractive efforts, cubic engine", tol: 1e-6, source: cubicSource, run: cubicCrossings},
		{name: "through two gears of the cubic engine", tol: 1e-6, refine: 1,
			source: cubicSource + ", way and time by partial fractions", run: cubicRun},
	}
}

func cubicCrossings(t testing.TB, _ int) []figure {
	w := worst{what: "engine speed / that of greatest power"}
	for _, aero := range []float64{0, 1.2} { // both gears pay the same drag
		for _, step := range []float64{1.2, 1.35, 1.5} {
			car := point(700, 10, cubicEngine())
			car.Aero.DragArea = aero
			m := model(t, car, newTrack().straight(100).t, 0, 0)
			w.add(cubicCrossing(step), m.RPM(m.CrossSpeed(1, 4*step, 4), 4*step)/6000)
		}
	}
	return []figure{w.f}
}

// cubicRun drives from x 0.7 in the shorter gear through a shift that takes no
// time to x 1.15 in the taller. In a gear whose x is v/vi and whose force at x
// 0 is f, m dv/dt = f (1 + x - x²) = f (p - x)(x - q) with the golden section's
// p and q.
func cubicRun(t testing.TB, refine int) []figure {
	const mass, tall, step = 700.0, 4.0, 1.35
	root := math.Sqrt(5)
	p, q := (1+root)/2, (1-root)/2
	time := func(x float64) float64 { return math.Log((x-q)/(p-x)) / root }
	way := func(x float64) float64 { return (-p*math.Log(p-x) + q*math.Log(x-q)) / root }
	const radius = 0.3
	legs := []struct{ ratio, x0, x1 float64 }{
		{tall * step, 0.7, cubicCrossing(step)}, {tall, cubicCrossing(step) / step, 1.15},
	}
	var wantWay, wantTime float64
	for _, l := range legs {
		vi, f := 6000*units.FromRPM*radius/l.ratio, 300*l.ratio/radius
		wantWay += mass * vi * vi / f * (way(l.x1) - way(l.x0))
		wantTime += mass * vi / f * (time(l.x1) - time(l.x0))
	}
	track := newTrack().straight(wantWay).t
	v0 := legs[0].x0 * 6000 * units.FromRPM * radius / legs[0].ratio
	track.PitLimit, track.PitExit = v0, 0
	car := point(mass, 10, cubicEngine())
	car.Aero.DragArea = 0
	lap := model(t, car, track, 0, refine).OutLap([]float64{tall * step, tall})
	if len(lap.Shifts) != 1 {
		t.Fatalf("%d shifts, want one", len(lap.Shifts))
	}
	return []figure{
		{"time (s)", wantTime, lap.Time},
		{"speed in the end (m/s)", legs[1].x1 * 6000 * units.FromRPM * radius / tall, lastSample(lap).V},
	}
}

func TestUpshiftCrossing(t *testing.T) {
	for _, c := range []struct{ step, x float64 }{
		{1.2, 1.088661}, {1.35, 1.142609}, {1.5, 1.188148},
	} {
		numtest.Equal(t, "crossing (of the speed of greatest power)", c.x, cubicCrossing(c.step), 5e-7, 0)
	}
}

// Turning parts weigh more in the shorter gear, so they move the crossing to
// lower speeds (statement in the lecture notes of a European university course
// on vehicle drives).
func TestInertiaLowersTheCrossing(t *testing.T) {
	car := point(700, 10, cubicEngine())
	car.Aero.DragArea = 1.2
	plain := model(t, car, newTrack().straight(100).t, 0, 0).CrossSpeed(1, 4.8, 4)
	car.Engine.Inertia = 0.1
	heavy := model(t, car, newTrack().straight(100).t, 0, 0).CrossSpeed(1, 4.8, 4)
	if heavy >= plain*(1-1e-6) {
		t.Errorf("with engine inertia the crossing is at %g m/s, without at %g; want lower", heavy, plain)
	}
}

// (8.2) allows for the time that a shift takes. Whatever the form of that
// allowance, it must not make the shift worse than the loss-free crossing,
// which knows nothing of the pause: both shift speeds are driven over the same
// straight by steps of 2 ms of the test's own, from below the shift to well
// after it. 10 µs is far more than those steps are off.
func TestAllowanceForThePauseHelps(t *testing.T) {
	wren := demoCar(t)
	cubic := point(700, 10, cubicEngine())
	cubic.Aero.DragArea = 1.2
	for _, c := range []struct {
		name        string
		car         *cars.Car
		gear        int
		ratio, next float64
		from, way   float64 // m/s, m
	}{
		{"demo car, fifth to sixth", wren, 5, demoRatios()[4], demoRatios()[5], 65, 900},
		{"cubic engine", cubic, 1, 4.8, 4, 30, 900},
	} {
		c.car.Box.UpshiftTime[c.gear-1] = 0
		before := model(t, c.car, newTrack().straight(100).t, 0, 0).CrossSpeed(c.gear, c.ratio, c.next)
		c.car.Box.UpshiftTime[c.gear-1] = 0.045
		m := model(t, c.car, newTrack().straight(1000).t, 0, 0)
		b, road := m.body, &m.reference
		short, tall := b.newDrive(c.ratio, m.eta[c.gear-1]), b.newDrive(c.next, m.eta[c.gear])
		pull := func(d *drive) func(float64) float64 {
			return func(v float64) float64 { a, _ := b.accel(road, v*v, d); return a }
		}
		timeFor := func(shift float64) float64 {
			r := roll{v: c.from}
			r.until(pull(&short), func(r roll) float64 { return r.v - shift })
			pause := r.t + 0.045
			r.until(func(v float64) float64 { return b.coastAccel(road, v) }, func(r roll) float64 { return r.t - pause })
			r.until(pull(&tall), func(r roll) float64 { return r.s - c.way })
			return r.t
		}
		with := m.CrossSpeed(c.gear, c.ratio, c.next)
		if got, plain := timeFor(with), timeFor(before); !(got <= plain+1e-5) {
			t.Errorf("%s: the shift of (8.2) at %.2f m/s takes %.5f s, the loss-free crossing at %.2f m/s %.5f s: the allowance loses %.2f ms",
				c.name, with, got, before, plain, 1e3*(got-plain))
		}
	}
}

// roll is a car on a level straight, moved by steps in time.
type roll struct{ t, s, v float64 } // s, m, m/s

// after is r one step of the classical Runge-Kutta method later.
func (r roll) after(h float64, acc func(v float64) float64) roll {
	a1 := acc(r.v)
	a2 := acc(r.v + 0.5*h*a1)
	a3 := acc(r.v + 0.5*h*a2)
	a4 := acc(r.v + h*a3)
	return roll{
		t: r.t + h,
		s: r.s + h*r.v + h*h/6*(a1+a2+a3),
		v: r.v + h/6*(a1+2*a2+2*a3+a4),
	}
}

// until rolls to where left, which grows, becomes 0: the last step is cut.
func (r *roll) until(acc func(v float64) float64, left func(r roll) float64) {
	const h = 2e-3 // s
	for {
		next := r.after(h, acc)
		if left(next) < 0 {
			*r = next
			continue
		}
		lo, hi := 0.0, h
		for range 60 {
			if mid := 0.5 * (lo + hi); left(r.after(mid, acc)) < 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		*r = r.after(hi, acc)
		return
	}
}

// Negative test: in Gillespie's data no two neighbouring curves cross below
// 5200 1/min, so every upshift comes at the limit.
func TestNoCrossing(t *testing.T) {
	m := model(t, gillespie(), newTrack().straight(100).t, 0, 0)
	r := gillespieRatios()
	for g := 1; g < len(r); g++ {
		a, b := r[g-1]*gillespieFinal, r[g]*gillespieFinal
		numtest.Equal(t, "upshift (1/min)", 5200, m.RPM(m.CrossSpeed(g, a, b), a), 0, 1e-9)
		v := m.Speed(5200*(1-1e-9), a)
		if now, next := m.TractiveEffort(v, g, a), m.TractiveEffort(v, g+1, b); now <= next {
			t.Errorf("gear %d pulls %g N at the limit, the next %g N; want more", g, now, next)
		}
	}
}

// Power is torque times engine speed: hp = lb·ft x rpm / 5252 (definition).
func TestPowerAtTheWheels(t *testing.T) {
	m := model(t, gillespie(), newTrack().straight(100).t, 0, 0)
	total := 1.36 * gillespieFinal
	v := m.Speed(4400, total)
	power := m.TractiveEffort(v, 4, total) * v / (0.973 * 0.99) / (550 * pound * foot) // hp
	numtest.Equal(t, "power (hp)", 201*4400/5252.113, power, 0, 1e-6)
	numtest.Equal(t, "the constant", 5252.113, 550*units.ToRPM, 5e-4, 0)
}
