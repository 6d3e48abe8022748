package optimize

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sums is a space whose score is the sum of a table, with ties, and whose
// bound is the sum so far plus the least of the rest, less a slack.
type sums struct {
	table [][]float64
	slack float64
	noise [][]float64 // taken off bounds too, by choice: the best does not come first; nil = none
	wrong float64     // added to bounds: a fault
}

func (s *sums) Depth() int        { return len(s.table) }
func (s *sums) NewWorker() Worker { return &sumWorker{s: s} }

type sumWorker struct {
	s   *sums
	idx []int
}

func (w *sumWorker) so() float64 {
	t := 0.0
	for g, i := range w.idx {
		t += w.s.table[g][i]
	}
	return t
}

func (w *sumWorker) Children(dst []Child, cutoff float64) []Child {
	g := len(w.idx)
	rest := 0.0
	for _, row := range w.s.table[g+1:] {
		least := math.Inf(1)
		for _, v := range row {
			least = math.Min(least, v)
		}
		rest += least
	}
	for i, v := range w.s.table[g] {
		less := w.s.slack
		if w.s.noise != nil {
			less += w.s.noise[g][i]
		}
		dst = append(dst, Child{Choice: i, Bound: w.so() + v + rest - less + w.s.wrong})
	}
	return dst
}
func (w *sumWorker) Push(c int)            { w.idx = append(w.idx, c) }
func (w *sumWorker) Pop()                  { w.idx = w.idx[:len(w.idx)-1] }
func (w *sumWorker) Score(float64) float64 { return w.so() }

func randomSums(r *rand.Rand, slack float64) *sums {
	s := &sums{slack: slack}
	for range 2 + r.IntN(4) {
		row := make([]float64, 2+r.IntN(5))
		for i := range row {
			row[i] = float64(r.IntN(4)) // small whole numbers: many ties
		}
		s.table = append(s.table, row)
	}
	return s
}

// TestSearchEqualsExhaustive holds score, choice (tie rule) and proof to be
// those of the exhaustive search, for any number of workers.
func TestSearchEqualsExhaustive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		s := randomSums(rand.New(rand.NewPCG(seed, 1)), rapid.Float64Range(0, 3).Draw(t, "slack"))
		want := Exhaustive(s)
		for _, n := range []int{1, 3} {
			got, err := Search(context.Background(), s, &Settings{Workers: n})
			require.NoError(t, err)
			require.Equal(t, Proved, got.Status)
			require.Equal(t, want.Score, got.Score)
			require.Equal(t, want.Choice, got.Choice)
			require.Equal(t, want.Score, got.Bound)
		}
	})
}

// TestWrongBoundIsNoticed: a bound above its score must not pass for a proof.
func TestWrongBoundIsNoticed(t *testing.T) {
	s := &sums{table: [][]float64{{0, 1}, {0, 1}, {0, 1}}, wrong: 0.5}
	_, err := Search(context.Background(), s, nil)
	assert.ErrorIs(t, err, ErrBound)
}

func TestCutoff(t *testing.T) {
	s := &sums{table: [][]float64{{1, 2}, {1, 2}}}
	got, err := Search(context.Background(), s, &Settings{Cutoff: 1.5})
	require.NoError(t, err)
	assert.Nil(t, got.Choice)
	assert.Equal(t, Infeasible, got.Status)
	got, err = Search(context.Background(), s, &Settings{Cutoff: 2})
	require.NoError(t, err)
	assert.Equal(t, []int{0, 0}, got.Choice)
}

// TestStopped: a context that has ended gives a bound that still holds.
func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	s := randomSums(rand.New(rand.NewPCG(3, 1)), 1)
	got, err := Search(ctx, s, nil)
	require.NoError(t, err)
	assert.Equal(t, Stopped, got.Status)
	assert.LessOrEqual(t, got.Bound, Exhaustive(s).Score)
}

// TestNear holds the list of choices near the best to be complete and in order, or
// not made at all, for any number of workers.
func TestNear(t *testing.T) {
	full, listed := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		r := rand.New(rand.NewPCG(seed, 2))
		s := randomSums(r, rapid.Float64Range(0, 3).Draw(t, "slack"))
		for _, row := range s.table {
			noise := make([]float64, len(row))
			for i := range noise {
				noise[i] = 5 * r.Float64()
			}
			s.noise = append(s.noise, noise)
		}
		within := float64(rapid.IntRange(0, 3).Draw(t, "within"))
		most := rapid.IntRange(1, 40).Draw(t, "most")
		best := Exhaustive(s)
		var want []Scored
		idx := make([]int, len(s.table))
		for {
			sum := 0.0
			for g, i := range idx {
				sum += s.table[g][i]
			}
			if sum <= best.Score+within {
				want = append(want, Scored{append([]int(nil), idx...), sum})
			}
			g := len(idx) - 1
			for ; g >= 0; g-- {
				if idx[g]++; idx[g] < len(s.table[g]) {
					break
				}
				idx[g] = 0
			}
			if g < 0 {
				break
			}
		}
		sort.SliceStable(want, func(i, j int) bool { return want[i].Score < want[j].Score })
		for _, n := range []int{1, 3} {
			got, err := Search(context.Background(), s, &Settings{Workers: n, Within: within, Most: most})
			require.NoError(t, err)
			require.Equal(t, best.Choice, got.Choice)
			require.Equal(t, len(want) > most, got.Full)
			if got.Full {
				full++
				require.Nil(t, got.Near)
				continue
			}
			listed++
			require.Equal(t, want, got.Near)
		}
	})
	require.Greater(t, full, 5, "hardly tried")
	require.Greater(t, listed, 5, "hardly tried")
}
