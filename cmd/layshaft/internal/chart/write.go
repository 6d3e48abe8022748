package chart

import (
	"bytes"
	"encoding/xml"
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
)

// dpi of PNG pictures: sharp on paper, still small to send.
const dpi = 150

// Write draws the figure in the format and writes the file's bytes. Same
// figure, same bytes.
func (l *Lap) Write(w io.Writer, f Format) error {
	switch f {
	case PNG:
		c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(Width, Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(paper()))}
		if err := l.Draw(draw.New(c)); err != nil {
			return err
		}
		_, err := c.WriteTo(w)
		return err
	case SVG:
		return l.svg(w)
	}
	return fmt.Errorf("chart: unknown format %q", f)
}

// svg adds to the library's file what it lacks: fonts to fall back on, a size
// that follows the page, and a title and description for screen readers.
func (l *Lap) svg(w io.Writer) error {
	c := vgsvg.New(vg.Length(Width), vg.Length(Height))
	if err := l.Draw(draw.New(c)); err != nil {
		return err
	}
	var raw bytes.Buffer
	if _, err := c.WriteTo(&raw); err != nil {
		return err
	}
	out := bytes.ReplaceAll(raw.Bytes(), []byte("font-family:Liberation Sans;"),
		[]byte("font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;"))
	start := bytes.Index(out, []byte("<svg"))
	end := bytes.IndexByte(out[max(start, 0):], '>')
	if start < 0 || end < 0 {
		return fmt.Errorf("chart: the drawing library wrote no SVG")
	}
	end += start
	var head bytes.Buffer
	head.Write(out[:start])
	head.WriteString(`<svg role="img"`)
	head.Write(out[start+len("<svg") : end+1])
	head.WriteString("\n<title>")
	if err := xml.EscapeText(&head, []byte(l.Title)); err != nil {
		return err
	}
	head.WriteString("</title>\n<desc>")
	if err := xml.EscapeText(&head, []byte("Speed and gear over distance with numbered shift points. "+l.Subtitle)); err != nil {
		return err
	}
	head.WriteString("</desc>")
	if _, err := w.Write(head.Bytes()); err != nil {
		return err
	}
	_, err := w.Write(out[end+1:])
	return err
}
