package sheet

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// pageWidth is the width of every text view, in characters.
const pageWidth = 80

// typist sets pages as text for an 80-column terminal or printer.
type typist struct {
	b strings.Builder
}

// set writes one item.
func (p *typist) set(it *item) {
	switch it.kind {
	case headItem:
		p.head(it.text, it.mark)
	case headingItem:
		p.heading(it.text)
	case labelItem:
		p.label(it.mark, it.text)
	case paraItem:
		p.para(it.text)
	case lineItem:
		p.line(it.text)
	case hangItem:
		p.hang(it.mark, it.text)
	case blankItem:
		p.blank()
	case tableItem:
		p.table(it.cols, it.rows, it.notes)
	case signItem:
		p.line(fmt.Sprintf("%-11s______________________________  date ____________  time ________", it.mark))
	}
}

// line writes one line that the caller knows to be short enough.
func (p *typist) line(s string) {
	s = strings.ReplaceAll(s, tie, " ")
	p.b.WriteString(strings.TrimRight(s, " "))
	p.b.WriteByte('\n')
}

func (p *typist) blank() { p.b.WriteByte('\n') }

func (p *typist) rule(mark string) { p.line(strings.Repeat(mark, pageWidth)) }

// head opens the page: what it is on the left, a short text on the right.
func (p *typist) head(left, right string) {
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
func (p *typist) heading(s string) {
	p.blank()
	p.para(s)
	p.rule("-")
}

// labelWidth is the column of the labels in a list of label and text.
const labelWidth = 11

// label writes a label and its text, wrapped beside it.
func (p *typist) label(name, text string) {
	p.hang(name+strings.Repeat(" ", max(1, labelWidth-width(name))), text)
}

// para writes text wrapped to the page.
func (p *typist) para(text string) { p.block("", "", text) }

// hang writes text behind a first mark, the other lines under the text.
func (p *typist) hang(mark, text string) {
	p.block(mark, strings.Repeat(" ", width(mark)), text)
}

func (p *typist) block(first, other, text string) {
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
