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
		f.Weight = 3 // font.Font counts weights as in package image/font: bold
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
		ax.Label.TextStyle.XAlign, ax.Label.TextStyle.YAlign = text.XCenter, text.YTop
		ax.Tick.Label = textStyle(tickSize, false)
		ax.LineStyle = lineStyle(frameLine, frame())
		ax.Tick.LineStyle = lineStyle(frameLine, frame())
		ax.Padding = 0
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = text.XCenter, text.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = text.XRight, text.YCenter
	p.Y.Label.TextStyle.YAlign = text.YBottom // the library turns the label itself
	return p
}

// quarterTurn turns text to read upwards, in rad.
const quarterTurn = 3.14159265358979 / 2
