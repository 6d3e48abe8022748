package chart

import (
	"errors"
	"math"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
)

// RatioChart is the speed range of every pair of a stock with the tyre and the
// drives of the car.
type RatioChart struct {
	Frame
	Model      *sim.Model
	PullingRPM float64 // 1/min, where the bars begin
	Rows       []StockRow
}

// StockRow is one kind of pair.
type StockRow struct {
	Name  string  // "13/36"
	Ratio float64 // of the pair
	Total float64 // engine turns per wheel turn
	Count int     // how many may run; 0 = due, used up, or none in the shop
	Gear  int     // that it has in the set, from 1; 0 = none
}

var _ Figure = (*RatioChart)(nil)

func (r *RatioChart) about() string {
	return "Speed range of every pair of the stock, from least pulling rpm to the latest shift and the limiter."
}

func (r *RatioChart) check() error {
	if r.Model == nil || len(r.Rows) == 0 {
		return errors.New("chart: the stock holds no pair to draw")
	}
	for i := range r.Rows {
		if !(r.Rows[i].Total > 0) || math.IsInf(r.Rows[i].Total, 0) {
			return errors.New("chart: a total ratio is not a number above 0")
		}
	}
	return nil
}

func (r *RatioChart) key() []keyItem {
	bar := func(row *StockRow) func(c draw.Canvas, l vg.Point) {
		return func(c draw.Canvas, l vg.Point) {
			stockBar(c, l.X, l.X+keySample-5, l.X+keySample, l.Y, row)
		}
	}
	return []keyItem{
		{bar(&StockRow{Gear: 1, Count: 1}), "pair of the set, in bold"},
		{bar(&StockRow{Count: 1}), "pair in stock: least pulling rpm to latest shift, line on to the limiter"},
		{bar(&StockRow{}), "may not run: due, out of life or none left"},
	}
}

// stockBar draws a bar to the latest shift and a line on to the limiter.
func stockBar(c draw.Canvas, from, light, limiter, y vg.Length, row *StockRow) {
	const half = 2.6
	b := box(from, y-half, light, y+half)
	edge := lineStyle(0.7, ink())
	switch {
	case row.Gear > 0:
		c.FillPolygon(accent(), b)
	case row.Count > 0:
		c.FillPolygon(faint(), b)
		c.StrokeLines(edge, append(b, b[0]))
	default:
		c.StrokeLines(lineStyle(0.7, ink(), 2, 1.5), append(b, b[0]))
	}
	c.StrokeLine2(edge, light, y, limiter, y)
	c.StrokeLine2(edge, limiter, y-half, limiter, y+half)
}

const (
	rowsMost    = 46 // rows of a block that can be read on A4
	barPitchMax = vg.Length(15)
)

func (r *RatioChart) paint(c draw.Canvas) {
	u := r.scale()
	blocks := (len(r.Rows) + rowsMost - 1) / rowsMost
	per := (len(r.Rows) + blocks - 1) / blocks
	most := 0.0
	for i := range r.Rows {
		most = max(most, r.Model.Speed(r.Model.LimiterRPM(), r.Rows[i].Total)*u.speed)
	}
	width := (c.Max.X - c.Min.X + 14) / vg.Length(blocks)
	for b := range blocks {
		part := c
		part.Min.X = c.Min.X + vg.Length(b)*width
		part.Max.X = part.Min.X + width - 14
		r.block(part, r.Rows[b*per:min(len(r.Rows), (b+1)*per)], per, most, u)
	}
}

// block draws one column of rows with its axis.
func (r *RatioChart) block(c draw.Canvas, rows []StockRow, per int, most float64, u scale) {
	names := []string{"gear", "pair", "ratio", "no."}
	edges := []vg.Length{14, 20, 82, 98} // right edge; of the pair the left one
	data := c
	data.Min.X += 104
	data.Max.X -= 6
	data.Min.Y += 30
	data.Max.Y -= 14
	pitch := min(barPitchMax, (data.Max.Y-data.Min.Y)/vg.Length(per))
	data.Min.Y = data.Max.Y - pitch*vg.Length(per)
	hi := math.Ceil(most/u.speedMajor) * u.speedMajor
	x := func(v float64) vg.Length { return data.Min.X + (data.Max.X-data.Min.X)*vg.Length(v/hi) }
	write := func(col int, y vg.Length, bold bool, s string) {
		style := textStyle(smallSize, bold)
		style.YAlign = text.YCenter
		if col != 1 {
			style.XAlign = text.XRight
		}
		c.FillText(style, vg.Point{X: c.Min.X + edges[col], Y: y}, s)
	}
	for i, n := range names {
		if i == 0 {
			continue // the gear needs no heading of its own: its digit is bold
		}
		write(i, data.Max.Y+7, true, n)
	}
	marks := steps{major: u.speedMajor, minor: 5}.Ticks(0, hi)
	tick := textStyle(tickSize, false)
	tick.XAlign, tick.YAlign = text.XCenter, text.YTop
	for _, m := range marks {
		long := vg.Length(2)
		if m.Label != "" {
			c.StrokeLine2(lineStyle(gridLine, faint()), x(m.Value), data.Min.Y, x(m.Value), data.Max.Y)
			c.FillText(tick, vg.Point{X: x(m.Value), Y: data.Min.Y - 6}, m.Label)
			long = 4
		}
		c.StrokeLine2(lineStyle(frameLine, frame()), x(m.Value), data.Min.Y, x(m.Value), data.Min.Y-long)
	}
	c.StrokeLine2(lineStyle(frameLine, frame()), data.Min.X, data.Min.Y, data.Max.X, data.Min.Y)
	tick.Font.Size = labelSize
	c.FillText(tick, vg.Point{X: (data.Min.X + data.Max.X) / 2, Y: data.Min.Y - 17}, "road speed, "+u.speedUnit)
	for i := range rows {
		row := &rows[i]
		y := data.Max.Y - pitch*(vg.Length(i)+0.5)
		bold := row.Gear > 0
		if bold {
			write(0, y, true, strconv.Itoa(row.Gear))
		}
		write(1, y, bold, fit(textStyle(smallSize, true), Clean(row.Name), 38))
		write(2, y, bold, ratioText(row.Ratio))
		write(3, y, bold, strconv.Itoa(row.Count))
		at := func(rpm float64) vg.Length { return x(r.Model.Speed(rpm, row.Total) * u.speed) }
		stockBar(c, at(r.PullingRPM), at(r.Model.ShiftRPM()), at(r.Model.LimiterRPM()), y, row)
	}
}
