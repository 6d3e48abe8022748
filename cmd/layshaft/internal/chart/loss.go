package chart

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
	"layshaft/tracks"
)

// Loss is the time lost against the ideal car over the distance of one lap, in
// all and gear by gear.
type Loss struct {
	Frame
	Track   *tracks.Track
	Lap     *sim.Lap
	Account *sim.LossAccount
}

var _ Figure = (*Loss)(nil)

func (l *Loss) about() string {
	return "Time lost against the ideal car over distance, summed from the start line: in all, and in each gear."
}

func (l *Loss) check() error {
	if err := checkTrace(l.Track, l.Lap); err != nil {
		return err
	}
	if l.Account == nil || len(l.Account.Curve) != len(l.Lap.Samples) || len(l.Account.Gears) != len(l.Lap.TimeInGear) {
		return errors.New("chart: the lap has no loss account")
	}
	return nil
}

func (l *Loss) key() []keyItem {
	items := []keyItem{lineKey(lineStyle(heavyLine, ink()), "all gears")}
	for _, g := range l.gears() {
		items = append(items, lineKey(gearLine(g), fmt.Sprintf("gear %d", g+1)))
	}
	return append(items, wayKey(l.Track)...)
}

// gears are the indices of those that the lap uses.
func (l *Loss) gears() []int {
	var out []int
	for g, t := range l.Lap.TimeInGear {
		if t > 0 {
			out = append(out, g)
		}
	}
	return out
}

// gearLine tells up to eight gears apart: four dashes, light and heavy.
func gearLine(g int) draw.LineStyle {
	width := vg.Length(1.1)
	if g >= 4 {
		width = 1.9
	}
	return lineStyle(width, seriesColor(g), dashOf(g)...)
}

// byGear sums the losses of every gear over the samples (s), as the account
// books them: to the gear at the beginning of each step.
func (l *Loss) byGear() [][]float64 {
	out := make([][]float64, len(l.Account.Gears))
	for g := range out {
		out[g] = make([]float64, len(l.Lap.Samples))
	}
	for i := 1; i < len(l.Lap.Samples); i++ {
		for g := range out {
			out[g][i] = out[g][i-1]
		}
		out[l.Lap.Samples[i-1].Gear-1][i] += l.Account.Curve[i] - l.Account.Curve[i-1]
	}
	return out
}

func (l *Loss) paint(c draw.Canvas) {
	w := way{l.Track, l.scale(), l.Bare}
	p := newPanel("time lost against the ideal car, s")
	if l.Bare {
		p.Y.Label.Text = "time lost, s" // the longer one wants the height of a page
	}
	gears := l.byGear()
	lo, hi := 0.0, 0.0
	for i := range l.Account.Curve {
		lo, hi = min(lo, l.Account.Curve[i]), max(hi, l.Account.Curve[i])
		for _, g := range gears {
			lo, hi = min(lo, g[i]), max(hi, g[i])
		}
	}
	if hi-lo < 0.01 { // an oval in one gear loses next to nothing
		hi = lo + 0.01
	}
	mark := stepsFor(hi-lo, 8)
	p.Y.Tick.Marker = mark
	p.Y.Min = 0
	if lo < -1e-6 {
		p.Y.Min = math.Floor(lo/mark.major) * mark.major
	}
	p.Y.Max = hi + 0.06*(hi-lo)
	p.Add(bands(w), grid{})
	ends := &ends{}
	draws := func(values []float64, style draw.LineStyle, name string) {
		line := &distanceLine{lap: l.Lap, values: values, u: w.u, style: style}
		p.Add(line)
		last := values[len(values)-1]
		ends.at = append(ends.at, last)
		ends.texts = append(ends.texts, name+" "+lostText(last))
	}
	for _, g := range l.gears() {
		draws(gears[g], gearLine(g), fmt.Sprintf("gear %d", g+1))
	}
	draws(l.Account.Curve, lineStyle(heavyLine, ink()), "all")
	room := ends.width()
	inner := c
	inner.Max.X -= room
	data := w.stack(inner, []*plot.Plot{p, gearPanel(w, l.Lap)}, 0, gearHeight(l.Lap))
	ends.draw(data[0], p)
}

// lostText writes a time lost, in s; below half a millisecond it has no sign.
func lostText(v float64) string {
	if v < -0.0005 {
		return fmt.Sprintf("−%.3f", -v)
	}
	return fmt.Sprintf("%.3f", math.Abs(v))
}

// distanceLine is a value at every sample of a lap.
type distanceLine struct {
	lap    *sim.Lap
	values []float64
	u      scale
	style  draw.LineStyle
}

// Plot draws it, thinned.
func (d *distanceLine) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	points := make([]vg.Point, len(d.values))
	for i, v := range d.values {
		points[i] = vg.Point{X: x(d.lap.Samples[i].S * d.u.length), Y: y(v)}
	}
	c.StrokeLines(d.style, thin(points))
}

// ends names lines at their right ends, moved apart where they would touch.
type ends struct {
	at    []float64
	texts []string
}

func (e *ends) width() vg.Length {
	style, w := textStyle(smallSize, false), vg.Length(0)
	for _, s := range e.texts {
		w = max(w, style.Width(s))
	}
	return w*fallback + 12
}

func (e *ends) draw(data draw.Canvas, p *plot.Plot) {
	_, y := p.Transforms(&data)
	order := make([]int, len(e.at))
	for i := range order {
		order[i] = i
	}
	sortBy(order, func(i int) float64 { return e.at[i] })
	places := make([]vg.Length, len(order))
	for k, i := range order {
		places[k] = y(e.at[i])
	}
	spread(places, smallSize+1.5, data.Min.Y+2, data.Max.Y)
	style := textStyle(smallSize, false)
	style.YAlign = yAlign(-0.5)
	for k, i := range order {
		data.StrokeLines(lineStyle(0.4, frame()), []vg.Point{
			{X: data.Max.X, Y: y(e.at[i])}, {X: data.Max.X + 3, Y: y(e.at[i])}, {X: data.Max.X + 8, Y: places[k]},
		})
		data.FillText(style, vg.Point{X: data.Max.X + 10, Y: places[k]}, e.texts[i])
	}
}
