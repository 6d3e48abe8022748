package tracks

import (
	"fmt"
	"math"
	"sort"
)

// Point is the road at one place.
type Point struct {
	S         float64 // m, from 0 to the length of the lap
	Curvature float64 // 1/m, left positive
	Bank      float64 // rad, positive = left side low
	Grade     float64 // rad, positive uphill
	Vertical  float64 // 1/m, vertical curvature, positive in a dip
	Grip      float64 // factor, 1 = nominal
	Heading   float64 // rad clockwise from true north, continuous along the lap
	X, Y, Z   float64 // m east, north and up of the start line
	Segment   int     // index into Track.Segments
	Corner    int     // index into Track.Corners, -1 on a straight
}

// At returns the road at s (m). Any finite s is valid: it wraps over the start
// line both ways. At the joint of two segments the one that begins there
// speaks; s = Length is the start line again. A NaN or infinite s panics, as
// does a track without segments.
func (t *Track) At(s float64) Point {
	s = t.wrap(s)
	i := t.segmentAt(s)
	return t.Segments[i].point(i, s-t.Segments[i].Start)
}

// point evaluates the segment x (m) from its start.
func (g *Segment) point(i int, x float64) Point {
	x = math.Max(0, math.Min(x, g.Length))
	f := x / g.Length
	px, py := g.position(x)
	return Point{
		S:         g.Start + x,
		Curvature: g.K0 + (g.K1-g.K0)*f,
		Bank:      g.Bank0 + (g.Bank1-g.Bank0)*f,
		Grade:     g.GradeAt(x), Vertical: g.VerticalCurvature, Grip: g.Grip,
		Heading: g.Heading - g.turn(x),
		X:       px, Y: py, Z: g.Z + g.rise(x),
		Segment: i, Corner: g.Corner,
	}
}

// wrap brings s into 0 <= s < Length.
func (t *Track) wrap(s float64) float64 {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		panic("tracks: distance is not finite")
	}
	if s >= 0 && s < t.Length {
		return s
	}
	s = math.Mod(s, t.Length)
	if s < 0 {
		s += t.Length
	}
	if s >= t.Length { // a tiny negative s rounds up to Length
		s = 0
	}
	return s
}

// segmentAt finds the segment of a wrapped s.
func (t *Track) segmentAt(s float64) int {
	if len(t.Segments) == 0 {
		panic("tracks: track without segments")
	}
	i := sort.Search(len(t.Segments), func(i int) bool { return t.Segments[i].Start > s })
	return max(i-1, 0)
}

// Outline is the line for a map: a point at least every step (m), at every
// joint of segments, and at the start line twice, the second time as the last
// segment reaches it, so that a gap is seen. It panics unless step > 0.
func (t *Track) Outline(step float64) []Point {
	if !(step > 0) {
		panic("tracks: outline step is not > 0")
	}
	var line []Point
	for i := range t.Segments {
		g := &t.Segments[i]
		n := int(math.Max(1, math.Ceil(g.Length/step-1e-9)))
		for k := range n {
			line = append(line, g.point(i, g.Length*float64(k)/float64(n)))
		}
		if i == len(t.Segments)-1 {
			line = append(line, g.point(i, g.Length))
		}
	}
	return line
}

// Label is the number of a corner (index into Corners) with its name, if it
// has one: "T5 Heron".
func (t *Track) Label(corner int) string {
	label := fmt.Sprintf("T%d", corner+1)
	if name := t.Corners[corner].Name; name != "" {
		label += " " + name
	}
	return label
}

// Place names the place s (m) for people: "T5 Heron", or "120 m after T5
// Heron" on the straight that follows it. s wraps. A track without corners
// gives the distance from the start line.
func (t *Track) Place(s float64) string {
	p := t.At(s)
	if p.Corner >= 0 {
		return t.Label(p.Corner)
	}
	n := len(t.Segments)
	for back := 1; back < n; back++ {
		g := &t.Segments[(p.Segment-back+n)%n]
		if g.Corner >= 0 {
			// From the start of what follows, which is never beyond p.S.
			after := t.wrap(p.S - t.Segments[(p.Segment-back+1+n)%n].Start)
			return fmt.Sprintf("%.0f m after %s", after, t.Label(g.Corner))
		}
	}
	return fmt.Sprintf("%.0f m from the line", p.S)
}
