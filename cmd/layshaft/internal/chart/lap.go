package chart

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/internal/units"
	"layshaft/sim"
	"layshaft/tracks"
)

// Size of the figure: an A4 sheet on its side less its margins.
const (
	Width  = 27 * vg.Centimeter
	Height = 18.5 * vg.Centimeter
)

// Lap is what the figure of one lap shows.
type Lap struct {
	Title    string // one line, bold
	Subtitle string // one line below: set, conditions
	Track    *tracks.Track
	Lap      *sim.Lap
	US       bool // mile/h and ft instead of km/h and m
}

// scale holds the units of the paper.
type scale struct {
	speed, length          float64 // factors from SI
	speedUnit, lengthUnit  string
	speedMajor, lengthPart float64
}

func (l *Lap) scale() scale {
	if l.US {
		return scale{units.ToMph, units.ToFoot, "mph", "ft", 20, 12}
	}
	return scale{units.ToKmh, 1, "km/h", "m", 50, 12}
}

// Draw puts the whole figure on a canvas. It fails on a lap without a trace
// or with values that are no numbers.
func (l *Lap) Draw(c draw.Canvas) error {
	if l.Lap == nil || l.Track == nil || len(l.Lap.Samples) < 2 {
		return errors.New("chart: the lap has no trace to draw")
	}
	for _, s := range l.Lap.Samples {
		if math.IsNaN(s.S+s.V) || math.IsInf(s.S+s.V, 0) {
			return fmt.Errorf("chart: the trace holds a value that is no number near %.0f m", s.S)
		}
	}
	u := l.scale()
	events := collect(l.Lap.Shifts)
	speed, gear := l.speedPanel(u, events), l.gearPanel(u)

	c.SetColor(paper())
	c.Fill(c.Rectangle.Path())
	page := draw.Crop(c, 0.5*vg.Centimeter, -0.6*vg.Centimeter, 0.4*vg.Centimeter, -0.4*vg.Centimeter)
	table := newTable(events, u, page.Max.X-page.Min.X)
	rows := split(page, headHeight, l.namesHeight(), 0, gearHeight, table.height())
	head, names, upper, lower, foot := rows[0], rows[1], rows[2], rows[3], rows[4]

	upper, lower = align(speed, upper, gear, lower)
	l.drawHead(head)
	speed.Draw(upper)
	gear.Draw(lower)
	data := speed.DataCanvas(upper)
	l.drawNames(names, data, speed)
	foot.Min.X = data.Min.X
	table.draw(foot)
	return nil
}

const (
	headHeight = 1.35 * vg.Centimeter
	gearHeight = 3.0 * vg.Centimeter
)

// split cuts the canvas into rows from the top; the one of height 0 takes
// what is left.
func split(c draw.Canvas, heights ...vg.Length) []draw.Canvas {
	left := c.Max.Y - c.Min.Y
	for _, h := range heights {
		left -= h
	}
	out := make([]draw.Canvas, 0, len(heights))
	top := c.Max.Y
	for _, h := range heights {
		if h == 0 {
			h = left
		}
		row := c
		row.Max.Y, row.Min.Y = top, top-h
		out = append(out, row)
		top -= h
	}
	return out
}

// align gives both panels the same left and right edge of their data.
func align(a *plot.Plot, ac draw.Canvas, b *plot.Plot, bc draw.Canvas) (draw.Canvas, draw.Canvas) {
	da, db := a.DataCanvas(ac), b.DataCanvas(bc)
	left := max(da.Min.X, db.Min.X)
	right := min(da.Max.X, db.Max.X)
	ac.Min.X += left - da.Min.X
	bc.Min.X += left - db.Min.X
	ac.Max.X -= da.Max.X - right
	bc.Max.X -= db.Max.X - right
	return ac, bc
}

// speedPanel is speed over distance with corner bands and shift marks.
func (l *Lap) speedPanel(u scale, events []event) *plot.Plot {
	p := newPanel("speed, " + u.speedUnit)
	lo, hi := math.Inf(1), 0.0
	for _, s := range l.Lap.Samples {
		lo, hi = min(lo, s.V*u.speed), max(hi, s.V*u.speed)
	}
	major := u.speedMajor
	if hi-lo < 2*major { // an oval: a narrow band of speed fills the panel
		major = roundStep(hi-lo, 6)
	}
	p.Y.Min = math.Floor((lo-0.6*major)/major) * major
	p.Y.Max = math.Ceil((hi+0.3*major)/major) * major
	p.Y.Min = max(p.Y.Min, 0)
	p.Y.Tick.Marker = steps{major: major, minor: 5}
	l.distanceAxis(p, u, false)
	p.Add(bands{track: l.Track, u: u}, grid{})
	p.Add(&trace{lap: l.Lap, u: u}, &marks{events: events, lap: l.Lap, u: u})
	return p
}

// gearPanel is the gear engaged over distance.
func (l *Lap) gearPanel(u scale) *plot.Plot {
	p := newPanel("gear")
	p.Y.Min, p.Y.Max = 0.5, float64(max(2, len(l.Lap.TimeInGear)))+0.5
	p.Y.Tick.Marker = steps{major: 1, minor: 1}
	p.X.Label.Text = "distance from the start line, " + u.lengthUnit
	l.distanceAxis(p, u, true)
	p.Add(bands{track: l.Track, u: u}, grid{}, &stairs{lap: l.Lap, u: u})
	return p
}

// distanceAxis sets the common axis; only the lower panel carries figures.
func (l *Lap) distanceAxis(p *plot.Plot, u scale, figures bool) {
	p.X.Min, p.X.Max = 0, l.Track.Length*u.length
	p.X.Tick.Marker = steps{major: roundStep(p.X.Max, int(u.lengthPart)), minor: 5}
	if !figures {
		p.X.Tick.Label.Color = paper()
		p.X.Tick.Label.Font.Size = 1
	}
}
