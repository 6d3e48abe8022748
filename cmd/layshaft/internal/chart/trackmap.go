package chart

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/plot/vg/draw"

	"layshaft/sim"
	"layshaft/tracks"
)

// MapBy is what the line of a track map tells.
type MapBy string

const (
	ByGear  MapBy = "gear"
	BySpeed MapBy = "speed"
	ByLoss  MapBy = "loss" // time lost against the ideal car per length
)

// TrackMap is the circuit in plan, north up, its line drawn by what the lap does
// there.
type TrackMap struct {
	Frame
	Track   *tracks.Track
	Lap     *sim.Lap
	By      MapBy
	Account *sim.LossAccount // of ByLoss
}

var _ Figure = (*TrackMap)(nil)

func (m *TrackMap) about() string {
	what := map[MapBy]string{ByGear: "gear engaged", BySpeed: "speed", ByLoss: "time lost against the ideal car"}[m.By]
	return "Map of the circuit by " + what + ", with the corners numbered and named."
}

func (m *TrackMap) check() error {
	if err := checkTrace(m.Track, m.Lap); err != nil {
		return err
	}
	switch m.By {
	case ByGear, BySpeed:
		return nil
	case ByLoss:
		if m.Account == nil || len(m.Account.Curve) != len(m.Lap.Samples) {
			return errors.New("chart: the lap has no loss account")
		}
		return nil
	}
	return fmt.Errorf("chart: a map by %q is not known", m.By)
}

// mapClass is a kind of stretch, with its words for the key.
type mapClass struct {
	text  string
	style draw.LineStyle
}

// mapped is the line of the map cut into pieces of one class each.
type mapped struct {
	classes []mapClass
	x, y    []float64 // m, of the ends of the pieces
	of      []int     // class of each piece, one fewer than ends
}

// mapPieces is how many pieces the line has: short of the width of a line.
const mapPieces = 900

// plan places the line and classes it.
func (m *TrackMap) plan() *mapped {
	out := &mapped{x: make([]float64, mapPieces+1), y: make([]float64, mapPieces+1), of: make([]int, mapPieces)}
	value := make([]float64, mapPieces)
	lo, hi := math.Inf(1), math.Inf(-1)
	u := m.scale()
	for i := range mapPieces + 1 {
		s := m.Track.Length * float64(i) / mapPieces
		at := m.Track.At(math.Min(s, m.Track.Length*(1-1e-12)))
		out.x[i], out.y[i] = at.X, at.Y
		if i == mapPieces {
			break
		}
		next := m.Track.Length * float64(i+1) / mapPieces
		switch m.By {
		case ByGear:
			value[i] = float64(m.sample((s + next) / 2).Gear)
		case BySpeed:
			value[i] = m.sample((s+next)/2).V * u.speed
		case ByLoss:
			value[i] = (m.lost(next) - m.lost(s)) / (next - s) * 1e5 // ms per 100 m
		}
		lo, hi = math.Min(lo, value[i]), math.Max(hi, value[i])
	}
	lo, step, n := m.classes(out, lo, hi, u)
	for i, v := range value {
		out.of[i] = min(n-1, max(0, int(math.Floor((v-lo)/step+1e-9))))
	}
	return out
}

// classes sets up what the values fall into: n classes from lo on, each a step
// wide.
func (m *TrackMap) classes(out *mapped, lo, hi float64, u scale) (from, step float64, n int) {
	name := func(a, b float64) string { return "" }
	switch m.By {
	case ByGear:
		from, step, n = 1, 1, max(1, len(m.Lap.TimeInGear))
		name = func(a, _ float64) string { return fmt.Sprintf("gear %.0f", a) }
	case BySpeed:
		step = roundStep(math.Max(hi-lo, 1), 6)
		from = math.Floor(lo/step) * step
		n = max(1, int(math.Ceil((hi-from)/step-1e-9)))
		name = func(a, b float64) string { return fmt.Sprintf("%.0f–%.0f %s", a, b, u.speedUnit) }
	case ByLoss:
		step = roundStep(math.Max(hi, 0.05), 5)
		n = max(1, int(math.Ceil(hi/step-1e-9)))
		name = func(a, b float64) string { return fmt.Sprintf("%g–%g ms in 100 m", a, math.Round(b*1e6)/1e6) }
	}
	for k := range n {
		a := from + step*float64(k)
		out.classes = append(out.classes, mapClass{name(math.Round(a*1e6)/1e6, a+step), m.line(k, n)})
	}
	return from, step, n
}

// sample is the lap's sample at or before a place (m).
func (m *TrackMap) sample(s float64) *sim.Sample {
	all := m.Lap.Samples
	i := sort.Search(len(all), func(i int) bool { return all[i].S > s })
	return &all[max(0, i-1)]
}

// lost is the time (s) lost from the beginning of the lap to a place (m).
func (m *TrackMap) lost(s float64) float64 {
	all := m.Lap.Samples
	i := sort.Search(len(all), func(i int) bool { return all[i].S >= s })
	switch {
	case i == 0:
		return m.Account.Curve[0]
	case i == len(all):
		return m.Account.Curve[len(all)-1]
	}
	a, b := all[i-1].S, all[i].S
	if !(b > a) {
		return m.Account.Curve[i]
	}
	return m.Account.Curve[i-1] + (m.Account.Curve[i]-m.Account.Curve[i-1])*(s-a)/(b-a)
}

// corner is what the list says of one.
type cornerRow struct {
	lowest *sim.Sample // where the car is slowest; nil when no sample lies in it
	lost   float64     // s, in it and on the straight that follows
}

func (m *TrackMap) corners() []cornerRow {
	out := make([]cornerRow, len(m.Track.Corners))
	for k := range m.Track.Corners {
		c := &m.Track.Corners[k]
		for _, part := range unwrapped(c.Start, c.End, m.Track.Length) {
			for i := range m.Lap.Samples {
				s := &m.Lap.Samples[i]
				if s.S >= part[0] && s.S <= part[1] && (out[k].lowest == nil || s.V < out[k].lowest.V) {
					out[k].lowest = s
				}
			}
			if m.By == ByLoss {
				out[k].lost += m.lost(part[1]) - m.lost(part[0])
			}
		}
		if m.By == ByLoss {
			next := &m.Track.Corners[(k+1)%len(m.Track.Corners)]
			for _, part := range unwrapped(c.End, next.Start, m.Track.Length) {
				if len(m.Track.Corners) > 1 {
					out[k].lost += m.lost(part[1]) - m.lost(part[0])
				}
			}
		}
	}
	return out
}
