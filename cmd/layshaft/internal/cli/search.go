package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
		Gap:     e.gapMs.value / 1000,
		Workers: int(e.workers.value),
		Progress: func(best, bound float64) {
			p.show("searching: best lap %.3f s, no lap below %.3f s", best, bound)
		},
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
		_, _ = fmt.Fprintf(a.stderr, "%s: search %s after %.1f s and %d laps\n", name, s.Status, s.Seconds, s.Laps)
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

// noAnswer turns the error of a search without an answer into the program's.
func noAnswer(parent context.Context, err error) error {
	switch {
	case parent.Err() != nil:
		return interrupted()
	case errors.Is(err, context.DeadlineExceeded):
		return errors.New("the time limit was reached before there was an answer: give it more time")
	}
	return err
}
