package sheet

import "strings"

// column of a text table. Its head is broken at "|".
type column struct {
	head  string
	right bool // numbers: flush right
	flex  bool // may be narrowed, its cells then wrap; other columns never break
	large bool // marks: what a mechanic looks for; large on the page for the bench
}

// Spaces between two columns: wide where the page holds it.
const (
	wideGap  = 2
	leastGap = 1
)

// noteIndent is where the text under a row begins.
const noteIndent = 8

// table writes rows under their heads. Columns are as wide as their widest
// cell; where that is more than the page holds, the widest flexible column
// gives way, one character at a time, and its cells wrap. Nothing is cut off
// and nothing is left out. notes are lines of text, or none, under each row.
func (p *typist) table(cols []column, rows [][]string, notes []string) {
	wide := make([]int, len(cols))
	heads := make([][]string, len(cols))
	deep := 1
	for i, c := range cols {
		heads[i] = strings.Split(c.head, "|")
		deep = max(deep, len(heads[i]))
		for _, h := range heads[i] {
			wide[i] = max(wide[i], width(h))
		}
	}
	least := append([]int(nil), wide...)
	for _, r := range rows {
		for i := range cols {
			wide[i] = max(wide[i], width(clean(r[i])))
		}
	}
	gap := wideGap
	if spread(wide, gap) > pageWidth {
		gap = leastGap
	}
	narrow(cols, wide, least, gap)
	for d := 0; d < deep; d++ {
		cells := make([]string, len(cols))
		for i, h := range heads {
			if k := d - (deep - len(h)); k >= 0 { // heads stand on their last line
				cells[i] = h[k]
			}
		}
		p.cells(cols, wide, gap, cells)
	}
	for i, r := range rows {
		p.row(cols, wide, gap, r)
		if i < len(notes) && notes[i] != "" {
			p.hang(strings.Repeat(" ", noteIndent), notes[i])
		}
	}
}

// narrow makes the flexible columns fit the page.
func narrow(cols []column, wide, least []int, gap int) {
	for sum := spread(wide, gap); sum > pageWidth; sum-- {
		widest := -1
		for i, c := range cols {
			if c.flex && wide[i] > least[i] && (widest < 0 || wide[i] > wide[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return
		}
		wide[widest]--
	}
}

// spread is the width of a line of such columns.
func spread(wide []int, gap int) int {
	sum := gap * (len(wide) - 1)
	for _, w := range wide {
		sum += w
	}
	return sum
}

// row writes one row, on as many lines as its deepest cell needs.
func (p *typist) row(cols []column, wide []int, gap int, row []string) {
	parts := make([][]string, len(cols))
	deep := 1
	for i := range cols {
		parts[i] = wrap(row[i], wide[i])
		deep = max(deep, len(parts[i]))
	}
	for d := 0; d < deep; d++ {
		cells := make([]string, len(cols))
		for i := range parts {
			if d < len(parts[i]) {
				cells[i] = parts[i][d]
			}
		}
		p.cells(cols, wide, gap, cells)
	}
}

func (p *typist) cells(cols []column, wide []int, gap int, cells []string) {
	var b strings.Builder
	for i, c := range cols {
		if i > 0 {
			b.WriteString(strings.Repeat(" ", gap))
		}
		pad := strings.Repeat(" ", max(0, wide[i]-width(cells[i])))
		if c.right {
			b.WriteString(pad + cells[i])
		} else {
			b.WriteString(cells[i] + pad)
		}
	}
	p.line(b.String())
}
