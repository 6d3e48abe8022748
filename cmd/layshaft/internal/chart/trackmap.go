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
			value[i] = m.lossRate((s+next)/2) / u.length
		}
		lo, hi = math.Min(lo, value[i]), math.Max(hi, value[i])
	}
	bounds := m.classes(out, lo, hi, u)
	for i, v := range value {
		out.of[i] = min(len(bounds)-1, max(0, sort.Search(len(bounds), func(k int) bool { return bounds[k] > v+1e-9 })-1))
	}
	return out
}

// classes sets up what the values from lo to hi fall into; it gives the lower bound
// of each.
func (m *TrackMap) classes(out *mapped, lo, hi float64, u scale) []float64 {
	var bounds []float64
	var names []string
	switch m.By {
	case ByGear:
		for g := range max(1, len(m.Lap.TimeInGear)) {
			bounds = append(bounds, float64(g+1))
			names = append(names, fmt.Sprintf("gear %d", g+1))
		}
	case BySpeed:
		step := roundStep(math.Max(hi-lo, 1), 6)
		for k := 0; k == 0 || math.Floor(lo/step)*step+step*float64(k) < hi-1e-9; k++ {
			from := math.Floor(lo/step)*step + step*float64(k)
			bounds = append(bounds, from)
			names = append(names, fmt.Sprintf("%.0f–%.0f %s", from, from+step, u.speedUnit))
		}
	case ByLoss:
		top := roundStep(math.Max(hi, 1e-3), 1)
		for len(bounds) < 5 {
			next := roundStep(top/2.6, 1) // the next lower of 1, 2, 5
			bounds = append([]float64{next}, bounds...)
			names = append([]string{fmt.Sprintf("%g–%g", rounded(next), rounded(top))}, names...)
			top = next
		}
		names[len(names)-1] += " ms in 100 " + u.lengthUnit
		bounds = append([]float64{math.Inf(-1)}, bounds...)
		names = append([]string{fmt.Sprintf("below %g", rounded(top))}, names...)
	}
	for k := range bounds {
		out.classes = append(out.classes, mapClass{names[k], m.line(k, len(bounds))})
	}
	return bounds
}

func rounded(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// lossRate is the time lost around a place (m), in ms per 100 m. It is the mean over
// LossWindow: the pause of a shift, lost within a few metres, would hide all else.
func (m *TrackMap) lossRate(s float64) float64 {
	from, to := math.Max(0, s-LossWindow/2), math.Min(m.Track.Length, s+LossWindow/2)
	return (m.lost(to) - m.lost(from)) / (to - from) * 1e5
}

// LossWindow is a little longer than the way of a shift's pause at high speed.
const LossWindow = 40 // m

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
