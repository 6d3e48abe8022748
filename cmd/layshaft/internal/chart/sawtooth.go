package chart

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Sawtooth is engine speed over road speed: a line for every gear, and the way up
// through the gears from shift to shift.
type Sawtooth struct {
	Frame
	Set
	PullingRPM float64 // 1/min, the car's least pulling engine speed
}

var _ Figure = (*Sawtooth)(nil)

func (s *Sawtooth) about() string {
	return "Engine speed over road speed in every gear, with the shifts of the way up through the gears, pulling rpm, shift light and limiter."
}

func (s *Sawtooth) check() error { return s.Set.check() }

func climbLine() draw.LineStyle   { return lineStyle(heavyLine, accent()) }
func thinLine() draw.LineStyle    { return lineStyle(lightLine, ink()) }
func limitLine() draw.LineStyle   { return lineStyle(1.1, warn(), 6, 2.5) }
func pullLine() draw.LineStyle    { return lineStyle(0.9, ink(), 1.5, 2) }
func overRevLine() draw.LineStyle { return lineStyle(0.9, warn(), 12, 2, 1.5, 2, 1.5, 2) }
func lightLineStyle() draw.LineStyle {
	return lineStyle(0.9, ink(), 7, 2, 1.5, 2)
}

func bandKey() []keyItem {
	return []keyItem{{func(c draw.Canvas, l vg.Point) {
		c.FillPolygon(band(), box(l.X, l.Y-4, l.X+keySample, l.Y+4))
	}, "from least pulling rpm to latest shift"}, lineKey(limitLine(), "limiter")}
}

func (s *Sawtooth) key() []keyItem {
	return append([]keyItem{
		lineKey(climbLine(), "up through the gears"), lineKey(thinLine(), "gear, up to the limiter"),
	}, bandKey()...)
}

// turn is the upshift out of a gear.
type turn struct {
	speed         float64 // m/s
	before, after float64 // 1/min
}

// turns are the upshifts in the speed of a car on the level (8.2).
func (s *Set) turns() []turn {
	out := make([]turn, 0, len(s.Total))
	for g := 1; g < len(s.Total); g++ {
		v := s.Model.CrossSpeed(g, s.Total[g-1], s.Total[g])
		out = append(out, turn{v, s.Model.RPM(v, s.Total[g-1]), s.Model.RPM(v, s.Total[g])})
	}
	return out
}

// ray is rpm over speed (m/s) in a gear from one engine speed to another: a
// straight line but for the growth of the tyre.
func (s *Set) ray(total, from, to float64) []point {
	const pieces = 24
	out := make([]point, 0, pieces+1)
	for i := range pieces + 1 {
		rpm := from + (to-from)*float64(i)/pieces
		out = append(out, point{s.Model.Speed(rpm, total), rpm})
	}
	return out
}

// climb is the way up through the gears, from the pulling rpm of first to the
// limiter of top.
func (s *Sawtooth) climb() []point {
	var out []point
	from := s.PullingRPM
	for g, t := range s.turns() {
		out = append(out, s.ray(s.Total[g], from, t.before)...)
		from = t.after
	}
	return append(out, s.ray(s.Total[len(s.Total)-1], from, s.Model.LimiterRPM())...)
}

func scaled(points []point, fx, fy float64) []point {
	out := make([]point, len(points))
	for i, p := range points {
		out[i] = point{p.x * fx, p.y * fy}
	}
	return out
}

func (s *Sawtooth) paint(c draw.Canvas) {
	u := s.scale()
	limiter := s.Model.LimiterRPM()
	p := newPanel("engine speed, rpm")
	p.X.Label.Text = "road speed, " + u.speedUnit
	top := s.Model.Speed(limiter, s.Total[len(s.Total)-1]) * u.speed
	p.X.Min, p.X.Max = 0, math.Ceil(1.02*top/u.speedMajor)*u.speedMajor
	p.X.Tick.Marker = steps{major: u.speedMajor, minor: 5}
	p.Y.Min, p.Y.Max = 0, math.Ceil(limiter*1.045/500)*500
	p.Y.Tick.Marker = steps{major: roundStep(p.Y.Max, 10), minor: 2}
	p.Add(&stripe{lo: s.PullingRPM, hi: s.Model.ShiftRPM()}, grid{})
	for _, total := range s.Total {
		p.Add(&curve{scaled(s.ray(total, 0, limiter), u.speed, 1), thinLine()})
	}
	p.Add(&level{at: limiter, style: limitLine()}, &curve{scaled(s.climb(), u.speed, 1), climbLine()})
	for g, total := range s.Total {
		v := s.Model.Speed(limiter, total) * u.speed
		p.Add(&note{at: point{v, limiter}, dy: 3.5, xAlign: -0.5, text: strconv.Itoa(g + 1), bold: true})
	}
	if s.Bare {
		drawPanel(c, p)
		return
	}
	below(c, s.list(u), "", func(c draw.Canvas) draw.Canvas {
		return drawPanel(c, p)
	})
}

// list says in figures what the diagram shows.
func (s *Sawtooth) list(u scale) *list {
	l := &list{
		heads: []string{"gear", "pair", "overall", u.speedUnit + " at 1,000 rpm", "shift at " + u.speedUnit, "rpm before → after", "drop, rpm", u.speedUnit + " at limiter"},
		left:  []bool{false, true, false, false, false, false, false, false}, bold: -1,
	}
	turns := s.turns()
	for g, total := range s.Total {
		row := []string{
			strconv.Itoa(g + 1), Clean(s.Pairs[g]), ratioText(total),
			fmt.Sprintf("%.1f", s.Model.Speed(1000, total)*u.speed), "–", "–", "–",
			fmt.Sprintf("%.1f", s.Model.Speed(s.Model.LimiterRPM(), total)*u.speed),
		}
		if g < len(turns) {
			before, after := math.Round(turns[g].before), math.Round(turns[g].after)
			row[4] = fmt.Sprintf("%.1f", turns[g].speed*u.speed)
			row[5] = grouped(int(before)) + " → " + grouped(int(after))
			row[6] = grouped(int(before - after))
		}
		l.rows = append(l.rows, row)
	}
	return l
}
