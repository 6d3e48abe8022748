package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
	"layshaft/tracks"
)

// Revs is engine speed and gear over the distance of one lap.
type Revs struct {
	Frame
	Track      *tracks.Track
	Lap        *sim.Lap
	PullingRPM float64 // 1/min, the car's least pulling engine speed; 0 = not stated
	ShiftRPM   float64 // 1/min, the latest shift
	LimiterRPM float64 // 1/min
	OverRevRPM float64 // 1/min, the car's highest after a downshift; drawn where above the limiter
}

var _ Figure = (*Revs)(nil)

func (r *Revs) about() string {
	return "Engine speed and gear over distance, with least pulling rpm, latest shift and limiter."
}

func (r *Revs) check() error { return checkTrace(r.Track, r.Lap) }

func (r *Revs) key() []keyItem {
	items := append(traceKey(), lineKey(limitLine(), "limiter"), lineKey(lightLineStyle(), "latest shift"),
		lineKey(pullLine(), "least pulling rpm"))
	if r.OverRevRPM > r.LimiterRPM {
		items = append(items, lineKey(overRevLine(), "over-rev limit"))
	}
	return append(items, wayKey(r.Track)...)
}

func (r *Revs) paint(c draw.Canvas) {
	w := way{r.Track, r.scale(), r.Bare}
	p := newPanel("engine speed, rpm")
	lo, hi := r.LimiterRPM, max(r.LimiterRPM, r.OverRevRPM)
	if r.PullingRPM > 0 {
		lo = min(lo, r.PullingRPM)
	}
	for _, s := range r.Lap.Samples {
		lo, hi = min(lo, s.RPM), max(hi, s.RPM)
	}
	major := roundStep(hi-lo, 8)
	p.Y.Min = max(0, math.Floor((lo-0.2*major)/major)*major)
	p.Y.Max = hi + 0.35*major
	p.Y.Tick.Marker = steps{major: major, minor: 5}
	p.Add(bands(w), grid{})
	p.Add(&level{at: r.LimiterRPM, style: limitLine()}, &level{at: r.ShiftRPM, style: lightLineStyle()},
		&level{at: r.PullingRPM, style: pullLine()})
	if r.OverRevRPM > r.LimiterRPM {
		p.Add(&level{at: r.OverRevRPM, style: overRevLine()})
	}
	p.Add(&trace{lap: r.Lap, u: w.u, rpm: true})
	w.stack(c, []*plot.Plot{p, gearPanel(w, r.Lap)}, 0, gearHeight(r.Lap))
}
