package gearing

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox/verify"
	"layshaft/internal/numtest"
	"layshaft/optimize"
	"layshaft/sim"
)

var update = flag.Bool("update", false, "rewrite HAND_METHOD.md")

// handStarts is how many random sets are improved on each circuit.
const handStarts = 100

// handSlack (s) is what two drives of one set may differ by: nothing but rounding.
const handSlack = 1e-9

// handResult is one run: where it began and ended, in s.
type handResult struct {
	set        handSet // with the lap of the end
	start, end float64 // flying lap
	out        float64 // out lap; only where the flying lap ties with the best
	laps       int     // flying laps driven
}

// TestHandMethod improves sets on every embedded circuit as one does by hand,
// holds the proved best to be no worse than any of them, and HAND_METHOD.md to
// what was computed; -update rewrites the page.
func TestHandMethod(t *testing.T) {
	if testing.Short() {
		t.Skip("long: searches the whole stock on every circuit")
	}
	circuits := []string{"harrowdale", "quayside", "saltmere"}
	var tables, spread strings.Builder
	var sums []summary
	for _, circuit := range circuits {
		w := newGarage(t, circuit)
		best, err := Search(context.Background(), w.p, nil)
		require.NoError(t, err)
		require.Equal(t, optimize.Proved, best.Status)
		assert.Empty(t, verify.Verify(w.p.Box, w.p.Stock, best.Set, verify.Limits{}))
		numtest.Equal(t, "lap of the chosen set", w.p.Model.NewSolver().LapTime(best.Set.TotalRatios()), best.Lap.Time, handSlack, 0)
		assert.LessOrEqual(t, best.Lap.Time, best.Stages[0].Value+DefaultGap, "%s: the chosen set is no tie", circuit)
		sums = append(sums, w.fromLayouts(t, best, &tables))
		w.fromAnywhere(t, best, &spread)
	}
	if t.Failed() {
		return
	}
	most := 0.0
	for _, sum := range sums {
		for _, start := range sum {
			most = max(most, start.most)
		}
	}
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	claim := fmt.Sprintf("ends up to %s ms a lap behind the proved best", left(most, 0))
	assert.True(t, strings.Contains(strings.Join(strings.Fields(string(readme)), " "), claim), "README.md does not say: %s", claim) //nolint:testifylint // Contains would print all of README.md

	page := strings.NewReplacer("{SHORT}\n", inShort(circuits, sums), "{TABLES}\n", tables.String(), "{SPREAD}", spread.String(), "{STARTS}", fmt.Sprint(handStarts)).Replace(handPage)
	if *update {
		require.NoError(t, os.WriteFile("HAND_METHOD.md", []byte(page), 0o644))
		return
	}
	have, err := os.ReadFile("HAND_METHOD.md")
	require.NoError(t, err)
	assert.Equal(t, page, string(have), "HAND_METHOD.md is out of date; if the change is meant, run go test ./optimize/gearing -run TestHandMethod -update")
}

// fromLayouts improves the layouts, and the fitted set, in every order.
func (w *garage) fromLayouts(t *testing.T, best *Answer, page *strings.Builder) (sum summary) {
	top := w.fit[len(w.fit)-1][w.top]
	m := w.p.Model
	fmt.Fprintf(page, "### %s\n\n", m.Track().Name)
	fmt.Fprintf(page, "Proved best of %.1f million sets: lap %s s in gears %s, after it the out lap %s s. Top speed with the fitted set %.1f km/h, so %s in top: %.1f km/h at the limiter. First as fitted, %s.\n\n",
		1e-6*float64(best.SetsInSpace.Int64()), tenths(best.Stages[0].Value), used(best.Lap), tenths(best.Stages[1].Value), 3.6*w.speed, top.ID,
		3.6*m.Speed(m.LimiterRPM(), top.Ratio()*w.base.Final.Ratio()), w.fit[0][w.fitted[0]].ID)
	page.WriteString("| start | its lap | order | lap in the end | in gears | laps driven | left, ms | out lap, ms |\n|---|---|---|---|---|---|---|---|\n")
	names, starts := []string{"fitted"}, []handSet{w.fitted}
	for _, l := range layouts() {
		names = append(names, l.name)
		starts = append(starts, w.snap(t, l.ratios(w.first, top.Ratio(), len(w.fit))))
	}
	n := len(orders())
	results := w.all(len(starts)*n, func(h *handRun, i int) handResult {
		return h.improved(starts[i/n], best, orders()[i%n])
	})
	for i, r := range results {
		what := fmt.Sprintf("%s from %s, %s", m.Track().Name, names[i/n], orders()[i%n].name)
		r.check(t, what, best)
		sum = sum.with(i/n, names[i/n], r.end-best.Stages[0].Value)
		out := "-"
		if !math.IsInf(r.out, 1) {
			out = left(r.out, best.Stages[1].Value)
		}
		fmt.Fprintf(page, "| %s | %s | %s | %s | %s | %d | %s | %s |\n", names[i/n], tenths(r.start), orders()[i%n].name,
			tenths(r.end), used(m.Lap(w.set(r.set).TotalRatios())), r.laps, left(r.end, best.Stages[0].Value), out)
	}
	page.WriteString("\n")
	return sum
}

// summary is what the orders leave (s) on one circuit, start by start.
type summary []struct {
	name        string
	least, most float64
}

func (sum summary) with(i int, name string, left float64) summary {
	if i == len(sum) {
		sum = append(sum, summary{{name, left, left}}...)
	}
	sum[i].least, sum[i].most = min(sum[i].least, left), max(sum[i].most, left)
	return sum
}

// inShort is the table of the summaries.
func inShort(circuits []string, sums []summary) string {
	var b strings.Builder
	fmt.Fprintf(&b, "| start | %s |\n|%s\n", strings.Join(circuits, " | "), strings.Repeat("---|", 1+len(circuits)))
	for i := range sums[0] {
		fmt.Fprintf(&b, "| %s |", sums[0][i].name)
		for _, sum := range sums {
			from, to := left(sum[i].least, 0), left(sum[i].most, 0)
			if from != to {
				to = from + " to " + to
			}
			fmt.Fprintf(&b, " %s |", to)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// fromAnywhere improves random sets one gear at a time, and goes on with two
// neighbours at a time from one set of each lap in which that ended.
func (w *garage) fromAnywhere(t *testing.T, best *Answer, page *strings.Builder) {
	r := rand.New(rand.NewPCG(20, 26))
	starts := make([]handSet, handStarts)
	k := w.p.Model.NewSolver()
	for i := range starts {
		for starts[i] = w.random(r); math.IsInf(w.newRun(k).lap(starts[i], 0), 1); {
			starts[i] = w.random(r)
		}
	}
	one := orders()[0]
	results := w.all(handStarts, func(h *handRun, i int) handResult { return h.improved(starts[i], best, one) })
	w.spread(t, "one gear", results, best, page)

	micro := func(i int) float64 { return math.Round(1e6 * results[i].end) }
	var from []int          // the first start of each lap
	of := map[float64]int{} // its place in from
	for i := range results {
		if _, met := of[micro(i)]; !met {
			of[micro(i)] = len(from)
			from = append(from, i)
		}
	}
	two := w.all(len(from), func(h *handRun, i int) handResult {
		return h.improved(results[from[i]].set, best, order{"by neighbours", neighbours, false})
	})
	further := slices.Clone(results)
	for i := range further {
		r := two[of[micro(i)]]
		r.start, r.laps = further[i].start, further[i].laps+r.laps
		further[i] = r
	}
	w.spread(t, "then two neighbours", further, best, page)
}

// spread writes a row on the results.
func (w *garage) spread(t *testing.T, method string, results []handResult, best *Answer, page *strings.Builder) {
	var lefts, laps []float64
	exact, ties := 0, 0
	for i, r := range results {
		r.check(t, fmt.Sprintf("%s from random set %d, %s", w.p.Model.Track().Name, i, method), best)
		d := r.end - best.Stages[0].Value
		lefts, laps = append(lefts, d), append(laps, float64(r.laps))
		if d <= handNoGain {
			exact++
		}
		if d <= DefaultGap {
			ties++
		}
	}
	slices.Sort(lefts)
	slices.Sort(laps)
	n := len(results)
	fmt.Fprintf(page, "| %s | %s | %d | %d | %s | %s | %s | %.0f |\n", w.p.Model.Track().Name, method,
		exact, ties, left(lefts[0], 0), left(lefts[n/2], 0), left(lefts[n-1], 0), laps[n/2])
}

// improved goes on to the least lap in the given order and then, where the lap ties
// with the best, to the least out lap among the ties.
func (h *handRun) improved(s handSet, best *Answer, o order) handResult {
	r := handResult{start: h.lap(s, 0), out: math.Inf(1)}
	r.set, r.end = h.improve(s, o, h.lap)
	r.laps = len(h.driven)
	if ties := best.Stages[0].Value + DefaultGap; r.end <= ties {
		_, r.out = h.improve(r.set, o, h.outAmong(ties))
	}
	return r
}

// check holds the proof to what was found by hand.
func (r *handResult) check(t *testing.T, what string, best *Answer) {
	t.Helper()
	lap, out := best.Stages[0], best.Stages[1]
	assert.LessOrEqual(t, r.end, r.start+handSlack, what)
	assert.GreaterOrEqual(t, r.end, lap.Value-handSlack, "%s: by hand a lap %.4f ms below the proved best", what, 1e3*(lap.Value-r.end))
	assert.GreaterOrEqual(t, r.out, out.Value-handSlack, "%s: by hand an out lap %.4f ms below the proved best", what, 1e3*(out.Value-r.out))
}

// all does n runs on all processors; the results are in order.
func (w *garage) all(n int, run func(h *handRun, i int) handResult) []handResult {
	out := make([]handResult, n)
	workers := min(runtime.GOMAXPROCS(0), n)
	solvers := make([]*sim.Solver, workers)
	for i := range solvers {
		solvers[i] = w.p.Model.NewSolver()
	}
	parallel(workers, workers, func(k int) {
		for i := k; i < n; i += workers {
			out[i] = run(w.newRun(solvers[k]), i)
		}
	})
	return out
}

// used writes the gears that a lap engages.
func used(lap *sim.Lap) string {
	var gears []string
	for g, t := range lap.TimeInGear {
		if t > 0 {
			gears = append(gears, fmt.Sprint(g+1))
		}
	}
	if n := len(gears); n > 1 {
		return gears[0] + "-" + gears[n-1] // a lap shifts through all between
	}
	return strings.Join(gears, "")
}

// tenths writes a time in s to a tenth of a millisecond.
func tenths(s float64) string {
	if math.IsInf(s, 1) {
		return "cannot"
	}
	return fmt.Sprintf("%.4f", s)
}

// left is the difference of two times as printed, in ms.
func left(s, best float64) string {
	return fmt.Sprintf("%.1f", 0.1*(math.Round(1e4*s)-math.Round(1e4*best)))
}

const handPage = `# The usual way against the proved best

The usual way to choose ratios by hand: lay them out by a handbook's formula, take for each gear the nearest pair on the shelf, then change one gear at a time to the pair that laps quickest, until no change of one gear helps. A way that ends like this is at rest, not at the best. This page tells how far that stays behind the set that the search proves to be the best, out of the whole demonstration stock, on each built-in circuit: air of 1.2 kg/m³, no wind, no tow, 20 kg of fuel, final drive as fitted.

Both sides use the same lap with the best schedule of shifts; the hand method has everything that a simulation can give it, and no more than patience is asked of it. It shares nothing else with the search: what can be built it asks of the second opinion, ` + "`cars/gearbox/verify`" + `. So this is also a check of the proof from outside: a set found here with a lap below the proved best, or with a better out lap among the ties, fails the test.

The page is written by a test, which fails when it is out of date:

    go test ./optimize/gearing -run TestHandMethod           # compares
    go test ./optimize/gearing -run TestHandMethod -update   # writes the page anew

What is left against the proved best, in ms, over the orders in which gears are tried:

{SHORT}

## From a layout

- *Top gear*: the shortest pair that reaches the top speed of a lap with the fitted set before the limiter. *First gear*: as fitted.
- *Layouts between them*: geometric, the same step everywhere; progressive, each step smaller than the one before by the factor named (Naunheimer et al., Automotive Transmissions, 2nd edition, section 4.3, from memory); harmonic, the same rise of road speed from gear to gear (W. Liu, Hybrid Electric Vehicle System Modeling and Control). The nearest pair, by proportion, is taken from top gear down, of those that fit the slot and whose step the box allows. *Fitted*: the set that is in the box.
- *Order*: gears in turn from first to top, or from top to first, round after round; or of all changes of one gear the best, then again. A gain below 0.001 ms is none.
- *In gears*: those that the lap engages. From a set whose lap needs first gear to one whose lap does without it several gears have to move at once, and no change of one gear on the way gains.
- *Laps driven*: different sets tried on the flying lap, the start included.
- *Left*: lap in the end less the proved best. *Out lap*: where the lap ties with the best (within 1 ms), the out lap is improved in the same way among such ties; shown is what that leaves against the proved least out lap.

{TABLES}
## From anywhere

{STARTS} sets on each circuit, drawn at random with equal chances out of all that can be built and lap at all, improved one gear at a time from first to top; then two neighbouring gears at a time, every choice of both, going on from one set of each different lap in which the first way ended (sets with the same lap differ in gears that the lap does not use). *Best* and *tie*: how many of the {STARTS} come within 0.001 ms and within 1 ms of the proved best; *least*, *median* and *most* are left against it, in ms.

| circuit | changed at a time | best | tie | least | median | most | laps driven, median |
|---|---|---|---|---|---|---|---|
{SPREAD}`
