package gearing

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"layshaft/optimize"
)

// TestBoundFailed: a set that scored below its bound may not pass for proved, nor be
// lost.
func TestBoundFailed(t *testing.T) {
	wrong := fmt.Errorf("%w: of a test", optimize.ErrBound)
	r := stageResult{idx: []int{1, 2}, score: 80, bound: 79.9, status: optimize.Proved, near: []finalist{{}}}
	var a Answer
	assert.NoError(t, a.unproved(&r, wrong, 79))
	assert.Equal(t, optimize.Stopped, r.status)
	assert.Equal(t, 79.0, r.bound)
	assert.Nil(t, r.near)
	assert.Equal(t, BoundFailed, a.Open)
	assert.Len(t, a.Warnings, 1)

	none := stageResult{}
	assert.ErrorIs(t, (&Answer{}).unproved(&none, wrong, 79), optimize.ErrBound)
	other := errors.New("other")
	assert.Equal(t, other, (&Answer{}).unproved(&r, other, 79))
	assert.NoError(t, (&Answer{}).unproved(&r, nil, 79))
}
