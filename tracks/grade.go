package tracks

import (
	"fmt"
	"math"
	"strings"
)

// GradeAt is the grade angle (rad, positive uphill) x (m) into the segment.
func (g *Segment) GradeAt(x float64) float64 { return g.Grade + g.VerticalCurvature*x }

// rise is the height (m) gained over the first x (m) of the segment: the
// integral of tan(grade) over the distance in plan,
//
//	ln(cos g0 / cos(g0 + kv·x)) / kv,
//
// a catenary of equal strength. It is written so that it keeps its digits for
// a small kv, of which x·tan g0 is the limit.
func (g *Segment) rise(x float64) float64 {
	turned := g.VerticalCurvature * x
	if turned == 0 {
		return x * math.Tan(g.Grade)
	}
	half := math.Sin(0.5 * turned)
	return -math.Log1p(-2*half*half-math.Tan(g.Grade)*math.Sin(turned)) / g.VerticalCurvature
}

// kink is the jump of the grade, in percent points, from which on a joint of
// two segments is told as one.
const kink = 1

// warnKinks tells where the grade jumps. The vertical curvature of a kink is
// without bound and its effect on the load is left out. A file that gives no
// end grade anywhere leaves vertical curvature out altogether, and its steps
// are no slips.
func (b *built) warnKinks() {
	profile := false
	for i := range b.pieces {
		profile = profile || b.pieces[i].gradeEnd != b.pieces[i].grade
	}
	if !profile {
		return
	}
	t := b.t
	var places []string
	for i := range t.Segments {
		before := &t.Segments[(i-1+len(t.Segments))%len(t.Segments)]
		from := 100 * math.Tan(before.GradeAt(before.Length))
		to := 100 * math.Tan(t.Segments[i].Grade)
		if math.Abs(to-from) > kink {
			places = append(places, fmt.Sprintf("%s, %s (%.1f to %.1f %%)",
				b.pieces[b.from[i]].key, t.Place(t.Segments[i].Start), from, to))
		}
	}
	const most = 4 // are named
	switch n := len(places); {
	case n == 0:
		return
	case n > most:
		places = append(places[:most], fmt.Sprintf("%d more segments", n-most))
	}
	t.Warnings = append(t.Warnings, fmt.Sprintf(
		"the grade jumps by more than %d percent point at the start of %s: what such a kink does to the load is left out; let the segment before end in the same grade (grade_end_percent)",
		kink, strings.Join(places, ", of ")))
}

// climbTold is the height (m) from which a lap that ends off its start, but
// within its tolerance, is told of: 600 kg and 0.1 m are 0.6 kJ a lap.
const climbTold = 0.1

// warnClimb tells of a lap that does not quite close in height.
func (b *built) warnClimb() {
	if c := b.t.Climb; math.Abs(c) > climbTold {
		b.t.Warnings = append(b.t.Warnings, fmt.Sprintf(
			"the lap ends %.2f m %s its start, which makes energy from nothing or takes it; check the grades",
			math.Abs(c), map[bool]string{true: "above", false: "below"}[c > 0]))
	}
}
