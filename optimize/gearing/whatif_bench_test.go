package gearing

import (
	"context"
	"fmt"
	"testing"

	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// fittedSet is what the demo stock says is in the car.
func fittedSet(t testing.TB, p *Problem) *gearbox.Set {
	t.Helper()
	s := &gearbox.Set{Cluster: &p.Box.Clusters[0], Final: p.Stock.FittedFinal()}
	for _, id := range p.Stock.Fitted {
		q := p.Stock.Pair(id)
		if q == nil {
			t.Fatalf("fitted pair %s is not in stock", id)
		}
		s.Pairs = append(s.Pairs, q)
	}
	return s
}

// BenchmarkWhatIf is what lists and laps all sets of a question cost, the model
// included: the top gear only, any gear by itself, two gears, three gears (which the
// command laps only with a time limit).
func BenchmarkWhatIf(b *testing.B) {
	for _, circuit := range []string{"harrowdale", "quayside", "saltmere"} {
		for _, q := range []struct {
			name  string
			gears [][]int
		}{
			{"top", [][]int{{6}}},
			{"any", [][]int{{1}, {2}, {3}, {4}, {5}, {6}}},
			{"two", [][]int{{5, 6}}},
			{"three", [][]int{{4, 5, 6}}},
		} {
			b.Run(fmt.Sprintf("%s/%s", circuit, q.name), func(b *testing.B) {
				p := demoProblem(b, circuit)
				base := fittedSet(b, p)
				laps := 0
				for b.Loop() {
					m, err := sim.New(p.Model.Car(), p.Model.Track(), p.Model.Conditions(), nil)
					if err != nil {
						b.Fatal(err)
					}
					fresh := *p
					fresh.Model, laps = m, 0
					for _, gears := range q.gears {
						sets, err := Sets(context.Background(), &fresh, base, gears, nil, maxRanked)
						if err != nil {
							b.Fatal(err)
						}
						ranked, err := LapAll(context.Background(), &fresh, sets, nil)
						if err != nil {
							b.Fatal(err)
						}
						laps += len(ranked)
					}
				}
				b.ReportMetric(float64(laps), "laps")
				b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/question")
			})
		}
	}
}
