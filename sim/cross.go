package sim

import "math"

// crossSpeed is the square of the road speed (m²/s²) at which the shift from
// gear a to the next gear b begins (8.2): the acceleration in a has fallen to
// what b will give at the speed left after the shift time. Without such a
// crossing below the limiter less margin it is that limit. The reference is a
// level straight without wind; the tyres' limit is left out, since both gears
// share it.
func (m *Model) crossSpeed(a, b *drive, shiftTime float64) float64 {
	bd := m.body
	ref := &m.reference
	diff := func(v float64) float64 {
		l := bd.at(ref, v)
		f, mt := bd.engineForce(v, a)
		accA := (f - l.resist) / (bd.mass + mt)
		after := v + shiftTime*bd.coastAccel(ref, v)
		if after <= 0 {
			return 1
		}
		l = bd.at(ref, after)
		f, mt = bd.engineForce(after, b)
		return accA - (f-l.resist)/(bd.mass+mt)
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
