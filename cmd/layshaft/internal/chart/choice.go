package chart

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
)

// LapChoice is the lap time against the ratio of one gear, the others as they
// are: the curve that any ratio would give, and on it the pairs of the stock.
type LapChoice struct {
	Frame
	Gear    int // from 1
	Present float64
	Curve   []point // ratio of the pair, lap time (s); NaN where it cannot be driven
	Pairs   []Option
	Beyond  int // pairs of the stock left out: beyond the neighbouring gears, or no lap with them
}

// Option is one pair of the stock in the gear.
type Option struct {
	Name      string
	Ratio     float64 // of the pair
	LapTime   float64 // s
	Chosen    bool    // the pair of the set
	Buildable bool    // the set with it obeys all rules
}

// NewLapChoice drives the laps of the figure: a set with total ratios, the gear
// (from 1), the drives' ratio behind the gears, and the pairs by falling ratio,
// whose LapTime it fills in. It ends early with the error of the context.
func NewLapChoice(ctx context.Context, f Frame, m *sim.Model, total []float64, gear int, drives float64, pairs []Option) (*LapChoice, error) {
	if gear < 1 || gear > len(total) || len(pairs) == 0 || !(drives > 0) {
		return nil, errors.New("chart: no pair of the stock fits the gear")
	}
	c := &LapChoice{Frame: f, Gear: gear, Pairs: append([]Option(nil), pairs...)}
	solver := m.NewSolver()
	trial := append([]float64(nil), total...)
	at := func(ratio float64) float64 {
		trial[gear-1] = ratio * drives
		// Beyond its neighbours the gear would no longer be the gear.
		if gear > 1 && trial[gear-1] >= total[gear-2] || gear < len(total) && trial[gear-1] <= total[gear] {
			return math.Inf(1)
		}
		return solver.LapTime(trial)
	}
	c.Present = solver.LapTime(total)
	lo, hi := math.Inf(1), 0.0
	for i := range c.Pairs {
		p := &c.Pairs[i]
		if p.LapTime = at(p.Ratio); !math.IsInf(p.LapTime, 0) {
			lo, hi = min(lo, p.Ratio), max(hi, p.Ratio)
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	all := c.Pairs
	c.Pairs = nil
	for _, p := range all {
		if !math.IsInf(p.LapTime, 0) {
			c.Pairs = append(c.Pairs, p)
		}
	}
	c.Beyond = len(all) - len(c.Pairs)
	if !(hi > 0) {
		return nil, errors.New("chart: with no pair of the stock can the lap be driven")
	}
	const pieces = 48
	lo, hi = lo-0.02, hi+0.02
	for i := range pieces + 1 {
		r := lo + (hi-lo)*float64(i)/pieces
		t := at(r)
		if math.IsInf(t, 0) {
			t = math.NaN()
		}
		c.Curve = append(c.Curve, point{r, t})
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	for i := range c.Pairs { // the curve goes through the marks
		c.Curve = append(c.Curve, point{c.Pairs[i].Ratio, c.Pairs[i].LapTime})
	}
	slices.SortStableFunc(c.Curve, func(a, b point) int { return cmp.Compare(a.x, b.x) })
	return c, nil
}

var _ Figure = (*LapChoice)(nil)

func (l *LapChoice) about() string {
	return fmt.Sprintf("Lap time over the ratio of gear %d, the other gears as they are, with the pairs of the stock.", l.Gear)
}

func (l *LapChoice) check() error {
	if len(l.Pairs) == 0 || len(l.Curve) < 2 || math.IsNaN(l.Present) || math.IsInf(l.Present, 0) {
		return errors.New("chart: no lap time to draw")
	}
	return nil
}

func (l *LapChoice) key() []keyItem {
	mark := func(o Option) func(c draw.Canvas, p vg.Point) {
		return func(c draw.Canvas, p vg.Point) { optionMark(c, vg.Point{X: p.X + keySample/2, Y: p.Y}, &o) }
	}
	return []keyItem{
		lineKey(climbLine(), "any ratio"), {mark(Option{Chosen: true, Buildable: true}), "the set's own pair"},
		{mark(Option{Buildable: true}), "pair that can be built in"},
		{mark(Option{}), "pair that a rule forbids beside the other gears"},
	}
}

func optionMark(c draw.Canvas, at vg.Point, o *Option) {
	switch {
	case o.Chosen:
		circle(c, at, 3, ink(), draw.LineStyle{})
		circle(c, at, 5.2, nil, lineStyle(1.1, ink()))
	case o.Buildable:
		circle(c, at, 3, ink(), draw.LineStyle{})
	default:
		circle(c, at, 3, paper(), lineStyle(0.9, ink()))
	}
}

// lossMost is how far above the best lap (s) the figure goes; what is slower is
// in the list only.
const lossMost = 2

// flat is a difference (s) that is none.
const flat = 0.0005

func (l *LapChoice) paint(c draw.Canvas) {
	lst := l.list()
	if !l.Bare {
		_, width := lst.blocks(c.Max.Y - c.Min.Y)
		side := c
		side.Min.X = c.Max.X - width
		lst.draw(side)
		c.Max.X = side.Min.X - 18
	}
	p := newPanel("lap time against the set as it is, s")
	p.X.Label.Text = fmt.Sprintf("ratio of gear %d, mainshaft/layshaft teeth", l.Gear)
	if l.Beyond > 0 {
		p.X.Label.Text += fmt.Sprintf("; left out: %d that cannot drive the lap or are beyond the neighbouring gears", l.Beyond)
	}
	lo, hi := 0.0, 0.0
	for _, q := range l.Curve {
		if !math.IsNaN(q.y) {
			lo = min(lo, q.y-l.Present)
		}
	}
	for _, q := range l.Curve {
		if d := q.y - l.Present; d-lo <= lossMost {
			hi = max(hi, d)
		}
	}
	for i := range l.Pairs {
		if d := l.Pairs[i].LapTime - l.Present; d-lo <= lossMost {
			lo, hi = min(lo, d), max(hi, d)
		}
	}
	unused := hi-lo < flat
	if unused { // rounding is not to look like a curve
		lo, hi = -20*flat, 20*flat
	}
	pad := 0.08 * (hi - lo)
	p.Y.Min, p.Y.Max = lo-pad, hi+pad
	p.Y.Tick.Marker = stepsFor(hi-lo, 8)
	p.X.Min, p.X.Max = l.Curve[0].x, l.Curve[len(l.Curve)-1].x
	p.X.Tick.Marker = stepsFor(p.X.Max-p.X.Min, 10)
	p.Add(grid{}, &level{at: 0, style: pullLine()})
	var part []point
	for i := range l.Curve {
		if q := l.Curve[i]; !math.IsNaN(q.y) {
			part = append(part, point{q.x, q.y - l.Present})
		}
		if (math.IsNaN(l.Curve[i].y) || i == len(l.Curve)-1) && len(part) > 0 {
			p.Add(&curve{part, climbLine()})
			part = nil
		}
	}
	data := drawPanel(c, p)
	l.drawOptions(data, p.X.Min, p.X.Max, p.Y.Min, p.Y.Max)
	if unused {
		style := textStyle(labelSize, false)
		style.XAlign = xAlign(-0.5)
		label(c, style, vg.Point{X: data.Center().X, Y: data.Center().Y + 40}, "The lap does not depend on this gear.")
	}
}

// drawOptions marks and numbers the pairs; numbers keep off the curve and off
// each other.
func (l *LapChoice) drawOptions(c draw.Canvas, x0, x1, y0, y1 float64) {
	style := textStyle(smallSize, false)
	style.XAlign, style.YAlign = xAlign(-0.5), yAlign(-0.5)
	place := func(ratio, lap float64) vg.Point {
		return vg.Point{X: c.X((ratio - x0) / (x1 - x0)), Y: c.Y((lap - l.Present - y0) / (y1 - y0))}
	}
	var taken []vg.Rectangle
	const between = 20 // places on the curve from one of its points to the next
	for i := 1; i < len(l.Curve); i++ {
		a, b := l.Curve[i-1], l.Curve[i]
		for k := range between {
			f := float64(k) / between
			if y := a.y + (b.y-a.y)*f; !math.IsNaN(y) {
				taken = append(taken, around(place(a.x+(b.x-a.x)*f, y), 0, 1))
			}
		}
	}
	zero := place(x0, l.Present).Y
	taken = append(taken, vg.Rectangle{Min: vg.Point{X: c.Min.X, Y: zero - 0.5}, Max: vg.Point{X: c.Max.X, Y: zero + 0.5}})
	for i := range l.Pairs {
		taken = append(taken, around(place(l.Pairs[i].Ratio, l.Pairs[i].LapTime), 6, 8))
	}
	for i := range l.Pairs {
		at := place(l.Pairs[i].Ratio, l.Pairs[i].LapTime)
		if !c.Contains(at) {
			continue
		}
		optionMark(c, at, &l.Pairs[i])
		s := strconv.Itoa(i + 1)
		for k := range 40 {
			far := vg.Length(11 + 5*(k/8))
			sin, cos := math.Sincos(float64(k%8) * math.Pi / 4)
			pos := vg.Point{X: at.X + far*vg.Length(cos), Y: at.Y + far*vg.Length(sin)}
			area := around(pos, style.Width(s)*fallback, smallSize)
			if area.Min.X < c.Min.X || area.Max.X > c.Max.X || area.Min.Y < c.Min.Y || area.Max.Y > c.Max.Y || overlaps(area, taken) {
				continue
			}
			taken = append(taken, area)
			if far > 11 {
				c.StrokeLine2(lineStyle(0.4, frame()), at.X+5*vg.Length(cos), at.Y+5*vg.Length(sin),
					pos.X-6*vg.Length(cos), pos.Y-6*vg.Length(sin))
			}
			c.FillText(style, pos, s)
			break
		}
	}
}

func (l *LapChoice) list() *list {
	out := &list{heads: []string{"no.", "pair", "ratio", "lap, s", "change, s"}, left: []bool{false, true, false, false, false}, bold: -1}
	for i := range l.Pairs {
		o := &l.Pairs[i]
		row := []string{
			strconv.Itoa(i + 1), fit(textStyle(smallSize, true), Clean(o.Name), 60), ratioText(o.Ratio),
			fmt.Sprintf("%.3f", o.LapTime), change(o.LapTime, l.Present),
		}
		if o.Chosen {
			out.bold = i
		}
		out.rows = append(out.rows, row)
	}
	return out
}
