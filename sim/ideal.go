package sim

import "math"

// Ideal is the best of many gears at every speed: at each speed it gives the
// acceleration of the best pair, with no shift and no loss between them, or a
// little more. No real set made of these gears ever accelerates harder anywhere,
// which is why its lap is a lower bound of theirs (optimize/gearing argues it).
//
// It is a table over speed and resistance. The acceleration of one gear is a
// straight line in the resistance, so the best of many is convex in it and lies
// below the straight line between two nodes. Between nodes of speed the best of
// many is read on a straight line too, raised by what it was found to miss.
type Ideal struct {
	inv      float64 // speed cells per m/s
	low, inc float64 // N, least resistance of the table and its step
	table    [][idealResists]float64
	slack    []float64 // m/s², by speed cell
	mass     float64   // kg
	choices  int       // number of gears it is made of
	pickSelf func(u float64) *drive
}

const (
	idealCell    = 0.2 // m/s, width of a speed cell
	idealResists = 9
	idealParts   = 6 // looks inside a speed cell
)

// NewIdeal makes the ideal drive of the gears given: total ratios with their
// efficiencies, same length.
func (m *Model) NewIdeal(total, eta []float64) *Ideal {
	b := m.body
	weight := b.mass * 9.8
	e := &Ideal{inv: 1 / idealCell, mass: b.mass, choices: len(total), low: -0.4 * weight, inc: 0.25 * weight}
	drives := make([]drive, len(total))
	top := 0.0
	for i := range total {
		drives[i] = b.newDrive(total[i], eta[i])
		drives[i].slips = true // as first gear may on the way out of the pits
		top = max(top, math.Sqrt(drives[i].uLimit))
	}
	n := int(top/idealCell) + 2
	e.table = make([][idealResists]float64, n+1)
	e.slack = make([]float64, n+1)
	type pull struct{ force, mass float64 }
	best := func(row *[idealResists]float64, ps []pull) {
		for j := range row {
			// With no gear that reaches so far, what holds the car back.
			row[j] = -(e.low + float64(j)*e.inc) / b.mass
			if len(ps) > 0 {
				row[j] = math.Inf(-1)
			}
			for _, p := range ps {
				row[j] = max(row[j], (p.force-e.low-float64(j)*e.inc)/(b.mass+p.mass))
			}
		}
	}
	// All gears that reach into a cell count at its nodes, so that a limiter
	// inside it takes nothing away.
	gather := func(v, reach float64) []pull {
		var ps []pull
		for i := range drives {
			d := &drives[i]
			if v <= 0 || reach*reach > d.uLimit {
				continue
			}
			f, mt := b.engineForce(v, d)
			ps = append(ps, pull{f, mt})
		}
		return ps
	}
	for k := range e.table {
		v := float64(k) * idealCell
		best(&e.table[k], gather(v, max(v-idealCell, 0)))
	}
	e.table[0] = e.table[1]
	for k := range n {
		v := float64(k) * idealCell
		var row [idealResists]float64
		for q := 1; q < idealParts; q++ {
			f := float64(q) / idealParts
			best(&row, gather(v+f*idealCell, v))
			for j := range row {
				line := e.table[k][j]*(1-f) + e.table[k+1][j]*f
				if miss := row[j] - line; miss > e.slack[k] {
					e.slack[k] = miss
				}
			}
		}
		// Between the looks the curves of single gears bend no more than
		// between the nodes.
		e.slack[k] *= 1.2
	}
	self := &drive{ideal: e, uLimit: math.Inf(1), uShift: math.Inf(1)}
	e.pickSelf = func(float64) *drive { return self }
	return e
}

// Choices is the number of gears that the ideal car is made of.
func (e *Ideal) Choices() int { return e.choices }

// accel is the engine-limited acceleration (m/s²) of the best gear against a
// resistance (N).
func (e *Ideal) accel(_ *body, v, resist float64) float64 {
	x := v * e.inv
	k := int(x)
	if k+1 >= len(e.table) {
		// Faster than any gear reaches: held by the limiter of the tallest.
		return min(0, -resist/e.mass)
	}
	x -= float64(k)
	y := (resist - e.low) / e.inc
	j := int(y)
	a, b := &e.table[k], &e.table[k+1]
	if y <= 0 {
		// Less resistance than the table has: all that is missing, on the
		// mass alone.
		return a[0]*(1-x) + b[0]*x + e.slack[k] - y*e.inc/e.mass
	}
	if j >= idealResists-1 {
		return a[idealResists-1]*(1-x) + b[idealResists-1]*x + e.slack[k]
	}
	y -= float64(j)
	return (a[j]*(1-x)+b[j]*x)*(1-y) + (a[j+1]*(1-x)+b[j+1]*x)*y + e.slack[k]
}
