package chart

import (
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// PDFFont is the family under which AddPDFFonts embeds the regular (style "")
// and the bold (style "B") font.
const PDFFont = "liberationsans"

// AddPDFFonts embeds the fonts of the figures, once however often it is called.
func AddPDFFonts(doc *fpdf.Fpdf) {
	doc.AddUTF8FontFromBytes(PDFFont, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(PDFFont, "B", liberationsansbold.TTF)
}

// DrawOn draws the figure on the current page of a document, its top left
// corner at (x, y), w wide and h high, all in the document's own unit. Letters
// and lines keep their size whatever w and h are; a page that has its own
// heading wants Frame.Bare. Colours, line width and font of the document are
// afterwards what they were; dashes are off. An error of the document itself
// stays in it, as always with fpdf.
func DrawOn(doc *fpdf.Fpdf, x, y, w, h float64, f Figure) error {
	AddPDFFonts(doc)
	family, style := doc.GetFontFamily(), doc.GetFontStyle()
	size, _ := doc.GetFontSize()
	width := doc.GetLineWidth()
	dr, dg, db := doc.GetDrawColor()
	fr, fg, fb := doc.GetFillColor()
	tr, tg, tb := doc.GetTextColor()

	k := doc.GetConversionRatio()
	c := &pdfCanvas{
		doc: doc, k: k, w: vg.Length(w * k), h: vg.Length(h * k),
		stack: []transform{{a: 1, d: 1, e: vg.Length(x * k), f: vg.Length((y + h) * k)}},
	}
	err := compose(draw.New(c), f)

	doc.SetDashPattern(nil, 0)
	doc.SetLineWidth(width)
	doc.SetDrawColor(dr, dg, db)
	doc.SetFillColor(fr, fg, fb)
	doc.SetTextColor(tr, tg, tb)
	if family != "" {
		doc.SetFont(family, style, size)
	}
	if err != nil {
		return err
	}
	return doc.Error()
}

// Painter is DrawOn for one figure, for who is not to know this package.
func Painter(f Figure) func(doc *fpdf.Fpdf, x, y, w, h float64) error {
	return func(doc *fpdf.Fpdf, x, y, w, h float64) error { return DrawOn(doc, x, y, w, h, f) }
}

// writePDF writes the figure as a document of one page. Its dates are fixed:
// same figure, same bytes.
func writePDF(w io.Writer, f Figure) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: vg.Length(Width).Points(), Ht: vg.Length(Height).Points()}})
	day := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(day)
	doc.SetModificationDate(day)
	doc.SetCatalogSort(true)
	doc.SetTitle(f.frame().title(), true)
	doc.SetSubject(f.about(), true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddPage()
	if err := DrawOn(doc, 0, 0, vg.Length(Width).Points(), vg.Length(Height).Points(), f); err != nil {
		return fmt.Errorf("chart: %w", err)
	}
	return doc.Output(w)
}

// transform takes a point (x, y) to (a·x + b·y + e, f - c·x - d·y): points of a
// page whose y axis points down.
type transform struct{ a, b, c, d, e, f vg.Length }

func (t *transform) apply(p vg.Point) (x, y vg.Length) {
	return t.a*p.X + t.b*p.Y + t.e, t.f - t.c*p.X - t.d*p.Y
}

// pdfCanvas draws on a page of an fpdf document. It keeps the transformation
// itself: where the document does, the colours that fpdf remembers are no
// longer those of the page after the end of a transformation.
type pdfCanvas struct {
	doc   *fpdf.Fpdf
	k     float64 // points in the document's unit
	w, h  vg.Length
	stack []transform
}

var _ vg.CanvasSizer = (*pdfCanvas)(nil)

func (c *pdfCanvas) top() *transform                   { return &c.stack[len(c.stack)-1] }
func (c *pdfCanvas) unit(l vg.Length) float64          { return l.Points() / c.k }
func (c *pdfCanvas) Size() (w, h vg.Length)            { return c.w, c.h }
func (c *pdfCanvas) Push()                             { c.stack = append(c.stack, *c.top()) }
func (c *pdfCanvas) Pop()                              { c.stack = c.stack[:len(c.stack)-1] }
func (c *pdfCanvas) SetLineWidth(w vg.Length)          { c.doc.SetLineWidth(c.unit(w)) }
func (c *pdfCanvas) Stroke(p vg.Path)                  { c.path(p, "D") }
func (c *pdfCanvas) Fill(p vg.Path)                    { c.path(p, "F") }
func (*pdfCanvas) DrawImage(vg.Rectangle, image.Image) { panic("chart: no figure draws images") }

func (c *pdfCanvas) SetLineDash(dashes []vg.Length, offset vg.Length) {
	d := make([]float64, len(dashes))
	for i := range dashes {
		d[i] = c.unit(dashes[i])
	}
	c.doc.SetDashPattern(d, c.unit(offset))
}

func (c *pdfCanvas) SetColor(col color.Color) {
	r, g, b, _ := col.RGBA()
	red, green, blue := int(r>>8), int(g>>8), int(b>>8)
	c.doc.SetDrawColor(red, green, blue)
	c.doc.SetFillColor(red, green, blue)
	c.doc.SetTextColor(red, green, blue)
}

func (c *pdfCanvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	s, k := vg.Length(sin), vg.Length(cos)
	t := *c.top()
	c.top().a, c.top().b = t.a*k+t.b*s, t.b*k-t.a*s
	c.top().c, c.top().d = t.c*k+t.d*s, t.d*k-t.c*s
}

func (c *pdfCanvas) Translate(p vg.Point) { c.top().e, c.top().f = c.top().apply(p) }

func (c *pdfCanvas) Scale(x, y float64) {
	t := c.top()
	t.a, t.b, t.c, t.d = t.a*vg.Length(x), t.b*vg.Length(y), t.c*vg.Length(x), t.d*vg.Length(y)
}

// FillString writes the text along the x axis of the transformation. The font
// is set outside of the document's own transformation, for the same reason as
// above.
func (c *pdfCanvas) FillString(f font.Face, p vg.Point, s string) {
	style := ""
	if f.Font.Weight == boldWeight {
		style = "B"
	}
	c.doc.SetFont(PDFFont, style, f.Font.Size.Points())
	px, py := c.top().apply(p)
	x, y := c.unit(px), c.unit(py)
	angle := math.Atan2(float64(c.top().c), float64(c.top().a))
	if angle == 0 {
		c.doc.Text(x, y, s)
		return
	}
	c.doc.TransformBegin()
	c.doc.TransformRotate(angle*180/math.Pi, x, y)
	c.doc.Text(x, y, s)
	c.doc.TransformEnd()
}

func (c *pdfCanvas) path(p vg.Path, how string) {
	at := func(p vg.Point) (x, y float64) {
		px, py := c.top().apply(p)
		return c.unit(px), c.unit(py)
	}
	for first, s := range p {
		x, y := at(s.Pos)
		switch s.Type {
		case vg.MoveComp:
			c.doc.MoveTo(x, y)
		case vg.LineComp:
			c.doc.LineTo(x, y)
		case vg.ArcComp: // in straight pieces of 7.5°, 0.2 % of the radius off
			n := max(1, int(math.Ceil(math.Abs(s.Angle)*24/math.Pi)))
			for i := range n + 1 {
				sin, cos := math.Sincos(s.Start + s.Angle*float64(i)/float64(n))
				x, y := at(vg.Point{X: s.Pos.X + s.Radius*vg.Length(cos), Y: s.Pos.Y + s.Radius*vg.Length(sin)})
				if i == 0 && first == 0 {
					c.doc.MoveTo(x, y)
				} else {
					c.doc.LineTo(x, y)
				}
			}
		case vg.CloseComp:
			c.doc.ClosePath()
		default:
			panic("chart: no figure draws curves")
		}
	}
	if len(p) > 0 {
		c.doc.DrawPath(how)
	}
}
