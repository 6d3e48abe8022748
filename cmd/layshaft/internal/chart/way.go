package chart

import (
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/tracks"
)

// way is what all figures over distance share: the axis, the corners shaded
// and named, panels one above the other.
type way struct {
	track *tracks.Track
	u     scale
	bare  bool // corners by number alone
}

const namesMax = 3.9 * vg.Centimeter // a longer name is cut

// stack draws the corner names and below them the panels, with common left and
// right edges; a height of 0 takes what is left. It returns the data areas of
// the panels.
func (w way) stack(c draw.Canvas, panels []*plot.Plot, heights ...vg.Length) []draw.Canvas {
	for i, p := range panels {
		w.axis(p, i == len(panels)-1)
	}
	rows := split(c, append([]vg.Length{w.namesHeight()}, heights...)...)
	names, rows := rows[0], rows[1:]
	left, right := c.Min.X, c.Max.X
	for i, p := range panels {
		d := p.DataCanvas(rows[i])
		left, right = max(left, d.Min.X), min(right, d.Max.X)
	}
	out := make([]draw.Canvas, 0, len(panels))
	for i, p := range panels {
		d := p.DataCanvas(rows[i])
		rows[i].Min.X += left - d.Min.X
		rows[i].Max.X -= d.Max.X - right
		out = append(out, drawPanel(rows[i], p))
	}
	w.drawNames(names, out[0], panels[0])
	return out
}

// axis sets the common axis; only the lowest panel carries figures.
func (w way) axis(p *plot.Plot, figures bool) {
	p.X.Min, p.X.Max = 0, w.track.Length*w.u.length
	p.X.Tick.Marker = steps{major: roundStep(p.X.Max, 12), minor: 5}
	if figures {
		p.X.Label.Text = "distance from the start line, " + w.u.lengthUnit
		return
	}
	p.X.Tick.Marker = steps{major: roundStep(p.X.Max, 12), minor: 5, bare: true}
}

// namesHeight is the room that the longest corner name needs, standing up.
func (w way) namesHeight() vg.Length {
	style := textStyle(smallSize, false)
	need := vg.Length(0)
	for i := range w.track.Corners {
		need = max(need, style.Width(w.label(i)))
	}
	return fallback*min(need, namesMax) + 12
}

// label is a corner's number and name, or the number alone.
func (w way) label(corner int) string {
	if w.bare {
		return "T" + strconv.Itoa(corner+1)
	}
	return Clean(w.track.Label(corner))
}

// drawNames writes the corner names upright above their bands, moved apart
// where they would touch, each with a thin line to its corner. Where there are
// more than fit, every second or third is left out; the bands remain.
func (w way) drawNames(c, data draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&data)
	style := textStyle(smallSize, false)
	style.Rotation = quarterTurn
	style.YAlign = text.YCenter
	const pitch = smallSize + 2
	every := 1
	for vg.Length(len(w.track.Corners)/every)*pitch > data.Max.X-data.Min.X {
		every++
	}
	var places, wanted []vg.Length
	var shown []int
	for i := 0; i < len(w.track.Corners); i += every {
		corner := &w.track.Corners[i]
		span := unwrapped(corner.Start, corner.End, w.track.Length)[0]
		shown = append(shown, i)
		wanted = append(wanted, x((span[0]+span[1])/2*w.u.length))
	}
	places = append(places, wanted...)
	spread(places, pitch, data.Min.X+4, data.Max.X-2)
	foot := data.Max.Y
	for k, i := range shown {
		c.StrokeLines(lineStyle(0.4, frame()), []vg.Point{
			{X: wanted[k], Y: foot}, {X: wanted[k], Y: foot + 3}, {X: places[k], Y: foot + 8},
		})
		c.FillText(style, vg.Point{X: places[k], Y: foot + 9.5}, fit(textStyle(smallSize, false), w.label(i), namesMax))
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
