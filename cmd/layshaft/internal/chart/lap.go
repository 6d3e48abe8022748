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

// Lap is speed and gear over the distance of one lap, every shift point
// numbered and listed.
type Lap struct {
	Frame
	Track *tracks.Track
	Lap   *sim.Lap
}

var _ Figure = (*Lap)(nil)

// gearHeight is the height of the gear panel: its axis, and a line for every gear.
func gearHeight(lap *sim.Lap) vg.Length {
	return 34 + 9.5*(vg.Length(max(2, len(lap.TimeInGear)))+0.4)
}

func (l *Lap) about() string {
	return "Speed and gear over distance with numbered shift points."
}

// check fails on a lap without a trace or with values that are no numbers.
func (l *Lap) check() error { return checkTrace(l.Track, l.Lap) }

func checkTrace(track *tracks.Track, lap *sim.Lap) error {
	if lap == nil || track == nil || len(lap.Samples) < 2 {
		return errors.New("chart: the lap has no trace to draw")
	}
	for _, s := range lap.Samples {
		if math.IsNaN(s.S+s.V+s.RPM+s.T) || math.IsInf(s.S+s.V+s.RPM+s.T, 0) {
			return fmt.Errorf("chart: the trace holds a value that is no number near %.0f m", s.S)
		}
		if s.Gear < 1 {
			return fmt.Errorf("chart: the trace holds no gear near %.0f m", s.S)
		}
	}
	return nil
}

func (l *Lap) key() []keyItem {
	items := traceKey()
	triangleKey := func(up bool) func(draw.Canvas, vg.Point) {
		return func(c draw.Canvas, left vg.Point) {
			triangle(c, vg.Point{X: left.X + keySample/2, Y: left.Y}, up)
		}
	}
	items = append(items, keyItem{triangleKey(true), "upshift"})
	down := "downshifts, listed by the first of a run"
	if l.Bare {
		down = "downshifts"
	}
	items = append(items, keyItem{triangleKey(false), down})
	return append(items, wayKey(l.Track)...)
}

// traceKey explains the line of what the car does.
func traceKey() []keyItem {
	return []keyItem{
		lineKey(pulling.style(), "full throttle"), lineKey(holding.style(), "corner or braking"),
		lineKey(limiting.style(), "on the limiter"),
	}
}

// wayKey explains bands and hatching.
func wayKey(track *tracks.Track) []keyItem {
	items := []keyItem{{func(c draw.Canvas, l vg.Point) {
		c.FillPolygon(band(), box(l.X, l.Y-4, l.X+keySample, l.Y+4))
	}, "corner"}}
	if track != nil && len(track.NoShift) > 0 {
		items = append(items, keyItem{func(c draw.Canvas, l vg.Point) {
			for x := l.X; x < l.X+keySample-4; x += 5 {
				c.StrokeLine2(lineStyle(0.5, frame()), x, l.Y-3, x+5, l.Y+2)
			}
		}, "no shift here"})
	}
	return items
}

// HeightFor is the height (points) that the figure wants at a width (points): a long
// list of shifts must not press the speed panel flat.
func (l *Lap) HeightFor(width float64) float64 {
	const speedPanel, margins = 150, 23
	w := way{l.Track, l.scale(), l.Bare}
	room := vg.Length(width) - 1.1*vg.Centimeter
	h := newHead(&l.Frame, l.key(), room).height() + w.namesHeight() + speedPanel + gearHeight(l.Lap) + margins
	if !l.Bare {
		list := shiftList(collect(l.Lap.Shifts), w.u)
		h += tableTop + listHeight(list.rowsAcross(room))
	}
	return h.Points()
}

func (l *Lap) paint(c draw.Canvas) {
	w := way{l.Track, l.scale(), l.Bare}
	events := collect(l.Lap.Shifts)
	panels := []*plot.Plot{l.speedPanel(w, events), gearPanel(w, l.Lap)}
	if l.Bare {
		w.stack(c, panels, 0, gearHeight(l.Lap))
		return
	}
	below(c, shiftList(events, w.u), "No shift on this lap.", func(c draw.Canvas) draw.Canvas {
		return w.stack(c, panels, 0, gearHeight(l.Lap))[1]
	})
}

// speedPanel is speed over distance with corner bands and shift marks.
func (l *Lap) speedPanel(w way, events []event) *plot.Plot {
	p := newPanel("speed, " + w.u.speedUnit)
	speedAxis(p, w.u, l.Lap)
	p.Add(bands(w), grid{})
	p.Add(&trace{lap: l.Lap, u: w.u}, &marks{events: events, lap: l.Lap, u: w.u, bare: l.Bare})
	return p
}

// speedAxis makes room for all speeds of the laps.
func speedAxis(p *plot.Plot, u scale, laps ...*sim.Lap) {
	lo, hi := math.Inf(1), 0.0
	for _, lap := range laps {
		for _, s := range lap.Samples {
			lo, hi = min(lo, s.V*u.speed), max(hi, s.V*u.speed)
		}
	}
	major := u.speedMajor
	if hi-lo < 2*major { // an oval: a narrow band of speed fills the panel
		major = roundStep(hi-lo, 6)
	}
	p.Y.Min = math.Floor((lo-0.6*major)/major) * major
	p.Y.Max = math.Ceil((hi+0.3*major)/major) * major
	p.Y.Min = max(p.Y.Min, 0)
	p.Y.Tick.Marker = steps{major: major, minor: 5}
}

// gearPanel is the gear engaged over distance.
func gearPanel(w way, lap *sim.Lap) *plot.Plot {
	p := newPanel("gear")
	p.Y.Min, p.Y.Max = 0.5, float64(max(2, len(lap.TimeInGear)))+0.9
	p.Y.Tick.Marker = steps{major: 1, minor: 1}
	p.Add(bands(w), grid{}, &stairs{lap: lap, u: w.u})
	return p
}
