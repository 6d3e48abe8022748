package chart

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
	"layshaft/tracks"
)

// Laps is several laps of one track together: speed over distance, and below it
// the time by which each is behind the first.
type Laps struct {
	Frame
	Track *tracks.Track
	Laps  []NamedLap // 2 to MostLaps; the first is what the others are held against
}

// NamedLap is a lap with the words for its set.
type NamedLap struct {
	Name string
	Lap  *sim.Lap
}

// MostLaps is how many laps one figure takes: as many as there are dashes that
// can be told apart.
const MostLaps = 4

var _ Figure = (*Laps)(nil)

func (l *Laps) about() string {
	return "Speed of several laps over distance, and the time by which each is behind the first."
}

func (l *Laps) check() error {
	if len(l.Laps) < 2 || len(l.Laps) > MostLaps {
		return fmt.Errorf("chart: %d laps; a comparison shows 2 to %d", len(l.Laps), MostLaps)
	}
	for _, n := range l.Laps {
		if err := checkTrace(l.Track, n.Lap); err != nil {
			return err
		}
		if n.Lap.Kind != sim.Flying {
			return errors.New("chart: only flying laps are compared")
		}
	}
	return nil
}

func lapLine(i int) draw.LineStyle {
	width := vg.Length(1.2)
	if i == 0 {
		width = heavyLine
	}
	return lineStyle(width, seriesColor(i), dashOf(i)...)
}

func (l *Laps) key() []keyItem {
	var items []keyItem
	for i, n := range l.Laps {
		items = append(items, lineKey(lapLine(i), fmt.Sprintf("%d: %s: %.3f s", i+1, Clean(n.Name), n.Lap.Time)))
	}
	return append(items, wayKey(l.Track)...)
}

// timeAt is a lap's time (s) at a place (m), at a steady acceleration between
// samples: a straight line between samples 4 m apart is late by up to 0.7 ms
// where a car leaves a slow corner, and the difference of two laps is no more.
func timeAt(lap *sim.Lap, s float64) float64 {
	n := len(lap.Samples)
	i := sort.Search(n, func(i int) bool { return lap.Samples[i].S >= s })
	switch i {
	case 0:
		return lap.Samples[0].T
	case n:
		return lap.Samples[n-1].T
	}
	a, b := &lap.Samples[i-1], &lap.Samples[i]
	if !(b.S > a.S) {
		return b.T
	}
	part := (s - a.S) / (b.S - a.S)
	v := math.Sqrt(a.V*a.V + (b.V*b.V-a.V*a.V)*part)
	if a.V+v > 0 {
		part *= (a.V + b.V) / (a.V + v)
	}
	return a.T + (b.T-a.T)*part
}

// behind is by how much a lap is behind the first (s) at each of its samples.
func (l *Laps) behind(lap *sim.Lap) []float64 {
	out := make([]float64, len(lap.Samples))
	for i, s := range lap.Samples {
		out[i] = s.T - timeAt(l.Laps[0].Lap, s.S)
	}
	out[len(out)-1] = lap.Time - l.Laps[0].Lap.Time
	return out
}

func (l *Laps) paint(c draw.Canvas) {
	w := way{l.Track, l.scale(), l.Bare}
	speed := newPanel("speed, " + w.u.speedUnit)
	laps := make([]*sim.Lap, len(l.Laps))
	for i := range l.Laps {
		laps[i] = l.Laps[i].Lap
	}
	speedAxis(speed, w.u, laps...)
	speed.Add(bands(w), grid{})
	for i, lap := range laps {
		values := make([]float64, len(lap.Samples))
		for k, s := range lap.Samples {
			values[k] = s.V * w.u.speed
		}
		speed.Add(&distanceLine{lap: lap, values: values, u: w.u, style: lapLine(i)})
	}
	late := newPanel("behind 1, s")
	late.Add(bands(w), grid{}, &level{at: 0, style: lapLine(0)})
	lo, hi := 0.0, 0.0
	e := &ends{}
	for i, lap := range laps[1:] {
		values := l.behind(lap)
		for _, v := range values {
			lo, hi = min(lo, v), max(hi, v)
		}
		late.Add(&distanceLine{lap: lap, values: values, u: w.u, style: lapLine(i + 1)})
		e.at = append(e.at, values[len(values)-1])
		e.texts = append(e.texts, fmt.Sprintf("%d: %s", i+2, change(lap.Time, laps[0].Time)))
	}
	if hi-lo < 0.01 {
		lo, hi = lo-0.005, hi+0.005
	}
	pad := 0.08 * (hi - lo)
	late.Y.Min, late.Y.Max = lo-pad, hi+pad
	late.Y.Tick.Marker = stepsFor(hi-lo, 5)
	c.Max.X -= e.width()
	data := w.stack(c, []*plot.Plot{speed, late}, 0, 0.38*(c.Max.Y-c.Min.Y))
	e.draw(data[1], late)
}

// change writes the difference of two times in s as they are shown, so that the
// printed numbers add up, as the sheet has it.
func change(time, from float64) string {
	return signed((math.Round(time*1000) - math.Round(from*1000)) / 1000)
}

// signed writes a difference in s with its sign.
func signed(v float64) string {
	if math.Abs(v) < 0.0005 {
		return "±0.000"
	}
	if v < 0 {
		return fmt.Sprintf("−%.3f", -v)
	}
	return fmt.Sprintf("+%.3f", v)
}
