package sim

import "math"

// crossSpeed is the square of the road speed (m²/s²) at which the shift from
// gear a to the next gear b begins (8.2): the acceleration in a has fallen to
// what b will give after the shift time, the way gained by a later pause
// counted. Without such a
// crossing below the limiter less margin it is that limit. The reference is a
// level straight without wind; the tyres' limit is left out, since both gears
// share it.
func (m *Model) crossSpeed(a, b *drive, shiftTime float64) float64 {
	bd := m.body
	ref := &m.reference
	end := m.topSpeed(b)
	diff := func(v float64) float64 {
		l := bd.at(ref, v)
		f, mt := bd.engineForce(v, a)
		accA := (f - l.resist) / (bd.mass + mt)
		decel := -bd.coastAccel(ref, v)
		after := v - shiftTime*decel
		if after <= 0 {
			return 1
		}
		l = bd.at(ref, after)
		f, mt = bd.engineForce(after, b)
		accB := (f - l.resist) / (bd.mass + mt)
		// A later pause is made at a higher speed: the way it gains is worth
		// less the faster the next gear will go.
		worth := 1.0
		if end > after {
			worth = max(0, 1-shiftTime*(accA+decel)/(end-after))
		}
		return accA - accB*worth
	}
	hi := math.Sqrt(a.uShift)
	if diff(hi) >= 0 {
		return a.uShift
	}
	// From the limit downwards to the first speed at which a still pulls
	// harder. Close pairs can cross twice; this is the highest crossing.
	step := hi / 64
	lo := hi
	for lo > step && diff(lo) < 0 {
		hi = lo
		lo -= step
	}
	if diff(lo) < 0 {
		return lo * lo
	}
	for hi-lo > 1e-9*hi {
		mid := 0.5 * (lo + hi)
		if diff(mid) >= 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	v := 0.5 * (lo + hi)
	return v * v
}

// topSpeed is the speed (m/s) at which gear d stops gaining on the reference:
// the limiter less margin, or where resistance takes all it gives.
func (m *Model) topSpeed(d *drive) float64 {
	bd := m.body
	gains := func(v float64) bool {
		l := bd.at(&m.reference, v)
		f, _ := bd.engineForce(v, d)
		return f > l.resist
	}
	hi := math.Sqrt(d.uShift)
	if gains(hi) {
		return hi
	}
	lo := hi
	for lo > 0.3*hi && !gains(lo) {
		lo -= 0.02 * hi
	}
	top := min(lo+0.02*hi, hi)
	for top-lo > 1e-9*top {
		mid := 0.5 * (lo + top)
		if gains(mid) {
			lo = mid
		} else {
			top = mid
		}
	}
	return lo
}

// loose says whether gear a has little in hand over gear b at the limiter less
// margin, or nothing, so that the road may decide where the shift is best.
func (m *Model) loose(a, b *drive) bool {
	v := math.Sqrt(a.uShift)
	l := m.body.at(&m.reference, v)
	fa, ma := m.body.engineForce(v, a)
	fb, mb := m.body.engineForce(v, b)
	accA, accB := (fa-l.resist)/(m.body.mass+ma), (fb-l.resist)/(m.body.mass+mb)
	return accA-accB < looseShare*math.Abs(accA)
}
