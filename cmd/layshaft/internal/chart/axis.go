package chart

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// steps marks an axis at whole multiples of a major step, with minor marks
// between.
type steps struct {
	major float64
	minor int // parts into which a major step is cut; 1 = none

	bare     bool // marks without figures, the grid all the same
	decimals int  // of the figures
}

// unlabelled is the label of a major mark that shows no figure.
const unlabelled = " "

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
			t.Label = s.label(t.Value)
		}
		out = append(out, t)
	}
	return out
}

func (s steps) label(v float64) string {
	switch {
	case s.bare:
		return unlabelled
	case s.decimals == 0:
		return grouped(int(math.Round(v)))
	}
	text := strconv.FormatFloat(math.Abs(v), 'f', s.decimals, 64)
	if v < 0 && strings.Trim(text, "0.") != "" {
		return "−" + text
	}
	return text
}

// stepsFor are round steps that cut an extent into at most the parts.
func stepsFor(extent float64, parts int) steps {
	major := roundStep(extent, parts)
	minor := 5
	if lead := major / math.Pow(10, math.Floor(math.Log10(major)+1e-9)); math.Round(lead) == 2 {
		minor = 4
	}
	return steps{major: major, minor: minor, decimals: max(0, int(math.Ceil(-math.Log10(major)-1e-9)))}
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

// sortBy sorts indices by a value, equal ones as they came.
func sortBy(order []int, value func(int) float64) {
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(value(a), value(b)) })
}

// drawPanel draws a panel whose marks it first thins out to what its height and
// width can hold, and returns its data area.
func drawPanel(c draw.Canvas, p *plot.Plot) draw.Canvas {
	data := p.DataCanvas(c)
	p.Y.Tick.Marker = roomy(p.Y.Tick.Marker, p.Y.Max-p.Y.Min, data.Max.Y-data.Min.Y, tickSize+0.8)
	p.X.Tick.Marker = roomy(p.X.Tick.Marker, p.X.Max-p.X.Min, data.Max.X-data.Min.X, 34)
	p.Draw(c)
	return p.DataCanvas(c)
}

// roomy raises the step of an axis until its figures keep the pitch.
func roomy(t plot.Ticker, extent float64, room, pitch vg.Length) plot.Ticker {
	s, ok := t.(steps)
	if !ok || !(s.major > 0) || !(extent > 0) || room <= 0 {
		return t
	}
	for vg.Length(s.major/extent)*room < pitch && s.major < extent {
		s = steps{major: roundStep(1.01*s.major, 1), minor: 2, bare: s.bare, decimals: s.decimals}
	}
	const least = 2.8 // pt between small marks
	for s.minor > 1 && vg.Length(s.major/float64(s.minor)/extent)*room < least {
		s.minor = map[int]int{5: 2, 4: 2}[s.minor]
		if s.minor == 0 {
			s.minor = 1
		}
	}
	return s
}

// ratioText writes a ratio with 3 decimals, halves away from zero as the sheet and
// the stock list have it: 37/16 is 2.3125, which the formatting alone makes 2.312.
func ratioText(ratio float64) string {
	return strconv.FormatFloat(math.Round(ratio*1000)/1000, 'f', 3, 64)
}
