package sim

import (
	"fmt"
	"math"
)

// capSub is the number of braking steps inside one cell: the limit is made
// once per model, so it can afford a finer mesh than the lap.
const capSub = 4

// cornerLimit is the square of the highest speed (m²/s²) that the place
// allows, topU where none (6.8). It is the end of the first range of speeds
// that the car can hold, counted from standstill; where the car cannot even
// stand (a steep bank with little grip), from the first speed that it can.
func (b *body) cornerLimit(p *place) float64 {
	if p.ky == 0 && p.gy == 0 {
		return topU
	}
	const step = 2.0 // m/s
	top := math.Sqrt(topU)
	v, ok := 0.0, b.steadyMargin(p, 0.01) > 0
	for v < top {
		next := math.Min(v+step, top)
		nowOK := b.steadyMargin(p, next) > 0
		if ok && !nowOK {
			lo, hi := v, next
			for range 60 {
				mid := 0.5 * (lo + hi)
				if b.steadyMargin(p, math.Max(mid, 0.01)) > 0 {
					lo = mid
				} else {
					hi = mid
				}
			}
			return lo * lo
		}
		ok = nowOK
		v = next
	}
	if !ok {
		return 0
	}
	return topU
}

// buildLimit fills in the corner and braking limit of every cell: backwards
// once round the lap from the slowest place, with full braking (6.6), never
// above the corner limit.
func (b *body) buildLimit(cells []cell, where func(s float64) string) error {
	n := len(cells)
	// Corner limit at the sub-nodes of each cell, ends included.
	lim := make([][capSub + 1]float64, n)
	slow, slowU := 0, math.Inf(1)
	for i := range cells {
		c := &cells[i]
		for j := range capSub + 1 {
			if c.uniform && j > 0 {
				lim[i][j] = lim[i][0]
			} else {
				p := c.at(c.h * float64(j) / capSub)
				lim[i][j] = b.cornerLimit(&p)
			}
			if lim[i][j] <= 0 {
				return fmt.Errorf("no speed can be held at %s: the axles cannot carry the lateral load there; check radius, bank and grip", where(c.s))
			}
			if lim[i][j] < slowU {
				slowU, slow = lim[i][j], i
			}
		}
	}
	brake := func(c *cell, x, u float64) float64 { // -d(v²)/ds under full braking
		p := c.at(x)
		l := b.at(&p, math.Sqrt(u))
		return 2 * (b.brakeLimit(&p, &l) + l.resist) / b.mass
	}
	u := topU
	// Two rounds: the first reaches the slowest place, the second is exact.
	for k := range 2*n + 1 {
		i := ((slow-k)%n + 2*n) % n
		if i < 0 {
			i += n
		}
		c := &cells[i]
		var at [capSub + 1]float64
		u = math.Min(u, lim[i][capSub])
		at[capSub] = u
		h := c.h / capSub
		for j := capSub - 1; j >= 0; j-- {
			x := c.h * float64(j+1) / capSub
			if u < topU {
				k1 := brake(c, x, u)
				k2 := brake(c, x-0.5*h, u+0.5*h*k1)
				k3 := brake(c, x-0.5*h, u+0.5*h*k2)
				k4 := brake(c, x-h, u+h*k3)
				u += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
			}
			u = math.Min(math.Min(u, lim[i][j]), topU)
			at[j] = u
		}
		c.cap0, c.capM, c.cap1 = at[0], at[capSub/2], at[capSub]
		c.capLow = math.Min(c.cap0, math.Min(c.capM, c.cap1))
		// Simpson over the sub-nodes (capSub is even).
		sum := 0.0
		for j := 0; j+2 <= capSub; j += 2 {
			sum += 1/math.Sqrt(at[j]) + 4/math.Sqrt(at[j+1]) + 1/math.Sqrt(at[j+2])
		}
		c.capTime = sum * h / 3
	}
	return nil
}
