package tracks

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/units"
)

// Bounds of what a circuit can have: wide enough for any, too narrow for a
// wrong unit.
const (
	minLength = 0.01    // m, of a segment
	maxLength = 100_000 // m, of a segment and of a distance
	minRadius = 2       // m
	maxRadius = 20_000  // m
	maxBank   = 45      // degrees
	maxGrade  = 25      // percent
	minDip    = 20      // m, radius of vertical curvature
	steep     = 10      // percent, above which plan and slope differ by 0.5 %
)

// sliver (m) is the length below which an arc between two spirals is not made
// a segment.
const sliver = 1e-6

// piece is a checked [[segment]]: lengths in m, angles in rad.
type piece struct {
	key      string
	name     string
	corner   bool
	sign     float64 // of the curvature: +1 left, -1 right
	radius   float64
	angle    float64 // turned in all, > 0
	in, out  float64 // spirals
	length   float64 // of the straight, or of the arc without spirals
	bank     float64 // positive = left side low
	grade    float64 // at the start
	gradeEnd float64
	grip     float64
}

// all is the length (m) of the piece, spirals included.
func (p *piece) all() float64 { return p.in + p.length + p.out }

// verticalCurvature (1/m) is the same all along the piece.
func (p *piece) verticalCurvature() float64 { return (p.gradeEnd - p.grade) / p.all() }

// parseSegments checks every segment; ok is false if one of them is faulty or
// there is none.
func parseSegments(r rules, list []segmentFile) (pieces []piece, ok bool) {
	if len(list) == 0 {
		r.Fault("segment", "there is none; write the lap as a list of [[segment]], straights and corners in the order of driving")
		return nil, false
	}
	ok = true
	seen := map[string]string{}
	for i := range list {
		s := &list[i]
		key := fmt.Sprintf("segment[%d]", i+1)
		p, sound := parseSegment(r, key, s)
		if s.Kind == "corner" && s.Name != "" {
			if before, twice := seen[s.Name]; twice {
				r.Fault(key+".name", "%q is also the name of %s; give each corner its own", s.Name, before)
				sound = false
			}
			seen[s.Name] = key
		}
		pieces = append(pieces, p)
		ok = ok && sound
	}
	return pieces, ok
}

func parseSegment(r rules, key string, s *segmentFile) (piece, bool) {
	p := piece{key: key, name: s.Name, grip: 1, bank: s.BankDeg * units.FromDeg, grade: math.Atan(s.GradePercent / 100)}
	if !r.Need(key+".kind") || !r.OneOf(key+".kind", s.Kind, "straight", "corner") {
		return p, false
	}
	ok := !r.Has(key+".bank_deg") || r.within(key+".bank_deg", s.BankDeg, -maxBank, maxBank, "give degrees; in a corner positive helps")
	if r.Has(key + ".grade_percent") {
		ok = r.within(key+".grade_percent", s.GradePercent, -maxGrade, maxGrade, "give rise over run in percent, uphill positive") && ok
	}
	p.gradeEnd = p.grade
	if r.Has(key + ".grade_end_percent") {
		p.gradeEnd = math.Atan(s.GradeEnd / 100)
		ok = r.within(key+".grade_end_percent", s.GradeEnd, -maxGrade, maxGrade,
			"give rise over run in percent at the end of the segment, uphill positive, or leave it out for the grade of the start") && ok
	}
	if r.Has(key + ".grip_ratio") {
		p.grip = s.GripRatio
		ok = r.within(key+".grip_ratio", s.GripRatio, 0.05, 2, "give a factor on the tyres' grip, 1 = nominal") && ok
	}
	if s.Name != "" && strings.TrimSpace(s.Name) == "" {
		r.Fault(key+".name", "%q is blank; give a name or leave it out", s.Name)
		ok = false
	}
	if reserved(s.Name) {
		r.Fault(key+".name", "%q means something else where places are named; give another name", s.Name)
		ok = false
	}
	if p.corner = s.Kind == "corner"; p.corner {
		ok = parseCorner(r, key, s, &p) && ok
	} else {
		ok = parseStraight(r, key, s, &p) && ok
	}
	if kv := p.verticalCurvature(); ok && math.Abs(kv) > 1/float64(minDip) {
		r.Fault(key+".grade_end_percent", "%s bends the road vertically by a radius of %s m, less than %d m; lengthen the segment or bring its two grades together",
			short(s.GradeEnd), short(math.Abs(1/kv)), minDip)
		ok = false
	}
	return p, ok
}

func parseStraight(r rules, key string, s *segmentFile, p *piece) bool {
	ok := true
	for _, k := range []string{"radius_m", "angle_deg", "direction", "spiral_in_m", "spiral_out_m"} {
		if r.Has(key + "." + k) {
			r.Fault(key+"."+k, `belongs to a corner; delete it, or write kind = "corner"`)
			ok = false
		}
	}
	p.length = s.LengthM
	return r.Need(key+".length_m") && checkLength(r, key+".length_m", s.LengthM) && ok
}

func checkLength(r rules, key string, v float64) bool {
	return r.within(key, v, minLength, maxLength, "give metres, or delete a segment that has no length")
}

// parseCorner works out the angle from the length or the other way round, and
// what the spirals leave to the arc.
func parseCorner(r rules, key string, s *segmentFile, p *piece) bool {
	ok := r.Need(key+".radius_m", key+".direction")
	ok = r.need(key+".radius_m", s.RadiusM, s.RadiusM > 0,
		"is not > 0; give the radius of the arc in metres, and say left or right with direction") &&
		r.within(key+".radius_m", s.RadiusM, minRadius, maxRadius, "give metres; what is wider is a straight") && ok
	ok = r.OneOf(key+".direction", s.Direction, "left", "right") && ok
	for _, spiral := range []struct {
		key string
		v   float64
	}{{key + ".spiral_in_m", s.SpiralInM}, {key + ".spiral_out_m", s.SpiralOutM}} {
		if !r.Has(spiral.key) {
			continue
		}
		holds := spiral.v == 0 || spiral.v >= minLength && spiral.v <= maxLength
		ok = r.need(spiral.key, spiral.v, holds, "is not a length; give metres, or 0 or nothing for a corner without this spiral") && ok
	}
	hasAngle, hasLength := r.Has(key+".angle_deg"), r.Has(key+".length_m")
	switch {
	case hasAngle && hasLength:
		r.Fault(key+".length_m", "%s stands beside angle_deg, and one follows from the other; delete one of the two", short(s.LengthM))
		ok = false
	case hasAngle:
		ok = r.need(key+".angle_deg", s.AngleDeg, s.AngleDeg > 0,
			"is not > 0; give the angle turned, spirals included, and say left or right with direction") &&
			r.within(key+".angle_deg", s.AngleDeg, 0.01, 360, "give degrees, spirals included") && ok
	case hasLength:
		ok = checkLength(r, key+".length_m", s.LengthM) && ok
	default:
		r.Fault(key, "has neither angle_deg nor length_m; give one of the two")
		ok = false
	}
	if !ok {
		return false
	}
	p.sign = 1
	if s.Direction == "right" {
		p.sign = -1
	}
	p.bank *= p.sign
	p.radius, p.in, p.out = s.RadiusM, s.SpiralInM, s.SpiralOutM
	return shareAngle(r, key, s, p, hasAngle)
}

// shareAngle gives the arc what the spirals leave: a spiral of length L turns
// L/(2R).
func shareAngle(r rules, key string, s *segmentFile, p *piece, hasAngle bool) bool {
	spirals := p.in + p.out
	turned := spirals / (2 * p.radius)
	if !hasAngle {
		p.length = s.LengthM - spirals
		if p.length < -sliver {
			r.Fault(key+".length_m", "%s is less than the spirals, which are %s m together; it includes them",
				short(s.LengthM), short(spirals))
			return false
		}
		p.length = math.Max(0, p.length)
		p.angle = turned + p.length/p.radius
		if p.angle > 2*math.Pi {
			r.Fault(key+".length_m", "%s turns %s degrees at radius %s, more than a full turn; shorten it",
				short(s.LengthM), short(p.angle*units.ToDeg), short(p.radius))
			return false
		}
		return true
	}
	p.angle = s.AngleDeg * units.FromDeg
	p.length = (p.angle - turned) * p.radius
	if p.length < -sliver {
		at := key + ".spiral_in_m"
		if !r.Has(at) || r.Has(key+".spiral_out_m") && p.out > p.in {
			at = key + ".spiral_out_m"
		}
		r.Fault(at, "the spirals, %s m together, turn %s degrees, more than the %s of the corner; shorten them to at most %s m together",
			short(spirals), short(turned*units.ToDeg), short(s.AngleDeg), short(math.Floor(2*p.radius*p.angle*100)/100))
		return false
	}
	p.length = math.Max(0, p.length)
	return true
}
