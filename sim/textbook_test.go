package sim

import (
	"math"
	"testing"

	"layshaft/internal/numtest"
	"layshaft/tracks"
)

// textbook is the lap as a first course does it, kept as a yardstick of cost
// and error: fixed steps, speed by Euler's rule over the way (u1 = u0 + 2 a ds),
// corner limits walked backwards with full braking, a shift where the next gear
// pulls harder, the shift time as a pause without drive. It uses the solver's
// forces, so that it differs in numerics and shifting alone, and obeys no-shift
// places and the shift margin. Downshifts happen on the limit, and cost nothing.
type textbook struct {
	b       *body
	ds      float64 // m, a whole number of steps to the lap
	places  []place
	limit   []float64 // m²/s², speed² on the corner and braking limit
	noShift []bool
	home    int // where the limit is least: begin and end
	eta     []float64
	pause   []float64 // s
}

// newTextbook prepares what the set does not change; step (m) is rounded to
// divide the lap.
func newTextbook(m *Model, step float64) *textbook {
	tr := m.track
	n := int(math.Round(tr.Length / step))
	k := &textbook{
		b: m.body, ds: tr.Length / float64(n), eta: m.eta, pause: m.shiftTime,
		places: make([]place, n), limit: make([]float64, n), noShift: make([]bool, n),
	}
	seg := 0
	for i := range n {
		s := float64(i) * k.ds
		for seg+1 < len(tr.Segments) && s >= tr.Segments[seg+1].Start {
			seg++
		}
		sg := &tr.Segments[seg]
		k.places[i] = makePlace(m.car, sg, s-sg.Start, &m.cond)
		k.limit[i] = math.Min(k.b.cornerLimit(&k.places[i]), 150*150)
		k.noShift[i] = within(tr.NoShift, s)
		if k.limit[i] < k.limit[k.home] {
			k.home = i
		}
	}
	// Once round, back from the slowest place.
	for j := range n {
		i := ((k.home-j)%n + n) % n
		before := (i + n - 1) % n
		l := k.b.at(&k.places[i], math.Sqrt(k.limit[i]))
		u := k.limit[i] + 2*(k.b.brakeLimit(&k.places[i], &l)+l.resist)/k.b.mass*k.ds
		k.limit[before] = math.Min(k.limit[before], u)
	}
	return k
}

func within(spans []tracks.Span, s float64) bool {
	for _, p := range spans {
		in := s >= p.Start && s < p.End
		if p.End < p.Start {
			in = s >= p.Start || s < p.End
		}
		if in {
			return true
		}
	}
	return false
}

// lap is the flying lap's time (s); gears is working memory.
func (k *textbook) lap(total []float64, gears []drive) float64 {
	for g := range total {
		gears[g] = k.b.newDrive(total[g], k.eta[g])
	}
	n, last := len(k.places), len(total)-1
	t, u, g, paused := 0.0, k.limit[k.home], 0, 0.0
	onLimit := true
	for j := range n {
		i := (k.home + j) % n
		p := &k.places[i]
		if onLimit {
			g = k.best(u, gears)
			paused = 0
		}
		v, d := math.Sqrt(u), &gears[g]
		a, _ := k.b.accel(p, u, d)
		if g < last && paused <= 0 && !k.noShift[i] {
			next, _ := k.b.accel(p, u, &gears[g+1])
			if next > a || u >= d.uShift {
				paused = k.pause[g]
				g++
				a, d = next, &gears[g]
			}
		}
		if paused > 0 || u > d.uLimit {
			a = k.b.coastAccel(p, v)
		}
		next := u + 2*a*k.ds
		if paused <= 0 && u <= d.uLimit {
			next = math.Min(next, d.uLimit)
		}
		end := k.limit[(i+1)%n]
		onLimit = next >= end
		next = math.Max(math.Min(next, end), 1)
		dt := 2 * k.ds / (v + math.Sqrt(next))
		t, u, paused = t+dt, next, paused-dt
	}
	return t
}

// best is the gear that pulls hardest at speed² u, of those whose engine turns
// no faster than the limiter less the margin.
func (k *textbook) best(u float64, gears []drive) int {
	g, most := len(gears)-1, math.Inf(-1)
	for i := range gears {
		if u > gears[i].uShift {
			continue
		}
		if f, turning := k.b.engineForce(math.Sqrt(u), &gears[i]); f/(k.b.mass+turning) > most {
			g, most = i, f/(k.b.mass+turning)
		}
	}
	return g
}

// The yardstick must measure: with shifts that take no time the plain rule is
// the best one, and on ever shorter steps the lap comes to the solver's, half
// the step with half the error. What is left when the first order is taken out
// is where corners and shifts fall between the steps: a few ms, on and off.
func TestTextbookLapIsAYardstick(t *testing.T) {
	set, car := demoRatios(), demoCar(t)
	for g := range car.Box.UpshiftTime {
		car.Box.UpshiftTime[g] = 0
	}
	track := embedded(t, "harrowdale")
	track.NoShift = nil // of which the plain rule knows nothing
	m, err := New(car, track, stillAir(20), &Settings{Refine: 4})
	if err != nil {
		t.Fatal(err)
	}
	truth := m.NewSolver().LapTime(set)
	before := math.NaN()
	for _, ds := range []float64{2, 1, 0.5, 0.25, 0.125} {
		e := newTextbook(m, ds).lap(set, make([]drive, len(set))) - truth
		t.Logf("steps of %5.3f m: %.4f s, off by %+.2f ms", ds, truth+e, 1e3*e)
		if !math.IsNaN(before) {
			numtest.Equal(t, "error for half the step / error", 0.5, e/before, 0.1, 0)
			numtest.Equal(t, "error without its first order (s)", 0, 2*e-before, 5e-3, 0)
		}
		before = e
	}
}

// BenchmarkTextbookLap is the yardstick for BenchmarkFlyingLap: the same car,
// circuit and set, what the set does not change computed beforehand. ms-error
// is against the solver's lap on the 16 times finer mesh.
func BenchmarkTextbookLap(b *testing.B) {
	set := demoRatios()
	m, err := New(demoCar(b), embedded(b, "harrowdale"), stillAir(20), &Settings{Refine: 4})
	if err != nil {
		b.Fatal(err)
	}
	truth := m.NewSolver().LapTime(set)
	k, gears := newTextbook(m, 2), make([]drive, len(set))
	lap := 0.0
	b.ReportAllocs()
	for b.Loop() {
		lap = k.lap(set, gears)
	}
	b.ReportMetric(1e3*math.Abs(lap-truth), "ms-error")
	b.ReportMetric(m.track.Length/1000, "km")
}
