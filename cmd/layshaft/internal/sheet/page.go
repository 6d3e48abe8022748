package sheet

import (
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// pageWidth is the width of every text view, in characters.
const pageWidth = 80

// page collects the lines of a text view; nothing reaches the reader before it
// is complete.
type page struct {
	b strings.Builder
}

// flush writes the page in one piece.
func (p *page) flush(w io.Writer) error {
	_, err := io.WriteString(w, p.b.String())
	return err
}

// line writes one line that the caller knows to be short enough.
func (p *page) line(s string) {
	s = strings.ReplaceAll(s, tie, " ")
	p.b.WriteString(strings.TrimRight(s, " "))
	p.b.WriteByte('\n')
}

func (p *page) blank() { p.b.WriteByte('\n') }

func (p *page) rule(mark string) { p.line(strings.Repeat(mark, pageWidth)) }

// head opens the page: what it is on the left, a short text on the right.
func (p *page) head(left, right string) {
	left, right = clean(left), clean(right)
	if gap := pageWidth - width(left) - width(right); gap >= 2 {
		p.line(left + strings.Repeat(" ", gap) + right)
	} else {
		p.para(left)
		if right != "" {
			p.para(right)
		}
	}
	p.rule("=")
}

// heading opens a section.
func (p *page) heading(s string) {
	p.blank()
	p.para(s)
	p.rule("-")
}

// labelWidth is the column of the labels in a list of label and text.
const labelWidth = 11

// label writes a label and its text, wrapped beside it.
func (p *page) label(name, text string) {
	p.hang(name+strings.Repeat(" ", max(1, labelWidth-width(name))), text)
}

// para writes text wrapped to the page.
func (p *page) para(text string) { p.block("", "", text) }

// hang writes text behind a first mark, the other lines under the text.
func (p *page) hang(mark, text string) {
	p.block(mark, strings.Repeat(" ", width(mark)), text)
}

func (p *page) block(first, other, text string) {
	for i, l := range wrap(text, pageWidth-width(first)) {
		if i == 0 {
			p.line(first + l)
		} else {
			p.line(other + l)
		}
	}
}

// clean turns control characters of names and notes into spaces: a line stays
// a line, and a terminal is told nothing.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, s)
}

func width(s string) int { return utf8.RuneCountInString(s) }

// tie is a space at which wrap does not break (no-break space, U+00A0); on the
// page it is a plain one.
const tie = "\u00a0"

// wrap breaks text at spaces into lines of at most n characters; a word longer
// than that is cut. It gives at least one line.
func wrap(text string, n int) []string {
	n = max(n, 1)
	var lines []string
	current := ""
	for _, word := range strings.FieldsFunc(clean(text), func(r rune) bool { return r == ' ' }) {
		if current != "" && width(current)+1+width(word) <= n {
			current += " " + word
			continue
		}
		if current != "" {
			lines = append(lines, current)
		}
		for width(word) > n {
			r := []rune(word)
			lines = append(lines, string(r[:n]))
			word = string(r[n:])
		}
		current = word
	}
	if current != "" || len(lines) == 0 {
		lines = append(lines, current)
	}
	return lines
}
