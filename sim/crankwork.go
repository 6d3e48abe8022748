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
		if p.phase == Shifting || p.s1 <= p.s0 {
			continue
		}
		on := p.phase == Capped || p.phase == Driving && k.onEnvelope(p)
		if !on && p.u0 < 0.9*p.u1 {
			// Near a standstill the integrand runs on 1/v: over the speed of an
			// even push, not over the way.
			perU := (p.s1 - p.s0) / (p.u1 - p.u0)
			w, c := k.gauss(math.Sqrt(p.u0), math.Sqrt(p.u1), func(v float64) (float64, float64) {
				w, c := k.workPerMetre(p, p.s0+(v*v-p.u0)*perU, false)
				f := 2 * v * perU
				return w * f, c * f
			})
			crank, clutch = crank+w, clutch+c
			continue
		}
		parts := 1
		if on {
			parts = envSub // kinks of the envelope lie on its nodes
		}
		h := (p.s1 - p.s0) / float64(parts)
		for j := range parts {
			a := p.s0 + h*float64(j)
			w, c := k.gauss(a, a+h, func(s float64) (float64, float64) { return k.workPerMetre(p, s, on) })
			crank, clutch = crank+w, clutch+c
		}
	}
	return crank, clutch
}

// gauss integrates two functions at once by three points.
func (k *Solver) gauss(a, b float64, f func(x float64) (float64, float64)) (y, z float64) {
	const r = 0.7745966692414834 // sqrt(3/5)
	mid, half := 0.5*(a+b), 0.5*(b-a)
	for _, n := range [3][2]float64{{-r, 5.0 / 9}, {0, 8.0 / 9}, {r, 5.0 / 9}} {
		p, q := f(mid + half*n[0])
		y, z = y+half*n[1]*p, z+half*n[1]*q
	}
	return y, z
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

// workPerMetre is the work at the crank and the heat in the clutch (J/m) at s
// (m) in a piece, which may follow the envelope.
func (k *Solver) workPerMetre(p *piece, s float64, on bool) (crank, clutch float64) {
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
	if v == 0 || u > d.uLimit*(1+1e-9) {
		return 0, 0
	}
	r := b.r0 + b.growth*u
	turned := b.rpmAt(v, d.perV) // by the gear
	rpm := min(k.rpm(v, int(p.gear)), b.rpmTop)
	full := b.curve.At(rpm) * b.engineFactor
	torque := full
	_, turning := b.engineForce(v, d)
	need := func(a float64) float64 {
		f := b.at(&at, v).resist + (b.mass+turning)*a
		return f*r/(d.ratio*d.eta) + b.boxDrag
	}
	switch {
	case p.phase == Limiting:
		torque = need(0)
	case on:
		j, _ := c.span(x)
		torque = need(0.5 * c.capSlope(j, x))
	default:
		if a, held := b.accel(&at, u, d); held {
			torque = need(a)
		}
	}
	torque = max(0, min(torque, full))
	const rad = math.Pi / 30
	crank = torque * rpm * rad / v
	if rpm > turned {
		clutch = torque * (rpm - turned) * rad / v
	}
	return crank, clutch
}
