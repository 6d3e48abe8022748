package tracks

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/units"
)

// checkClosure refuses a lap that does not come back to its start, with what
// to change.
func (b *built) checkClosure(r rules, f *file) {
	limit, limitAngle, limitHeight := defaultClose, defaultCloseAngle, defaultCloseHeight
	if f.CloseM > 0 { // what is not has its own fault
		limit = f.CloseM
	}
	if f.CloseDeg > 0 {
		limitAngle = f.CloseDeg * units.FromDeg
	}
	if f.CloseHeightM > 0 {
		limitHeight = f.CloseHeightM
	}
	t := b.t
	gap := math.Hypot(t.GapX, t.GapY)
	lacks := math.Copysign(2*math.Pi, t.Turned) - t.Turned
	const angleSlack = 1e-12 // rad: a sum of exact degrees must not fail by rounding
	switch {
	case math.Abs(lacks) > limitAngle+angleSlack:
		r.Fault("segment", "the track does not close: it turns %s degrees %s in all, and a lap turns 360; %s",
			short(math.Abs(t.Turned)*units.ToDeg), side(t.Turned), b.angleRemedy(lacks, limitAngle))
	case gap > limit:
		r.Fault("segment", "the track does not close: its end misses its start by %s m (%s m east, %s m north; %s m allowed); %s",
			short(gap), short(t.GapX), short(t.GapY), short(limit), b.gapRemedy())
	}
	if math.Abs(t.Climb) > limitHeight {
		b.faultHeight(r, limitHeight)
	}
}

func side(angle float64) string {
	if angle < 0 {
		return "right"
	}
	return "left"
}

// angleRemedy looks for one corner that was written the wrong way round, else
// says how much is missing.
func (b *built) angleRemedy(lacks, limit float64) string {
	n := 0
	for i := range b.pieces {
		if !b.pieces[i].corner {
			continue
		}
		flipped := b.t.Turned - 2*b.t.Corners[n].Angle
		n++
		if math.Abs(math.Abs(flipped)-2*math.Pi) <= limit {
			p := &b.pieces[i]
			return fmt.Sprintf("it would if %s %q went %s: check its direction", p.key, p.name, side(-p.sign))
		}
	}
	return fmt.Sprintf("check directions and angles: %s degrees more to the %s are wanted",
		short(math.Abs(lacks)*units.ToDeg), side(lacks))
}

// gapRemedy finds the two straights whose change closes the gap with the least
// change of length.
func (b *built) gapRemedy() string {
	i, j, di, dj, ok := b.closingPair()
	if !ok {
		return "no two straights can close it; check radii and angles"
	}
	var changes []string
	for _, c := range []struct {
		segment int
		by      float64
	}{{i, di}, {j, dj}} {
		if math.Abs(c.by) < 0.5e-6 { // less than short shows
			continue
		}
		g := &b.t.Segments[c.segment]
		changes = append(changes, fmt.Sprintf("%s.length_m = %s (now %s)",
			b.pieces[b.from[c.segment]].key, short(g.Length+c.by), short(g.Length)))
	}
	return "check lengths and radii; it closes with " + strings.Join(changes, " and ")
}

// closingPair solves, for every pair of straights that are not nearly
// parallel, the two equations di·ui + dj·uj = -gap in their unit vectors u.
// Only the first 200 straights are tried: the work grows with the square.
func (b *built) closingPair() (bi, bj int, bdi, bdj float64, ok bool) {
	const (
		leastSine = 0.2
		most      = 200
	)
	var straights []int
	for i := range b.t.Segments {
		if b.t.Segments[i].Corner < 0 && len(straights) < most {
			straights = append(straights, i)
		}
	}
	best := math.Inf(1)
	for n, i := range straights {
		gi := &b.t.Segments[i]
		xi, yi := math.Sincos(gi.Heading)
		for _, j := range straights[n+1:] {
			gj := &b.t.Segments[j]
			xj, yj := math.Sincos(gj.Heading)
			det := xi*yj - xj*yi
			if math.Abs(det) < leastSine {
				continue
			}
			di := (-b.t.GapX*yj + b.t.GapY*xj) / det
			dj := (-xi*b.t.GapY + yi*b.t.GapX) / det
			if gi.Length+di < minLength || gj.Length+dj < minLength {
				continue
			}
			if change := math.Abs(di) + math.Abs(dj); change < best {
				best = change
				bi, bj, bdi, bdj, ok = i, j, di, dj, true
			}
		}
	}
	return bi, bj, bdi, bdj, ok
}

// faultHeight points at the longest segment with a grade and says which grade
// would close the lap.
func (b *built) faultHeight(r rules, limit float64) {
	length := make([]float64, len(b.pieces))
	for i := range b.t.Segments {
		length[b.from[i]] += b.t.Segments[i].Length
	}
	rank := func(i int) int { // one number to change before two, before none
		switch p := &b.pieces[i]; {
		case p.grade != p.gradeEnd:
			return 1
		case p.grade != 0:
			return 2
		}
		return 0
	}
	at := 0
	for i := range b.pieces {
		if rank(i) > rank(at) || rank(i) == rank(at) && length[i] > length[at] {
			at = i
		}
	}
	p := &b.pieces[at]
	less := b.t.Climb / length[at]
	remedy, key := fmt.Sprintf("%.4f here", 100*(math.Tan(p.grade)-less)), p.key+".grade_percent"
	if p.grade != p.gradeEnd {
		remedy = fmt.Sprintf("grade_percent = %.4f and grade_end_percent = %.4f here",
			100*(math.Tan(p.grade)-less), 100*(math.Tan(p.gradeEnd)-less))
		if !r.Has(key) {
			key = p.key + ".grade_end_percent"
		}
	}
	r.Fault(key, "%s leaves the end of the lap %.3f m above its start (%s m allowed), which would make energy from nothing; check the grades: the lap closes with %s",
		short(100*math.Tan(p.grade)), b.t.Climb, short(limit), remedy)
}
