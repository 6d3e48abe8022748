package sim

import "math"

// work adds up, over the pieces of a lap, the positive work of the engine at the
// crank and what the slipping clutch turns to heat (J) (10.7). At full throttle
// the engine gives its torque; on the envelope, and where the tyres hold the car
// back, what the acceleration and the resistances need; while shifting, at the
// limiter without load and while braking, nothing.
func (k *Solver) work(path []piece) (crank, clutch float64) {
	for i := range path {
		p := &path[i]
		k.eachPoint(p, func(s, w float64, on bool) {
			c := k.crankAt(p, s, on)
			const rad = math.Pi / 30
			if c.torque > 0 {
				crank += w * c.torque * c.rpm * rad / c.v
				clutch += w * c.torque * max(0, c.rpm-c.turned) * rad / c.v
			}
		})
	}
	return crank, clutch
}

// eachPoint visits the points of a quadrature over a piece, s (m, unwrapped) with
// weight w (m); none where no gear drives. on: the piece follows the envelope.
func (k *Solver) eachPoint(p *piece, visit func(s, w float64, on bool)) {
	if p.phase == Shifting || p.s1 <= p.s0 {
		return
	}
	on := p.phase == Capped || p.phase == Driving && k.onEnvelope(p)
	if !on && p.u0 < 0.9*p.u1 {
		// Near a standstill the integrand runs on 1/v: over the speed of an
		// even push, not over the way.
		perU := (p.s1 - p.s0) / (p.u1 - p.u0)
		gauss(math.Sqrt(p.u0), math.Sqrt(p.u1), func(v, w float64) {
			visit(p.s0+(v*v-p.u0)*perU, 2*v*perU*w, false)
		})
		return
	}
	parts := 1
	if on {
		parts = envSub // kinks of the envelope lie on its nodes
	}
	h := (p.s1 - p.s0) / float64(parts)
	for j := range parts {
		a := p.s0 + h*float64(j)
		gauss(a, a+h, func(s, w float64) { visit(s, w, on) })
	}
}

// gauss visits the three points of Gauss and Legendre from a to b with their
// weights.
func gauss(a, b float64, visit func(x, w float64)) {
	const r = 0.7745966692414834 // sqrt(3/5)
	mid, half := 0.5*(a+b), 0.5*(b-a)
	for _, n := range [3][2]float64{{-r, 5.0 / 9}, {0, 8.0 / 9}, {r, 5.0 / 9}} {
		visit(mid+half*n[0], half*n[1])
	}
}

// onEnvelope says whether a piece at full throttle follows the envelope, as
// those do on which the tyres take all that they can.
func (k *Solver) onEnvelope(p *piece) bool {
	c := &k.m.cells[p.cell]
	x0, x1 := c.inside(k.m.wrap(p.s0)), c.inside(k.m.wrap(p.s0)+p.s1-p.s0)
	return !c.free && p.u0 >= c.capAt(x0)*(1-onShare) && p.u1 >= c.capAt(x1)*(1-onShare)
}

// inside is s (m, 0 to the lap's length) as a distance (m) into the cell.
func (c *cell) inside(s float64) float64 { return max(0, min(s-c.s, c.h)) }

// crank is a moment of the crankshaft.
type crank struct {
	v, a   float64 // m/s, m/s² of the car
	rpm    float64 // 1/min
	turned float64 // 1/min, by the gear; less than rpm where the clutch slips
	torque float64 // N·m of the engine (10.7), not below 0
}

// crankAt is the crankshaft's moment at s (m) in a piece, which may follow the
// envelope.
func (k *Solver) crankAt(p *piece, s float64, on bool) crank {
	b, d := k.m.body, &k.drives[p.gear]
	w := k.m.wrap(s)
	c := k.m.cellAt(w)
	x := c.inside(w)
	at := c.at(x)
	u := p.uAt(s)
	if on {
		u = c.capAt(x)
	}
	v := math.Sqrt(u)
	o := crank{v: v, turned: b.rpmAt(v, d.perV)}
	if v == 0 || u > d.uLimit*(1+1e-9) {
		return o
	}
	r := b.r0 + b.growth*u
	o.rpm = min(k.rpm(v, int(p.gear)), b.rpmTop)
	full := b.curve.At(o.rpm) * b.engineFactor
	o.torque = full
	_, turning := b.engineForce(v, d)
	need := func(a float64) float64 {
		f := b.at(&at, v).resist + (b.mass+turning)*a
		return f*r/(d.ratio*d.eta) + b.boxDrag
	}
	switch {
	case p.phase == Limiting:
		o.torque = need(0)
	case on:
		j, _ := c.span(x)
		o.a = 0.5 * c.capSlope(j, x)
		o.torque = need(o.a)
	default:
		a, held := b.accel(&at, u, d)
		if o.a = a; held {
			o.torque = need(a)
		}
	}
	o.torque = max(0, min(o.torque, full))
	return o
}
