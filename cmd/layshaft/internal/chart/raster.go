package chart

import (
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// WritePNG draws the figure at a size in points (1/72 inch), with so many dots an
// inch: letters and lines keep their size, as a page of paper needs them.
func (l *Lap) WritePNG(w io.Writer, width, height float64, dotsPerInch int) error {
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(vg.Length(width), vg.Length(height)), vgimg.UseDPI(dotsPerInch), vgimg.UseBackgroundColor(paper()))}
	if err := l.Draw(draw.New(c)); err != nil {
		return err
	}
	_, err := c.WriteTo(w)
	return err
}
