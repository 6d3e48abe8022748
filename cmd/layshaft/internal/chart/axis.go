package chart

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"
)

// steps marks an axis at whole multiples of a major step, with minor marks
// between.
type steps struct {
	major float64
	minor int // parts into which a major step is cut; 1 = none
}

var _ plot.Ticker = steps{}

// Ticks gives the marks from lo to hi. Labels are whole numbers grouped by
// thousands; a zero never gets a minus sign.
func (s steps) Ticks(lo, hi float64) []plot.Tick {
	if !(s.major > 0) || s.minor < 1 || !(hi > lo) {
		return nil
	}
	var out []plot.Tick
	small := s.major / float64(s.minor)
	for i := int(math.Ceil(lo/small - 1e-9)); float64(i)*small <= hi+small*1e-9; i++ {
		t := plot.Tick{Value: float64(i) * small}
		if i%s.minor == 0 {
			t.Label = grouped(int(math.Round(t.Value)))
		}
		out = append(out, t)
	}
	return out
}

// grouped writes 12345 as 12,345.
func grouped(n int) string {
	s := strconv.Itoa(n)
	sign := ""
	if n < 0 {
		sign, s = "−", s[1:]
	}
	var parts []string
	for len(s) > 3 {
		parts = append([]string{s[len(s)-3:]}, parts...)
		s = s[:len(s)-3]
	}
	return sign + strings.Join(append([]string{s}, parts...), ",")
}

// roundStep is the 1, 2 or 5 times a power of ten that cuts extent into at
// most parts.
func roundStep(extent float64, parts int) float64 {
	raw := extent / float64(parts)
	if !(raw > 0) || math.IsInf(raw, 0) {
		return 1
	}
	base := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*base >= raw*(1-1e-9) {
			return m * base
		}
	}
	return 10 * base
}

// grid draws the panel's grid at the labelled marks, under the data.
type grid struct{}

// Plot draws the lines.
func (grid) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := lineStyle(gridLine, faint())
	for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
		if t.Label != "" {
			c.StrokeLine2(style, x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
		}
	}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		if t.Label != "" {
			c.StrokeLine2(style, c.Min.X, y(t.Value), c.Max.X, y(t.Value))
		}
	}
}
