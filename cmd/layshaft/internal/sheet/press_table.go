package sheet

import (
	"slices"
	"strings"
)

// grid is a table measured for a setting.
type grid struct {
	p      *press
	st     setting
	cols   []column
	heads  [][]string
	wide   []float64
	gap    float64
	text   face
	marks  face
	headed face
}

const (
	leastGapPt = 5.0
	mostGapPt  = 20.0
	leastPt    = 24.0 // no column is made narrower
)

func (p *press) grid(it *item, st setting) *grid {
	g := &grid{p: p, st: st, cols: it.cols, text: face{st.body, false}, headed: face{smallType, true}}
	g.marks = g.text
	if st.markSize > 0 {
		g.marks = face{st.markSize, true}
	}
	g.wide = make([]float64, len(it.cols))
	for i, c := range it.cols {
		g.heads = append(g.heads, headLines(c.head))
		for _, h := range g.heads[i] {
			g.wide[i] = max(g.wide[i], p.measure(g.headed, h))
		}
		for _, r := range it.rows {
			g.wide[i] = max(g.wide[i], g.cellWidth(i, r[i]))
		}
	}
	return g
}

// headLines are the lines of a column's head.
func headLines(head string) []string {
	return strings.Split(strings.TrimPrefix(head, "|"), "|")
}

// face is that of a column's cells.
func (g *grid) face(i int) face {
	if g.cols[i].large {
		return g.marks
	}
	return g.text
}

func (g *grid) cellWidth(i int, cell string) float64 {
	if cell == tick {
		return tickSide
	}
	return g.p.measure(g.face(i), g.p.glyphs.printable(cell))
}

func (g *grid) sum() float64 {
	s := g.gap * float64(len(g.wide)-1)
	for _, w := range g.wide {
		s += w
	}
	return s
}

// natural is the width of a table that is not squeezed.
func (p *press) natural(it *item, st setting) float64 {
	g := p.grid(it, st)
	g.gap = leastGapPt + 2
	return g.sum()
}

// squeeze makes the table fit its room: the widest flexible column gives way,
// then any other; what is left over goes between the columns.
func (g *grid) squeeze() {
	g.gap = leastGapPt
	for _, all := range []bool{false, true} {
		for g.sum() > g.st.wide {
			widest := -1
			for i, c := range g.cols {
				if (c.flex || all) && g.wide[i] > leastPt && (widest < 0 || g.wide[i] > g.wide[widest]) {
					widest = i
				}
			}
			if widest < 0 {
				break
			}
			g.wide[widest] = max(leastPt, g.wide[widest]-max(1, min(12, (g.sum()-g.st.wide)/2)))
		}
	}
	if n := len(g.wide); n > 1 {
		spare := max(0, (g.st.wide-g.sum())/float64(n-1))
		if !g.st.ruled {
			spare = min(spare, mostGapPt-leastGapPt)
		}
		g.gap += spare
	}
}

// table makes slabs of a table: its head, then one for each row, with a note
// under it where there is one.
func (p *press) table(it *item, st setting) []slab {
	if st.airy == 0 {
		st.airy = 1
	}
	g := p.grid(it, st)
	g.squeeze()
	out := []slab{}
	head := g.head()
	if head.height > 0 {
		out = append(out, head)
	}
	again := &head
	for i, r := range it.rows {
		note := ""
		if i < len(it.notes) {
			note = it.notes[i]
		}
		out = append(out, g.row(r, note, again)...)
	}
	if n := len(out); n > 2 && out[0].keep { // no head with a single row under it
		out[1].keep = out[1].keep || n > 3
	}
	return out
}

// head is the slab of the columns' heads; height 0 where none has any.
func (g *grid) head() slab {
	deep := 0
	lines := make([][]string, len(g.heads))
	for i, h := range g.heads {
		for _, l := range h {
			if l != "" {
				lines[i] = append(lines[i], g.p.wrap(g.headed, l, max(g.wide[i], leastPt))...)
			}
		}
		deep = max(deep, len(lines[i]))
	}
	if deep == 0 {
		return slab{}
	}
	high := float64(deep)*g.headed.line() + 3
	return slab{height: high + 1, space: 2, keep: true, draw: func(x, y float64) {
		at := x
		for i, ls := range lines {
			for k, l := range ls {
				g.cell(i, g.headed, at, y+float64(deep-len(ls)+k)*g.headed.line(), l)
			}
			at += g.wide[i] + g.gap
		}
		g.p.rule(firm, x, y+high-0.5, x+g.full(), y+high-0.5)
	}}
}

// full is how far the lines of the table go.
func (g *grid) full() float64 {
	if g.st.ruled {
		return g.st.wide
	}
	return min(g.st.wide, g.sum())
}

// cell draws a line of a cell whose column begins at x.
func (g *grid) cell(i int, f face, x, y float64, text string) {
	if g.cols[i].right {
		x += g.wide[i] - g.p.measure(f, text)
	}
	g.p.write(f, x, y, text)
}

// row is a row as one slab; a very deep one is a slab for each of its lines, so
// that it can go over a page.
func (g *grid) row(cells []string, note string, again *slab) []slab {
	parts := make([][]string, len(cells))
	pitch := g.text.line()
	deep, ticks := 1, false
	for i, c := range cells {
		if c == tick {
			ticks = true
			continue
		}
		if g.cols[i].large {
			pitch = max(pitch, g.marks.size*1.12)
		}
		parts[i] = g.p.wrap(g.face(i), c, g.wide[i])
		deep = max(deep, len(parts[i]))
	}
	first := pitch // height of the first line, boxes to tick included
	if ticks {
		first = max(first, tickSide+2)
	}
	pad := 1.2
	if g.st.ruled || ticks {
		pad = 2
	}
	if deep == 1 {
		first = max(first*g.st.airy, pitch*0.96)
		if ticks {
			first = max(first, tickSide+1)
		}
	}
	begin := pad/2 + (first-pitch)/2
	body := max(first+pad/2, begin+float64(deep)*pitch)
	noteAt := 0.0
	for i, c := range g.cols { // under the column of the part, or the second
		if c.flex || i == 2 {
			break
		}
		noteAt += g.wide[i] + g.gap
	}
	noteFace := face{g.st.small, false}
	var notes []string
	if note != "" {
		notes = g.p.wrap(noteFace, note, g.st.wide-noteAt)
	}
	high := body + pad/2 + float64(len(notes))*noteFace.line()
	draw := func(x, y float64) {
		at := x
		for i := range cells {
			if cells[i] == tick {
				g.p.frame(firm, at+0.5, y+pad/2+(first-tickSide)/2, tickSide, tickSide)
			}
			f := g.face(i)
			for k, l := range parts[i] {
				g.cell(i, f, at, y+begin+float64(k)*pitch+(pitch-f.line())/2, l)
			}
			at += g.wide[i] + g.gap
		}
		for k, l := range notes {
			g.p.write(noteFace, x+noteAt, y+body+float64(k)*noteFace.line(), l)
		}
		if g.st.ruled || ticks {
			g.p.rule(hairline, x, y+high, x+g.full(), y+high)
		}
	}
	const deepest = 260.0 // pt
	if high <= deepest {
		return []slab{{height: high, draw: draw, again: again}}
	}
	return g.brokenRow(cells, parts, notes, noteAt, pitch, again)
}

// brokenRow sets a row line by line.
func (g *grid) brokenRow(cells []string, parts [][]string, notes []string, noteAt, pitch float64, again *slab) []slab {
	var out []slab
	deep := 1
	for _, l := range parts {
		deep = max(deep, len(l))
	}
	for k := range deep {
		high := pitch
		if k == 0 && slices.Contains(cells, tick) {
			high = max(high, tickSide+4)
		}
		out = append(out, slab{height: high, again: again, draw: func(x, y float64) {
			at := x
			for i := range cells {
				if cells[i] == tick && k == 0 {
					g.p.frame(firm, at+0.5, y+1.5, tickSide, tickSide)
				} else if k < len(parts[i]) {
					g.cell(i, g.face(i), at, y+(pitch-g.face(i).line())/2, parts[i][k])
				}
				at += g.wide[i] + g.gap
			}
		}})
	}
	f := face{g.st.small, false}
	for _, l := range notes {
		out = append(out, slab{height: f.line(), again: again, draw: func(x, y float64) { g.p.write(f, x+noteAt, y, l) }})
	}
	end := slab{height: 2, draw: func(x, y float64) { g.p.rule(hairline, x, y+1, x+g.full(), y+1) }}
	out[len(out)-1].keep = true
	return append(out, end)
}
