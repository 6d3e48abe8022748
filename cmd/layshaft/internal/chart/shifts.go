package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
)

// event is one numbered mark: an upshift, or the run of downshifts into one
// corner, which share a number because they stand too close for one each.
type event struct {
	number int
	shifts []sim.Shift
}

func (e *event) up() bool { return e.shifts[0].To > e.shifts[0].From }

// collect numbers the shifts in the order of the lap.
func collect(shifts []sim.Shift) []event {
	const together = 150 // m; further apart they belong to two corners
	var out []event
	for i, s := range shifts {
		if i > 0 && s.To < s.From {
			last := &out[len(out)-1]
			before := last.shifts[len(last.shifts)-1]
			if !last.up() && before.To == s.From && s.S-before.S < together {
				last.shifts = append(last.shifts, s)
				continue
			}
		}
		out = append(out, event{number: len(out) + 1, shifts: []sim.Shift{s}})
	}
	return out
}

// gears writes 5-4-3.
func (e *event) gears() string {
	words := []string{strconv.Itoa(e.shifts[0].From)}
	for _, s := range e.shifts {
		words = append(words, strconv.Itoa(s.To))
	}
	return strings.Join(words, "-")
}

// marks puts a numbered mark on the trace for every event: a filled triangle
// pointing up for an upshift, an open one pointing down for downshifts.
type marks struct {
	events []event
	lap    *sim.Lap
	u      scale
	bare   bool // no numbers: nothing lists them
}

// Plot draws marks and numbers. Numbers of upshifts stand over the line,
// those of downshifts under it; where two would touch, the later one moves
// outwards.
func (m *marks) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var taken []vg.Rectangle
	style := textStyle(smallSize, false)
	style.XAlign, style.YAlign = text.XCenter, text.YCenter
	var later []func()
	for i := range m.events {
		e := &m.events[i]
		at := vg.Point{X: x(e.shifts[0].S * m.u.length), Y: y(e.shifts[0].V * m.u.speed)}
		for _, s := range e.shifts {
			triangle(c, vg.Point{X: x(s.S * m.u.length), Y: y(s.V * m.u.speed)}, e.up())
		}
		if m.bare {
			continue
		}
		label := strconv.Itoa(e.number)
		step := vg.Length(smallSize + 0.5)
		if !e.up() {
			step = -step
		}
		pos := vg.Point{X: at.X - 3, Y: at.Y + step*1.05}
		if !e.up() {
			pos.X = at.X - 5
		}
		area := around(pos, style.Width(label), smallSize)
		for tries := 0; tries < 8 && (overlaps(area, taken) || m.onLine(area, x, y)); tries++ {
			pos.Y += step * 0.6
			area = around(pos, style.Width(label), smallSize)
		}
		taken = append(taken, area)
		later = append(later, func() { c.FillText(style, pos, label) })
	}
	for _, f := range later {
		f()
	}
}

func around(at vg.Point, width, height vg.Length) vg.Rectangle {
	return vg.Rectangle{
		Min: vg.Point{X: at.X - width/2 - 1, Y: at.Y - height/2},
		Max: vg.Point{X: at.X + width/2 + 1, Y: at.Y + height/2},
	}
}

func overlaps(a vg.Rectangle, others []vg.Rectangle) bool {
	for _, b := range others {
		if a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y {
			return true
		}
	}
	return false
}

// onLine tells whether the trace runs through the area.
func (m *marks) onLine(a vg.Rectangle, x, y func(float64) vg.Length) bool {
	s := m.lap.Samples
	for i := 1; i < len(s); i++ {
		x0, x1 := x(s[i-1].S*m.u.length), x(s[i].S*m.u.length)
		if x1 < a.Min.X || x0 > a.Max.X {
			continue
		}
		y0, y1 := y(s[i-1].V*m.u.speed), y(s[i].V*m.u.speed)
		if x1 > x0 { // only the part of the piece beside the area counts
			slope := (y1 - y0) / (x1 - x0)
			left, right := max(x0, a.Min.X), min(x1, a.Max.X)
			y0, y1 = y0+slope*(left-x0), y0+slope*(right-x0)
		}
		if max(y0, y1) > a.Min.Y && min(y0, y1) < a.Max.Y {
			return true
		}
	}
	return false
}

func triangle(c draw.Canvas, at vg.Point, up bool) {
	const r = vg.Length(markRadius)
	tip := r
	if !up {
		tip = -r
	}
	pts := []vg.Point{
		{X: at.X, Y: at.Y + tip},
		{X: at.X - 0.87*r, Y: at.Y - tip/2},
		{X: at.X + 0.87*r, Y: at.Y - tip/2},
	}
	if up {
		c.FillPolygon(ink(), pts)
		return
	}
	c.FillPolygon(paper(), pts)
	c.StrokeLines(lineStyle(0.6, ink()), append(pts, pts[0]))
}

// shiftList lists the events below the panels.
func shiftList(events []event, u scale) *list {
	l := &list{
		heads: []string{"no.", u.lengthUnit, "gears", "rpm", u.speedUnit},
		left:  []bool{false, false, true, false, false}, bold: -1,
	}
	for i := range events {
		e := &events[i]
		first := e.shifts[0]
		l.rows = append(l.rows, []string{
			strconv.Itoa(e.number), grouped(int(math.Round(first.S * u.length))), e.gears(),
			fmt.Sprintf("%s → %s", grouped(int(math.Round(first.RPMBefore))), grouped(int(math.Round(first.RPMAfter)))),
			strconv.Itoa(int(math.Round(first.V * u.speed))),
		})
	}
	return l
}
