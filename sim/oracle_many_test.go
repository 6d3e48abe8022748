//go:build oracle

package sim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// randomRatios are total ratios as a box could hold them: steps between 1.05
// and 1.60 that mostly narrow towards the top.
func randomRatios(r *rand.Rand) []float64 {
	for {
		first, top := 8+2.2*r.Float64(), 3.0+0.7*r.Float64()
		var w [5]float64
		sum := 0.0
		for i := range w {
			w[i] = (1 + 1.5*r.Float64()) * (1 - 0.12*float64(i))
			sum += w[i]
		}
		set, ok := []float64{first}, true
		for i := range w {
			step := math.Pow(first/top, w[i]/sum)
			ok = ok && step >= 1.05 && step <= 1.60
			set = append(set, set[i]/step)
		}
		if ok {
			return set
		}
	}
}

// Fifty random sets per track, as TestScheduleOracle but with spacings of 4 m and
// 2 m; on the oval the out lap. It takes some minutes. Sets that the program
// cannot drive (a gear that does not pull, downshifts that do not fit, which
// the oracle does not know) are drawn again; there may not be many.
func TestScheduleOracleManySets(t *testing.T) {
	car := demoCar(t)
	for i, name := range circuits() {
		m, err := New(car, embedded(t, name), stillAir(20), &Settings{Refine: scheduleSteps})
		require.NoError(t, err)
		oval := name == "saltmere"
		coarse, fine := newOracleRoad(m, 4), newOracleRoad(m, 2)
		if oval {
			coarse, fine = coarse.out(), fine.out()
		}
		u := m.track.PitLimit * m.track.PitLimit
		r := rand.New(rand.NewPCG(7, uint64(i)))
		done, refused, worst := 0, 0, 0.0
		for done < 50 {
			require.Less(t, refused, 100)
			set := randomRatios(r)
			k := m.NewSolver()
			got := math.Inf(1)
			var a, b oraclePlan
			if oval {
				got = k.OutTime(set)
			} else {
				got = k.LapTime(set)
			}
			if math.IsInf(got, 1) {
				refused++
				continue
			}
			if oval {
				a, b = coarse.oneWay(set, u, oracleRules{}), fine.oneWay(set, u, oracleRules{})
			} else {
				a, b = coarse.best(set, 0, oracleRules{}), fine.best(set, 0, oracleRules{})
			}
			done++
			worst = math.Max(worst, got-b.time)
			t.Logf("%s %.4f", name, set)
			againstOracle(t, got, a, b)
		}
		t.Logf("%s: 50 sets, %d refused, slowest by %.1f µs", name, refused, 1e6*worst)
	}
}
