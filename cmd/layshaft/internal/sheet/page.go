package sheet

import (
	"io"
	"slices"
)

// itemKind tells what a piece of a page is.
type itemKind int

const (
	headItem    itemKind = iota // what the page is, and a short text beside it
	headingItem                 // opens a section
	labelItem                   // a word and its text
	paraItem                    // running text
	lineItem                    // one line, its spaces kept
	hangItem                    // one of a list, behind its mark
	blankItem                   // space
	tableItem
	signItem // a line to sign on
)

// item is one piece of a page. Every view sets the same items, so that none of
// them lacks what another one says.
type item struct {
	kind  itemKind
	mark  string // label, mark of a list item, text beside a head, who signs
	text  string
	cols  []column
	rows  [][]string
	notes []string // text under each row; nil = none
}

// page collects what a report says; nothing reaches the reader before it is
// complete.
type page struct {
	items []item
}

// capture is a writer that takes a page as it is and not its text: a report is
// asked for its Text, and any view is made of what it says.
type capture struct {
	io.Writer
	items []item
}

// itemsOf are the pieces of a report.
func itemsOf(v View, opt TextOptions) ([]item, error) {
	var c capture
	err := v.Text(&c, opt)
	return c.items, err
}

// flush writes the page in one piece.
func (p *page) flush(w io.Writer) error {
	if c, ok := w.(*capture); ok {
		c.items = p.items
		return nil
	}
	_, err := io.WriteString(w, p.text())
	return err
}

// text is the page for 80 columns.
func (p *page) text() string {
	var t typist
	for i := range p.items {
		t.set(&p.items[i])
	}
	return t.b.String()
}

func (p *page) add(it item) { p.items = append(p.items, it) }

// line writes one line that the caller knows to be short enough.
func (p *page) line(s string) { p.add(item{kind: lineItem, text: s}) }

func (p *page) blank() { p.add(item{kind: blankItem}) }

// head opens the page: what it is on the left, a short text on the right.
func (p *page) head(left, right string) { p.add(item{kind: headItem, text: left, mark: right}) }

// heading opens a section.
func (p *page) heading(s string) { p.add(item{kind: headingItem, text: s}) }

// label writes a label and its text, wrapped beside it.
func (p *page) label(name, text string) { p.add(item{kind: labelItem, mark: name, text: text}) }

// para writes text wrapped to the page.
func (p *page) para(text string) { p.add(item{kind: paraItem, text: text}) }

// hang writes text behind a first mark, the other lines under the text.
func (p *page) hang(mark, text string) { p.add(item{kind: hangItem, mark: mark, text: text}) }

// sign is a line for a signature with date and time.
func (p *page) sign(who string) { p.add(item{kind: signItem, mark: who}) }

// table writes rows under their heads.
func (p *page) table(cols []column, rows [][]string) { p.tableNoted(cols, rows, nil) }

// tableNoted is table with a line of text, or none, under each row.
func (p *page) tableNoted(cols []column, rows [][]string, notes []string) {
	p.add(item{kind: tableItem, cols: slices.Clone(cols), rows: rows, notes: notes})
}
