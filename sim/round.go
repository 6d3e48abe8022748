package sim

import "math"

// Round is the ideal car's lap of a circuit that nothing resets, repeated until
// it ends as it began.
type Round struct {
	Time float64 // s; 0 where the ideal car cannot drive one, or does not settle: nothing is known
	Flat bool    // the envelope is never met: nobody brakes or lifts

	m *Model
	e *Ideal
	u []float64 // m²/s² at the start of each cell
}

// IdealRound is the round of an ideal car.
func (m *Model) IdealRound(e *Ideal) *Round {
	r := &Round{m: m, e: e, u: make([]float64, len(m.cells))}
	lap := m.idealRound(e)
	if lap == nil {
		return r
	}
	r.Time, r.Flat = lap.time, true
	for i := range lap.ps {
		p := &lap.ps[i]
		if j := int(p.cell); math.Abs(m.wrap(p.s0)-m.cells[j].s) < 1e-6 {
			r.u[j] = p.u0
		}
		cell := &m.cells[p.cell]
		r.Flat = r.Flat && p.phase == Driving && p.u0 < cell.capAt(max(0, m.wrap(p.s0)-cell.s))*(1-awayShare)
	}
	return r
}

// RoundLosses is what cars lose that drive not much slower than the ideal one on
// its round. A loss is the time (s) by which a car that drives on as the ideal one
// does comes later for it in the end, told after one more lap, so a little less
// than it is. Losses add up: a lap that repeats itself takes the round's time and
// what each moment of it loses.
//
// The lap is cut into stretches of at least stretchLeast. Between the speeds and
// places looked at a loss changes smoothly; half of the change from one to the next
// is taken off.
type RoundLosses struct {
	r     *Round
	first []int     // cell in which each stretch begins
	slow  []float64 // share of the speed that the cars of interest lack at most there
	worth []float64 // s per m/s, least that speed is worth in a stretch
	// Lengths of the stretches (m), and the greatest speed (m/s) in each.
	Lengths, Speeds []float64
}

const (
	stretchLeast = 12 // m
	slowStates   = 3  // speeds looked at
)

// Losses are the losses of cars that are at most late (s) behind the ideal car.
func (r *Round) Losses(late float64) *RoundLosses {
	m := r.m
	x := &RoundLosses{r: r}
	for j := range m.cells {
		if r.u[j] == 0 {
			continue
		}
		if n := len(x.first); n > 0 && m.cells[j].s-m.cells[x.first[n-1]].s < stretchLeast {
			continue
		}
		x.first = append(x.first, j)
	}
	n := len(x.first)
	worth := make([]float64, n)
	for k, j := range x.first {
		end := m.cells[x.first[(k+1)%n]].s
		if k == n-1 {
			end += m.length
		}
		x.Lengths = append(x.Lengths, end-m.cells[j].s)
		if k%slowEvery == 0 {
			x.slow = append(x.slow, r.lacks(j, late))
		} else {
			x.slow = append(x.slow, x.slow[k-1])
		}
		v := [slowStates]float64{}
		t := [slowStates]float64{}
		for i := range v {
			u := x.state(k, j, i)
			v[i], t[i] = math.Sqrt(u), r.lap(j, u)
		}
		near, far := (t[1]-t[0])/(v[0]-v[1]), (t[2]-t[1])/(v[1]-v[2])
		worth[k] = min(near, far) - 0.5*math.Abs(near-far)
	}
	for k := range n {
		a, b := worth[k], worth[(k+1)%n]
		x.worth = append(x.worth, max(0, min(a, b)-0.5*math.Abs(a-b)))
		top := 0.0
		x.cells(k, func(j int) { top = max(top, r.u[j]) })
		x.Speeds = append(x.Speeds, math.Sqrt(top))
	}
	return x
}

// slowEvery is the number of stretches that share how much slower cars may be: it
// changes little along the lap, and lacks leaves room.
const slowEvery = 16

// state is the i-th v² (m²/s²) looked at in cell j of stretch k.
func (x *RoundLosses) state(k, j, i int) float64 {
	share := 1 - x.slow[k]*float64(i)/(slowStates-1)
	return x.r.u[j] * share * share
}

// cells calls f with the cells of stretch k whose speed is known, and the one after.
func (x *RoundLosses) cells(k int, f func(j int)) {
	n := len(x.r.m.cells)
	last := x.first[(k+1)%len(x.first)]
	for j := x.first[k]; ; j = (j + 1) % n {
		if x.r.u[j] > 0 {
			f(j)
		}
		if j == last {
			return
		}
	}
}

// lap is the time (s) of a lap of the ideal car from the start of cell j at v² = u.
func (r *Round) lap(j int, u float64) float64 {
	st := state{cell: j, s: r.m.cells[j].s, u: u}
	r.m.idealTo(&st, st.s+r.m.length, r.e)
	return st.t
}

// lacks is the share of its speed that a car at the start of cell j lacks that
// loses late (s) over the next lap; a third more, and a thousandth, since it is
// told after one lap only and at one place.
func (r *Round) lacks(j int, late float64) float64 {
	lost := func(share float64) float64 { return r.lap(j, r.u[j]*(1-share)*(1-share)) - r.Time }
	lo, hi := 0.0, 0.01
	for lost(hi) < late && hi < 0.5 {
		lo, hi = hi, 2*hi
	}
	for range 6 {
		if mid := 0.5 * (lo + hi); lost(mid) < late {
			lo = mid
		} else {
			hi = mid
		}
	}
	return min(hi*4/3+1e-3, 0.9)
}

// Pause is the least loss (s) of rolling without drive for tau (s), anywhere.
func (x *RoundLosses) Pause(tau float64) float64 {
	m := x.r.m
	least := math.Inf(1)
	var before, now, first [slowStates]float64
	weigh := func() {
		for i, a := range now {
			least = min(least, min(a, before[i])-0.5*math.Abs(a-before[i]))
			if i > 0 {
				least = min(least, min(a, now[i-1])-0.5*math.Abs(a-now[i-1]))
			}
		}
	}
	for k, j := range x.first {
		for i := range now {
			u := x.state(k, j, i)
			st := state{cell: j, s: m.cells[j].s, u: u}
			end := st.s + m.length
			m.coast(&st, 0, tau, m.bestReturn())
			st.u = min(st.u, m.cells[st.cell].capAt(st.x))
			m.idealTo(&st, end, x.r.e)
			now[i] = st.t - x.r.lap(j, u)
		}
		if k == 0 {
			first, before = now, now
		}
		weigh()
		before = now
	}
	now = first
	weigh()
	return max(0, least)
}

// Gear appends to dst, by stretch, the least loss (s) of driving through it in a
// gear; +Inf where it turns beyond its limiter at all speeds of interest.
func (x *RoundLosses) Gear(g *Gear, dst []float64) []float64 {
	r, b := x.r, x.r.m.body
	ideal := idealDrive(r.e)
	for k := range x.first {
		least := math.Inf(1)
		x.cells(k, func(j int) {
			p := r.m.cells[j].p0
			for i := range slowStates {
				u := x.state(k, j, i)
				if u > g.d.uLimit {
					continue
				}
				best, _ := b.accel(&p, u, &ideal)
				own, _ := b.accel(&p, u, &g.d)
				least = min(least, max(0, best-own)/math.Sqrt(u))
			}
		})
		dst = append(dst, least*x.worth[k]*x.Lengths[k])
	}
	return dst
}
