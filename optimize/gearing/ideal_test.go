package gearing

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
)

// The ideal car that a set is held against knows the set's own pairs, whether or
// not they stand in the space, each once.
func TestIdealKnowsTheSet(t *testing.T) {
	p := demoProblem(t, "quayside")
	set := &gearbox.Set{Cluster: &p.Box.Clusters[0], Final: p.Stock.FittedFinal()}
	p.Limits.Keep = map[int]string{}
	for g, id := range p.Stock.Fitted {
		p.Limits.Keep[g+1] = id
		set.Pairs = append(set.Pairs, p.Stock.Pair(id))
	}
	n := len(set.Pairs)
	e, err := p.Ideal(set)
	require.NoError(t, err)
	require.Equal(t, n, e.Choices())

	other := *set
	other.Pairs = append([]*gearbox.Pair(nil), set.Pairs...)
	cands, _ := gearbox.Candidates(p.Box, set.Cluster, p.Stock, 3, nil)
	for _, q := range cands {
		if q.Ratio() != set.Pairs[2].Ratio() {
			other.Pairs[2] = q
		}
	}
	a, err := Evaluate(context.Background(), p, &other, nil)
	require.NoError(t, err)
	require.Equal(t, n+1, a.Ideal.Choices())
	own, err := Evaluate(context.Background(), p, set, nil)
	require.NoError(t, err)
	require.Equal(t, n, own.Ideal.Choices())

	// A search hands out the ideal car of its whole space.
	if testing.Short() {
		return
	}
	delete(p.Limits.Keep, 3)
	free, err := p.Ideal(set)
	require.NoError(t, err)
	found, err := Search(context.Background(), p, nil)
	require.NoError(t, err)
	require.Equal(t, free.Choices(), found.Ideal.Choices())
}
