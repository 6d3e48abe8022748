package tracks

import (
	"fmt"
	"math"
)

// built is a track with the origin of its segments.
type built struct {
	t      *Track
	pieces []piece
	from   []int // index into pieces of each segment
}

// build makes segments and corners of the pieces and lays them down.
func build(t *Track, pieces []piece) *built {
	b := &built{t: t, pieces: pieces}
	for i := range pieces {
		p := &pieces[i]
		steepest := p.grade
		if math.Abs(p.gradeEnd) > math.Abs(steepest) {
			steepest = p.gradeEnd
		}
		if math.Tan(math.Abs(steepest))*100 > steep {
			t.Warnings = append(t.Warnings, fmt.Sprintf(
				"%s: at a grade of %s %% the slope is longer than the plan, in which the track is measured, by %.1f %%",
				p.key, short(math.Tan(steepest)*100), 100*(1/math.Cos(steepest)-1)))
		}
		if !p.corner {
			b.add(i, p.length, 0, 0, p.bank, p.bank, -1)
			continue
		}
		n := len(t.Corners)
		t.Corners = append(t.Corners, Corner{Name: p.name, Radius: p.radius, Angle: p.sign * p.angle})
		k := p.sign / p.radius
		if p.in > 0 {
			b.add(i, p.in, 0, k, b.bankBeside(i-1), p.bank, n)
		}
		if p.length > sliver {
			b.add(i, p.length, k, k, p.bank, p.bank, n)
		}
		if p.out > 0 {
			b.add(i, p.out, k, 0, p.bank, b.bankBeside(i+1), n)
		}
	}
	t.locate()
	for i := range t.Segments {
		g := &t.Segments[i]
		if g.Corner < 0 {
			continue
		}
		c := &t.Corners[g.Corner]
		if i == 0 || t.Segments[i-1].Corner != g.Corner {
			c.Start = g.Start
		}
		c.End = g.End()
	}
	b.name()
	b.warnKinks()
	b.warnClimb()
	return b
}

func (b *built) add(from int, length, k0, k1, bank0, bank1 float64, corner int) {
	p := &b.pieces[from]
	grade, vertical := p.grade, p.verticalCurvature()
	if n := len(b.from); n > 0 && b.from[n-1] == from {
		before := &b.t.Segments[n-1]
		grade = before.GradeAt(before.Length)
	}
	b.t.Segments = append(b.t.Segments, Segment{
		Length: length, K0: k0, K1: k1, Bank0: bank0, Bank1: bank1,
		Grade: grade, VerticalCurvature: vertical, Grip: p.grip, Corner: corner,
	})
	b.from = append(b.from, from)
}

// bankBeside is the bank at the outer end of a spiral whose neighbour is
// piece i (the list is a ring): that of a straight, none where another corner
// follows, since its bank may lean the other way.
func (b *built) bankBeside(i int) float64 {
	n := len(b.pieces)
	if p := &b.pieces[(i+n)%n]; !p.corner {
		return p.bank
	}
	return 0
}
