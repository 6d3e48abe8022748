package optimize

// Status says how a search ended.
type Status string

const (
	Proved     Status = "proved"     // no better answer exists, but for the stated gap
	Stopped    Status = "stopped"    // ended early; the best so far
	Given      Status = "given"      // nothing was searched: the user's own choice
	Infeasible Status = "infeasible" // nothing satisfies the constraints
)
