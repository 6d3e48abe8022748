package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Format is a kind of picture file.
type Format string

const (
	PNG Format = "png"
	SVG Format = "svg"
	PDF Format = "pdf"
)

// Formats are all of them, as their files end.
func Formats() []Format { return []Format{PNG, SVG, PDF} }

// dpi of PNG pictures: sharp on paper, still small to send.
const dpi = 150

// Write draws the figure in the format and writes the file's bytes. Same
// figure, same bytes.
func Write(w io.Writer, f Figure, format Format) error {
	switch format {
	case PNG:
		c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(Width, Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(paper()))}
		if err := compose(draw.New(c), f); err != nil {
			return err
		}
		_, err := c.WriteTo(w)
		return err
	case SVG:
		data, err := SVGBytes(f, Width, Height)
		if err != nil {
			return err
		}
		_, err = w.Write(data)
		return err
	case PDF:
		return writePDF(w, f)
	}
	return fmt.Errorf("chart: unknown format %q", format)
}

// SVGBytes draws the figure as an SVG of the given size in points (1/72 inch):
// a file of its own, or to be put into an HTML page from "<svg" on. To the
// library's drawing it adds fonts to fall back on, a width that follows the
// page, and title and description for screen readers.
func SVGBytes(f Figure, width, height vg.Length) ([]byte, error) {
	c := vgsvg.New(width, height)
	if err := compose(draw.New(c), f); err != nil {
		return nil, err
	}
	var raw bytes.Buffer
	if _, err := c.WriteTo(&raw); err != nil {
		return nil, err
	}
	out := bytes.ReplaceAll(raw.Bytes(), []byte("font-family:Liberation Sans;"),
		[]byte("font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;"))
	start := bytes.Index(out, []byte("<svg"))
	end := bytes.IndexByte(out[max(start, 0):], '>')
	if start < 0 || end < 0 {
		return nil, errors.New("chart: the drawing library wrote no SVG")
	}
	end += start
	var b bytes.Buffer
	b.Write(out[:start])
	fmt.Fprintf(&b, `<svg role="img" width="100%%" viewBox="0 0 %.5g %.5g"`+"\n", width.Points(), height.Points())
	b.WriteString("\txmlns=\"http://www.w3.org/2000/svg\">\n<title>")
	if err := xml.EscapeText(&b, []byte(f.frame().title())); err != nil {
		return nil, err
	}
	b.WriteString("</title>\n<desc>")
	if err := xml.EscapeText(&b, []byte(f.about()+" "+f.frame().caption())); err != nil {
		return nil, err
	}
	b.WriteString("</desc>")
	b.Write(out[end+1:])
	return b.Bytes(), nil
}
