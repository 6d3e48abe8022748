package sheet

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strings"
)

// HTML writes the ratio sheet as one file that needs nothing beside it: no
// network, no script, no font. It is well-formed XML too. The sheet tests its
// sums and proof-reads the gear table first.
func (s *Sheet) HTML(w io.Writer, opt PaperOptions) error {
	d, err := (TextOptions{opt.Units}).display()
	if err != nil {
		return err
	}
	digest, err := s.Digest() // checks the sheet
	if err != nil {
		return err
	}
	rows := s.gearCells(d)
	if err := s.proofRead(rows); err != nil {
		return err
	}
	b := s.benchPage(d, rows)
	doc := &webDoc{Title: webText("Ratio sheet, " + s.Car + ", " + s.Track), Foot: webText(s.foot() + "; " + s.setLine() + "; sheet " + digest)}
	doc.add("for the bench", inTurn([]item{b.title}, b.standing, b.issue, b.makeUp, b.gears, b.legend, b.build, b.notes,
		b.forks, b.neutral, b.maker, b.signing, b.cautions))
	engineer := s.engineerPage(d)
	if err := doc.add(engineer.name, engineer.items).figures(opt.Figures); err != nil {
		return err
	}
	for _, p := range []part{s.workshopPage(), s.recordPage()} {
		doc.add(p.name, p.items)
	}
	return doc.write(w, opt.Paper)
}

// inTurn puts lists of items one after the other, a space between two.
func inTurn(lists ...[]item) []item {
	var out []item
	for _, l := range lists {
		out = append(append(out, l...), item{kind: blankItem})
	}
	return out
}

// webDoc is a report as the template takes it.
type webDoc struct {
	Title string
	Size  string // of the paper when it is printed, as CSS names it
	Foot  string
	Parts []*webPart
	names int // of what has an id so far
}

// webPart is a page for one reader.
type webPart struct {
	Name, ID string
	Nodes    []webNode
}

// webNode is one piece; which one, the field that is set tells.
type webNode struct {
	Title, Beside string // the report's own
	Heading       string
	Alarm         string
	Para          string
	Spaced        string // a line whose spaces count
	Sign          string
	Pairs         []webPair // labels and texts
	List          []webPair
	Numbered      bool // the list
	Table         *webTable
	Figure        *webFigure
}

type webPair struct{ Name, Text string }

type webFigure struct {
	Title, Caption string
	SVG            template.HTML
}

type webTable struct {
	ID, Caption string
	Heads       []webHead
	Rows        []webRow
}

type webHead struct {
	Text  string
	Right bool
}

type webRow struct {
	Cells []webCell
	Note  string
	Span  int // of the note: all columns but the first
}

type webCell struct {
	Text, Label              string
	Right, Large, Tick, Head bool
}

// webText is a text that XML allows and that reads in one direction.
func webText(s string) string {
	return strings.TrimSpace(seen(s))
}

func (doc *webDoc) add(name string, items []item) *webPart {
	p := &webPart{Name: name, ID: fmt.Sprintf("part-%d", len(doc.Parts)+1)}
	caption := ""
	for i := range items {
		it := &items[i]
		text, last := webText(it.text), len(p.Nodes)-1
		switch it.kind {
		case headItem:
			p.Nodes = append(p.Nodes, webNode{Title: text, Beside: webText(it.mark)})
		case headingItem:
			caption = text
			p.Nodes = append(p.Nodes, webNode{Heading: text})
		case paraItem:
			if strings.HasPrefix(text, "*** ") || strings.HasPrefix(text, "! ") {
				p.Nodes = append(p.Nodes, webNode{Alarm: text})
			} else {
				p.Nodes = append(p.Nodes, webNode{Para: text})
			}
		case lineItem:
			p.Nodes = append(p.Nodes, webNode{Spaced: text})
		case signItem:
			p.Nodes = append(p.Nodes, webNode{Sign: webText(it.mark)})
		case labelItem:
			if last < 0 || p.Nodes[last].Pairs == nil {
				p.Nodes, last = append(p.Nodes, webNode{}), last+1
			}
			p.Nodes[last].Pairs = append(p.Nodes[last].Pairs, webPair{webText(it.mark), text})
		case hangItem:
			if last < 0 || p.Nodes[last].List == nil {
				p.Nodes, last = append(p.Nodes, webNode{Numbered: strings.HasSuffix(strings.TrimSpace(it.mark), ".")}), last+1
			}
			p.Nodes[last].List = append(p.Nodes[last].List, webPair{webText(it.mark), text})
		case tableItem:
			doc.names++
			p.Nodes = append(p.Nodes, webNode{Table: tableFor(it, caption, fmt.Sprintf("table-%d", doc.names))})
		case blankItem:
		}
	}
	doc.Parts = append(doc.Parts, p)
	return p
}

// tableFor makes the table of a section. The first cell that says something names
// its row.
func tableFor(it *item, caption, id string) *webTable {
	t := &webTable{ID: id, Caption: caption}
	for _, c := range it.cols {
		t.Heads = append(t.Heads, webHead{headWords(c.head), c.right})
	}
	if t.Heads[0].Text != "" {
		t.Caption += " (by " + t.Heads[0].Text + ")"
	}
	for i, r := range it.rows {
		row := webRow{Span: max(1, len(r)-1)}
		named := ""
		for k, c := range r {
			cell := webCell{Text: webText(c), Right: it.cols[k].right, Large: it.cols[k].large, Tick: c == tick}
			if named == "" && !cell.Tick && cell.Text != "" {
				cell.Head, named = true, strings.TrimSpace(t.Heads[k].Text+" "+cell.Text)
			}
			row.Cells = append(row.Cells, cell)
		}
		for k := range row.Cells {
			if row.Cells[k].Tick {
				row.Cells[k].Label = strings.TrimSpace(t.Heads[k].Text + " " + named)
			}
		}
		if i < len(it.notes) {
			row.Note = webText(it.notes[i])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// headWords is a column's head in one line: "over-|all" is one word.
func headWords(head string) string {
	return strings.ReplaceAll(strings.Join(headLines(strings.ReplaceAll(head, "-|", "")), " "), "  ", " ")
}

// outside finds what stands before the picture in a file of SVG: it belongs to a
// file of its own.
var outside = regexp.MustCompile(`(?s)^.*?<svg`)

func (p *webPart) figures(list []Figure) error {
	for i := range list {
		f := &list[i]
		if len(f.SVG) == 0 {
			continue
		}
		if !outside.Match(f.SVG) {
			return fmt.Errorf("sheet: HTML: the figure %q is no SVG", f.Title)
		}
		p.Nodes = append(p.Nodes, webNode{Figure: &webFigure{
			Title: webText(f.Title), Caption: webText(f.Caption),
			SVG: template.HTML(outside.ReplaceAll(f.SVG, []byte("<svg"))), // drawn by the caller, text escaped there
		}})
	}
	return nil
}

func (doc *webDoc) write(w io.Writer, paper Paper) error {
	if _, _, err := paper.size(); err != nil {
		return err
	}
	doc.Size = map[Paper]string{"": "A4", A4: "A4", Letter: "letter"}[paper]
	t, err := template.New("report").Parse(webTemplate)
	if err != nil {
		return fmt.Errorf("sheet: HTML: %w", err)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, doc); err != nil {
		return fmt.Errorf("sheet: HTML: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}
