package sim

import "math"

// step makes one fourth-order step of length h (m) from st and returns v², the
// time it took, both end slopes and whether tyres rule at either end.
//
// last carries the acceleration at the end of one step to the start of the
// next, where the place has not jumped in between; nil = do not.
func (m *Model) step(st *state, h float64, d *drive, last *carry) (u1, dt, d0, d1 float64, g0, g1 bool) {
	c := &m.cells[st.cell]
	var p0, pm, p1 *place
	switch {
	case c.uniform:
		p0, pm, p1 = &c.p0, &c.p0, &c.p0
	case st.x == 0 && h == c.h:
		p0, pm, p1 = &c.p0, &c.pm, &c.p1
	default:
		a, b, e := c.at(st.x), c.at(st.x+0.5*h), c.at(st.x+h)
		p0, pm, p1 = &a, &b, &e
	}
	b := m.body
	var a1 float64
	if last != nil && last.u == st.u && last.place == *p0 {
		a1, g0 = last.a, last.grip
	} else {
		a1, g0 = b.accel(p0, st.u, d)
	}
	k1 := 2 * a1
	u2 := math.Max(st.u+0.5*h*k1, leastU)
	a2, _ := b.accel(pm, u2, d)
	k2 := 2 * a2
	u3 := math.Max(st.u+0.5*h*k2, leastU)
	a3, _ := b.accel(pm, u3, d)
	k3 := 2 * a3
	u4 := math.Max(st.u+h*k3, leastU)
	a4, _ := b.accel(p1, u4, d)
	k4 := 2 * a4
	u1 = math.Max(st.u+h/6*(k1+2*k2+2*k3+k4), leastU)
	dt = h / 6 * (1/math.Sqrt(st.u) + 2/math.Sqrt(u2) + 2/math.Sqrt(u3) + 1/math.Sqrt(u4))
	ae, g1 := b.accel(p1, u1, d)
	if last != nil {
		last.u, last.place, last.a, last.grip = u1, *p1, ae, g1
	}
	return u1, dt, k1, 2 * ae, g0, g1
}

// carry is what one step hands to the next.
type carry struct {
	u     float64
	place place
	a     float64
	grip  bool
}

// leastU is the square of the speed (m²/s²) under which a run counts as
// stalled.
const leastU = 1.0

// advance moves st to the end of a piece inside its cell.
func (m *Model) advance(st *state, h, u, t float64) {
	c := &m.cells[st.cell]
	st.x += h
	st.s += h
	st.u = u
	st.t = t
	if st.x >= c.h-1e-10 {
		st.x = 0
		st.cell++
		if st.cell == len(m.cells) {
			st.cell = 0
		}
	}
}

// cut ends a piece early at s, where v² is u.
func cut(p *piece, s, u float64) {
	h := p.s1 - p.s0
	f := (s - p.s0) / h
	d := hermiteSlope(p.u0, p.d0, p.u1, p.d1, h, f)
	p.t1 = p.tAt(s)
	p.s1, p.u1, p.d1 = s, u, d
}

func hermiteSlope(y0, d0, y1, d1, h, f float64) float64 {
	return 6*f*(1-f)*(y1-y0)/h + (1-f)*(1-3*f)*d0 + f*(3*f-2)*d1
}

// regimeChange finds how far into the step (m) the tyres take over from the
// engine or hand over to it, by bisection on the step's own interpolation.
func (m *Model) regimeChange(st *state, h, u1, d0, d1 float64, g0 bool, d *drive) float64 {
	c := &m.cells[st.cell]
	lo, hi := 0.0, h
	for range 16 {
		x := 0.5 * (lo + hi)
		u := math.Max(hermite(st.u, d0, u1, d1, h, x/h), leastU)
		p := c.at(st.x + x)
		if _, g := m.body.accel(&p, u, d); g == g0 {
			lo = x
		} else {
			hi = x
		}
	}
	return hi
}

// coast lets st roll without drive for the shift time tau (s) (9.1), (9.2):
// one fourth-order step in time. ret (J) is spin energy that the engine gives
// back, spread evenly over the time. It returns the piece.
func (m *Model) coast(st *state, gear int, tau, ret float64) piece {
	power := 0.0
	if ret > 0 {
		power = ret / tau
	}
	return m.coastWithin(st, gear, tau, power, math.Inf(1))
}

// coastWithin is coast with a power (W) that knows no place further than reach
// (m) ahead.
func (m *Model) coastWithin(st *state, gear int, tau, power, reach float64) piece {
	pc := piece{cell: int32(st.cell), gear: int8(gear), phase: Shifting, s0: st.s, u0: st.u, t0: st.t}
	v0 := math.Sqrt(st.u)
	acc := func(dist, v float64) float64 {
		p := m.placeAhead(st, math.Min(dist, reach))
		return m.body.coastPushed(&p, v, power)
	}
	a1 := acc(0, v0)
	v2 := v0 + 0.5*tau*a1
	a2 := acc(0.5*tau*v0, v2)
	v3 := v0 + 0.5*tau*a2
	a3 := acc(0.5*tau*v2, v3)
	v4 := v0 + tau*a3
	a4 := acc(tau*v3, v4)
	v1 := math.Max(v0+tau/6*(a1+2*a2+2*a3+a4), 1)
	dist := tau / 6 * (v0 + 2*v2 + 2*v3 + v4)
	pc.s1, pc.u1, pc.t1 = st.s+dist, v1*v1, st.t+tau
	pc.d0, pc.d1 = 2*a1, 2*a4
	m.jump(st, dist)
	st.u, st.t = pc.u1, pc.t1
	return pc
}

// coastSmooth is coastWithin for tau (s) or, if sooner, to where the road or
// the air changes at a stroke: no step crosses that, or the lap would jump as
// the shift moves past it.
func (m *Model) coastSmooth(st *state, gear int, tau, power float64) piece {
	from := *st
	pc := m.coastWithin(st, gear, tau, power, math.Inf(1))
	x, last := m.cells[from.cell].h-from.x, pc.s1-pc.s0
	for i := from.cell; x < last+1e-7; {
		if m.cells[i].breaks && x > 1e-7 {
			break
		}
		if i++; i == len(m.cells) {
			i = 0
		}
		x += m.cells[i].h
	}
	if x >= last-1e-7 {
		return pc
	}
	tau = pc.tAt(pc.s0+x) - pc.t0
	for range 4 {
		*st = from
		pc = m.coastWithin(st, gear, tau, power, x-1e-9)
		miss := x - (pc.s1 - pc.s0)
		if math.Abs(miss) < 1e-9 {
			break
		}
		tau += miss / math.Sqrt(pc.u1)
	}
	*st = from
	m.jump(st, x)
	pc.s1 = st.s
	st.u, st.t = pc.u1, pc.t1
	return pc
}

// pause rolls st without drive for the time of a shift. Where the car meets the
// envelope it follows it for as long as it would otherwise rise above, and rolls
// on where it would not.
func (m *Model) pause(st *state, gear int, tau, ret, sEnd float64, out []piece) []piece {
	if tau <= 0 {
		return out
	}
	end, power := st.t+tau, ret/tau
	for st.t < end-1e-12 && st.s < sEnd-1e-9 {
		from := *st
		pc := m.coastSmooth(st, gear, end-from.t, power)
		if st.s <= sEnd && !m.above(st) {
			out = append(out, pc)
			continue
		}
		// Find where on the way it meets the envelope or the end.
		lo, hi := 0.0, pc.s1-pc.s0
		for hi-lo > 1e-9 {
			mid := 0.5 * (lo + hi)
			q := from
			m.jump(&q, mid)
			q.u = pc.uAt(pc.s0 + mid)
			if q.s >= sEnd || m.above(&q) {
				hi = mid
			} else {
				lo = mid
			}
		}
		q := from
		m.jump(&q, hi)
		q.t, q.u = pc.tAt(pc.s0+hi), pc.uAt(pc.s0+hi)
		rolled := hi > 1e-7
		if rolled {
			cut(&pc, pc.s0+hi, q.u)
			pc.t1 = q.t
			out = append(out, pc)
		}
		*st = q
		if st.s >= sEnd-1e-7 {
			st.s = sEnd
			return out
		}
		st.u = math.Min(st.u, m.cells[st.cell].capAt(st.x))
		// Along the envelope, part by part; one part in any case where it did
		// not roll, so that every turn makes way.
		for first := true; st.t < end-1e-12 && st.s < sEnd-1e-9; first = false {
			c := &m.cells[st.cell]
			part := c.h / envSub
			j := min(int(st.x/part+1e-9), envSub-1)
			x := math.Min(float64(j+1)*part, st.x+sEnd-st.s)
			p := c.at(0.5 * (st.x + x))
			if (rolled || !first) && 2*m.body.coastPushed(&p, math.Sqrt(st.u), power) < (c.env[j+1]-c.env[j])/part {
				break
			}
			pc := m.along(st, c, gear, x)
			pc.phase = Shifting
			out = append(out, pc)
			m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
		}
	}
	return out
}

func (m *Model) above(st *state) bool {
	c := &m.cells[st.cell]
	return !c.free && st.u > c.capAt(st.x)*(1+1e-10)
}

// placeAhead is the place dist (m) ahead of st.
func (m *Model) placeAhead(st *state, dist float64) place {
	i, x := st.cell, st.x+dist
	for x > m.cells[i].h {
		x -= m.cells[i].h
		i++
		if i == len(m.cells) {
			i = 0
		}
	}
	return m.cells[i].at(x)
}

// jump moves st forward by dist (m) without touching speed or time.
func (m *Model) jump(st *state, dist float64) {
	st.x += dist
	st.s += dist
	for st.x >= m.cells[st.cell].h-1e-10 {
		st.x = math.Max(st.x-m.cells[st.cell].h, 0)
		st.cell++
		if st.cell == len(m.cells) {
			st.cell = 0
		}
	}
}
