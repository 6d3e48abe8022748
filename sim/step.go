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
	u2 := max(st.u+0.5*h*k1, leastU)
	a2, _ := b.accel(pm, u2, d)
	k2 := 2 * a2
	u3 := max(st.u+0.5*h*k2, leastU)
	a3, _ := b.accel(pm, u3, d)
	k3 := 2 * a3
	u4 := max(st.u+h*k3, leastU)
	a4, _ := b.accel(p1, u4, d)
	k4 := 2 * a4
	u1 = max(st.u+h/6*(k1+2*k2+2*k3+k4), leastU)
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
	for range 10 {
		x := 0.5 * (lo + hi)
		u := max(hermite(st.u, d0, u1, d1, h, x/h), leastU)
		p := c.at(st.x + x)
		if _, g := m.body.accel(&p, u, d); g == g0 {
			lo = x
		} else {
			hi = x
		}
	}
	return hi
}

// coast lets st roll without drive for the shift time tau (s) (9.1), (9.2),
// whatever the envelope says. ret (J) is spin energy that the engine gives back,
// spread evenly over the time.
func (m *Model) coast(st *state, gear int, tau, ret float64) {
	r := glide{left: tau}
	if ret > 0 {
		r.power = ret / tau
	}
	for r.left > 0 {
		c := &m.cells[st.cell]
		pc := m.rollOn(st, c, gear, c.h-st.x, &r)
		m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
	}
}

// glide is what is left of a shift.
type glide struct {
	left  float64 // s
	power float64 // W, given back by the engine
}

// rollOn is one piece without drive: for what is left of the shift, or to h (m)
// from st, which lies in the same cell. The place may jump where cells meet, so
// no step goes across.
func (m *Model) rollOn(st *state, c *cell, gear int, h float64, r *glide) piece {
	pc := piece{cell: int32(st.cell), gear: int8(gear), phase: Shifting, s0: st.s, u0: st.u, t0: st.t}
	b := m.body
	acc := func(x, v float64) float64 {
		p := &c.p0
		var q place
		if !c.uniform {
			q = c.at(st.x + x)
			p = &q
		}
		return b.coastPushed(p, v, r.power)
	}
	v0 := math.Sqrt(st.u)
	a1 := acc(0, v0)
	pc.d0 = 2 * a1
	if tau := r.left; v0*tau < 1.05*h {
		// A step in time.
		v2 := v0 + 0.5*tau*a1
		a2 := acc(0.5*tau*v0, v2)
		v3 := v0 + 0.5*tau*a2
		a3 := acc(0.5*tau*v2, v3)
		v4 := v0 + tau*a3
		a4 := acc(tau*v3, v4)
		if dist := tau / 6 * (v0 + 2*v2 + 2*v3 + v4); dist <= h {
			v1 := max(v0+tau/6*(a1+2*a2+2*a3+a4), 1)
			pc.s1, pc.u1, pc.t1 = st.s+dist, v1*v1, st.t+tau
			pc.d1 = 2 * a4
			r.left = 0
			return pc
		}
	}
	// A step in distance, to the end of what was allowed.
	k1 := 2 * a1
	u2 := max(st.u+0.5*h*k1, leastU)
	w2 := math.Sqrt(u2)
	k2 := 2 * acc(0.5*h, w2)
	u3 := max(st.u+0.5*h*k2, leastU)
	w3 := math.Sqrt(u3)
	k3 := 2 * acc(0.5*h, w3)
	u4 := max(st.u+h*k3, leastU)
	w4 := math.Sqrt(u4)
	k4 := 2 * acc(h, w4)
	dt := h / 6 * (1/v0 + 2/w2 + 2/w3 + 1/w4)
	pc.s1, pc.t1 = st.s+h, st.t+dt
	pc.u1 = max(st.u+h/6*(k1+2*k2+2*k3+k4), leastU)
	pc.d1 = k4
	r.left = max(r.left-dt, 0)
	return pc
}

// pause rolls st without drive for the time of a shift. Where the car meets the
// envelope it follows it for as long as it would otherwise rise above, and rolls
// on where it would not.
func (m *Model) pause(st *state, gear int, tau, ret, sEnd float64, out []piece) []piece {
	end := st.t + tau
	r := glide{left: tau}
	if ret > 0 {
		r.power = ret / tau
	}
	if tau <= 1e-12 {
		// A shift that takes no time still shows in the trace.
		return append(out, piece{
			cell: int32(st.cell), gear: int8(gear), phase: Shifting,
			s0: st.s, s1: st.s, u0: st.u, u1: st.u, t0: st.t, t1: st.t,
		})
	}
	for r.left > 1e-12 && st.s < sEnd-1e-9 {
		c := &m.cells[st.cell]
		h := min(c.h-st.x, sEnd-st.s)
		pc := m.rollOn(st, c, gear, h, &r)
		h = pc.s1 - pc.s0
		m.touch(&pc, c, st.x, h)
		pc.phase = Shifting
		out = append(out, pc)
		m.advance(st, pc.s1-pc.s0, pc.u1, pc.t1)
		if pc.s1-pc.s0 < h {
			r.left = end - st.t
		}
	}
	return out
}
