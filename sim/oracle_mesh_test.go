package sim

import (
	"math"
	"sort"
)

// The oracle of the best shift schedule, in three files. It shares with the
// program only the physics of a place (forces.go, drive.go, makePlace); mesh,
// limit curve, integration and the choice of shifts are its own. It takes
// seconds where the program takes microseconds, and is plain instead.
//
// This file: the fine road, and the limit curve on it.

// oracleCell is a short piece of road.
type oracleCell struct {
	s, h       float64 // m, start (within the lap) and length
	p0, pm, p1 place   // at its ends and its middle
	uniform    bool
	noShift    bool
	station    bool                  // labels are compared and may shift at its start
	exact      func(x float64) place // x (m) from its start
}

func (c *oracleCell) at(x float64) place {
	switch {
	case c.uniform || x == 0:
		return c.p0
	case x == 0.5*c.h:
		return c.pm
	case x == c.h:
		return c.p1
	}
	return c.exact(x)
}

// oracleRoad is one lap from the place where the limit is least.
type oracleRoad struct {
	m     *Model
	cells []oracleCell
	limit []float64 // m²/s², corner and braking limit at the start of each cell, and at the end of the last
	mid   []float64 // m²/s², in the middle of each cell
	bar   []float64 // m from the start of each cell to the next no-shift place, +Inf = none near
	home  float64   // m from the start line
}

// newOracleRoad makes stations every spacing (m) or somewhat less, at the ends of
// segments and at the ends of no-shift places. Between stations the cells are at
// most 0.5 m and a quarter of the spacing long, in spirals an eighth of that and
// at least 128 to the spiral.
func newOracleRoad(m *Model, spacing float64) *oracleRoad {
	var cells []oracleCell
	breaks := []float64{m.wrap(m.track.PitExit)}
	for _, sp := range m.track.NoShift {
		breaks = append(breaks, sp.Start, sp.End)
	}
	for i := range m.track.Segments {
		seg := &m.track.Segments[i]
		ends := []float64{0, seg.Length}
		for _, e := range breaks {
			if x := e - seg.Start; x > 1e-9 && x < seg.Length-1e-9 {
				ends = append(ends, x)
			}
		}
		sort.Float64s(ends)
		for j := 1; j < len(ends); j++ {
			a, l := ends[j-1], ends[j]-ends[j-1]
			stations := int(math.Ceil(l/spacing - 1e-9))
			cell := math.Min(0.5, spacing/4)
			if seg.K0 != seg.K1 {
				cell = math.Min(cell/8, seg.Length/128)
			}
			parts := int(math.Ceil(l/float64(stations)/cell - 1e-9))
			n := stations * parts
			h := l / float64(n)
			for k := range n {
				x0 := a + h*float64(k)
				at := func(x float64) place { return makePlace(m.car, seg, x0+x, &m.cond) }
				c := oracleCell{
					s: seg.Start + x0, h: h, exact: at, station: k%parts == 0,
					p0: at(0), pm: at(0.5 * h), p1: makePlace(m.car, seg, a+h*float64(k+1), &m.cond),
				}
				c.uniform = c.p0 == c.pm && c.pm == c.p1
				c.noShift = oracleForbids(m, c.s+0.5*c.h)
				cells = append(cells, c)
			}
		}
	}
	return oracleLimited(m, cells)
}

func oracleForbids(m *Model, s float64) bool {
	for _, sp := range m.track.NoShift {
		in := s >= sp.Start && s < sp.End
		if sp.Start > sp.End {
			in = s >= sp.Start || s < sp.End
		}
		if in {
			return true
		}
	}
	return false
}

// oracleLimited turns the lap so that it begins where the corner limit is least and
// walks back from there with full braking (6.6), by the classical scheme of
// order four, a step per cell.
func oracleLimited(m *Model, cells []oracleCell) *oracleRoad {
	n := len(cells)
	corner := make([]float64, n)
	for i := range cells {
		before := cells[(i+n-1)%n].p1
		corner[i] = m.body.cornerLimit(&cells[i].p0)
		if before != cells[i].p0 {
			corner[i] = math.Min(corner[i], m.body.cornerLimit(&before))
		}
	}
	home := 0
	for i := range corner {
		if corner[i] < corner[home] {
			home = i
		}
	}
	r := &oracleRoad{m: m, cells: make([]oracleCell, n), limit: make([]float64, n+1), mid: make([]float64, n), home: cells[home].s}
	for i := range n {
		r.cells[i] = cells[(home+i)%n]
		r.limit[i] = corner[(home+i)%n]
	}
	r.limit[n] = corner[home]
	r.cells[0].station = true
	r.bars()
	b := m.body
	slope := func(p *place, u float64) float64 {
		l := b.at(p, math.Sqrt(u))
		return 2 * (b.brakeLimit(p, &l) + l.resist) / b.mass
	}
	for i := n - 1; i >= 0; i-- {
		c, u := &r.cells[i], r.limit[i+1]
		if u >= topU {
			r.mid[i] = 0.5 * (r.limit[i] + r.limit[i+1])
			continue
		}
		k1 := slope(&c.p1, u)
		k2 := slope(&c.pm, u+0.5*c.h*k1)
		k3 := slope(&c.pm, u+0.5*c.h*k2)
		k4 := slope(&c.p0, u+c.h*k3)
		u += c.h / 6 * (k1 + 2*k2 + 2*k3 + k4)
		r.mid[i] = 0.5 * (r.limit[i] + r.limit[i+1])
		if u < r.limit[i] {
			// Braking all through: the middle by the slopes at the ends.
			r.limit[i] = u
			r.mid[i] = 0.5*(u+r.limit[i+1]) + c.h/8*(k1-slope(&c.p0, u))
		}
	}
	return r
}

// bars notes how far away the next no-shift place begins, up to 30 m.
func (r *oracleRoad) bars() {
	r.bar = make([]float64, len(r.cells))
	next := math.Inf(1)
	for i := len(r.cells) - 1; i >= 0; i-- {
		if next += r.cells[i].h; r.cells[i].noShift {
			next = 0
		}
		r.bar[i] = next
		if next > 30 {
			r.bar[i] = math.Inf(1)
		}
	}
}

// limitAt is the limit as v² (m²/s²) x (m) into a cell: the parabola through
// its ends and its middle.
func (r *oracleRoad) limitAt(i int, x float64) float64 {
	f := x / r.cells[i].h
	return r.limit[i]*(1-f)*(1-2*f) + 4*r.mid[i]*f*(1-f) + r.limit[i+1]*f*(2*f-1)
}

// limitTime is the time (s) along the limit from x (m) into a cell to its end,
// by Simpson's rule.
func (r *oracleRoad) limitTime(i int, x float64) float64 {
	h := r.cells[i].h - x
	return h / 6 * (1/math.Sqrt(r.limitAt(i, x)) + 4/math.Sqrt(r.limitAt(i, x+0.5*h)) + 1/math.Sqrt(r.limit[i+1]))
}

// out is the part of the road from the pit exit to the start line.
func (r *oracleRoad) out() *oracleRoad {
	n := len(r.cells)
	nearest := func(s float64) int {
		best := 0
		for i := range r.cells {
			if math.Abs(r.cells[i].s-s) < math.Abs(r.cells[best].s-s) {
				best = i
			}
		}
		return best
	}
	q := &oracleRoad{m: r.m}
	end := nearest(0)
	for i := nearest(r.m.wrap(r.m.track.PitExit)); ; i++ {
		q.limit = append(q.limit, r.limit[i%n])
		if i%n == end {
			return q
		}
		q.cells = append(q.cells, r.cells[i%n])
		q.mid = append(q.mid, r.mid[i%n])
		q.bar = append(q.bar, r.bar[i%n])
	}
}

// place is the distance (m) from the start line, 0 to the lap's length.
func (r *oracleRoad) place(i int, x float64) float64 {
	if i == len(r.cells) {
		return r.home
	}
	return r.cells[i].s + x
}
