package sim

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

// TestRoundOfOneGear: the round of an ideal car that has one gear only is that
// gear's lap, but for what the table of the ideal car adds.
func TestRoundOfOneGear(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), nil)
	require.NoError(t, err)
	for _, total := range []float64{2.9, 3.2, 3.3} { // none comes to its limiter
		e := m.NewIdeal([]float64{total}, m.eta[5:6])
		r := m.IdealRound(e)
		lap := m.NewSolver().LapInGears(6, total)
		assert.True(t, r.Flat)
		assert.LessOrEqual(t, r.Time, lap+1e-9)
		// At most 1e-3 of the pull: the table is raised by what it misses.
		numtest.Equal(t, "lap", lap, r.Time, 0, 1e-4)
	}
}

// TestPauseLoss compares the least loss of a pause with laps that have one, at
// every tenth cell, driven on until the car is as fast as it would have been.
func TestPauseLoss(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), nil)
	require.NoError(t, err)
	e := m.NewIdeal([]float64{3.0, 3.2, 3.45, 3.7}, []float64{0.96, 0.96, 0.96, 0.96})
	r := m.IdealRound(e)
	require.True(t, r.Flat)
	const tau, late = 0.05, 0.02
	least := math.Inf(1)
	for j := 0; j < len(m.cells); j += 10 {
		if r.u[j] == 0 {
			continue
		}
		for _, slower := range []float64{0, 0.002} {
			end := m.cells[j].s + 5*m.length
			with := state{cell: j, s: m.cells[j].s, u: r.u[j] * (1 - slower) * (1 - slower)}
			without := with
			m.coast(&with, 0, tau, 0)
			m.idealTo(&with, end, e)
			m.idealTo(&without, end, e)
			least = min(least, with.t-without.t)
		}
	}
	got := r.Losses(late).Pause(tau)
	assert.LessOrEqual(t, got, least)
	assert.Greater(t, got, 0.8*least, "so low that it bounds little")
}

// TestGearLosses: on its own lap a car loses against the ideal one, stretch by
// stretch, at least what Gear says; on an oval in one gear the sum is at most what
// the lap is slower.
func TestGearLosses(t *testing.T) {
	m, err := New(demoCar(t), embedded(t, "saltmere"), stillAir(20), nil)
	require.NoError(t, err)
	totals := []float64{2.9, 3.0, 3.1, 3.2, 3.3, 3.45, 3.6, 3.7, 3.9}
	var etas []float64
	for range totals {
		etas = append(etas, m.eta[5])
	}
	e := m.NewIdeal(totals, etas)
	r := m.IdealRound(e)
	for _, total := range []float64{3.0, 3.2, 3.45} {
		late := m.NewSolver().LapInGears(6, total) - r.Time
		gear := m.NewGear(6, total)
		sum := 0.0
		for _, loss := range r.Losses(late).Gear(&gear, nil) {
			sum += loss
		}
		assert.LessOrEqual(t, sum, late+1e-6, "total ratio %g", total)
		assert.Greater(t, sum, 0.3*late-1e-3, "total ratio %g: so low that it bounds little", total)
	}
}
