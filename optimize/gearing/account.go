package gearing

import (
	"math"
	"sync"

	"layshaft/sim"
)

// The account of one zone: what a car loses against the ideal car there.
//
// Coordinates. The ideal car first reaches the speed v of its climb at place
// S(v) and time T(v). A car that first reaches v at S(v) + d, d >= 0, is d
// metres behind. Its loss so far is at least
//
//	L(v, d) = [T(v) + d/v + W(S(v)+d, v)] - Z
//
// with W the ideal car's time to go and Z its time for the zone: nothing gets
// from S(v) to S(v)+d without exceeding v sooner than at v itself. L(v, 0) = 0.
//
// Charge. A car that runs in a gear from v to v+h, starting d behind, loses
// exactly the growth of t + W. Per speed cell and gear, the least of that over
// all d at which a car has lost less than the zone's cap is what it loses there.

const (
	cellV = 0.5 // m/s, width of a speed cell

	// keepShare scales charges down by what sampling in d and v can leave
	// out: cells are 0.5 m/s wide, nodes in d a few metres apart, and the
	// losses smooth between them; a thousandth covers it with room (the test
	// of the bound measures the slack).
	keepShare = 0.995
)

// delays (read-only) are the nodes (m) at which losses are tabulated.
var delays = [...]float64{0, 0.5, 1, 2, 3, 4.5, 6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 65, 85, 110, 150, 220, 320}

const nDelay = len(delays)

// zoneAcct is the account of one zone.
type zoneAcct struct {
	z      sim.Zone
	climb  *sim.Climb
	k0, k1 int               // speed nodes k0..k1 lie inside the climb
	v0, v1 float64           // m/s, start and top of the climb
	s, t   []float64         // S and T at the nodes k0..k1
	loss   [][nDelay]float64 // L at the nodes (s); +Inf where the place is past the zone
	slack  [][nDelay]float64 // s, what interpolation of L may be off, by cell in v and d
	stay   [][nDelay]float64 // s, what a car goes on to lose that never exceeds the node's speed
	rough  []bool            // by cell: the climb flattens in it, so that what the tables say between its nodes is not to be used
	free   bool              // it begins at the pit exit: no pulling rule

	// charge[g][i][k-k0][d]: loss of gear g's candidate i over cell k.
	charge [][][][nDelay]float32
	// shift[g][k-k0][d]: loss of the shift out of gear g at node k.
	shift [][][nDelay]float32
	drop  [][]float64 // m/s, least speed lost in it
}

func (a *zoneAcct) nodeV(k int) float64 { return float64(k) * cellV }

// newZoneAcct tabulates a zone for a frame.
func newZoneAcct(m *sim.Model, z sim.Zone, e *sim.Ideal) *zoneAcct {
	a := &zoneAcct{z: z, climb: m.Climb(&z, e)}
	a.v0, a.v1 = math.Sqrt(z.Start.SpeedSq()), math.Sqrt(a.climb.Top())
	a.k0 = int(math.Ceil(a.v0/cellV + 1e-9))
	a.k1 = int(math.Floor(a.v1/cellV - 1e-9))
	if a.k1 <= a.k0 {
		a.k1 = a.k0 - 1
		return a
	}
	n := a.k1 - a.k0 + 1
	a.s, a.t = make([]float64, n), make([]float64, n)
	a.loss = make([][nDelay]float64, n)
	a.stay = make([][nDelay]float64, n)
	for k := range n {
		v := a.nodeV(a.k0 + k)
		a.s[k], a.t[k] = a.climb.At(v * v)
		for d := range nDelay {
			a.loss[k][d] = a.lossAt(m, e, v, a.s[k], a.t[k], delays[d])
		}
		a.stay[k] = a.stayLosses(m, e, v, a.s[k], a.t[k], &a.loss[k])
	}
	a.findRough()
	a.measureSlack(m, e)
	return a
}

// The climb flattens where a corner taken flat out holds the car back: there the
// way that a cell takes is many times that of the one before, and the car a little
// behind is held back elsewhere.
const (
	roughShare = 1.6
	roughLeast = 10  // m
	roughMost  = 100 // m, where a cell takes longer anyhow
)

// findRough marks the cells in which the climb flattens and those beside them.
func (a *zoneAcct) findRough() {
	n := len(a.s) - 1
	a.rough = make([]bool, n)
	mark := func(k int) {
		for j := max(k-1, 0); j <= min(k+1, n-1); j++ {
			a.rough[j] = true
		}
	}
	for k := range n {
		long := a.s[k+1] - a.s[k]
		if long > roughMost {
			mark(k)
		}
		if k > 0 {
			before := a.s[k] - a.s[k-1]
			if hi, lo := max(long, before), min(long, before); hi > roughLeast && hi > roughShare*lo {
				mark(k)
				mark(k - 1)
			}
		}
	}
}

// roughAt says whether v (m/s) lies in a cell in which the tables are of no use.
func (a *zoneAcct) roughAt(v float64) bool {
	k := int(v/cellV) - a.k0
	return k >= 0 && k < len(a.rough) && a.rough[k]
}

// barStep (m) is how closely the end of a no-shift place is looked for.
const barStep = 1.0

// lossAt is L at a place d behind S(v).
func (a *zoneAcct) lossAt(m *sim.Model, e *sim.Ideal, v, s, t, d float64) float64 {
	if d == 0 {
		return 0
	}
	if s+d >= a.z.End {
		return math.Inf(1)
	}
	u := v * v
	if lim := m.LimitSq(s + d); lim < u {
		// The place lies beyond the braking point for this speed: no car
		// can first reach v here.
		return math.Inf(1)
	}
	return t + d/v + m.IdealTime(&a.z, s+d, u, e) - a.z.Ideal
}

// stayLosses is what a car goes on to lose that is delays[d] behind at v and
// never exceeds v: it holds v until the limit takes over.
func (a *zoneAcct) stayLosses(m *sim.Model, e *sim.Ideal, v, s, t float64, loss *[nDelay]float64) (stay [nDelay]float64) {
	u := v * v
	const step = 2.0
	d := 0.0
	for s+d+step < a.z.End && m.LimitSq(s+d+step) > u {
		d += step
	}
	rest, to := 0.0, a.z.End // s and m, from where the limit takes over
	if s+d+step < a.z.End {
		to = s + d
		rest = m.IdealTime(&a.z, to, u, e)
	}
	for i := range nDelay {
		if from := s + delays[i]; from < to && !math.IsInf(loss[i], 1) {
			// Time to go, less that of the ideal car: W = Z + L - T - d/v.
			w := a.z.Ideal + loss[i] - t - delays[i]/v
			stay[i] = max(0, (to-from)/v+rest-w)
		}
	}
	return stay
}

// measureSlack finds how far the bilinear interpolation of L is off at the
// middle of every second cell, where it is worst for a smooth function, and
// doubles it for the cell and its neighbours.
func (a *zoneAcct) measureSlack(m *sim.Model, e *sim.Ideal) {
	n := len(a.s)
	a.slack = make([][nDelay]float64, n)
	for k := range a.slack {
		for d := range nDelay {
			a.slack[k][d] = 2e-6
		}
	}
	for k := 0; k+1 < n; k += 2 {
		v := a.nodeV(a.k0+k) + 0.5*cellV
		s, t := a.climb.At(v * v)
		for d := 0; d+1 < nDelay; d++ {
			mid := 0.5 * (delays[d] + delays[d+1])
			got, want := a.at(v, mid), a.lossAt(m, e, v, s, t, mid)
			if math.IsInf(got, 0) || math.IsInf(want, 0) || got <= want {
				continue
			}
			for j := max(k-1, 0); j <= min(k+1, n-1); j++ {
				a.slack[j][d] = max(a.slack[j][d], 2*(got-want))
			}
		}
	}
}

// at interpolates L, low is the same less what interpolation may be off.
// Behind the last node both continue the last slope, which is lower than the
// true, growing loss.
func (a *zoneAcct) at(v, d float64) float64 {
	l, _, _ := a.look(v, d)
	return l
}

func (a *zoneAcct) low(v, d float64) float64 {
	l, k, i := a.look(v, d)
	if d <= 0 || len(a.s) < 2 {
		return l
	}
	return l - a.slack[k][i]
}

// look is at, with the cell in v and d that it read.
func (a *zoneAcct) look(v, d float64) (loss float64, k, i int) {
	if len(a.s) < 2 || d <= 0 {
		return 0, 0, 0
	}
	x := v/cellV - float64(a.k0)
	k = max(0, min(int(x), len(a.s)-2))
	x = max(0, min(x-float64(k), 1))
	i = nDelay - 2
	for j := 1; j < nDelay-1; j++ {
		if d < delays[j] {
			i = j - 1
			break
		}
	}
	y := (d - delays[i]) / (delays[i+1] - delays[i])
	lo := a.loss[k][i]*(1-x) + a.loss[k+1][i]*x
	hi := a.loss[k][i+1]*(1-x) + a.loss[k+1][i+1]*x
	if math.IsInf(hi, 1) || math.IsNaN(hi) {
		if math.IsInf(lo, 1) || math.IsNaN(lo) {
			return math.Inf(1), k, i
		}
		return lo, k, i
	}
	return lo + (hi-lo)*y, k, i
}

// bound is a lower bound of the zone's time for a car that stands at a place
// with v² = u at time t into the zone.
func (a *zoneAcct) bound(m *sim.Model, e *sim.Ideal, s, u, t float64) float64 {
	v := math.Sqrt(u)
	onLimit := a.z.Brake < a.z.End // the zone ends in braking
	if v <= a.v0+1e-9 || len(a.s) < 2 {
		return t + m.IdealTime(&a.z, s, u, e)
	}
	if v >= a.v1-1e-9 {
		if onLimit {
			return t + m.LimitTime(&a.z, s)
		}
		return t + m.IdealTime(&a.z, s, u, e)
	}
	sv, tv := a.climb.At(u)
	d := s - sv
	if d > delays[nDelay-1] || v > a.nodeV(a.k1) || a.roughAt(v) {
		return t + m.IdealTime(&a.z, s, u, e)
	}
	if d < 0 {
		d = 0
	}
	l := a.low(v, d)
	if math.IsInf(l, 1) {
		// Next to the braking point: the limit itself bounds the rest.
		if onLimit {
			return t + m.LimitTime(&a.z, s)
		}
		return t + m.IdealTime(&a.z, s, u, e)
	}
	// t + W = Z + L + (t - T(v)) - d/v.
	return a.z.Ideal + l + (t - tv) - d/v
}

// account is a lap's zones with their accounts, and the tables that follow from them.
type account struct {
	f     *frame
	m     *sim.Model // of the lap: the frame's, or that of a car from the pits
	e     *sim.Ideal
	zones []*zoneAcct
	ideal float64 // s, the ideal car's whole lap
	slip  bool    // first gear slips its clutch (out lap)
	fixed bool    // the frame's links stay as they are

	memoryMost int64 // bytes, of the chains kept; 0 = the usual

	workers int
	levels  []*budget  // from wide to tight
	memory  *memory    // of what the zones come to, with these levels
	ends    []*ends    // by zone: what is still lost from a gear and a state on
	rest    *restTable // not nil for a lap that is one zone
}

// newAccount tabulates a lap. It runs on all the workers it is given.
func newAccount(f *frame, m *sim.Model, zs []sim.Zone, e *sim.Ideal, workers int) *account {
	a := &account{f: f, m: m, e: e, zones: make([]*zoneAcct, len(zs)), workers: workers}
	f.parallel(workers, len(zs), func(i int) { a.zones[i] = newZoneAcct(m, zs[i], e) })
	top := 0.0
	for _, z := range a.zones {
		top = max(top, z.v1)
	}
	et := newEngineTable(f, top)
	f.parallel(workers, len(zs), func(i int) { a.zones[i].tabulate(f, m, et) })
	for i := range zs {
		a.ideal += zs[i].Ideal
	}
	return a
}

// parallel runs f(0..n-1) on a number of goroutines.
func parallel(workers, n int, f func(i int)) {
	if workers < 1 {
		workers = 1
	}
	var wg sync.WaitGroup
	ch := make(chan int)
	for range min(workers, n) {
		wg.Go(func() {
			for i := range ch {
				f(i)
			}
		})
	}
	for i := range n {
		ch <- i
	}
	close(ch)
	wg.Wait()
}

// engineTable holds force and turning mass of every candidate at every half
// speed cell: they do not depend on the place.
type engineTable struct {
	force, turn [][][]float64 // [g][i][half cell]
}

func newEngineTable(f *frame, top float64) *engineTable {
	n := int(top/(0.5*cellV)) + 4
	t := &engineTable{force: make([][][]float64, f.n), turn: make([][][]float64, f.n)}
	for g := range f.n {
		t.force[g] = make([][]float64, len(f.cand[g]))
		t.turn[g] = make([][]float64, len(f.cand[g]))
		for i := range f.cand[g] {
			fo, tu := make([]float64, n), make([]float64, n)
			for k := range n {
				fo[k], tu[k] = f.m.Engine(&f.gear[g][i], float64(k)*0.5*cellV)
			}
			t.force[g][i], t.turn[g][i] = fo, tu
		}
	}
	return t
}

// hold is resistance and grip (N) at the three points of a cell.
type hold struct{ resist, grip [3]float64 }

// tabulate fills in charges and shift losses.
func (a *zoneAcct) tabulate(f *frame, m *sim.Model, et *engineTable) {
	n := len(a.s)
	if n < 2 {
		return
	}
	reach := f.reachable()
	holds := make([][nDelay]hold, n-1)
	for k := range n - 1 {
		v := a.nodeV(a.k0 + k)
		for d := range nDelay {
			if math.IsInf(a.loss[k][d], 1) {
				continue
			}
			for j := range 3 {
				x := float64(j) / 2
				s := a.s[k] + x*(a.s[k+1]-a.s[k]) + delays[d]
				holds[k][d].resist[j], holds[k][d].grip[j] = m.Hold(s, v+x*cellV)
			}
		}
	}
	a.charge = make([][][][nDelay]float32, f.n)
	a.shift = make([][][nDelay]float32, f.n)
	a.drop = make([][]float64, f.n)
	for g := range f.n {
		a.charge[g] = make([][][nDelay]float32, len(f.cand[g]))
		for i := range f.cand[g] {
			if !reach[g][i] {
				continue
			}
			rows := make([][nDelay]float32, n-1)
			top := math.Sqrt(f.gear[g][i].LimitSq())
			for k := range n - 1 {
				// Beyond the limiter. The cell in which it lies counts in full, so that
				// the nodes on both sides stand for a shift inside.
				over := a.nodeV(a.k0+k) > top
				for d := range nDelay {
					if over {
						rows[k][d] = float32(math.Inf(1))
						continue
					}
					if a.rough[k] {
						continue
					}
					h := 2 * (a.k0 + k)
					rows[k][d] = a.cellLoss(m.Mass(), et.force[g][i][h:h+3], et.turn[g][i][h:h+3], &holds[k][d], k, d)
				}
			}
			a.charge[g][i] = rows
		}
		if g+1 < f.n {
			a.shift[g], a.drop[g] = a.shiftLosses(f, m, g)
		}
	}
}

// cellLoss is what a gear loses over cell k from delays[d] behind: Simpson over
// the cell for the time 1/a and the way v/a; +Inf where it does not climb. From
// the first node on from which the braking comes before the cell's end it is 0: a
// car a little less behind may lose hardly anything.
func (a *zoneAcct) cellLoss(mass float64, force, turn []float64, h *hold, k, d int) float32 {
	inf := float32(math.Inf(1))
	if math.IsInf(a.loss[k][d], 1) {
		return 0
	}
	var acc [3]float64
	for j := range 3 {
		acc[j] = (force[j] - h.resist[j]) / (mass + turn[j])
		if h.resist[j]+mass*acc[j] > h.grip[j] {
			acc[j] = (h.grip[j] - h.resist[j]) / mass
		}
		if acc[j] <= 1e-3 {
			return inf // the gear does not climb through the cell
		}
	}
	v := a.nodeV(a.k0 + k)
	v1 := v + cellV
	dt := cellV / 6 * (1/acc[0] + 4/acc[1] + 1/acc[2])
	ds := cellV / 6 * (v/acc[0] + 4*(v+0.5*cellV)/acc[1] + v1/acc[2])
	d1 := max(delays[d]+ds-(a.s[k+1]-a.s[k]), 0)
	l1 := a.at(v1, d1)
	if math.IsInf(l1, 1) {
		return 0
	}
	// Growth of t + W over the cell.
	loss := dt - (a.t[k+1] - a.t[k]) + l1 - d1/v1 - a.loss[k][d] + delays[d]/v
	return float32(max(loss, 0))
}

// shiftLosses are the losses of the shift out of gear g at every node: +Inf in a
// no-shift place, but with its end where that lies before the next delay; 0 from
// the first node on that lies in the braking, where a shift costs nothing.
func (a *zoneAcct) shiftLosses(f *frame, m *sim.Model, g int) ([][nDelay]float32, []float64) {
	n := len(a.s)
	out, drop := make([][nDelay]float32, n), make([]float64, n)
	var before, after *sim.Gear
	for i := range f.next[g] {
		if len(f.next[g][i]) > 0 {
			// Returned spin energy depends on the pair: take the greatest.
			before, after = &f.gear[g][i], &f.gear[g+1][f.next[g][i][len(f.next[g][i])-1]]
			break
		}
	}
	if before == nil {
		return out, drop
	}
	tau := m.UpshiftTime(g + 1)
	if m.Car().ShiftInertiaReturn > 0 {
		return out, drop // no charge: the energy given back differs from pair to pair
	}
	for k := range n {
		v := a.nodeV(a.k0 + k)
		drop[k] = v
		for d := range nDelay {
			if math.IsInf(a.loss[k][d], 1) {
				out[k][d] = 0
				continue
			}
			behind, loss0 := delays[d], a.loss[k][d]
			if m.NoShiftAt(a.s[k] + behind) {
				for behind < delays[min(d+1, nDelay-1)] && m.NoShiftAt(a.s[k]+behind) {
					behind += barStep
				}
				if m.NoShiftAt(a.s[k] + behind) {
					out[k][d] = float32(math.Inf(1))
					continue
				}
				if loss0 = a.low(v, behind); math.IsInf(loss0, 1) || m.LimitSq(a.s[k]+behind) < v*v {
					out[k][d] = 0
					continue
				}
			}
			s1, u1 := m.Coast(a.s[k]+behind, v*v, before, after)
			v1 := math.Sqrt(u1)
			drop[k] = max(0, min(drop[k], v-v1))
			if s1 >= a.z.End || m.LimitSq(s1) < u1 || v1 <= a.v0 || a.roughAt(v1) {
				out[k][d] = 0
				continue
			}
			sv, tv := a.climb.At(u1)
			d1 := max(s1-sv, 0)
			l1 := a.low(v1, d1)
			if math.IsInf(l1, 1) {
				out[k][d] = 0
				continue
			}
			// Growth of t + W over the coast.
			loss := tau + (l1 - tv - d1/v1) - (loss0 - a.t[k] - behind/v)
			out[k][d] = float32(max(loss, 0))
		}
	}
	return out, drop
}
