package chart

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// drawHead writes the title, the line below it, and the key of the figure.
func (l *Lap) drawHead(c draw.Canvas) {
	title := textStyle(titleSize, true)
	title.YAlign = text.YTop
	sub := textStyle(tickSize, false)
	sub.YAlign = text.YTop
	width := c.Max.X - c.Min.X
	c.FillText(title, vg.Point{X: c.Min.X, Y: c.Max.Y}, fit(title, l.Title, width))
	c.FillText(sub, vg.Point{X: c.Min.X, Y: c.Max.Y - 15}, fit(sub, l.Subtitle, width))
	l.drawKey(c)
}

// drawKey explains lines and marks in one row at the foot of the head.
func (l *Lap) drawKey(c draw.Canvas) {
	style := textStyle(smallSize, false)
	style.YAlign = text.YCenter
	at := vg.Point{X: c.Min.X, Y: c.Max.Y - 32}
	// A reader of the SVG without the fonts may see letters wider by this.
	const fallback = 1.15
	const sample, gap = vg.Length(22), vg.Length(9)
	write := func(label string) {
		c.FillText(style, vg.Point{X: at.X + sample + 4, Y: at.Y}, label)
		at.X += sample + 4 + style.Width(label)*fallback + gap
	}
	for _, k := range []struct {
		kind look
		text string
	}{{pulling, "full throttle"}, {holding, "corner or braking"}, {limiting, "on the limiter"}} {
		c.StrokeLine2(k.kind.style(), at.X, at.Y, at.X+sample, at.Y)
		write(k.text)
	}
	triangle(c, vg.Point{X: at.X + sample/2, Y: at.Y}, true)
	write("upshift")
	triangle(c, vg.Point{X: at.X + sample/2, Y: at.Y}, false)
	write("downshifts, listed by the first of a run")
	c.FillPolygon(band(), box(at.X, at.Y-4, at.X+sample, at.Y+4))
	write("corner")
	if len(l.Track.NoShift) > 0 {
		for x := at.X; x < at.X+sample-4; x += 5 {
			c.StrokeLine2(lineStyle(0.5, frame()), x, at.Y-3, x+5, at.Y+2)
		}
		write("no shift here")
	}
}

// fit cuts a text that is wider than the room for it.
func fit(style text.Style, s string, width vg.Length) string {
	if style.Width(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && style.Width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

const namesMax = 3.4 * vg.Centimeter // a longer name is cut

// namesHeight is the room that the longest corner name needs, standing up.
func (l *Lap) namesHeight() vg.Length {
	style := textStyle(smallSize, false)
	need := vg.Length(0)
	for _, corner := range l.Track.Corners {
		need = max(need, style.Width(corner.Name))
	}
	return 1.12*min(need, namesMax) + 12 // with room for a wider fallback font
}

// drawNames writes the corner names upright above their bands, moved apart
// where they would touch, each with a thin line to its corner.
func (l *Lap) drawNames(c, data draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&data)
	u := l.scale()
	style := textStyle(smallSize, false)
	style.Rotation = quarterTurn
	style.YAlign = text.YCenter
	places := make([]vg.Length, len(l.Track.Corners))
	wanted := make([]vg.Length, len(l.Track.Corners))
	for i, corner := range l.Track.Corners {
		span := unwrapped(corner.Start, corner.End, l.Track.Length)[0]
		wanted[i] = x((span[0] + span[1]) / 2 * u.length)
	}
	copy(places, wanted)
	spread(places, smallSize+2, data.Min.X+4, data.Max.X-2)
	foot := data.Max.Y
	for i, corner := range l.Track.Corners {
		c.StrokeLines(lineStyle(0.4, frame()), []vg.Point{
			{X: wanted[i], Y: foot}, {X: wanted[i], Y: foot + 3}, {X: places[i], Y: foot + 8},
		})
		c.FillText(style, vg.Point{X: places[i], Y: foot + 9.5}, fit(textStyle(smallSize, false), corner.Name, namesMax))
	}
}

// spread moves places (in ascending order) apart until neighbours keep the
// pitch, staying within lo and hi as long as there is room at all.
func spread(places []vg.Length, pitch, lo, hi vg.Length) {
	for i := range places {
		if i == 0 {
			places[i] = max(places[i], lo)
		} else {
			places[i] = max(places[i], places[i-1]+pitch)
		}
	}
	for i := len(places) - 1; i >= 0; i-- {
		if i == len(places)-1 {
			places[i] = min(places[i], hi)
		} else {
			places[i] = min(places[i], places[i+1]-pitch)
		}
	}
}
