package sim

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// Without anything that holds a car back every way is elementary mechanics. The
// ideal car pulls with a; from v with d to go it needs
//
//	V = (sqrt(v² + 2 a d) - v) / a.
//
// The car has that a in first gear up to vs, rolls at vs for tau, pulls with less
// in second, and is held on the limiter at vl to the end.
func TestLossByHand(t *testing.T) {
	const (
		mass, force      = 700.0, 5000.0
		first, second    = 1.2, 1.0 // ratios
		tau              = 0.08
		v0, vs, vl       = 20.0, 30.0, 40.0
		length           = 400.0
		a, less          = first * force / mass, second * force / mass
		radius           = 0.3 // of point's tyre
		limiter, shiftAt = vl / radius * units.ToRPM * second, vs / radius * units.ToRPM * first
	)
	car := point(mass, 10, flatTorque(force))
	car.Engine.Maps[0].LimiterRPM = limiter
	car.Box.UpshiftTime = []float64{tau}
	m, err := New(car, newTrack().straight(length).t, stillAir(0), &Settings{ShiftRPM: []float64{shiftAt}, Refine: 3})
	require.NoError(t, err)
	lap := m.RestartLap([]float64{first, second}, v0)
	require.Empty(t, lap.Infeasible)
	// One gear with first gear's force at any speed.
	e := m.NewIdeal([]float64{first / 4}, []float64{4})
	got, err := m.LossAccount(lap, e)
	require.NoError(t, err)

	toGo := func(v, s float64) float64 { return (math.Sqrt(v*v+2*a*(length-s)) - v) / a }
	s1 := (vs*vs - v0*v0) / (2 * a)
	s2 := s1 + vs*tau
	s3 := s2 + (vl*vl-vs*vs)/(2*less)
	want := []GearLoss{
		{Shift: tau + toGo(vs, s2) - toGo(vs, s1)},
		{Pulling: (vl-vs)/less + toGo(vl, s3) - toGo(vs, s2), Limiter: (length-s3)/vl - toGo(vl, s3)},
	}
	// The places of shift and limiter are found by bisection.
	const tol = 1e-8 // s
	numtest.Equal(t, "ideal (s)", toGo(v0, 0), got.Ideal, tol, 0)
	for g := range want {
		numtest.Equal(t, "pulling (s)", want[g].Pulling, got.Gears[g].Pulling, tol, 0)
		numtest.Equal(t, "limiter (s)", want[g].Limiter, got.Gears[g].Limiter, tol, 0)
		numtest.Equal(t, "shift (s)", want[g].Shift, got.Gears[g].Shift, tol, 0)
		numtest.Equal(t, "limit (s)", 0, got.Gears[g].Limit, tol, 0)
	}
}

// manyGears is an ideal car of ratios from 9.5 down to 2.9, in steps of a fiftieth,
// and of a set's own.
func manyGears(m *Model, set []float64) *Ideal {
	var total, eta []float64
	for r := 9.5; r > 2.9; r /= 1.02 {
		total, eta = append(total, r), append(eta, slices.Max(m.eta))
	}
	for g, r := range set {
		total, eta = append(total, r), append(eta, m.eta[g])
	}
	return m.NewIdeal(total, eta)
}

// lossSets are the set of the demo and others around it.
func lossSets() [][]float64 {
	sets := [][]float64{demoRatios()}
	d := seeded(15)
	for range 4 {
		set := demoRatios()
		for g := range set {
			set[g] *= d(0.96, 1.04, "ratio")
		}
		sets = append(sets, set)
	}
	return sets
}

// mostGained (s) is how far below nothing a line of the account may be: what the
// lap's own steps leave, 30 to 60 µs on these circuits (section 12 of MODEL.md),
// is in the same moments.
const mostGained = 50e-6

// gearsOf adds up the losses by gear of all places.
func (a *LossAccount) gearsOf() []GearLoss {
	sum := make([]GearLoss, len(a.Gears))
	for _, p := range a.Places {
		for g, l := range p.Gears {
			sum[g].Pulling += l.Pulling
			sum[g].Limiter += l.Limiter
			sum[g].Shift += l.Shift
			sum[g].Limit += l.Limit
		}
	}
	return sum
}

// Every way of adding up gives the lap less the ideal lap, nothing is gained on
// the ideal car, and its lap is that of the search's zones where there are any.
func TestLossAddsUp(t *testing.T) {
	const tol = 1e-9 // s, of sums of a thousand numbers near 100 s
	for _, name := range circuits() {
		for what, day := range map[string]Conditions{"still": stillAir(20), "windy": windy()} {
			m, err := New(demoCar(t), embedded(t, name), day, nil)
			require.NoError(t, err)
			for i, set := range lossSets() {
				e := manyGears(m, set)
				for _, lap := range []*Lap{m.Lap(set), m.OutLap(set), m.RestartLap(set, 25)} {
					what := name + ", " + what + ", " + lap.Kind.String()
					require.Empty(t, lap.Infeasible, "%s, set %d", what, i)
					a, err := m.LossAccount(lap, e)
					require.NoError(t, err, what)
					numtest.Equal(t, what+": total (s)", lap.Time-a.Ideal, a.Total, tol, 0)
					numtest.Equal(t, what+": curve (s)", a.Total, a.Curve[len(lap.Samples)-1], tol, 0)
					byGear, byPlace := 0.0, 0.0
					for g, l := range a.Gears {
						byGear += l.Total()
						for _, one := range []float64{l.Pulling, l.Limiter, l.Shift, l.Limit} {
							if !(one > -mostGained) {
								t.Errorf("%s: gear %d gains %g s: %+v", what, g+1, -one, l)
							}
						}
						numtest.Equal(t, what+": places, one gear (s)", l.Total(), a.gearsOf()[g].Total(), tol, 0)
					}
					for i := range a.Places {
						p := &a.Places[i]
						byPlace += p.Total()
						if !(p.Total() > -mostGained) {
							t.Errorf("%s: %s gains %g s", what, p.Place, -p.Total())
						}
					}
					numtest.Equal(t, what+": by gear (s)", a.Total, byGear, tol, 0)
					numtest.Equal(t, what+": by place (s)", a.Total, byPlace, tol, 0)
					for i := 1; i < len(a.Curve); i++ {
						if !(a.Curve[i]-a.Curve[i-1] > -mostGained) {
							t.Errorf("%s: at %.0f m the car gains %g s", what, lap.Samples[i].S, a.Curve[i-1]-a.Curve[i])
						}
					}
					zones := m.FlyingZones(e)
					if lap.Kind == Out {
						zones = m.OutZones(e)
					}
					if lap.Kind == Restart || zones == nil {
						continue
					}
					ideal := 0.0
					for _, z := range zones {
						ideal += z.Ideal
					}
					// A zone may begin on the limit a little sooner than the ideal car
					// is there: a ten-thousandth of v² at most.
					numtest.Equal(t, what+": ideal lap (s)", ideal, a.Ideal, 1e-5, 0)
				}
			}
		}
	}
}

// What a car is behind by in the account is what the search's own time to go says:
// two routes from the same moments.
func TestBehindIsTimeToGo(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "harrowdale"), windy(), nil)
	require.NoError(t, err)
	e := manyGears(m, nil)
	r, looked := m.idealRound(e), 0
	lap := m.Lap(demoRatios())
	for _, z := range m.FlyingZones(e) {
		if z.Last {
			continue
		}
		_, end := r.at(z.End)
		for i := range lap.Samples {
			at := &lap.Samples[i]
			s := at.S
			if s < z.Start.s {
				s += m.length
			}
			if s <= z.Start.s || s >= z.End || at.Phase == Capped {
				continue
			}
			got, ok := r.behind(s, at.V*at.V)
			require.True(t, ok)
			// Steps of one begin and end where those of the other do not.
			numtest.Equal(t, "behind (s)", m.IdealTime(&z, s, at.V*at.V, e)-(end-r.clock(s)), got, 2e-6, 0)
			looked++
		}
	}
	require.Greater(t, looked, 100)
}

// A car of one gear against the ideal car of that gear: nothing is lost but what
// the ideal car's table is raised by.
func TestOneGearLosesNothing(t *testing.T) {
	car := demoCar(t)
	car.Box.Gears, car.Engine.PullingRPM = 1, 0
	m, err := New(car, embedded(t, "saltmere"), windy(), nil)
	require.NoError(t, err)
	set := []float64{3.1} // never on the limiter
	e := m.NewIdeal(set, m.eta[:1])
	for _, lap := range []*Lap{m.Lap(set), m.RestartLap(set, 50)} {
		require.Empty(t, lap.Infeasible)
		a, err := m.LossAccount(lap, e)
		require.NoError(t, err)
		t.Logf("%s: %+v s of %.1f s", lap.Kind, a.Gears[0], lap.Time)
		numtest.Equal(t, lap.Kind.String()+": lost (s)", 0, a.Total, 1e-4, 0)
	}
}

// A hundredth more of the pause out of a gear costs a hundredth of what its shifts
// lose: the account against laps driven again.
func TestShiftLossIsWhatAPauseCosts(t *testing.T) {
	const more = 0.01
	for _, name := range []string{"harrowdale", "quayside"} {
		m, err := New(demoCar(t), embedded(t, name), stillAir(20), nil)
		require.NoError(t, err)
		lap := m.Lap(demoRatios())
		a, err := m.LossAccount(lap, manyGears(m, demoRatios()))
		require.NoError(t, err)
		for g := range 3 {
			car := demoCar(t)
			box := *car.Box
			box.UpshiftTime = slices.Clone(box.UpshiftTime)
			box.UpshiftTime[g] *= 1 + more
			car.Box = &box
			slower, err := New(car, m.track, m.cond, nil)
			require.NoError(t, err)
			cost := (slower.NewSolver().LapTime(demoRatios()) - m.NewSolver().LapTime(demoRatios())) / more
			t.Logf("%s, gear %d: %.4f s booked, %.4f s by laps", name, g+1, a.Gears[g].Shift, cost)
			// The pause is not short beside what it costs: the last tenth of it costs a
			// little more or less than the first.
			numtest.Equal(t, name+": shifts (s)", cost, a.Gears[g].Shift, 0, 0.06)
		}
	}
}

// A worse pair in one gear shows mainly at that gear and its neighbours; beyond
// them a passage may begin in another gear than before.
func TestAWorseGearIsToBlame(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "harrowdale"), stillAir(20), nil)
	require.NoError(t, err)
	base := demoRatios()
	e := manyGears(m, base)
	account := func(set []float64) *LossAccount {
		lap := m.Lap(set)
		require.Empty(t, lap.Infeasible)
		a, err := m.LossAccount(lap, e)
		require.NoError(t, err)
		return a
	}
	good := account(base)
	for g := 1; g < 4; g++ { // gears 2 to 4
		for _, by := range []float64{0.95, 1.05} {
			set := slices.Clone(base)
			set[g] *= by
			bad := account(set)
			near := 0.0
			for h := g - 1; h <= g+1; h++ {
				near += bad.Gears[h].Total() - good.Gears[h].Total()
			}
			rise := bad.Total - good.Total
			t.Logf("gear %d x %.2f: %.4f s more, %.4f s at it and its neighbours", g+1, by, rise, near)
			numtest.Equal(t, "at the gear and its neighbours (s)", rise, near, 0, 0.2)
		}
	}
}

// The places are the corners and straights of the track, in order, all the way
// round.
func TestLossPlaces(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "harrowdale"), stillAir(20), nil)
	require.NoError(t, err)
	a, err := m.LossAccount(m.Lap(demoRatios()), manyGears(m, nil))
	require.NoError(t, err)
	require.Len(t, a.Places, 28)
	require.Equal(t, "after T14", a.Places[0].Place)
	require.Equal(t, "T1 Lambfold", a.Places[1].Place)
	require.Greater(t, a.Places[0].From, a.Places[0].To) // over the line
	for i := range a.Places {
		require.Equal(t, a.Places[i].To, a.Places[(i+1)%len(a.Places)].From)
	}
}

// What has no account says so.
func TestNoLossAccount(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), nil)
	require.NoError(t, err)
	e := manyGears(m, nil)
	open := *m.Lap(demoRatios())
	open.Samples = open.Samples[:len(open.Samples)/2]
	for what, lap := range map[string]*Lap{
		"standing start": m.StartLap(demoRatios()),
		"cannot drive":   {Infeasible: "no"},
		"as it began":    &open,
	} {
		_, err := m.LossAccount(lap, e)
		require.ErrorIs(t, err, ErrNoLossAccount)
		require.ErrorContains(t, err, what)
	}
	_, err = m.LossAccount(m.Lap(demoRatios()), m.NewIdeal([]float64{400}, []float64{1}))
	require.ErrorIs(t, err, ErrNoLossAccount)
}
