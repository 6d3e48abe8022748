package sheet

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// Sizes on paper, in points (1/72 inch). Nothing is set smaller than smallType:
// it has to be read at arm's length, from a bad printer.
const (
	smallType = 8.5
	bodyType  = 9.2
	headType  = 11.5
	titleType = 20
	markType  = 15 // marks on the page for the bench
	leastMark = 14
	hairline  = 0.4
	firm      = 0.9
	thick     = 2.2
	tickSide  = 4.4 * pointsPerMm // side of a box for a pencil

	pointsPerMm = 72 / 25.4
	lineRatio   = 1.2  // baseline to baseline, in sizes
	baseRatio   = 0.94 // top of a line to its baseline, in sizes
)

const (
	plainFace = ""
	boldFace  = "B"
	fontName  = "sans"
)

// press lays pieces out on pages and prints them as PDF. Layout comes first and
// only measures; what is drawn is kept until the number of pages is known.
type press struct {
	pdf           *fpdf.Fpdf
	glyphs        coverage
	width, height float64 // of the page, pt
	left, right   float64 // margins, pt
	top, bottom   float64 // margins, pt, the foot line within bottom
	y             float64 // next free place
	pages         [][]func()
	foot          func(page, of int) // draws the foot of a page
	broken        error              // first error of a figure
}

// newPress makes an empty document of a page size in points. Its bytes depend on
// nothing but what is drawn: dates are fixed, objects in a fixed order.
func newPress(width, height float64, title string) (*press, error) {
	p := &press{width: width, height: height, left: 44, right: 34, top: 28, bottom: 42}
	p.pdf = fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: width, Ht: height}})
	p.pdf.SetMargins(0, 0, 0)
	p.pdf.SetCellMargin(0)
	p.pdf.SetAutoPageBreak(false, 0)
	p.pdf.SetCatalogSort(true)
	p.pdf.SetCreationDate(time.Unix(0, 0).UTC())
	p.pdf.SetModificationDate(time.Unix(0, 0).UTC())
	p.pdf.SetLang("en")
	p.pdf.SetProducer("layshaft", false)
	p.pdf.AddUTF8FontFromBytes(fontName, plainFace, liberationsansregular.TTF)
	p.pdf.AddUTF8FontFromBytes(fontName, boldFace, liberationsansbold.TTF)
	var err error
	if p.glyphs, err = coverageOf(liberationsansregular.TTF); err != nil {
		return nil, err
	}
	p.pdf.SetTitle(p.glyphs.printable(title), true)
	return p, p.pdf.Error()
}

// wide is the room between the margins.
func (p *press) wide() float64 { return p.width - p.left - p.right }

// face is a type to set in.
type face struct {
	size float64
	bold bool
}

func (f face) style() string {
	if f.bold {
		return boldFace
	}
	return plainFace
}

func (f face) line() float64 { return f.size * lineRatio }

// measure is the width of a text that has been made printable.
func (p *press) measure(f face, s string) float64 {
	p.pdf.SetFont(fontName, f.style(), f.size)
	return p.pdf.GetStringWidth(s)
}

// write draws a line of printable text; x is its left end, y the top of the line.
func (p *press) write(f face, x, y float64, s string) {
	if strings.TrimSpace(s) == "" {
		return
	}
	p.pdf.SetFont(fontName, f.style(), f.size)
	p.pdf.Text(x, y+f.size*baseRatio, s)
}

// rule draws a straight line.
func (p *press) rule(weight, x1, y1, x2, y2 float64) {
	p.pdf.SetLineWidth(weight)
	p.pdf.Line(x1, y1, x2, y2)
}

// frame draws a rectangle.
func (p *press) frame(weight, x, y, w, h float64) {
	p.pdf.SetLineWidth(weight)
	p.pdf.Rect(x, y, w, h, "D")
}

// wrap breaks text at spaces into lines no wider than the room; a word wider than
// that is cut, so that nothing runs off and nothing is lost. At least one line.
func (p *press) wrap(f face, text string, room float64) []string {
	space := p.measure(f, " ")
	var lines []string
	current, used := "", 0.0
	for _, word := range strings.FieldsFunc(p.glyphs.printable(text), func(r rune) bool { return r == ' ' }) {
		word = strings.ReplaceAll(word, tie, " ")
		w := p.measure(f, word)
		if current != "" && used+space+w <= room+slack {
			current, used = current+" "+word, used+space+w
			continue
		}
		if current != "" {
			lines = append(lines, current)
		}
		for w > room+slack {
			n := p.cut(f, word, room)
			lines = append(lines, word[:n])
			word = word[n:]
			w = p.measure(f, word)
		}
		current, used = word, w
	}
	if current != "" || len(lines) == 0 {
		lines = append(lines, current)
	}
	return lines
}

// slack is the rounding of sums of widths, pt: a column is as wide as its widest
// text by measure of the whole, and is filled word by word.
const slack = 0.01

// cut is how much of a word (bytes, whole characters, at least one) fits.
func (p *press) cut(f face, word string, room float64) int {
	n, used := 0, 0.0
	for i, r := range word {
		w := p.measure(f, string(r))
		if i > 0 && used+w > room {
			break
		}
		used += w
		n = i + len(string(r))
	}
	return n
}

// fit makes one line of a text: as it is, or cut with an ellipsis.
func (p *press) fit(f face, text string, room float64) string {
	text = p.glyphs.printable(text)
	if p.measure(f, text) <= room {
		return text
	}
	const more = "…"
	n := 0
	if left := room - p.measure(f, more); left > 0 {
		if n = p.cut(f, text, left); p.measure(f, text[:n]) > left+slack {
			n = 0
		}
	}
	return strings.TrimRight(text[:n], " ") + more
}

// slab is a piece of a page that is never broken.
type slab struct {
	height float64
	space  float64 // above it, dropped at the top of a page
	keep   bool    // on the page of the next one
	draw   func(x, y float64)
	again  *slab // head of the table that it belongs to, set again on a new page
}

// place puts slabs down the page, on new pages where they do not fit.
func (p *press) place(slabs []slab) {
	if len(p.pages) == 0 {
		p.newPage()
	}
	for i := 0; i < len(slabs); {
		n, need := i, 0.0
		for {
			need += slabs[n].height
			if n > i || p.y > p.top {
				need += slabs[n].space
			}
			n++
			if n >= len(slabs) || !slabs[n-1].keep {
				break
			}
		}
		if p.y > p.top && p.y+need > p.limit() {
			p.newPage()
			if h := slabs[i].again; h != nil {
				p.put(*h)
			}
		}
		for ; i < n; i++ {
			// A chain that is longer than a page.
			if p.y > p.top && p.y+slabs[i].space+slabs[i].height > p.limit() {
				p.newPage()
			}
			p.put(slabs[i])
		}
	}
}

func (p *press) put(s slab) {
	if p.y > p.top {
		p.y += s.space
	}
	x, y := p.left, p.y
	if s.draw != nil {
		last := len(p.pages) - 1
		p.pages[last] = append(p.pages[last], func() { s.draw(x, y) })
	}
	p.y += s.height
}

// limit is where the last line of a page ends.
func (p *press) limit() float64 { return p.height - p.bottom }

func (p *press) newPage() {
	p.pages = append(p.pages, nil)
	p.y = p.top
}

// depth is the height of slabs set one under the other from the top of a page.
func depth(slabs []slab) float64 {
	sum := 0.0
	for i, s := range slabs {
		if i > 0 {
			sum += s.space
		}
		sum += s.height
	}
	return sum
}

// beside sets lists of slabs next to each other, each at its own distance from
// the left, as one slab.
func beside(at []float64, columns ...[]slab) slab {
	out := slab{}
	for _, c := range columns {
		out.height = max(out.height, depth(c))
		if len(c) > 0 {
			out.space = max(out.space, c[0].space)
		}
	}
	out.draw = func(x, y float64) {
		for k, c := range columns {
			down := y
			for i, s := range c {
				if i > 0 {
					down += s.space
				}
				if s.draw != nil {
					s.draw(x+at[k], down)
				}
				down += s.height
			}
		}
	}
	return out
}

// print draws all pages and writes the document in one piece.
func (p *press) print(w io.Writer) error {
	for n, ops := range p.pages {
		p.pdf.AddPage()
		p.pdf.SetDrawColor(0, 0, 0)
		p.pdf.SetTextColor(0, 0, 0)
		p.pdf.SetLineCapStyle("butt")
		for _, op := range ops {
			op()
		}
		if p.foot != nil {
			p.foot(n+1, len(p.pages))
		}
	}
	var b bytes.Buffer
	if p.broken == nil {
		p.broken = p.pdf.Output(&b)
	}
	if p.broken != nil {
		return fmt.Errorf("sheet: PDF: %w", p.broken)
	}
	_, err := w.Write(b.Bytes())
	return err
}
