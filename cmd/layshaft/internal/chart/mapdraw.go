package chart

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// line is the style of class k of n: from light and thin to dark and thick, which
// a grey printer keeps, inside a dark casing as roads have on maps.
func (m *TrackMap) line(k, n int) draw.LineStyle {
	f := 0.0
	if n > 1 {
		f = float64(k) / float64(n-1)
	}
	width := vg.Length(3.4 + 3.2*f)
	return lineStyle(width, ramp(f))
}

const casing = vg.Length(1.3)

// ramp goes from a light yellow to a dark blue with evenly falling lightness, so
// that its order survives grey print and colour blindness.
func ramp(f float64) color.Color {
	stops := [...][3]float64{{253, 231, 121}, {170, 200, 130}, {92, 155, 146}, {42, 100, 140}, {24, 40, 96}}
	x := math.Max(0, math.Min(1, f)) * float64(len(stops)-1)
	i := min(int(x), len(stops)-2)
	mix := func(c int) uint8 {
		return uint8(math.Round(stops[i][c] + (stops[i+1][c]-stops[i][c])*(x-float64(i))))
	}
	return color.RGBA{R: mix(0), G: mix(1), B: mix(2), A: 0xff}
}

func (m *TrackMap) key() []keyItem {
	if m.check() != nil {
		return nil
	}
	var items []keyItem
	for _, k := range m.plan().classes {
		items = append(items, keyItem{func(c draw.Canvas, l vg.Point) {
			wide := k.style
			wide.Width += casing
			wide.Color = ink()
			c.StrokeLine2(wide, l.X+1, l.Y, l.X+keySample, l.Y)
			c.StrokeLine2(k.style, l.X+1.6, l.Y, l.X+keySample-0.6, l.Y)
		}, k.text})
	}
	return items
}

func (m *TrackMap) paint(c draw.Canvas) {
	if l := m.list(); len(l.rows) > 0 && !m.Bare {
		_, width := l.blocks(c.Max.Y - c.Min.Y - 8)
		side := c
		side.Min.X, side.Max.Y = c.Max.X-width, c.Max.Y-8
		l.draw(side)
		c.Max.X = side.Min.X - 18
	}
	p := m.plan()
	at := m.fitMap(c, p)
	m.drawLine(c, p, at)
	taken := m.drawStart(c, at)
	taken = append(taken, m.drawScale(c, p, at)...)
	taken = m.tagCorners(c, at, taken)
	if m.By == ByGear {
		m.tagGears(c, p, at, taken)
	}
}

// fitMap places the ends of the pieces on the canvas, in true proportion, with room
// for the tags around and the scale below.
func (m *TrackMap) fitMap(c draw.Canvas, p *mapped) []vg.Point {
	const room, foot = 34, 26
	x0, x1, y0, y1 := p.x[0], p.x[0], p.y[0], p.y[0]
	for i := range p.x {
		x0, x1 = math.Min(x0, p.x[i]), math.Max(x1, p.x[i])
		y0, y1 = math.Min(y0, p.y[i]), math.Max(y1, p.y[i])
	}
	w, h := float64(c.Max.X-c.Min.X-2*room), float64(c.Max.Y-c.Min.Y-2*room-foot)
	k := math.Min(w/math.Max(x1-x0, 1), h/math.Max(y1-y0, 1))
	left := float64(c.Min.X) + room + (w-k*(x1-x0))/2
	low := float64(c.Min.Y) + room + foot + (h-k*(y1-y0))/2
	out := make([]vg.Point, len(p.x))
	for i := range out {
		out[i] = vg.Point{X: vg.Length(left + k*(p.x[i]-x0)), Y: vg.Length(low + k*(p.y[i]-y0))}
	}
	return out
}

// drawLine draws the casing of all, then the pieces, neighbours of one class in one
// stroke.
func (m *TrackMap) drawLine(c draw.Canvas, p *mapped, at []vg.Point) {
	for _, under := range []bool{true, false} {
		for from := 0; from < len(p.of); {
			to := from
			for to < len(p.of) && p.of[to] == p.of[from] {
				to++
			}
			style := p.classes[p.of[from]].style
			last := to
			if under {
				style.Width, style.Color = style.Width+casing, ink()
				last = min(to+1, len(at)-1) // no gap at the joint
			}
			c.StrokeLines(style, at[from:last+1])
			from = to
		}
	}
}

// drawStart draws the start line with an arrow in the direction of travel.
func (m *TrackMap) drawStart(c draw.Canvas, at []vg.Point) []vg.Rectangle {
	dir := unit(at[2].Sub(at[0]))
	side := vg.Point{X: -dir.Y, Y: dir.X}
	point := func(along, across vg.Length) vg.Point {
		return at[0].Add(dir.Scale(along)).Add(side.Scale(across))
	}
	c.StrokeLines(lineStyle(2, ink()), []vg.Point{point(0, -9), point(0, 9)})
	tip := []vg.Point{point(4, 9), point(20, 9)}
	c.StrokeLines(lineStyle(1.1, ink()), tip)
	c.FillPolygon(ink(), []vg.Point{point(24, 9), point(17, 12), point(17, 6)})
	style := textStyle(smallSize, true)
	style.XAlign, style.YAlign = xAlign(-0.5), yAlign(-0.5)
	q := point(8, 18)
	w := style.Width("start")
	if math.Abs(float64(side.X)) > 0.5 { // the line runs up or down: beside it
		q = point(10, 16+w/2)
	}
	c.FillText(style, q, "start")
	return []vg.Rectangle{around(q, w, smallSize), around(point(14, 9), 24, 24)}
}

func unit(p vg.Point) vg.Point {
	l := vg.Length(math.Hypot(float64(p.X), float64(p.Y)))
	if l == 0 {
		return vg.Point{X: 1}
	}
	return p.Scale(1 / l)
}

// drawScale draws the bar of the scale and an arrow to the north, bottom left.
func (m *TrackMap) drawScale(c draw.Canvas, p *mapped, at []vg.Point) []vg.Rectangle {
	u := m.scale()
	far := 0 // the piece's end farthest from the start tells the scale best
	for i := range p.x {
		if math.Hypot(p.x[i]-p.x[0], p.y[i]-p.y[0]) > math.Hypot(p.x[far]-p.x[0], p.y[far]-p.y[0]) {
			far = i
		}
	}
	metres := math.Hypot(p.x[far]-p.x[0], p.y[far]-p.y[0]) * u.length
	paperWay := math.Hypot(float64(at[far].X-at[0].X), float64(at[far].Y-at[0].Y))
	length := roundStep(metres/5, 1)
	w := vg.Length(length * paperWay / math.Max(metres, 1e-9))
	x, y := c.Min.X+22, c.Min.Y+6
	style := lineStyle(1, ink())
	c.StrokeLine2(style, x, y, x+w, y)
	c.StrokeLine2(style, x, y-3, x, y+3)
	c.StrokeLine2(style, x+w, y-3, x+w, y+3)
	text := textStyle(smallSize, false)
	text.YAlign = yAlign(-0.5)
	s := grouped(int(math.Round(length))) + " " + u.lengthUnit
	c.FillText(text, vg.Point{X: x + w + 5, Y: y}, s)
	n := vg.Point{X: c.Min.X + 7, Y: y}
	c.StrokeLine2(style, n.X, n.Y-4, n.X, n.Y+10)
	c.FillPolygon(ink(), []vg.Point{{X: n.X, Y: n.Y + 16}, {X: n.X - 3, Y: n.Y + 8}, {X: n.X + 3, Y: n.Y + 8}})
	text.XAlign = xAlign(-0.5)
	c.FillText(text, vg.Point{X: n.X, Y: n.Y + 22}, "N")
	return []vg.Rectangle{{Min: vg.Point{X: c.Min.X, Y: c.Min.Y}, Max: vg.Point{X: x + w + 8 + text.Width(s)*fallback, Y: y + 28}}}
}

// tag writes a word beside the line at piece i, on the first side and distance that
// are free; side is the side tried first (1 = left of the direction of travel).
func (m *TrackMap) tag(c draw.Canvas, at []vg.Point, i int, side vg.Length, first, most vg.Length, word string, bold bool, taken []vg.Rectangle) ([]vg.Rectangle, bool) {
	style := textStyle(smallSize, bold)
	style.XAlign, style.YAlign = xAlign(-0.5), yAlign(-0.5)
	a, b := at[max(0, i-2)], at[min(len(at)-1, i+2)]
	dir := unit(b.Sub(a))
	across := vg.Point{X: -dir.Y * side, Y: dir.X * side}
	w := style.Width(word)
	for d := first; d <= most; d += 4 {
		for _, turn := range []float64{0, 0.5, -0.5, math.Pi, math.Pi - 0.5, math.Pi + 0.5} {
			sin, cos := math.Sincos(turn)
			way := vg.Point{X: across.X*vg.Length(cos) - across.Y*vg.Length(sin), Y: across.X*vg.Length(sin) + across.Y*vg.Length(cos)}
			// A wide word stands farther away to the side than above.
			pos := at[i].Add(way.Scale(d + w/2*vg.Length(math.Abs(float64(way.X)))))
			area := around(pos, w*fallback, smallSize+1)
			if area.Min.X < c.Min.X || area.Max.X > c.Max.X || area.Min.Y < c.Min.Y || area.Max.Y > c.Max.Y ||
				overlaps(area, taken) || onPoints(area, at) {
				continue
			}
			if d > first+4 {
				c.StrokeLines(lineStyle(0.5, frame()), []vg.Point{at[i].Add(way.Scale(5)), at[i].Add(way.Scale(d - 5))})
			}
			c.FillText(style, pos, word)
			return append(taken, area), true
		}
	}
	return taken, false
}

func onPoints(a vg.Rectangle, at []vg.Point) bool {
	const half = 4.5 // pt, half of the widest line with its casing
	for _, p := range at {
		if p.X > a.Min.X-half && p.X < a.Max.X+half && p.Y > a.Min.Y-half && p.Y < a.Max.Y+half {
			return true
		}
	}
	return false
}

func (m *TrackMap) tagCorners(c draw.Canvas, at []vg.Point, taken []vg.Rectangle) []vg.Rectangle {
	for k := range m.Track.Corners {
		corner := &m.Track.Corners[k]
		mid := (corner.Start + corner.End) / 2
		if corner.End < corner.Start {
			mid = math.Mod((corner.Start+corner.End+m.Track.Length)/2, m.Track.Length)
		}
		i := min(len(at)-1, int(math.Round(mid/m.Track.Length*mapPieces)))
		side := vg.Length(1)
		if corner.Angle > 0 { // a left-hander: its outside is on the right
			side = -1
		}
		taken, _ = m.tag(c, at, i, side, 11, 60, "T"+strconv.Itoa(k+1), true, taken)
	}
	return taken
}

// tagGears writes the gear beside every stretch of it where there is room.
func (m *TrackMap) tagGears(c draw.Canvas, p *mapped, at []vg.Point, taken []vg.Rectangle) {
	for from := 0; from < len(p.of); {
		to := from
		for to < len(p.of) && p.of[to] == p.of[from] {
			to++
		}
		for _, f := range []float64{0.5, 0.35, 0.65, 0.2, 0.8} {
			var done bool
			i := from + int(f*float64(to-from))
			if taken, done = m.tag(c, at, i, -1, 8.5, 12.5, strconv.Itoa(p.of[from]+1), false, taken); done {
				break
			}
		}
		from = to
	}
}

// list names the corners.
func (m *TrackMap) list() *list {
	u := m.scale()
	l := &list{heads: []string{"corner", "lowest " + u.speedUnit, "in gear"}, left: []bool{true, false, false}, bold: -1}
	if m.By == ByLoss {
		l = &list{heads: []string{"corner and what follows", "lost, s"}, left: []bool{true, false}, bold: -1}
	}
	for k, row := range m.corners() {
		name := fit(textStyle(smallSize, true), Clean(m.Track.Label(k)), namesMax)
		if m.By == ByLoss {
			l.rows = append(l.rows, []string{name, lostText(row.lost)})
			continue
		}
		gear, speed := "–", "–"
		if row.lowest != nil {
			gear, speed = strconv.Itoa(row.lowest.Gear), fmt.Sprintf("%.0f", row.lowest.V*u.speed)
		}
		l.rows = append(l.rows, []string{name, speed, gear})
	}
	return l
}
