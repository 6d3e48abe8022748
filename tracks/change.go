package tracks

import (
	"math"
	"slices"
)

// copied is a copy that shares nothing with t.
func (t *Track) copied() *Track {
	c := *t
	c.Segments = slices.Clone(t.Segments)
	c.Corners = slices.Clone(t.Corners)
	c.NoShift = slices.Clone(t.NoShift)
	c.Warnings = slices.Clone(t.Warnings)
	return &c
}

// Mirrored is the track as seen in a mirror that stands north-south: left and
// right change places, east and west too. A wind from direction w on t is a
// wind from -w on it.
func (t *Track) Mirrored() *Track {
	m := t.copied()
	m.Heading = -t.Heading
	for i := range m.Segments {
		g := &m.Segments[i]
		g.K0, g.K1 = -g.K0, -g.K1
		g.Bank0, g.Bank1 = -g.Bank0, -g.Bank1
	}
	for i := range m.Corners {
		m.Corners[i].Angle = -m.Corners[i].Angle
	}
	m.locate()
	return m
}

// Shifted is the track with its start line ds (m) further along, ds of either
// sign. Everything stays at its place on the ground, so distances fall by ds;
// corners keep their numbers. A segment that the new line falls into is cut.
// Headings are summed from the new line, so they differ by whole turns, and by
// what the track lacks of one.
func (t *Track) Shifted(ds float64) *Track {
	at := t.wrap(ds)
	cut := t.SplitStraight(at)
	first := slices.IndexFunc(cut.Segments, func(g Segment) bool { return g.Start > at-joint })
	if first < 0 { // within a joint of the end of the lap
		first = 0
	}
	if first < len(cut.Segments) {
		at = cut.Segments[first].Start
	}
	m := cut.copied()
	m.Segments = append(slices.Clone(cut.Segments[first:]), cut.Segments[:first]...)
	m.Heading = cut.Segments[first].Heading
	m.locate()
	move := func(s float64) float64 { return m.wrap(s - at) }
	for i, c := range m.Corners {
		m.Corners[i].Start, m.Corners[i].End = move(c.Start), moveEnd(move, c.End, m.Length)
	}
	for i, n := range m.NoShift {
		m.NoShift[i].Start, m.NoShift[i].End = move(n.Start), moveEnd(move, n.End, m.Length)
	}
	m.PitExit = move(t.PitExit)
	return m
}

// moveEnd keeps an end that falls on the new line at the end of the lap.
func moveEnd(move func(float64) float64, s, length float64) float64 {
	if e := move(s); e > joint {
		return e
	}
	return length
}

// joint (m) is how near to a joint of segments counts as on it.
const joint = 1e-9

// SplitStraight cuts the segment that holds s (m) in two there, with the same
// road before and after. Arcs and spirals are cut as well as straights. A
// place on a joint needs no cut.
func (t *Track) SplitStraight(s float64) *Track {
	s = t.wrap(s)
	i := t.segmentAt(s)
	g := t.Segments[i]
	x := s - g.Start
	c := t.copied()
	if x <= joint || x >= g.Length-joint {
		return c
	}
	p := g.point(i, x)
	a, b := g, g
	a.Length, a.K1, a.Bank1 = x, p.Curvature, p.Bank
	b.Start, b.Length, b.K0, b.Bank0 = s, g.Length-x, p.Curvature, p.Bank
	b.Grade = p.Grade
	b.Heading, b.X, b.Y, b.Z = p.Heading, p.X, p.Y, p.Z
	c.Segments = slices.Replace(c.Segments, i, i+1, a, b)
	return c
}

// Turns is the number of full turns of the lap, rounded: 1 anticlockwise, -1
// clockwise.
func (t *Track) Turns() int { return int(math.Round(t.Turned / (2 * math.Pi))) }
