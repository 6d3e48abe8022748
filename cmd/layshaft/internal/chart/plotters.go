package chart

import (
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
)

// bands shades the corners and hatches the places where no shift is allowed.
type bands way

// Plot draws them, under the grid.
func (b bands) Plot(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	for _, corner := range b.track.Corners {
		for _, s := range unwrapped(corner.Start, corner.End, b.track.Length) {
			c.FillPolygon(band(), box(x(s[0]*b.u.length), c.Min.Y, x(s[1]*b.u.length), c.Max.Y))
		}
	}
	style := lineStyle(0.5, frame())
	const pitch = 5 // pt between the hatch strokes at the foot of the panel
	for _, place := range b.track.NoShift {
		for _, s := range unwrapped(place.Start, place.End, b.track.Length) {
			for at, end := x(s[0]*b.u.length), x(s[1]*b.u.length); at < end; at += pitch {
				c.StrokeLine2(style, at, c.Min.Y, min(at+pitch, end), c.Min.Y+pitch)
			}
		}
	}
}

// unwrapped cuts a stretch that runs over the start line into two.
func unwrapped(start, end, length float64) [][2]float64 {
	if end >= start {
		return [][2]float64{{start, end}}
	}
	return [][2]float64{{start, length}, {0, end}}
}

func box(x0, y0, x1, y1 vg.Length) []vg.Point {
	return []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// look tells how the line is drawn while the car does something.
type look int

const (
	pulling  look = iota // full throttle, shifts among it: heavy
	holding              // held back by corner or braking: light
	limiting             // on the limiter: heavy and dotted
)

func lookOf(p sim.Phase) look {
	switch p {
	case sim.Capped:
		return holding
	case sim.Limiting:
		return limiting
	}
	return pulling
}

func (k look) style() draw.LineStyle {
	switch k {
	case holding:
		return lineStyle(lightLine, ink())
	case limiting:
		return lineStyle(heavyLine+0.6, accent(), 1.6, 1.6)
	}
	return lineStyle(heavyLine, accent())
}

// trace draws speed over distance, or engine speed.
type trace struct {
	lap *sim.Lap
	u   scale
	rpm bool
}

// Plot draws the line in pieces, one for each thing the car does in turn.
func (t *trace) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	points := make([]vg.Point, len(t.lap.Samples))
	for i, s := range t.lap.Samples {
		points[i] = vg.Point{X: x(s.S * t.u.length), Y: y(s.V * t.u.speed)}
		if t.rpm {
			points[i].Y = y(s.RPM)
		}
	}
	for from := 0; from < len(points)-1; {
		kind, to := lookOf(t.lap.Samples[from].Phase), from+1
		for to < len(points)-1 && lookOf(t.lap.Samples[to].Phase) == kind {
			to++
		}
		c.StrokeLines(kind.style(), thin(points[from:to+1]))
		from = to
	}
}

// thin keeps the first and the last point, and of the others the lowest and
// the highest within each fraction of a point on paper: peaks stay, files
// stay small.
func thin(points []vg.Point) []vg.Point {
	const grain = 1 // pt: at most 1500 points over the width of a figure
	if len(points) < 4 {
		return points
	}
	out := []vg.Point{points[0]}
	for i := 1; i < len(points)-1; {
		low, high, end := i, i, i
		for ; end < len(points)-1 && points[end].X < points[i].X+grain; end++ {
			if points[end].Y < points[low].Y {
				low = end
			}
			if points[end].Y > points[high].Y {
				high = end
			}
		}
		end = max(end, i+1)
		out = append(out, points[min(low, high)])
		if low != high {
			out = append(out, points[max(low, high)])
		}
		i = end
	}
	return append(out, points[len(points)-1])
}

// stairs draws the gear engaged, with its number where there is room.
type stairs struct {
	lap *sim.Lap
	u   scale
}

// Plot draws the steps.
func (t *stairs) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := textStyle(smallSize, true)
	style.XAlign = text.XCenter
	samples := t.lap.Samples
	var points []vg.Point
	for from := 0; from < len(samples); {
		to := from
		for to < len(samples)-1 && samples[to].Gear == samples[from].Gear {
			to++
		}
		left, right := x(samples[from].S*t.u.length), x(samples[to].S*t.u.length)
		level := y(float64(samples[from].Gear))
		points = append(points, vg.Point{X: left, Y: level}, vg.Point{X: right, Y: level})
		label := strconv.Itoa(samples[from].Gear)
		if right-left > 2*style.Width(label) {
			c.FillText(style, vg.Point{X: (left + right) / 2, Y: level + 1.5}, label)
		}
		if to == from {
			break
		}
		if to == len(samples)-1 && samples[to].Gear == samples[from].Gear {
			break
		}
		from = to
	}
	c.StrokeLines(lineStyle(1.1, ink()), points)
}
