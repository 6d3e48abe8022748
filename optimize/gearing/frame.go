package gearing

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// frame is one way to choose what the gears stand in: a cluster, a final drive
// and a drop pair, with the candidates for every gear. Inside a frame a set is
// one candidate index per gear.
type frame struct {
	m       *sim.Model
	box     *gearbox.Box
	cluster *gearbox.Cluster
	final   *gearbox.Drive
	drop    *gearbox.Drive
	n       int
	cand    [][]*gearbox.Pair // by gear, falling ratio
	total   [][]float64       // total ratios of cand
	gear    [][]sim.Gear
	next    [][][]int32   // [g][i]: candidates of gear g+1 that may follow i
	cross   [][][]float64 // [g][i][j]: v² (m²/s²) of the shift, NaN where j may not follow
	least   [][]float64   // [g][i]: least v² (m²/s²) of a shift into a follower; +Inf none
	most    [][]float64   // and the greatest; +Inf where none follows
	groups  map[string][]group
	limits  Limits
	ended   func() bool // the search is to stop (halt.go); nil = never
}

// group is one pair that an integral part brings along.
type group struct {
	gear  int // index
	index int // among the candidates
	id    string
}

// frames lists every frame of the problem in a fixed order, without those that
// would repeat the candidates of an earlier one (a second cluster in which
// every gear stands in a slot of the same kind).
func (p *Problem) frames() ([]*frame, error) {
	finals := p.Limits.Finals
	if len(finals) == 0 {
		f := p.Stock.FittedFinal()
		if f == nil {
			return nil, fmt.Errorf("the stock names no fitted final drive; mark one with fitted = true or choose one with --final-drive")
		}
		finals = []*gearbox.Drive{f}
	}
	drops := p.Limits.Drops
	if len(drops) == 0 {
		drops = []*gearbox.Drive{nil}
		if len(p.Stock.Drops) > 0 {
			d := p.Stock.FittedDrop()
			if d == nil {
				return nil, fmt.Errorf("the stock lists drop pairs but names none as fitted; mark one with fitted = true")
			}
			drops[0] = d
		}
	}
	var out []*frame
	for _, fin := range finals {
		for _, drop := range drops {
			for c := range p.Box.Clusters {
				f := p.newFrame(&p.Box.Clusters[c], fin, drop)
				out = append(out, f)
			}
		}
	}
	return out, nil
}

func (p *Problem) newFrame(c *gearbox.Cluster, fin, drop *gearbox.Drive) *frame {
	f := &frame{m: p.Model, box: p.Box, cluster: c, final: fin, drop: drop, n: p.Box.Gears, limits: p.Limits}
	rest := fin.Ratio()
	if drop != nil {
		rest *= drop.Ratio()
	}
	for g := range f.n {
		pairs, _ := gearbox.Candidates(p.Box, c, p.Stock, g+1, p.Limits.Allowed)
		if id, ok := p.Limits.Keep[g+1]; ok {
			var kept []*gearbox.Pair
			for _, q := range pairs {
				if q.ID == id {
					kept = append(kept, q)
				}
			}
			pairs = kept
		}
		f.cand = append(f.cand, pairs)
		totals := make([]float64, len(pairs))
		for i, q := range pairs {
			totals[i] = q.Ratio() * rest
		}
		f.total = append(f.total, totals)
	}
	return f
}

// steps returns the ratio step limits in force.
func (p *Problem) steps() (lo, hi float64) {
	lo, hi = p.Box.StepMin, p.Box.StepMax
	if p.Limits.StepMin > 0 {
		lo = p.Limits.StepMin
	}
	if p.Limits.StepMax > 0 {
		hi = p.Limits.StepMax
	}
	return lo, hi
}

// stepOK says whether a pair may follow another: a ratio that falls, inside
// the step limits. Steps are compared as printed numbers would be, with 1e-9
// to spare, so that a step that equals the limit passes.
func stepOK(a, b, lo, hi float64) bool {
	s := a / b
	return s > 1+1e-12 && s >= lo*(1-1e-9) && s <= hi*(1+1e-9)
}

// link fills in which pairs may follow which; topOK filters the top gear.
func (f *frame) link(lo, hi float64, topOK func(total float64) bool) {
	f.next = make([][][]int32, f.n)
	for g := range f.n - 1 {
		f.next[g] = make([][]int32, len(f.cand[g]))
		for i, a := range f.cand[g] {
			for j, b := range f.cand[g+1] {
				if !stepOK(a.Ratio(), b.Ratio(), lo, hi) || a.ID == b.ID {
					continue
				}
				if g+1 == f.n-1 && !topOK(f.total[g+1][j]) {
					continue
				}
				f.next[g][i] = append(f.next[g][i], int32(j))
			}
		}
	}
	f.trim()
	f.findGroups()
}

// trim drops links that lead nowhere: a pair that no pair of the next gear may
// follow is itself no follower.
func (f *frame) trim() {
	for g := f.n - 3; g >= 0; g-- {
		for i := range f.next[g] {
			kept := f.next[g][i][:0]
			for _, j := range f.next[g][i] {
				if len(f.next[g+1][j]) > 0 {
					kept = append(kept, j)
				}
			}
			f.next[g][i] = kept
		}
	}
}

// reachable says which candidates stand in some complete chain.
func (f *frame) reachable() [][]bool {
	r := make([][]bool, f.n)
	for g := range f.n {
		r[g] = make([]bool, len(f.cand[g]))
	}
	for i := range f.cand[0] {
		r[0][i] = f.n == 1 || len(f.next[0][i]) > 0
	}
	for g := range f.n - 1 {
		for i, ok := range r[g] {
			if !ok {
				continue
			}
			for _, j := range f.next[g][i] {
				r[g+1][j] = true
			}
		}
	}
	return r
}

func (f *frame) findGroups() {
	f.groups = map[string][]group{}
	for g := range f.n {
		for i, q := range f.cand[g] {
			if q.Group != "" {
				f.groups[q.Group] = append(f.groups[q.Group], group{g, i, q.ID})
			}
		}
	}
}

// groupsOK says whether every integral part that the set uses is used whole.
func (f *frame) groupsOK(idx []int, stock *gearbox.Stock) bool {
	for g, i := range idx {
		name := f.cand[g][i].Group
		if name == "" {
			continue
		}
		for q := range stock.Pairs {
			if stock.Pairs[q].Group == name && !f.has(idx, stock.Pairs[q].ID) {
				return false
			}
		}
	}
	return true
}

func (f *frame) has(idx []int, id string) bool {
	for g, i := range idx {
		if f.cand[g][i].ID == id {
			return true
		}
	}
	return false
}

// ready makes the gears and the shift speeds.
func (f *frame) ready() {
	f.gear = make([][]sim.Gear, f.n)
	for g := range f.n {
		f.gear[g] = make([]sim.Gear, len(f.cand[g]))
		for i, t := range f.total[g] {
			f.gear[g][i] = f.m.NewGear(g+1, t)
		}
	}
	f.cross = make([][][]float64, f.n-1)
	for g := range f.n - 1 {
		f.cross[g] = make([][]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			row := make([]float64, len(f.cand[g+1]))
			for j := range row {
				row[j] = math.NaN()
			}
			for _, j := range f.next[g][i] {
				row[j] = f.m.CrossSq(&f.gear[g][i], &f.gear[g+1][j])
			}
			f.cross[g][i] = row
		}
	}
	f.span()
}

// span finds the least and the greatest speed of a shift out of every candidate.
func (f *frame) span() {
	f.least, f.most = make([][]float64, f.n), make([][]float64, f.n)
	for g := range f.n {
		f.least[g], f.most[g] = make([]float64, len(f.cand[g])), make([]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			f.least[g][i], f.most[g][i] = math.Inf(1), math.Inf(1)
			if g+1 == f.n {
				continue
			}
			f.most[g][i] = 0
			for _, j := range f.next[g][i] {
				f.least[g][i] = min(f.least[g][i], f.cross[g][i][j])
				f.most[g][i] = max(f.most[g][i], f.cross[g][i][j])
			}
		}
	}
}

// only is the frame with the links that keep admits, those that then lead nowhere
// left out. Candidates have the same numbers in it.
func (f *frame) only(keep func(g, i, n int) bool) *frame {
	c := *f
	c.next, c.cross = make([][][]int32, f.n), make([][][]float64, f.n-1)
	for g := range f.n - 1 {
		c.next[g], c.cross[g] = make([][]int32, len(f.cand[g])), make([][]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			for n, j := range f.next[g][i] {
				if keep(g, i, n) {
					c.next[g][i] = append(c.next[g][i], j)
				}
			}
		}
	}
	c.trim()
	for g := range f.n - 1 {
		for i := range f.cand[g] {
			c.cross[g][i] = make([]float64, len(f.cand[g+1]))
			for j := range c.cross[g][i] {
				c.cross[g][i][j] = math.NaN()
			}
			for _, j := range c.next[g][i] {
				c.cross[g][i][j] = f.cross[g][i][j]
			}
		}
	}
	c.span()
	return &c
}

// set turns indices into a buildable set.
func (f *frame) set(idx []int) *gearbox.Set {
	s := &gearbox.Set{Cluster: f.cluster, Final: f.final, Drop: f.drop}
	for g, i := range idx {
		s.Pairs = append(s.Pairs, f.cand[g][i])
	}
	return s
}

// totals writes the total ratios of a set into dst.
func (f *frame) totals(idx []int, dst []float64) []float64 {
	dst = dst[:0]
	for g, i := range idx {
		dst = append(dst, f.total[g][i])
	}
	return dst
}

// signature tells frames with the same candidates and ratios apart from
// others; equal signatures give equal laps.
func (f *frame) signature() string {
	var b strings.Builder
	for g := range f.n {
		fmt.Fprintf(&b, "|%d:", g)
		for i, q := range f.cand[g] {
			fmt.Fprintf(&b, "%s=%b,", q.ID, f.total[g][i])
		}
	}
	return b.String()
}

// idealGears collects the distinct total ratios and efficiencies that any set
// of the frames can have, for the ideal car.
func idealGears(frames []*frame, eta []float64) (totals, etas []float64) {
	type key struct{ t, e float64 }
	seen := map[key]bool{}
	for _, f := range frames {
		r := f.reachable()
		for g := range f.n {
			for i, ok := range r[g] {
				if k := (key{f.total[g][i], eta[g]}); ok && !seen[k] {
					seen[k] = true
				}
			}
		}
	}
	keys := make([]key, 0, len(seen))
	for k := range seen {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if keys[i].t != keys[j].t {
			return keys[i].t > keys[j].t
		}
		return keys[i].e < keys[j].e
	})
	for _, k := range keys {
		totals, etas = append(totals, k.t), append(etas, k.e)
	}
	return totals, etas
}
