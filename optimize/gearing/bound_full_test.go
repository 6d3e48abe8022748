//go:build bound

package gearing

// The whole bound test: go test -tags bound -timeout 4h -run Bound ./optimize/gearing
const (
	boundSets        = 10_000
	boundCompletions = 200
	goodSets         = 2000
)
