package chart

import (
	"errors"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
)

// Set is a set in a car, as the figures need it.
type Set struct {
	Model *sim.Model
	Pairs []string  // by gear, "13/36"
	Total []float64 // engine turns per wheel turn, by gear
}

func (s *Set) check() error {
	if s.Model == nil || len(s.Total) == 0 || len(s.Pairs) != len(s.Total) {
		return errors.New("chart: no set to draw")
	}
	for _, t := range s.Total {
		if !(t > 0) || math.IsInf(t, 0) {
			return errors.New("chart: a total ratio is not a number above 0")
		}
	}
	return nil
}

// point is one of a curve, in the units of the axes.
type point struct{ x, y float64 }

// curve is a line through points.
type curve struct {
	points []point
	style  draw.LineStyle
}

// Plot draws the line as far as it lies in the panel.
func (k *curve) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	line := make([]vg.Point, len(k.points))
	for i, q := range k.points {
		line[i] = vg.Point{X: x(q.x), Y: y(q.y)}
	}
	if len(line) > 1 {
		c.StrokeLines(k.style, c.ClipLinesXY(line)...)
	}
}

// level is a line across the panel at a value, up for one at an x value, with its name.
type level struct {
	at    float64
	up    bool
	style draw.LineStyle
	text  string
}

// Plot draws the line and writes its name, at the left end or at the foot.
func (l *level) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := textStyle(smallSize, false)
	if l.up {
		if l.at < p.X.Min || l.at > p.X.Max {
			return
		}
		c.StrokeLine2(l.style, x(l.at), c.Min.Y, x(l.at), c.Max.Y)
		if l.text != "" {
			style.Rotation, style.YAlign = quarterTurn, yAlign(-0.5)
			c.FillText(style, vg.Point{X: x(l.at) - smallSize/2 - 2, Y: c.Min.Y + 5}, l.text)
		}
		return
	}
	if l.at < p.Y.Min || l.at > p.Y.Max {
		return
	}
	c.StrokeLine2(l.style, c.Min.X, y(l.at), c.Max.X, y(l.at))
	if l.text != "" {
		label(c, style, vg.Point{X: c.Min.X + 5, Y: y(l.at) + 1.5}, l.text)
	}
}

// note is text in the panel, on white.
type note struct {
	at             point
	dx, dy         vg.Length
	xAlign, yAlign float64
	text           string
	bold           bool
}

// Plot writes it.
func (n *note) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := textStyle(smallSize, n.bold)
	style.XAlign, style.YAlign = xAlign(n.xAlign), yAlign(n.yAlign)
	at := vg.Point{X: x(n.at.x) + n.dx, Y: y(n.at.y) + n.dy}
	left := at.X + style.Width(n.text)*vg.Length(n.xAlign)
	at.X += max(0, c.Min.X+3-left) - max(0, left+style.Width(n.text)+2-c.Max.X)
	label(c, style, at, n.text)
}

// ring is an open circle round a place.
type ring struct{ at point }

// Plot draws it.
func (r *ring) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	circle(c, vg.Point{X: x(r.at.x), Y: y(r.at.y)}, 4, nil, lineStyle(1.2, ink()))
}

// stripe shades the panel between two values.
type stripe struct {
	lo, hi float64
	up     bool // between x values, else between y values
}

// Plot shades it.
func (s *stripe) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	if s.up {
		lo, hi := max(s.lo, p.X.Min), min(s.hi, p.X.Max)
		if lo < hi {
			c.FillPolygon(band(), box(x(lo), c.Min.Y, x(hi), c.Max.Y))
		}
		return
	}
	if lo, hi := max(s.lo, p.Y.Min), min(s.hi, p.Y.Max); lo < hi {
		c.FillPolygon(band(), box(c.Min.X, y(lo), c.Max.X, y(hi)))
	}
}
