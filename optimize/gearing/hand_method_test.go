package gearing

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/sim"
)

// The hand method shares the lap with the search, and nothing else: which sets can
// be built it asks package verify, and it tries sets, one lap each. So a set that
// laps below the "proved best" here would show the proof to be wrong.

// handNoGain (s) is the least gain for which a pair is changed. Smaller ones are
// rounding, or come of bisections that another machine may end otherwise.
const handNoGain = 1e-6

// maxGears is the most that a box has.
const maxGears = 8

// handSet is a set: for every gear the number of its pair among those that fit.
type handSet [maxGears]int16

// garage is what the hand method works with on one circuit; its laps are
// remembered, since many ways lead through the same sets.
type garage struct {
	p      *Problem
	base   gearbox.Set // cluster and final drive
	fit    [][]*gearbox.Pair
	fitted handSet
	first  float64 // ratio with which a layout begins: the fitted first gear's
	speed  float64 // m/s, top speed on a lap with the fitted set
	top    int     // index of the top gear that goes with it

	mu   sync.Mutex
	laps map[handSet]float64 // s; NaN where the set cannot be built
	outs map[handSet]float64 // s
}

func newGarage(t testing.TB, circuit string) *garage {
	p := demoProblem(t, circuit)
	w := &garage{
		p: p, base: gearbox.Set{Cluster: &p.Box.Clusters[0], Final: p.Stock.FittedFinal()},
		laps: map[handSet]float64{}, outs: map[handSet]float64{},
	}
	for g := range p.Box.Gears {
		pairs := onShelf(p, p.Box.Slots[slices.Index(w.base.Cluster.Stack, g+1)].Kind)
		w.fit = append(w.fit, pairs)
		i := slices.IndexFunc(pairs, func(q *gearbox.Pair) bool { return q.ID == p.Stock.Fitted[g] })
		require.GreaterOrEqual(t, i, 0, "the fitted pair of gear %d does not fit", g+1)
		w.fitted[g] = int16(i)
	}
	w.first = w.fit[0][w.fitted[0]].Ratio()
	fitted := w.set(w.fitted)
	w.speed = p.Model.Lap(fitted.TotalRatios()).TopSpeed
	// The shortest gear that does not meet the limiter below the top speed.
	last := w.fit[p.Box.Gears-1]
	for i, q := range last {
		if p.Model.Speed(p.Model.LimiterRPM(), q.Ratio()*w.base.Final.Ratio()) >= w.speed {
			w.top = i
			return w
		}
	}
	w.top = len(last) - 1
	return w
}

// onShelf lists the pairs that fit a kind of slot and may run, falling ratio first.
func onShelf(p *Problem, kind string) (out []*gearbox.Pair) {
	for i := range p.Stock.Pairs {
		q := &p.Stock.Pairs[i]
		inLife := q.LifeM == 0 || q.RunM < q.LifeM
		if q.Count > 0 && inLife && !q.InspectionDue && slices.Contains(q.Fits, kind) {
			out = append(out, q)
		}
	}
	slices.SortStableFunc(out, func(a, b *gearbox.Pair) int { return cmp.Compare(b.Ratio(), a.Ratio()) })
	return out
}

// set makes a set of the numbers.
func (w *garage) set(s handSet) *gearbox.Set {
	out := w.base
	out.Pairs = make([]*gearbox.Pair, len(w.fit))
	for g := range w.fit {
		out.Pairs[g] = w.fit[g][s[g]]
	}
	return &out
}

// falls says whether the ratios fall around a gear: a quick look before verify's
// thorough one.
func (w *garage) falls(s handSet, g int) bool {
	r := func(g int) float64 { return w.fit[g][s[g]].Ratio() }
	return (g == 0 || r(g-1) > r(g)) && (g+1 == len(w.fit) || r(g) > r(g+1))
}

func (w *garage) buildable(s handSet) bool {
	for g := range w.fit {
		if !w.falls(s, g) {
			return false
		}
	}
	return len(verify.Verify(w.p.Box, w.p.Stock, w.set(s), verify.Limits{})) == 0
}

// snap takes, from top gear down, the pair nearest to the layout's ratio, by
// proportion, of those that fit and whose step the box allows.
func (w *garage) snap(t testing.TB, ratios []float64) handSet {
	var s handSet
	n := len(w.fit)
	s[n-1] = int16(w.top)
	for g := n - 2; g >= 0; g-- {
		above, least := w.fit[g+1][s[g+1]].Ratio(), math.Inf(1)
		for i, q := range w.fit[g] {
			if step := q.Ratio() / above; step < w.p.Box.StepMin || step > w.p.Box.StepMax {
				continue
			}
			if off := math.Abs(math.Log(q.Ratio() / ratios[g])); off < least {
				s[g], least = int16(i), off
			}
		}
	}
	require.True(t, w.buildable(s), "layout %v has no buildable neighbour: %v", ratios, s)
	return s
}

// random is a buildable set, each as likely as any other.
func (w *garage) random(r *rand.Rand) (s handSet) {
	for {
		for g := range w.fit {
			s[g] = int16(r.IntN(len(w.fit[g])))
		}
		if w.buildable(s) {
			return s
		}
	}
}

// handRun is one run of the method: its own laps are counted.
type handRun struct {
	w      *garage
	solver *sim.Solver
	driven map[handSet]bool
}

func (w *garage) newRun(k *sim.Solver) *handRun {
	return &handRun{w: w, solver: k, driven: map[handSet]bool{}}
}

// scorer gives what a set scores (s), exactly where that is below a score to beat.
type scorer func(s handSet, beat float64) float64

// lap is the flying lap, +Inf where the set cannot be built or driven.
func (h *handRun) lap(s handSet, _ float64) float64 {
	w := h.w
	lap := w.remember(w.laps, s, func() float64 {
		if !w.buildable(s) {
			return math.NaN()
		}
		return h.solver.LapTime(w.set(s).TotalRatios())
	})
	if math.IsNaN(lap) {
		return math.Inf(1)
	}
	h.driven[s] = true
	return lap
}

// outAmong is the out lap of the sets that lap in at most most.
func (h *handRun) outAmong(most float64) scorer {
	w := h.w
	return func(s handSet, beat float64) float64 {
		out := w.remember(w.outs, s, func() float64 {
			if !w.buildable(s) {
				return math.Inf(1)
			}
			return h.solver.OutTime(w.set(s).TotalRatios())
		})
		if out < beat && h.lap(s, beat) > most {
			return math.Inf(1)
		}
		return out
	}
}

// remember computes what is not yet known. Two workers may compute the same, to the
// same end.
func (w *garage) remember(known map[handSet]float64, s handSet, compute func() float64) float64 {
	w.mu.Lock()
	x, ok := known[s]
	w.mu.Unlock()
	if ok {
		return x
	}
	x = compute()
	w.mu.Lock()
	known[s] = x
	w.mu.Unlock()
	return x
}

// order is the order in which gears are tried.
type order struct {
	name   string
	groups func(gears int) [][]int // gears (index) that change together, in turn
	best   bool                    // look at all groups, then make the best change of all
}

func oneByOne(gears int) (out [][]int) {
	for g := range gears {
		out = append(out, []int{g})
	}
	return out
}

func topDown(gears int) [][]int {
	out := oneByOne(gears)
	slices.Reverse(out)
	return out
}

func neighbours(gears int) (out [][]int) {
	for g := range gears - 1 {
		out = append(out, []int{g, g + 1})
	}
	return out
}

func orders() []order {
	return []order{
		{"first to top", oneByOne, false},
		{"top to first", topDown, false},
		{"best change", oneByOne, true},
	}
}

// improve changes a group of gears at a time to the pairs that score least, until
// no group gains.
func (h *handRun) improve(s handSet, o order, score scorer) (handSet, float64) {
	groups, value := o.groups(len(h.w.fit)), score(s, math.Inf(1))
	for still := 0; still < len(groups); {
		still = 0
		best, least := s, value
		for _, gears := range groups {
			if !o.best {
				best, least = s, value
			}
			h.changes(s, gears, func(try handSet) {
				if v := score(try, least-handNoGain); v < least-handNoGain {
					best, least = try, v
				}
			})
			switch {
			case best == s:
				still++
			case !o.best:
				s, value = best, least
			}
		}
		s, value = best, least
	}
	return s, value
}

// changes gives all sets in which the listed gears have other pairs and whose
// ratios fall.
func (h *handRun) changes(s handSet, gears []int, give func(handSet)) {
	g, last := gears[0], len(gears) == 1
	for i := range h.w.fit[g] {
		try := s
		try[g] = int16(i)
		if !last {
			h.changes(try, gears[1:], give)
		} else if h.w.falls(try, g) && (g == 0 || h.w.falls(try, g-1)) {
			give(try)
		}
	}
}
