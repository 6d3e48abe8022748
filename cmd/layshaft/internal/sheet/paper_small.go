package sheet

import (
	"fmt"
	"io"
	"strings"
)

// leaflet is a report that is printed as its text says it, one item after the
// other.
type leaflet struct {
	view  View
	title string
	foot  string // second line at the foot of each page
	half  bool   // on half a sheet of paper
	parts []leafletPart
}

// leafletPart begins a page at the heading that starts so; "" = the first.
type leafletPart struct{ name, heading string }

// leaflet of the driver card: half a sheet (A5 of A4), for the car or the dash.
func (c *DriverCard) leaflet() leaflet {
	return leaflet{
		view: c, title: "Driver card, " + c.Car + ", " + c.Track, half: true,
		foot: "set " + strings.Join(c.Set, " "), parts: []leafletPart{{"driver card", ""}},
	}
}

// PDF writes the driver card on half a sheet of paper.
func (c *DriverCard) PDF(w io.Writer, opt PaperOptions) error { return c.leaflet().pdf(w, opt) }

// HTML writes the driver card as one self-contained file.
func (c *DriverCard) HTML(w io.Writer, opt PaperOptions) error { return c.leaflet().html(w, opt) }

// leaflet of the comparison: the rebuild plan goes to the bench by itself.
func (c *Comparison) leaflet() leaflet {
	return leaflet{
		view: c, title: "Comparison, " + c.New.Car + ", " + c.New.Track,
		foot:  "from " + c.Old.phrase() + " to " + c.New.phrase(),
		parts: []leafletPart{{"comparison", ""}, {"rebuild plan", "REBUILD"}},
	}
}

// PDF writes the comparison, and from a new page on the rebuild plan.
func (c *Comparison) PDF(w io.Writer, opt PaperOptions) error { return c.leaflet().pdf(w, opt) }

// HTML writes comparison and rebuild plan as one self-contained file.
func (c *Comparison) HTML(w io.Writer, opt PaperOptions) error { return c.leaflet().html(w, opt) }

// split gives the items of each part.
func (l *leaflet) split(opt PaperOptions) ([]part, error) {
	items, err := itemsOf(l.view, TextOptions{opt.Units})
	if err != nil {
		return nil, err
	}
	var out []part
	for _, it := range items {
		if n := len(out); n < len(l.parts) && (n == 0 || it.kind == headingItem && strings.HasPrefix(it.text, l.parts[n].heading)) {
			out = append(out, part{name: l.parts[n].name})
		}
		last := &out[len(out)-1]
		last.items = append(last.items, it)
	}
	return out, nil
}

func (l leaflet) pdf(w io.Writer, opt PaperOptions) error {
	parts, err := l.split(opt)
	if err != nil {
		return err
	}
	width, height, err := opt.Paper.size()
	if err != nil {
		return err
	}
	if l.half {
		width, height = height/2, width
	}
	p, err := newPress(width, height, l.title)
	if err != nil {
		return err
	}
	st := p.usual()
	if l.half {
		p.left, p.right, p.top, p.bottom = 26, 26, 24, 46
		st.wide, st.ruled, st.body = p.wide(), true, 9.5
	}
	p.foot = p.footLines(l.title, l.foot, "")
	for i := range parts {
		if i > 0 {
			p.newPage()
		}
		p.place(p.set(parts[i].items, st))
	}
	return p.print(w)
}

func (l leaflet) html(w io.Writer, opt PaperOptions) error {
	parts, err := l.split(opt)
	if err != nil {
		return err
	}
	doc := &webDoc{Title: webText(l.title), Foot: webText(l.title + "; " + l.foot)}
	for i := range parts {
		doc.add(parts[i].name, parts[i].items)
	}
	return doc.write(w, opt.Paper)
}

// footLines tells each page whose it is, for when it lies alone on the bench.
func (p *press) footLines(first, second, digest string) func(page, of int) {
	f := face{smallType, false}
	return func(page, of int) {
		x, y, wide := p.left, p.limit()+10, p.wide()
		p.rule(firm, x, y-3, x+wide, y-3)
		line := func(y float64, left, right string) {
			end := p.measure(f, right)
			p.write(f, x+wide-end, y, right)
			p.write(f, x, y, p.fit(f, left, wide-end-12))
		}
		line(y, first, fmt.Sprintf("page %d of %d", page, of))
		line(y+f.line(), second, digest)
	}
}
