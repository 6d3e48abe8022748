package gearing

import (
	"context"
	"errors"
)

// Phase is what a search is at.
type Phase string

const (
	Preparing       Phase = "preparing"          // tables of the first stage
	Searching       Phase = "searching"          // the least flying lap
	PreparingSecond Phase = "preparing out lap"  // tables of the second stage
	SearchingSecond Phase = "searching out laps" // the least out lap among the quickest sets
	Checking        Phase = "checking"           // the laps of the set that was found
)

// Progress is how far a search has come. Times are of the flying lap, in the
// second stage of the out lap.
type Progress struct {
	Phase Phase
	Best  float64 // s, best so far; +Inf = none
	Bound float64 // s, no set is quicker than this
}

// Open says why an answer is not proved.
type Open string

const (
	Interrupted Open = "interrupted"     // the context was cancelled
	TimeLimit   Open = "time limit"      // the context's deadline has passed
	Wide        Open = "bounds too wide" // the search came to its end; its bounds do not decide this problem
	BoundFailed Open = "a bound failed"  // a set scored below its bound (optimize.ErrBound): a fault of the program
)

// why tells what left a search open that ran with ctx.
func why(ctx context.Context) Open {
	switch err := ctx.Err(); {
	case err == nil:
		return Wide
	case errors.Is(err, context.DeadlineExceeded):
		return TimeLimit
	}
	return Interrupted
}

func (pl *plan) tell(phase Phase, best, bound float64) {
	if pl.s.Progress != nil {
		pl.s.Progress(Progress{Phase: phase, Best: best, Bound: min(best, bound)})
	}
}
