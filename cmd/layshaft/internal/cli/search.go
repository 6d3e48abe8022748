package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"layshaft/optimize/gearing"

	"github.com/spf13/cobra"
)

// effort holds the flags on how long and how hard a search works.
type effort struct {
	gapMs     number
	workers   number
	timeLimit span
	statsFile output
}

func (e *effort) flags(c *cobra.Command) {
	e.gapMs = number{value: 1, lo: 0, hi: 10000, unit: "ms"}
	e.workers = number{lo: 1, hi: 1024, whole: true}
	f := c.Flags()
	f.Var(&e.gapMs, "gap-ms", "stop when no buildable set can be faster by more than this, in ms")
	f.Var(&e.workers, "workers", "searches at a time; default one per processor; the answer is the same")
	f.Var(&e.timeLimit, "time-limit", "end with the best set so far after this time, such as 30s (exit code 3)")
	f.Var(&textValue{&e.statsFile.path, "FILE"}, "stats", "write counts and seconds of the search to `FILE` as JSON")
}

// within adds the time limit to the context.
func (e *effort) within(ctx context.Context) (context.Context, context.CancelFunc) {
	if e.timeLimit.d == 0 {
		return context.WithCancel(ctx)
	}
	return context.WithTimeout(ctx, e.timeLimit.d)
}

// settings of the search, which reports to the progress line.
func (e *effort) settings(p *progress) *gearing.Settings {
	return &gearing.Settings{
		Gap:      e.gapMs.value / 1000,
		Workers:  int(e.workers.value),
		Progress: func(at gearing.Progress) { p.set(searchLine(at)) },
	}
}

// stats is what a search cost. It depends on the machine, so it never stands
// in the answer.
type stats struct {
	Schema  int     `json:"schema_version"`
	Status  string  `json:"status"`
	Nodes   int64   `json:"nodes_count"`
	Laps    int64   `json:"laps_count"`
	Seconds float64 `json:"search_s"`
	Workers int     `json:"workers_count"` // 0 = one per processor
}

// report tells the cost on stderr and in the file of --stats. The file is
// replaced: it is a by-product, not a document. took is measured here, since
// the search itself reads no clock.
func (e *effort) report(a *app, quiet bool, ans *gearing.Answer, took time.Duration) error {
	s := stats{Schema: 1, Status: string(ans.Status), Nodes: ans.Stats.Nodes, Laps: ans.Stats.Laps,
		Seconds: took.Seconds(), Workers: int(e.workers.value)}
	if !quiet {
		how := s.Status
		if ans.Open == gearing.Wide {
			how = "ended, not proved," // nobody stopped it
		}
		_, _ = fmt.Fprintf(a.stderr, "%s: search %s after %.1f s and %d laps\n", name, how, s.Seconds, s.Laps)
	}
	if e.statsFile.path == "" {
		return nil
	}
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	data = append(data, '\n')
	if e.statsFile.path == toStdout {
		_, err = a.stderr.Write(data)
		return err
	}
	if err := replaceFile(e.statsFile.path, data, true); err != nil {
		return fmt.Errorf("cannot write --stats %s: %w", e.statsFile.path, plainOS(err))
	}
	return nil
}

// check refuses a statistics file that cannot be written, before the work.
func (e *effort) check() error {
	if e.statsFile.path == "" || e.statsFile.path == toStdout {
		return nil
	}
	probe := output{path: e.statsFile.path, force: true}
	if err := probe.check(); err != nil {
		return badInput("--stats: %s", err)
	}
	return nil
}

// searchLine words how far a search has come, for a terminal of 80 columns.
func searchLine(at gearing.Progress) string {
	what := map[gearing.Phase]string{
		gearing.Preparing: "preparing", gearing.Searching: "searching",
		gearing.PreparingSecond: "preparing out laps", gearing.SearchingSecond: "out laps",
		gearing.Checking: "checking",
	}[at.Phase]
	switch {
	case at.Phase == gearing.Checking || math.IsInf(at.Best, 0):
		return what
	case math.IsInf(at.Bound, 0):
		return fmt.Sprintf("%s: best %.3f s", what, at.Best)
	}
	return fmt.Sprintf("%s: best %.3f s, none below %.3f s, gap %.1f ms", what, at.Best, at.Bound, 1e3*(at.Best-at.Bound))
}

// unfinished words why an answer is not proved.
func (e *effort) unfinished(open gearing.Open) string {
	switch open {
	case gearing.Interrupted:
		return "interrupted"
	case gearing.TimeLimit:
		return "the time limit was reached"
	case gearing.BoundFailed:
		return "the search failed its own check, a fault of this program"
	}
	return "nobody stopped it: the search is through, but its bounds are too wide to decide this problem"
}

// noAnswer turns the error of a search without an answer into the program's.
func noAnswer(parent context.Context, err error) error {
	switch {
	case parent.Err() != nil:
		return interrupted()
	case errors.Is(err, context.DeadlineExceeded) || errors.Is(err, gearing.ErrNoAnswer):
		return errors.New("the time limit was reached before there was an answer: give it more time")
	}
	return err
}
