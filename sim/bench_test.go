package sim

import "testing"

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
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "us/lap")
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
