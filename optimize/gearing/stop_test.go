package gearing

import (
	"context"
	"fmt"
	"math"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox/verify"
	"layshaft/optimize"
)

// looks is a context that is cancelled when it is looked at for the nth time, so
// that a search can be stopped wherever it looks.
type looks struct {
	context.Context
	cancel context.CancelFunc
	at     int64
	seen   atomic.Int64
}

func newLooks(at int64) *looks {
	ctx, cancel := context.WithCancel(context.Background())
	return &looks{Context: ctx, cancel: cancel, at: at}
}

func (l *looks) Err() error {
	if l.seen.Add(1) == l.at {
		l.cancel()
	}
	return l.Context.Err()
}

// TestStopAnywhere stops searches at every kind of place, while tables are made, in
// both stages, at each change of best and bound, and holds what comes back against
// the proved answer: nothing, or a set that can be built with a gap that is true.
func TestStopAnywhere(t *testing.T) {
	// Two final drives; flat out, decided and not; one frame.
	seeds := []uint64{3, 31, 22}
	if testing.Short() {
		seeds = []uint64{22}
	}
	phases := map[Phase]int{}
	early := 0
	for _, seed := range seeds {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			p := randomProblem(t, seed)
			wide := 0.05 // s, so that the second stage has something to choose from
			flat := p.zonesForTest() == nil
			if flat {
				wide = DefaultGap // every chain of gears would be open; besides, it takes long
			}
			whole := newLooks(0)
			changes := map[Phase]int{}
			full, err := Search(whole, p, &Settings{Gap: wide, Workers: 2, Progress: func(at Progress) { changes[at.Phase]++ }})
			require.NoError(t, err)
			if full.Set == nil {
				t.Skip("no set")
			}
			want := exhaust(p, wide)
			judge := func(a *Answer, err error) {
				if err != nil {
					require.ErrorIs(t, err, ErrNoAnswer)
					require.Nil(t, a)
					early++
					return
				}
				require.NotNil(t, a.Set)
				assert.Empty(t, verify.Verify(p.Box, p.Stock, a.Set, verify.Limits{}))
				require.False(t, math.IsInf(a.Gap, 0) || math.IsNaN(a.Gap) || a.Gap < 0, "gap %g", a.Gap)
				assert.LessOrEqual(t, a.Lap.Time-a.Gap, want.lap+1e-9, "the gap says too much")
				assert.Equal(t, full.SetsInSpace, a.SetsInSpace)
				if len(a.Stages) == 2 {
					assert.LessOrEqual(t, a.Stages[1].Value-a.Stages[1].Gap, want.out+1e-9, "the out lap's gap says too much")
				}
				if a.Status == optimize.Stopped {
					assert.NotEmpty(t, a.Open)
				} else {
					assert.Equal(t, optimize.Proved, a.Status)
					assert.Equal(t, full.Set.Pairs, a.Set.Pairs)
				}
			}
			n := whole.seen.Load()
			for k := int64(0); k < 4; k++ {
				if flat && k%2 == 1 {
					continue
				}
				ctx := newLooks(1 + k*n/4)
				a, err := Search(ctx, p, &Settings{Gap: wide, Workers: 2})
				ctx.cancel()
				judge(a, err)
			}
			// At the first word of every phase, and in the middle of it.
			for phase, words := range changes {
				if phase == Checking || flat && phase == Preparing {
					continue // nothing is left to stop; looked at above
				}
				for _, at := range []int{1, (words + 1) / 2} {
					ctx, cancel := context.WithCancel(context.Background())
					left := at
					a, err := Search(ctx, p, &Settings{Gap: wide, Workers: 2, Progress: func(is Progress) {
						if is.Phase != phase {
							return
						}
						if left--; left == 0 {
							phases[phase]++
							cancel()
						}
					}})
					cancel()
					judge(a, err)
					if words < 3 || flat {
						break
					}
				}
			}
			// A deadline that has passed leaves the first set all the same.
			ctx, cancel := context.WithTimeout(context.Background(), 0)
			a, err := Search(ctx, p, &Settings{Gap: wide})
			cancel()
			require.NoError(t, err)
			judge(a, err)
			assert.Equal(t, TimeLimit, a.Open)
		})
	}
	t.Logf("stopped in %v, %d times before there was a set", phases, early)
	if !testing.Short() {
		for _, ph := range []Phase{Preparing, Searching, PreparingSecond, SearchingSecond} {
			assert.NotZero(t, phases[ph], "never stopped while %s", ph)
		}
	}
	assert.NotZero(t, early)
}

// TestTablesAreLeft: a search of the whole demo stock that is stopped while its
// tables are made does not go on to make them.
func TestTablesAreLeft(t *testing.T) {
	p := demoProblem(t, "quayside")
	var s *Settings
	pl, err := p.plan(s.withDefaults())
	require.NoError(t, err)
	moments := []int64{15, 25, 60} // zones, charges, laps of the starting set
	if testing.Short() {
		moments = moments[:2]
	}
	for _, at := range moments {
		ctx := newLooks(at)
		pl.watch(ctx)
		a := &Answer{}
		gr := &ground{accounts: make([]*account, 1), rings: make([]*ringTable, 1), starts: make([][]int, 1)}
		best, err := pl.stageOne(ctx, a, gr)
		ctx.cancel()
		require.NoError(t, err)
		require.GreaterOrEqual(t, ctx.seen.Load(), at)
		assert.Equal(t, optimize.Stopped, best.status)
		assert.NotNil(t, best.idx)
		assert.Less(t, best.bound, best.score)
		assert.Nil(t, gr.accounts[0], "the tables were made all the same")
		assert.Zero(t, a.Stats.Nodes)
	}
}
