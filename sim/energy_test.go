package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// closes holds an account to a ten-thousandth of the engine's work, and its
// lines to their sense: nothing gives energy that can only take it.
func closes(t testing.TB, what string, lap *Lap) {
	t.Helper()
	e := &lap.Energy
	numtest.Equal(t, what+": residual / engine work", 0, e.Residual()/e.Engine, 1e-4, 0)
	for _, l := range e.Lines()[:10] {
		if given := l.Name == "engine work at the crank" || l.Name == "engine spun up at downshifts"; given != (l.Energy >= 0) && l.Energy != 0 {
			t.Errorf("%s: %s of %g J", what, l.Name, l.Energy)
		}
	}
}

// Every kind of lap on every embedded circuit, with every loss that a car can
// have; the lines are shown with -v.
func TestEnergyCloses(t *testing.T) {
	for _, name := range circuits() {
		for _, back := range []float64{0, 0.6} {
			car := demoCar(t)
			car.BoxDrag, car.ShiftInertiaReturn = 1.5, back
			m, err := New(car, embedded(t, name), windy(), nil)
			require.NoError(t, err)
			for _, lap := range []*Lap{m.Lap(demoRatios()), m.OutLap(demoRatios()), m.StartLap(demoRatios()), m.RestartLap(demoRatios(), 20)} {
				require.Empty(t, lap.Infeasible)
				closes(t, name+", "+lap.Kind.String(), lap)
				if back > 0 {
					continue
				}
				t.Logf("%s, %s: %.3f s", name, lap.Kind, lap.Time)
				for _, l := range lap.Energy.Lines() {
					t.Logf("  %-30s %12.1f kJ %7.2f %%", l.Name, l.Energy/1e3, 100*l.Energy/lap.Energy.Engine)
				}
				t.Logf("  %-30s %12.1f kJ %8.4f %%", "residual", lap.Energy.Residual()/1e3, 100*lap.Energy.Residual()/lap.Energy.Engine)
			}
		}
	}
}

// Round a circle at its corner limit every force is constant: work is force
// times way, and each line has a figure by hand, by the equations of MODEL.md.
func TestEnergyRoundACircle(t *testing.T) {
	const radius, air = 60.0, 1.225
	car := demoCar(t)
	car.BoxDrag = 2
	m, err := New(car, circle(radius), stillAir(20), nil)
	require.NoError(t, err)
	lap := m.Lap(demoRatios())
	require.Empty(t, lap.Infeasible)
	v, way, mass := m.CornerSpeed(10), 2*math.Pi*radius, car.Mass+20
	down := 0.5 * air * car.Aero.DownforceArea * v * v
	front := mass*units.Gravity*car.FrontShare + down*car.Aero.FrontShare
	rear := mass*units.Gravity*(1-car.FrontShare) + down*(1-car.Aero.FrontShare)
	side := mass * v * v / radius
	drag := 0.5 * air * car.Aero.DragArea * v * v
	rolling := (front + rear) * (car.RollingCoef + car.RollingCoefV*v + car.RollingCoefVV*v*v)
	sideF, sideR := side*car.FrontShare, side*(1-car.FrontShare)
	cornering := sideF*sideF/(car.Front.Stiffness*front) + sideR*sideR/(car.Rear.Stiffness*rear)
	thrust := drag + rolling + cornering
	gear := lap.Samples[0].Gear
	turns := demoRatios()[gear-1] * (1 + car.DriveSlip) * way / (car.TyreRadius + car.TyreGrowth*v*v) // rad
	e := &lap.Energy
	for _, l := range []struct {
		what      string
		want, got float64
	}{
		{"air drag", drag * way, e.Drag},
		{"rolling", rolling * way, e.Rolling},
		{"cornering", cornering * way, e.Cornering},
		{"drive slip", thrust * car.DriveSlip * way, e.Slip},
		{"gear meshes", thrust * (1 + car.DriveSlip) * way * (1/car.Efficiency[gear-1] - 1), e.Mesh},
		{"box drag", 2 * turns, e.BoxDrag},
		{"engine", thrust*(1+car.DriveSlip)*way/car.Efficiency[gear-1] + 2*turns, e.Engine},
	} {
		numtest.Equal(t, l.what+" (J)", l.want, l.got, 0, 1e-8) // the corner limit is found to 1e-9
	}
	for _, none := range []float64{e.Brakes, e.Clutch, e.ShiftLoss, e.Blips, e.Grade, e.Kinetic, e.Spin} {
		numtest.Equal(t, "nothing else (J)", 0, none, 1e-8*e.Engine, 0)
	}
}

// From a standstill down a straight: what the car has in the end is ½ m v² and
// ½ J w² of all that turns, at the radius that it has grown to.
func TestEnergyOfAStart(t *testing.T) {
	car := demoCar(t)
	car.TyreGrowth = 2e-6 // three times as much as it has
	tr := newTrack().straight(400).t
	m, err := New(car, tr, stillAir(20), nil)
	require.NoError(t, err)
	lap := m.StartLap(demoRatios())
	require.Empty(t, lap.Infeasible)
	closes(t, "start", lap)
	end := lastSample(lap)
	numtest.Equal(t, "kinetic energy (J)", 0.5*(car.Mass+20)*end.V*end.V, lap.Energy.Kinetic, 0, 1e-9)
	w := end.V / (car.TyreRadius + car.TyreGrowth*end.V*end.V)
	i := demoRatios()[end.Gear-1]
	hold := car.Engine.LaunchRPM / units.ToRPM / (1 + car.DriveSlip) // the engine spins when it begins
	numtest.Equal(t, "spin (J)", 0.5*(car.WheelInertia+car.Engine.Inertia*i*i)*w*w-0.5*car.Engine.Inertia*hold*hold, lap.Energy.Spin, 0, 1e-9)
	// The account of the crank alone, by code of its own.
	numtest.Equal(t, "engine work (J)", lap.EngineWork, lap.Energy.Engine, 0, 1e-4)
	numtest.Equal(t, "clutch (J)", lap.ClutchHeat, lap.Energy.Clutch, 0, 1e-3)
}

// The engine's spin taken at upshifts is that of its two speeds, less what comes
// back: with all of it given back next to nothing is lost.
func TestEnergyOfShifts(t *testing.T) {
	for _, back := range []float64{0, 1} {
		car := demoCar(t)
		car.ShiftInertiaReturn, car.DriveSlip = back, 0
		m, err := New(car, embedded(t, "harrowdale"), stillAir(20), nil)
		require.NoError(t, err)
		lap := m.Lap(demoRatios())
		require.Empty(t, lap.Infeasible)
		closes(t, "flying", lap)
		taken, given := 0.0, 0.0
		for _, s := range lap.Shifts {
			a, b := s.RPMBefore/units.ToRPM, s.RPMAfter/units.ToRPM
			if e := 0.5 * car.Engine.Inertia * (a*a - b*b); e > 0 {
				taken += e
			} else {
				given -= e
			}
		}
		// The account takes the speed after the pause, up to 1 m/s lower.
		numtest.Equal(t, "taken at upshifts (J)", taken, lap.Energy.ShiftLoss+lap.Energy.Returned, 0, 0.15)
		numtest.Equal(t, "returned (J)", back*taken, lap.Energy.Returned, 1e-6, 1e-3)
		if !(given > 0 && lap.Energy.Blips > 0) {
			t.Errorf("downshifts take %g J by the list of shifts, %g J by the account", given, lap.Energy.Blips)
		}
	}
}
