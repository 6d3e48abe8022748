//go:build !bound

package gearing

// A share of the bound test for every run.
const (
	boundSets        = 80
	boundCompletions = 20
	goodSets         = 150
)
