package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// sumOf is the turns of the loads and the work (J) that they bring into the box.
func sumOf(duties []Duty) (turns, work float64) {
	for _, d := range duties {
		for _, l := range d.Loads {
			turns += l.Cycles
			work += 2 * math.Pi * l.Cycles * l.Size
		}
	}
	return turns, work
}

// Round a circle at its corner limit torque and speed are constant: turns, torque
// and the damage sum have figures by hand, by the equations of MODEL.md.
func TestDutyRoundACircle(t *testing.T) {
	const radius, air = 60.0, 1.225
	car := demoCar(t)
	car.BoxDrag = 2
	m, err := New(car, circle(radius), stillAir(20), nil)
	require.NoError(t, err)
	v, way, mass := m.CornerSpeed(10), 2*math.Pi*radius, car.Mass+20
	down := 0.5 * air * car.Aero.DownforceArea * v * v
	front := mass*units.Gravity*car.FrontShare + down*car.Aero.FrontShare
	rear := mass*units.Gravity*(1-car.FrontShare) + down*(1-car.Aero.FrontShare)
	side := mass * v * v / radius
	sideF, sideR := side*car.FrontShare, side*(1-car.FrontShare)
	thrust := 0.5*air*car.Aero.DragArea*v*v + (front+rear)*(car.RollingCoef+car.RollingCoefV*v+car.RollingCoefVV*v*v) +
		sideF*sideF/(car.Front.Stiffness*front) + sideR*sideR/(car.Rear.Stiffness*rear)
	gear := m.Lap(demoRatios()).Samples[0].Gear
	total, r := demoRatios()[gear-1], car.TyreRadius+car.TyreGrowth*v*v
	turns := way * total * (1 + car.DriveSlip) / (2 * math.Pi * r)
	torque := thrust*r/(total*car.Efficiency[gear-1]) + 2

	duties := m.Duties(demoRatios())
	for g, d := range duties {
		if g != gear-1 {
			require.Equal(t, Duty{}, d)
		}
	}
	d := duties[gear-1]
	numtest.Equal(t, "way (m)", way, d.Way, 0, 1e-9)
	numtest.Equal(t, "time (s)", way/v, d.Time, 0, 1e-8)
	numtest.Equal(t, "turns", turns, d.Turns, 0, 1e-8) // the corner limit is found to 1e-9
	loaded, work := sumOf(duties)
	numtest.Equal(t, "turns under load", turns, loaded, 0, 1e-8)
	numtest.Equal(t, "work into the box (J)", 2*math.Pi*turns*torque, work, 0, 1e-8)
	const p, cycles, size = 8.738, 1e5, 300.0
	numtest.Equal(t, "damage", turns/cycles*math.Pow(torque/size, p),
		gearbox.Miner(d.Loads, gearbox.Load{Cycles: cycles, Size: size}, p), 0, 1e-6)
}

// An engine of constant torque and no inertia: wherever full throttle pulls the
// load is that torque, and the turns are those of the way there, which the trace
// tells by itself. Tyres of no growth make turns and way proportional.
func TestDutyOfConstantTorque(t *testing.T) {
	const torque = 240.0
	car := demoCar(t)
	car.Engine.Inertia, car.TyreGrowth = 0, 0
	for i := range car.Engine.Maps[0].Torque {
		car.Engine.Maps[0].Torque[i] = torque
	}
	m, err := New(car, embedded(t, "harrowdale"), stillAir(20), nil)
	require.NoError(t, err)
	lap := m.Lap(demoRatios())
	require.Empty(t, lap.Infeasible)
	way := make([]float64, len(demoRatios()))
	for i := 1; i < len(lap.Samples); i++ {
		a, b := &lap.Samples[i-1], &lap.Samples[i]
		// Off the limit at one end at least: neither tyres nor brakes hold it.
		if a.Phase == Driving && (a.V < a.Limit*(1-1e-6) || b.V < b.Limit*(1-1e-6)) {
			way[a.Gear-1] += b.S - a.S
		}
	}
	const p, cycles, size = 6.225, 1e6, 300.0
	driven := 0
	for g, d := range m.Duties(demoRatios()) {
		var full []gearbox.Load
		turns := 0.0
		for _, l := range d.Loads {
			if math.Abs(l.Size-torque) < 1e-9*torque {
				full = append(full, l)
				turns += l.Cycles
			} else {
				require.Less(t, l.Size, torque)
			}
		}
		want := way[g] * demoRatios()[g] * (1 + car.DriveSlip) / (2 * math.Pi * car.TyreRadius)
		numtest.Equal(t, "turns at full throttle", want, turns, 1e-6, 2e-3) // pieces that only touch the limit
		numtest.Equal(t, "damage at full throttle", turns/cycles*math.Pow(torque/size, p),
			gearbox.Miner(full, gearbox.Load{Cycles: cycles, Size: size}, p), 1e-15, 1e-12)
		if want > 0 {
			driven++
		}
	}
	require.Greater(t, driven, 3)
}

// On a circuit and an oval: ways, times and limiter are those of the lap's own report. What
// goes into the box is the work at the crank (10.7, another account) less what
// spins the engine up while the throttle is open, which the trace tells.
func TestDutiesAndTheLap(t *testing.T) {
	for _, name := range []string{"harrowdale", "saltmere"} {
		for _, inertia := range []float64{0, 0.09} {
			car := demoCar(t)
			car.Engine.Inertia, car.DriveSlip = inertia, 0
			m, err := New(car, embedded(t, name), windy(), nil)
			require.NoError(t, err)
			lap := m.Lap(demoRatios())
			require.Empty(t, lap.Infeasible)
			duties := m.Duties(demoRatios())
			way := 0.0
			for g, d := range duties {
				way += d.Way
				numtest.Equal(t, name+": time in gear (s)", lap.TimeInGear[g], d.Time, 1e-9, 1e-9)
			}
			numtest.Equal(t, name+": way (m)", m.Track().Length, way, 1e-6, 0)
			_, work := sumOf(duties)
			if inertia == 0 {
				numtest.Equal(t, name+": work into the box (J)", lap.Energy.Engine, work, 0, 1e-5)
				numtest.Equal(t, name+": work at the crank (J)", lap.EngineWork, work, 0, 1e-9)
				continue
			}
			spun := 0.0
			for i := 1; i < len(lap.Samples); i++ {
				a, b := &lap.Samples[i-1], &lap.Samples[i]
				if a.Phase == Driving || a.Phase == Capped && b.V > a.V && b.Gear == a.Gear {
					spun += 0.5 * inertia * (m.spinAt(b.V, a.Gear) - m.spinAt(a.V, a.Gear))
				}
			}
			require.True(t, name == "saltmere" || spun > 0.01*work)
			// Some of a steady corner is driven while the car slows a little; the
			// oval has next to nothing of either.
			numtest.Equal(t, name+": spent on spin (J)", spun, lap.EngineWork-work, 5e-5*work, 0.02)
		}
	}
}

// spinAt is the square of the engine speed (rad/s) at v (m/s) in a gear (from 1).
func (m *Model) spinAt(v float64, gear int) float64 {
	w := m.RPM(v, demoRatios()[gear-1]) / units.ToRPM
	return w * w
}

// Whole laps on the limiter touch it once; a spell over the line is one.
func TestLimiterTouches(t *testing.T) {
	lap := func(phases ...Phase) *Lap {
		l := &Lap{}
		for _, p := range phases {
			l.Samples = append(l.Samples, Sample{Phase: p, RPM: 8000})
		}
		return l
	}
	const d, l, c = Driving, Limiting, Capped
	for _, x := range []struct {
		want int
		lap  *Lap
	}{
		{0, lap(d, c, d)}, {1, lap(d, l, l, c, d)}, {2, lap(d, l, d, l, c)}, {1, lap(l, d, c, l)}, {1, lap(l, l, l)}, {0, lap()},
	} {
		require.Equal(t, x.want, x.lap.LimiterTouches(9000))
	}
	above := lap(d, d, c)
	above.Samples[1].RPM = 9100 // begun above the limiter: no drive
	require.Equal(t, 1, above.LimiterTouches(9000))
	begun := lap(l, d, l)
	begun.Kind = Start
	require.Equal(t, 2, begun.LimiterTouches(9000))

	m, err := New(demoCar(t), longStraight(), stillAir(20), nil)
	require.NoError(t, err)
	require.Equal(t, 1, m.Lap(inTop(3.62)).LimiterTouches(9000)) // held on it all the way
	require.Equal(t, 0, m.Lap(inTop(3.3587)).LimiterTouches(9000))
}
