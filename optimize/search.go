package optimize

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
)

// Child is one choice after a prefix.
type Child struct {
	Choice int     // the space's own number of the choice, >= 0
	Bound  float64 // no completion of prefix + choice scores less
}

// Worker walks the tree for one goroutine. It starts at the root; Push and Pop
// move it down and up.
type Worker interface {
	// Children appends the choices that follow the current prefix to dst, in
	// ascending order of Choice. Those whose bound exceeds cutoff may be left
	// out.
	Children(dst []Child, cutoff float64) []Child
	// Push takes a choice that Children has named.
	Push(choice int)
	// Pop takes the last choice back.
	Pop()
	// Score is the exact score of the current complete choice, +Inf when it
	// is infeasible. Only called at full depth.
	Score(cutoff float64) float64
}

// Space is a tree of complete choices of one depth.
type Space interface {
	Depth() int
	NewWorker() Worker
}

// Settings of a search; nil or zero fields are the defaults.
type Settings struct {
	Workers  int                       // goroutines; default GOMAXPROCS
	Cutoff   float64                   // only scores up to this are of interest; 0 = any
	Within   float64                   // list the choices whose score is at most so much above the best, or above Cutoff where that is less
	Most     int                       // longest list; 0 = none is made
	Progress func(best, bound float64) // called when one of them has changed, by one goroutine at a time; nil = none
}

// Result of a search.
type Result struct {
	Choice []int   // the best complete choice; nil when none is feasible
	Score  float64 // its score; +Inf when none
	Bound  float64 // no complete choice scores less than this
	Status Status
	Near   []Scored // choices within Settings.Within, best first, ties in order of choices; nil when there are more than Settings.Most
	Full   bool     // Near is nil because there are more, or time to list them was lacking
	Nodes  int64    // nodes visited; depends on the workers
	Leaves int64    // complete choices scored; depends on the workers
}

// Scored is a complete choice and its score.
type Scored struct {
	Choice []int
	Score  float64
}

// ErrBound says that a score came out below a bound that was to hold for it:
// the space is wrong, and with it the proof.
var ErrBound = errors.New("optimize: a score lies below its bound")

// taskDepth is the length of the prefixes that are handed to workers.
const taskDepth = 2

type task struct {
	prefix []int
	bound  float64
}

// Search finds the complete choice with the least score. When ctx ends first
// it returns the best so far with Status Stopped and the bound that still
// holds. The error is ErrBound (wrapped) or nil.
func Search(ctx context.Context, sp Space, s *Settings) (*Result, error) {
	var set Settings
	if s != nil {
		set = *s
	}
	if set.Workers <= 0 {
		set.Workers = runtime.GOMAXPROCS(0)
	}
	sh := &shared{ctx: ctx, depth: sp.Depth(), score: math.Inf(1), most: set.Most}
	if set.Cutoff > 0 {
		sh.score = set.Cutoff
	}
	if set.Most > 0 {
		sh.within = set.Within
	}
	sh.cut.Store(math.Float64bits(sh.score + sh.within))
	sh.progress = set.Progress
	sh.run(sp, set.Workers)
	r := &Result{Choice: sh.choice, Score: sh.score, Nodes: sh.nodes.Load(), Leaves: sh.leaves.Load()}
	switch {
	case sh.stopped.Load():
		r.Status = Stopped
		r.Bound = min(sh.least(), sh.score) // the workers are done: no lock
	case sh.choice == nil:
		r.Status, r.Bound = Infeasible, math.Inf(1)
	default:
		r.Status, r.Bound = Proved, sh.score
	}
	if sh.choice == nil {
		r.Score = math.Inf(1)
	}
	if set.Most > 0 && r.Status != Stopped && sh.err == nil {
		if sh.lost {
			return again(ctx, sp, set, r)
		}
		r.Near = sh.near
	}
	return r, sh.err
}

// again lists the choices near the best of a search whose list became too long on
// the way, perhaps only because the best was not known yet: what is listed may not
// depend on the workers.
func again(ctx context.Context, sp Space, s Settings, r *Result) (*Result, error) {
	if r.Choice != nil {
		s.Cutoff = r.Score
	}
	sh := &shared{ctx: ctx, depth: sp.Depth(), score: s.Cutoff, within: s.Within, most: s.Most, last: true}
	sh.cut.Store(math.Float64bits(sh.score + sh.within))
	sh.progress = s.Progress
	sh.run(sp, s.Workers)
	r.Nodes, r.Leaves = r.Nodes+sh.nodes.Load(), r.Leaves+sh.leaves.Load()
	if r.Full = sh.stopped.Load(); !r.Full {
		r.Near = sh.near
	}
	return r, sh.err
}

// run lets the workers go through the whole tree.
func (sh *shared) run(sp Space, workers int) {
	stop := sh.watch()
	tasks := sh.tasks(sp.NewWorker())
	sh.open = make([]float64, len(tasks))
	for i := range tasks {
		sh.open[i] = tasks[i].bound
	}
	sh.mu.Lock()
	sh.tell()
	sh.mu.Unlock()
	var wg sync.WaitGroup
	var next atomic.Int64
	for range workers {
		wg.Go(func() {
			w := &walker{sh: sh, w: sp.NewWorker(), bufs: make([][]Child, sh.depth)}
			for {
				i := int(next.Add(1)) - 1
				if i >= len(tasks) || sh.stopped.Load() {
					break
				}
				w.task(&tasks[i])
				if !sh.stopped.Load() {
					sh.close(i)
				}
			}
			sh.nodes.Add(w.nodes)
			sh.leaves.Add(w.leaves)
		})
	}
	wg.Wait()
	stop()
}

// shared is what the workers share.
type shared struct {
	ctx      context.Context
	depth    int
	progress func(best, bound float64)
	stopped  atomic.Bool
	within   float64       // above the best: of interest too
	most     int           // longest list of near ones
	last     bool          // the list is all that is wanted: done when it is too long
	cut      atomic.Uint64 // bits of the best score and within, read without the lock
	nodes    atomic.Int64
	leaves   atomic.Int64

	mu     sync.Mutex
	choice []int
	score  float64
	near   []Scored
	lost   bool      // it became too long
	open   []float64 // bound of each task, +Inf when done
	err    error
}

func (sh *shared) cutoff() float64 { return math.Float64frombits(sh.cut.Load()) }

// offer takes a scored choice: as the best if it is better, or as good and
// earlier; and into the list of near ones.
func (sh *shared) offer(choice []int, score float64) {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	if score > sh.score+sh.within {
		return
	}
	mine := append([]int(nil), choice...)
	if score < sh.score || score == sh.score && (sh.choice == nil || earlier(mine, sh.choice)) {
		sh.score, sh.choice = score, mine
		sh.tell()
	}
	if sh.most > 0 && !sh.lost {
		sh.list(Scored{mine, score})
	}
	sh.cut.Store(math.Float64bits(sh.score + sh.within))
}

// list adds to the near ones, which it keeps in order.
func (sh *shared) list(c Scored) {
	i := sort.Search(len(sh.near), func(i int) bool {
		return sh.near[i].Score > c.Score || sh.near[i].Score == c.Score && earlier(c.Choice, sh.near[i].Choice)
	})
	sh.near = slices.Insert(sh.near, i, c)
	n := sort.Search(len(sh.near), func(i int) bool { return sh.near[i].Score > sh.score+sh.within })
	if sh.near = sh.near[:n]; n > sh.most {
		sh.near, sh.lost = nil, true
		if sh.within = 0; sh.last {
			sh.stopped.Store(true)
		}
	}
}

// earlier is the tie rule: the first differing choice has the lower number.
func earlier(a, b []int) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

func (sh *shared) close(i int) {
	sh.mu.Lock()
	sh.open[i] = math.Inf(1)
	sh.tell()
	sh.mu.Unlock()
}

// least is the bound that is still open; with the lock held.
func (sh *shared) least() float64 {
	b := math.Inf(1)
	for _, o := range sh.open {
		b = min(b, o)
	}
	return b
}

func (sh *shared) fail(err error) {
	sh.mu.Lock()
	if sh.err == nil {
		sh.err = err
	}
	sh.mu.Unlock()
	sh.stopped.Store(true)
}

// tasks lists the prefixes in order of their bounds, so that good answers come
// early and the open bound rises. A search that is stopped meanwhile has shorter
// prefixes among them, so that their bound still covers everything.
func (sh *shared) tasks(w Worker) []task {
	var out []task
	var walk func(prefix []int, bound float64)
	walk = func(prefix []int, bound float64) {
		if len(prefix) == min(taskDepth, sh.depth) || sh.stopped.Load() {
			out = append(out, task{prefix: append([]int(nil), prefix...), bound: bound})
			return
		}
		for _, c := range w.Children(nil, sh.cutoff()) {
			if c.Bound > sh.cutoff() {
				continue
			}
			w.Push(c.Choice)
			walk(append(prefix, c.Choice), max(bound, c.Bound))
			w.Pop()
		}
	}
	walk(nil, math.Inf(-1))
	sort.SliceStable(out, func(i, j int) bool { return out[i].bound < out[j].bound })
	return out
}

// watch turns the end of the context into the flag that workers read, and
// returns what ends the watching.
func (sh *shared) watch() func() {
	done := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		select {
		case <-done:
		case <-sh.ctx.Done():
			sh.stopped.Store(true)
		}
	})
	if sh.ctx.Err() != nil {
		sh.stopped.Store(true)
	}
	return func() { close(done); wg.Wait() }
}

// tell reports the best score and the open bound; with the lock held.
func (sh *shared) tell() {
	if sh.progress != nil {
		sh.progress(sh.score, min(sh.score, sh.least()))
	}
}

// walker is one worker's walk.
type walker struct {
	sh     *shared
	w      Worker
	bufs   [][]Child
	prefix []int
	nodes  int64
	leaves int64
}

func (w *walker) task(t *task) {
	if t.bound > w.sh.cutoff() {
		return
	}
	for _, c := range t.prefix {
		w.w.Push(c)
	}
	w.prefix = append(w.prefix[:0], t.prefix...)
	w.visit(t.bound)
	for range t.prefix {
		w.w.Pop()
	}
}

func (w *walker) visit(bound float64) {
	if w.sh.stopped.Load() {
		return
	}
	w.nodes++
	depth := len(w.prefix)
	if depth == w.sh.depth {
		w.leaves++
		score := w.w.Score(w.sh.cutoff())
		if score < bound-boundSlack {
			w.sh.fail(fmt.Errorf("%w: choice %v scores %.9f, bound %.9f", ErrBound, w.prefix, score, bound))
			return
		}
		if score <= w.sh.cutoff() && !math.IsInf(score, 1) {
			w.sh.offer(w.prefix, score)
		}
		return
	}
	kids := w.w.Children(w.bufs[depth][:0], w.sh.cutoff())
	w.bufs[depth] = kids
	// Children by bound: the likeliest first. Stable, so ties keep the order
	// of choices.
	sort.SliceStable(kids, func(i, j int) bool { return kids[i].Bound < kids[j].Bound })
	for i := range kids {
		c := kids[i]
		if c.Bound > w.sh.cutoff() {
			break
		}
		w.w.Push(c.Choice)
		w.prefix = append(w.prefix, c.Choice)
		w.visit(max(bound, c.Bound))
		w.prefix = w.prefix[:depth]
		w.w.Pop()
	}
}

// boundSlack is how far (in units of the score) a score may lie below its
// bound before the search refuses to call itself a proof: rounding only.
const boundSlack = 1e-9

// Exhaustive scores every complete choice and returns the best by the same tie
// rule, without using a bound. It is the oracle for small spaces.
func Exhaustive(sp Space) *Result {
	r := &Result{Score: math.Inf(1), Status: Infeasible, Bound: math.Inf(1)}
	w := sp.NewWorker()
	var prefix []int
	var walk func()
	walk = func() {
		r.Nodes++
		if len(prefix) == sp.Depth() {
			r.Leaves++
			if s := w.Score(math.Inf(1)); s < r.Score || (s == r.Score && !math.IsInf(s, 1) && earlier(prefix, r.Choice)) {
				r.Score, r.Choice = s, append([]int(nil), prefix...)
			}
			return
		}
		for _, c := range w.Children(nil, math.Inf(1)) {
			w.Push(c.Choice)
			prefix = append(prefix, c.Choice)
			walk()
			prefix = prefix[:len(prefix)-1]
			w.Pop()
		}
	}
	walk()
	if r.Choice != nil {
		r.Status, r.Bound = Proved, r.Score
	}
	return r
}
