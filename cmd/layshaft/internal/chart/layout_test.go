package chart

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// probe is a canvas that remembers where text and lines came to lie.
type probe struct {
	w, h  vg.Length
	stack []transform
	texts []textBox
	lines vg.Rectangle // all that was stroked or filled
	width vg.Length
	most  int // points of the longest path
}

type textBox struct {
	s string
	r vg.Rectangle
}

func newProbe(w, h vg.Length) *probe {
	return &probe{w: w, h: h, stack: []transform{{a: 1, d: 1, f: h}}, lines: vg.Rectangle{Min: vg.Point{X: w, Y: h}}}
}

func (p *probe) top() *transform                     { return &p.stack[len(p.stack)-1] }
func (p *probe) Size() (w, h vg.Length)              { return p.w, p.h }
func (p *probe) Push()                               { p.stack = append(p.stack, *p.top()) }
func (p *probe) Pop()                                { p.stack = p.stack[:len(p.stack)-1] }
func (p *probe) SetLineWidth(w vg.Length)            { p.width = w }
func (p *probe) SetLineDash([]vg.Length, vg.Length)  {}
func (p *probe) SetColor(color.Color)                {}
func (p *probe) Rotate(r float64)                    { (&pdfCanvas{stack: p.stack}).Rotate(r) }
func (p *probe) Translate(q vg.Point)                { (&pdfCanvas{stack: p.stack}).Translate(q) }
func (p *probe) Scale(x, y float64)                  { (&pdfCanvas{stack: p.stack}).Scale(x, y) }
func (p *probe) DrawImage(vg.Rectangle, image.Image) {}
func (p *probe) Fill(path vg.Path)                   { p.cover(path, 0) }
func (p *probe) Stroke(path vg.Path)                 { p.cover(path, p.width/2) }
func grow(r *vg.Rectangle, x, y, by vg.Length) {
	r.Min = vg.Point{X: min(r.Min.X, x-by), Y: min(r.Min.Y, y-by)}
	r.Max = vg.Point{X: max(r.Max.X, x+by), Y: max(r.Max.Y, y+by)}
}

func (p *probe) cover(path vg.Path, half vg.Length) {
	p.most = max(p.most, len(path))
	for _, s := range path {
		if s.Type == vg.MoveComp || s.Type == vg.LineComp || s.Type == vg.ArcComp {
			x, y := p.top().apply(s.Pos)
			grow(&p.lines, x, y, half+s.Radius)
		}
	}
}

// FillString books the box from the depth of a comma to the height of a capital.
func (p *probe) FillString(f font.Face, at vg.Point, s string) {
	if strings.TrimSpace(s) == "" {
		return
	}
	size, w := f.Font.Size, f.Width(s)
	b := textBox{s: s, r: vg.Rectangle{Min: vg.Point{X: math.MaxFloat64, Y: math.MaxFloat64}, Max: vg.Point{X: -math.MaxFloat64, Y: -math.MaxFloat64}}}
	for _, q := range []vg.Point{{X: 0, Y: -0.12 * size}, {X: w, Y: -0.12 * size}, {X: 0, Y: 0.72 * size}, {X: w, Y: 0.72 * size}} {
		x, y := p.top().apply(at.Add(q))
		grow(&b.r, x, y, 0)
	}
	p.texts = append(p.texts, b)
}

// holds tests that all lies within the canvas and no text on another.
func (p *probe) holds(t *testing.T) {
	t.Helper()
	for i, a := range p.texts {
		assert.True(t, a.r.Min.X >= 0 && a.r.Min.Y >= 0 && a.r.Max.X <= p.w && a.r.Max.Y <= p.h, "%q lies outside: %v", a.s, a.r)
		for _, b := range p.texts[:i] {
			if a.r.Min.X < b.r.Max.X && b.r.Min.X < a.r.Max.X && a.r.Min.Y < b.r.Max.Y && b.r.Min.Y < a.r.Max.Y {
				assert.Fail(t, "texts overlap", "%q and %q", a.s, b.s)
			}
		}
	}
	assert.True(t, p.lines.Min.X >= 0 && p.lines.Min.Y >= 0 && p.lines.Max.X <= p.w && p.lines.Max.Y <= p.h, "lines lie outside: %v of %v x %v", p.lines, p.w, p.h)
	assert.LessOrEqual(t, p.most, 1600, "points of one line")
	assert.Greater(t, len(p.texts), 5)
}

// Every figure holds its text on the circuits at hand, in both units, with long
// words, with 40 corners, eight gears, and on small room.
func TestLayout(t *testing.T) {
	demos := map[string]*demo{"forty corners, eight gears": eightGears(t)}
	for _, c := range []string{"harrowdale", "quayside", "saltmere"} {
		demos[c] = newDemo(t, c)
	}
	frames := map[string]Frame{
		"plain": {Title: "Title", Caption: "13/36 16/35; air 1.225 kg/m³"}, "us": {Title: "Title", US: true}, "long": long(),
	}
	for name, d := range demos {
		for words, frame := range frames {
			for kind, f := range d.figures(t, frame) {
				t.Run(fmt.Sprintf("%s/%s/%s", name, words, kind), func(t *testing.T) {
					p := newProbe(Width, Height)
					require.NoError(t, compose(draw.New(p), f))
					p.holds(t)
				})
			}
		}
		t.Run(name+"/on the sheet", func(t *testing.T) {
			l := &Lap{Track: d.track, Lap: d.lap}
			p := newProbe(520, vg.Length(l.HeightFor(520)))
			require.NoError(t, compose(draw.New(p), l))
			p.holds(t)
		})
		for kind, f := range d.figures(t, Frame{Title: "not drawn", Bare: true}) {
			t.Run(fmt.Sprintf("%s/bare/%s", name, kind), func(t *testing.T) {
				if kind == "stock" {
					return // a chart of 60 pairs needs its page
				}
				p := newProbe(18*vg.Centimeter, 9.5*vg.Centimeter)
				require.NoError(t, compose(draw.New(p), f))
				p.holds(t)
				for _, b := range p.texts {
					assert.NotContains(t, b.s, "not drawn")
				}
			})
		}
	}
}
