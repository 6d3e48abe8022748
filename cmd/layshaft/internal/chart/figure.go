package chart

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/internal/units"
)

// Size of a figure as a file: an A4 sheet on its side less its margins.
const (
	Width  = 27 * vg.Centimeter
	Height = 18.5 * vg.Centimeter
)

// Figure is a picture of this package. Write, SVG and DrawOn put it somewhere.
type Figure interface {
	frame() *Frame
	about() string // what the picture shows, for a reader who cannot see it
	check() error  // whether there is anything to draw
	key() []keyItem
	paint(c draw.Canvas) // draws all below the head
}

// Frame is what every figure has around its picture. The texts may hold any
// character; those that the font lacks are replaced.
type Frame struct {
	Title   string // one line, bold: what, car, track
	Caption string // set and conditions, on as many lines as they need
	US      bool   // mile/h, ft, lbf, lbf·ft and hp instead of km/h, m, kN, N·m and kW

	// Bare leaves out title, caption and the lists below the panels, for a page
	// that has its own.
	Bare bool
}

func (f *Frame) frame() *Frame { return f }

func (f *Frame) title() string   { return Clean(f.Title) }
func (f *Frame) caption() string { return Clean(f.Caption) }

// scale holds the units of the paper.
type scale struct {
	speed, length, force, torque, power                     float64 // factors from SI
	speedUnit, lengthUnit, forceUnit, torqueUnit, powerUnit string
	speedMajor                                              float64
}

func (f *Frame) scale() scale {
	if f.US {
		return scale{
			units.ToMph, units.ToFoot, units.ToPoundForce, units.ToLbfFt, units.ToHorsepower,
			"mph", "ft", "lbf", "lbf·ft", "hp", 20,
		}
	}
	return scale{units.ToKmh, 1, 1e-3, 1, 1e-3, "km/h", "m", "kN", "N·m", "kW", 50}
}

// compose draws the whole figure on the canvas.
func compose(c draw.Canvas, f Figure) error {
	if err := f.check(); err != nil {
		return err
	}
	frame := f.frame()
	if frame.Bare {
		c = draw.Crop(c, 3, -8, 3, -3) // half a line's width, half a figure of an axis
	} else {
		c.SetColor(paper())
		c.Fill(c.Rectangle.Path())
		c = draw.Crop(c, 0.5*vg.Centimeter, -0.6*vg.Centimeter, 0.4*vg.Centimeter, -0.4*vg.Centimeter)
	}
	h := newHead(frame, f.key(), c.Max.X-c.Min.X)
	rows := split(c, h.height(), 0)
	h.draw(rows[0])
	f.paint(rows[1])
	return nil
}

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

// TitleOf is the figure's title as it is drawn.
func TitleOf(f Figure) string { return f.frame().title() }
