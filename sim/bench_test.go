package sim

import (
	"fmt"
	"math"
	"testing"
)

// BenchmarkFlyingLap is the inner loop of the search on the road course.
func BenchmarkFlyingLap(b *testing.B) {
	m, err := New(demoCar(b), embedded(b, "harrowdale"), stillAir(20), nil)
	if err != nil {
		b.Fatal(err)
	}
	k, set := m.NewSolver(), demoRatios()
	sum := 0.0
	b.ReportAllocs()
	for b.Loop() {
		sum += k.LapTime(set)
	}
	if !(sum > 0) {
		b.Fatal("no lap")
	}
	lap := k.LapTime(set)
	b.ReportMetric(1e3*math.Abs(lap-truth(b, "harrowdale", set, 4)), "ms-error")
	b.ReportMetric(m.length/1e3, "km")
}

// truth is the lap (s) on steps cut into 2^refine.
func truth(b *testing.B, circuit string, set []float64, refine int) float64 {
	b.Helper()
	m, err := New(demoCar(b), embedded(b, circuit), stillAir(20), &Settings{Refine: refine})
	if err != nil {
		b.Fatal(err)
	}
	return m.NewSolver().LapTime(set)
}

// BenchmarkWorkPrecision is error against cost for five step sizes: the table
// in section 12 of MODEL.md.
func BenchmarkWorkPrecision(b *testing.B) {
	for _, circuit := range circuits() {
		set := demoRatios()
		exact := truth(b, circuit, set, 6)
		for refine := range 5 {
			b.Run(fmt.Sprintf("%s/step=1:%d", circuit, 1<<refine), func(b *testing.B) {
				m, err := New(demoCar(b), embedded(b, circuit), stillAir(20), &Settings{Refine: refine})
				if err != nil {
					b.Fatal(err)
				}
				k, lap := m.NewSolver(), 0.0
				for b.Loop() {
					lap = k.LapTime(set)
				}
				b.ReportMetric(1e3*math.Abs(lap-exact), "ms-error")
				b.ReportMetric(float64(len(m.cells)), "steps")
			})
		}
	}
}

// BenchmarkTrackSetup is what a model costs before its first lap: mesh, corner
// limits, braking curves.
func BenchmarkTrackSetup(b *testing.B) {
	car, tr := demoCar(b), embedded(b, "harrowdale")
	for b.Loop() {
		if _, err := New(car, tr, stillAir(20), nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "us/setup")
}
