package sim

import (
	"fmt"
	"math"
)

// The envelope is the limit of what tyres allow on the whole track: the corner
// limit (6.8), walked backwards with full braking (6.6) and forwards with the
// drive limit (6.3). No car is ever above it; a car whose engine can, follows
// it. It does not depend on the set, so it is made once, on a finer mesh than
// the lap, and carries its own clock.

// envSub is the number of parts of a cell between the nodes of the envelope.
// Even: the envelope is a parabola over each two parts.
const envSub = 16

// tractionSub is the number of steps in a part where curvature changes: there
// the friction ellipse opens like a square root.
const tractionSub = 3

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
		next := min(v+step, top)
		nowOK := b.steadyMargin(p, next) > 0
		if ok && !nowOK {
			v = b.edge(p, v, next)
			return v * v
		}
		ok = nowOK
		v = next
	}
	if !ok {
		return 0
	}
	return topU
}

// crestShare is the share of the square of the speed that lifts an axle at
// which a place is taken at most: a fiftieth of the static load stays.
const crestShare = 0.98

// crestLimit is the square of the highest speed (m²/s²) at which both axles
// keep some load on a crest, topU where none (4.6).
func (b *body) crestLimit(p *place) float64 {
	if p.kn >= 0 {
		return topU
	}
	return min(crestShare*b.liftSpeed(p), topU)
}

// edge is the speed (m/s) between lo (held) and hi (not held) at which the
// steady margin vanishes: false position with the Illinois change, kept inside
// the bracket, bisection where the margin jumps.
func (b *body) edge(p *place, lo, hi float64) float64 {
	fl, fh := b.steadyMargin(p, max(lo, 0.01)), b.steadyMargin(p, hi)
	side := 0
	for i := range 80 {
		if hi-lo <= 1e-12*hi {
			break
		}
		mid := 0.5 * (lo + hi)
		if i%4 != 3 && fl-fh > 0 {
			mid = (lo*fh - hi*fl) / (fh - fl)
			if !(mid > lo && mid < hi) {
				mid = 0.5 * (lo + hi)
			}
		}
		f := b.steadyMargin(p, max(mid, 0.01))
		if f > 0 {
			lo, fl = mid, f
			if side == 1 {
				fh *= 0.5
			}
			side = 1
		} else {
			hi, fh = mid, f
			if side == -1 {
				fl *= 0.5
			}
			side = -1
		}
		if math.Abs(f) < 1e-14 {
			return mid // from either side: the other end may still be far away
		}
	}
	return lo
}

// buildEnvelope fills in the envelope of every cell.
func (b *body) buildEnvelope(cells []cell, where func(s float64) string) error {
	n := len(cells)
	slow, slowU := 0, math.Inf(1)
	for i := range cells {
		c := &cells[i]
		for j := range envSub + 1 {
			if c.uniform && j > 0 {
				c.env[j] = c.env[0]
			} else {
				p := c.at(c.h * float64(j) / envSub)
				c.env[j] = min(b.cornerLimit(&p), b.crestLimit(&p))
			}
			if c.env[j] <= 0 {
				return fmt.Errorf("no speed can be held at %s: the axles cannot carry the lateral load there; check radius, bank and grip", where(c.s))
			}
			if c.env[j] < slowU {
				slowU, slow = c.env[j], i
			}
		}
	}
	if slowU < topU {
		// From the slowest place once round the lap and over its cell again.
		u := topU
		for k := range n + 1 {
			u = b.brakeBack(&cells[((slow-k)%n+n)%n], u)
		}
		for i := range cells {
			cells[i].brake = cells[i].env
		}
		u = topU
		for k := range n + 1 {
			c := &cells[(slow+k)%n]
			if u = b.pullAhead(c, u); u <= leastU {
				return fmt.Errorf("the driven tyres cannot move the car at %s: grade, grip and load leave no force to climb with", where(c.s))
			}
		}
	}
	for i := range cells {
		if slowU >= topU {
			cells[i].brake = cells[i].env
		}
		b.finishCell(&cells[i])
	}
	return nil
}

// brakeBack walks full braking backwards through a cell from v² = u at its end
// and returns v² at its start.
func (b *body) brakeBack(c *cell, u float64) float64 {
	rate := func(x, u float64) float64 { // -d(v²)/ds under full braking
		p := c.at(x)
		l := b.at(&p, math.Sqrt(u))
		return 2 * (b.brakeLimit(&p, &l) + l.resist) / b.mass
	}
	u = min(u, c.env[envSub])
	c.env[envSub] = u
	h := c.h / envSub
	for j := envSub - 1; j >= 0; j-- {
		x := h * float64(j+1)
		if u < topU {
			k1 := rate(x, u)
			k2 := rate(x-0.5*h, u+0.5*h*k1)
			k3 := rate(x-0.5*h, u+0.5*h*k2)
			k4 := rate(x-h, u+h*k3)
			u += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
		}
		u = min(min(u, c.env[j]), topU)
		c.env[j] = u
	}
	return u
}

// pullAhead walks forwards through a cell with all the drive that the tyres
// take, from v² = u at its start, and returns v² at its end.
func (b *body) pullAhead(c *cell, u float64) float64 {
	rate := func(x, u float64) float64 {
		u = max(u, 0.01)
		p := c.at(x)
		l := b.at(&p, math.Sqrt(u))
		return 2 * (b.driveLimit(&p, &l) - l.resist) / b.mass
	}
	u = min(u, c.env[0])
	c.env[0] = u
	parts := 1
	if !c.uniform {
		parts = tractionSub
	}
	h := c.h / float64(envSub*parts)
	for j := range envSub {
		for q := range parts {
			if u >= topU {
				break
			}
			x := h * float64(j*parts+q)
			k1 := rate(x, u)
			k2 := rate(x+0.5*h, u+0.5*h*k1)
			k3 := rate(x+0.5*h, u+0.5*h*k2)
			k4 := rate(x+h, u+h*k3)
			u += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
		}
		if most := c.env[j+1]; u < most*(1-1e-10) {
			c.pulling |= 1 << j
		} else {
			u = most
		}
		c.env[j+1] = u
	}
	return u
}

// levelShare is how far apart (share of v²) two nodes in a row may be on a level
// envelope.
const levelShare = 1e-9

// finishCell fills in what follows from a cell's envelope.
func (b *body) finishCell(c *cell) {
	c.cap0, c.cap1 = c.env[0], c.env[envSub]
	c.falls = false
	for j := range envSub { // as index finds the apexes
		c.falls = c.falls || c.env[j+1] < c.env[j]*(1-levelShare)
	}
	c.falls = c.falls && c.pulling == 0 && c.cap1 < c.cap0
	c.capLow, c.capHigh = math.Inf(1), 0
	c.free = true
	for _, u := range c.env {
		c.capLow, c.capHigh = min(c.capLow, u), max(c.capHigh, u)
		c.free = c.free && u >= topU
	}
	h := c.h / envSub
	for j := 0; j+2 <= envSub; j += 2 {
		c.clock[j/2+1] = c.clock[j/2] + h/3*(1/math.Sqrt(c.env[j])+4/math.Sqrt(c.env[j+1])+1/math.Sqrt(c.env[j+2]))
	}
	c.capTime = c.clock[envSub/2]
	// A car that slows by no more than what holds it back can always follow
	// an envelope that falls more steeply.
	c.sure = true
	for j := range envSub {
		p := c.at(h * (float64(j) + 0.5))
		l := b.at(&p, math.Sqrt(0.5*(c.env[j]+c.env[j+1])))
		if (c.env[j+1]-c.env[j])/h >= -2.02*max(l.resist, 0)/b.mass || c.env[j] >= topU {
			c.sure = false
			break
		}
	}
}
