package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Sizes of text and lines, in points on paper.
const (
	titleSize  = 12
	labelSize  = 9.5
	tickSize   = 8.5
	smallSize  = 7.5
	heavyLine  = 1.7
	lightLine  = 0.7
	gridLine   = 0.4
	frameLine  = 0.6
	markRadius = 2.6
)

// The greys are far enough apart to survive a black-and-white printer; the
// one colour is the blue of the palette of Okabe and Ito, Color Universal
// Design (2008), and turns dark grey in print.
func ink() color.Color    { return color.Gray{Y: 0x1a} }
func frame() color.Color  { return color.Gray{Y: 0x40} }
func faint() color.Color  { return color.Gray{Y: 0xd8} }
func band() color.Color   { return color.Gray{Y: 0xef} }
func accent() color.Color { return color.RGBA{R: 0x00, G: 0x58, B: 0x96, A: 0xff} }
func paper() color.Color  { return color.White }

// sans is the one typeface in use; an unknown one would make the library
// panic, so the name is fixed here.
func sans(size vg.Length, bold bool) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		f.Weight = boldWeight
	}
	return f
}

func textStyle(size vg.Length, bold bool) text.Style {
	return text.Style{
		Color:   ink(),
		Font:    sans(size, bold),
		XAlign:  text.XLeft,
		YAlign:  text.YBottom,
		Handler: plot.DefaultTextHandler,
	}
}

func lineStyle(width vg.Length, c color.Color, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Width: width, Color: c, Dashes: dashes}
}

// newPanel is an empty panel in the house style.
func newPanel(yLabel string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = paper()
	p.Y.Label.Text = yLabel
	for _, ax := range []*plot.Axis{&p.X, &p.Y} {
		ax.Label.TextStyle = textStyle(labelSize, false)
		ax.Label.TextStyle.XAlign, ax.Label.TextStyle.YAlign = text.XCenter, text.YBottom
		ax.Tick.Label = textStyle(tickSize, false)
		ax.LineStyle = lineStyle(frameLine, frame())
		ax.Tick.LineStyle = lineStyle(frameLine, frame())
		ax.Padding = 0
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = text.XCenter, text.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = text.XRight, text.YCenter
	return p
}

// quarterTurn turns text to read upwards, in rad.
const quarterTurn = 3.14159265358979 / 2

// boldWeight is the weight of the bold font, as package image/font counts.
const boldWeight = 3

func xAlign(v float64) text.XAlignment { return text.XAlignment(v) }
func yAlign(v float64) text.YAlignment { return text.YAlignment(v) }

// circle draws a disc with an edge; fill nil leaves it open.
func circle(c draw.Canvas, at vg.Point, r vg.Length, fill color.Color, edge draw.LineStyle) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + r, Y: at.Y})
	p.Arc(at, r, 0, 2*3.14159265358979)
	p.Close()
	if fill != nil {
		c.SetColor(fill)
		c.Fill(p)
	}
	if edge.Width > 0 {
		c.SetLineStyle(edge)
		c.Stroke(p)
	}
}

// dashOf tells the lines of a figure apart without colour.
func dashOf(i int) []vg.Length {
	switch i % 4 {
	case 1:
		return []vg.Length{5, 2}
	case 2:
		return []vg.Length{1.5, 1.8}
	case 3:
		return []vg.Length{7, 2, 1.5, 2}
	}
	return nil
}

// seriesColor is the colour of line i of a few: blue, vermilion, bluish green and
// reddish purple of Okabe and Ito, darkened so that they print black enough.
func seriesColor(i int) color.Color {
	switch i % 4 {
	case 1:
		return color.RGBA{R: 0xb0, G: 0x46, B: 0x00, A: 0xff}
	case 2:
		return color.RGBA{R: 0x00, G: 0x6e, B: 0x51, A: 0xff}
	case 3:
		return color.RGBA{R: 0x8c, G: 0x4c, B: 0x70, A: 0xff}
	}
	return accent()
}

// warn is the colour of limits.
func warn() color.Color { return seriesColor(1) }
