package sheet

import (
	"strings"
)

// setting says how items are set.
type setting struct {
	wide     float64 // room, pt
	body     float64 // size of text, pt
	small    float64 // of running text, pt
	markSize float64 // of marks in tables; 0 = as the rest
	airy     float64 // factor of the height of table rows; 0 = 1
	ruled    bool    // a line under every row
	label    float64 // column of labels, pt
	tight    bool    // less space around sections
	framed   bool    // paragraphs in a thick frame, large and bold
}

// lines makes slabs of wrapped lines, the first of a paragraph with the space.
// Two lines at least stay together.
func (p *press) lines(f face, lines []string, indent, space float64) []slab {
	var out []slab
	for i, l := range lines {
		s := slab{height: f.line(), draw: func(x, y float64) { p.write(f, x+indent, y, l) }}
		if i == 0 {
			s.space = space
		}
		s.keep = len(lines) > 1 && (i == 0 || i == len(lines)-2)
		out = append(out, s)
	}
	return out
}

// hung is text behind a first mark, further lines under the text.
func (p *press) hung(markFace, f face, mark, text string, indent, room, space float64) []slab {
	out := p.lines(f, p.wrap(f, text, room-indent), indent, space)
	marks := p.wrap(markFace, mark, indent-4)
	for i, m := range marks {
		if i >= len(out) {
			out = append(out, slab{height: f.line()})
		}
		text := out[i].draw
		out[i].draw = func(x, y float64) {
			p.write(markFace, x, y, m)
			if text != nil {
				text(x, y)
			}
		}
	}
	return out
}

// set makes slabs of items.
func (p *press) set(items []item, st setting) []slab {
	var out []slab
	gap := 0.0
	for i := 0; i < len(items); i++ {
		it := &items[i]
		f, small := face{st.body, false}, face{st.small, false}
		first := len(out)
		switch it.kind {
		case blankItem:
			gap = max(gap, 4)
			continue
		case headItem:
			out = append(out, p.title(it.text, it.mark, st.wide))
		case headingItem:
			out = append(out, p.heading(it.text, st.wide)...)
			if st.tight {
				out[first].space = 5
			}
		case labelItem:
			out = append(out, p.hung(face{st.body, true}, f, it.mark, it.text, st.label, st.wide, 0)...)
		case paraItem, lineItem:
			if st.framed {
				out = append(out, p.alarm(it.text, st.wide))
			} else {
				out = append(out, p.lines(small, p.wrap(small, it.text, st.wide), 0, 2)...)
				out[len(out)-1].keep = followed(items[i+1:])
			}
		case hangItem:
			between := 1.5
			if st.tight {
				between = 0.3
			}
			out = append(out, p.hung(face{st.small, true}, small, strings.TrimSpace(it.mark), it.text, 16, st.wide, between)...)
		case signItem:
			out = append(out, p.signature(it.mark, st))
		case tableItem:
			next := i + 1
			for next < len(items) && items[next].kind == blankItem {
				next++
			}
			if next < len(items) && items[next].kind == tableItem {
				if pair, ok := p.twoTables(it, &items[next], st); ok {
					out = append(out, pair)
					i = next
					break
				}
			}
			out = append(out, p.table(it, st)...)
		}
		if len(out) > first {
			out[first].space = max(out[first].space, gap)
		}
		gap = 0
	}
	return out
}

// title opens a document: what it is, large, and a short text at the right.
func (p *press) title(text, right string, wide float64) slab {
	f, small := face{titleType, true}, face{14, true}
	if wide < 420 {
		f, small = face{15, true}, face{11, true}
	}
	right = p.glyphs.printable(right)
	end := p.measure(small, right)
	lines := p.wrap(f, text, wide)
	var under []string
	if len(lines) > 1 || p.measure(f, lines[0])+end+12 > wide {
		under = p.wrap(small, right, wide)
		right = ""
	}
	high := float64(len(lines)) * f.line()
	full := high + float64(len(under))*small.line()
	return slab{height: full + 6, keep: true, draw: func(x, y float64) {
		for i, l := range lines {
			p.write(f, x, y+float64(i)*f.line(), l)
		}
		p.write(small, x+wide-end, y+(f.size-small.size)*baseRatio, right)
		for i, l := range under {
			p.write(small, x, y+high+float64(i)*small.line(), l)
		}
		p.rule(thick, x, y+full+1, x+wide, y+full+1)
	}}
}

// followed tells whether the next item is a table, which a paragraph before it
// belongs to.
func followed(items []item) bool {
	for i := range items {
		if items[i].kind != blankItem {
			return items[i].kind == tableItem
		}
	}
	return false
}

// heading opens a section, on the page of what follows.
func (p *press) heading(text string, wide float64) []slab {
	head, rest, found := strings.Cut(text, ", ")
	mark := ", "
	if h, r, ok := strings.Cut(text, ": "); ok && (!found || len(h) < len(head)) {
		head, rest, found, mark = h, r, true, ": "
	}
	next, _, _ := strings.Cut(rest, " ")
	if head != strings.ToUpper(head) || len(next) > 1 && next == strings.ToUpper(next) { // one phrase
		head, rest, found = text, "", false
	}
	bold, plain := face{headType, true}, face{bodyType, false}
	if found {
		head += strings.TrimSpace(mark)
	}
	start := p.measure(bold, p.glyphs.printable(head)) + 5
	if !found || start+p.measure(plain, p.glyphs.printable(rest)) > wide {
		if found {
			head += " " + rest
		}
		out := p.lines(bold, p.wrap(bold, head, wide), 0, 10)
		last := &out[len(out)-1]
		draw, down := last.draw, last.height
		last.height += 4
		last.draw = func(x, y float64) { draw(x, y); p.rule(firm, x, y+down+1, x+wide, y+down+1) }
		for i := range out {
			out[i].keep = true
		}
		return out
	}
	head, rest = p.glyphs.printable(head), p.glyphs.printable(rest)
	return []slab{{height: bold.line() + 4, space: 10, keep: true, draw: func(x, y float64) {
		p.write(bold, x, y, head)
		p.write(plain, x+start, y+(bold.size-plain.size)*baseRatio, rest)
		p.rule(firm, x, y+bold.line()+1, x+wide, y+bold.line()+1)
	}}}
}

// alarm is what nobody may look past: large, in a thick frame.
func (p *press) alarm(text string, wide float64) slab {
	f := face{13, true}
	lines := p.wrap(f, text, wide-16)
	high := float64(len(lines))*f.line() + 10
	return slab{height: high + 2, space: 4, draw: func(x, y float64) {
		p.frame(thick, x+1, y+1, wide-2, high-2)
		for i, l := range lines {
			p.write(f, x+8, y+5+float64(i)*f.line(), l)
		}
	}}
}

// signature is a line to sign on.
func (p *press) signature(who string, st setting) slab {
	f := face{st.body, false}
	bold := face{st.body, true}
	high := 23.0
	if st.airy > 0 {
		high *= st.airy
	}
	return slab{height: high, draw: func(x, y float64) {
		base := y + high - 3
		text := base - f.size*baseRatio
		p.write(bold, x, text, p.glyphs.printable(who))
		date, hour := x+st.wide*0.60, x+st.wide*0.83
		p.rule(firm, x+62, base+1, date-6, base+1)
		p.write(f, date, text, "date")
		p.rule(firm, date+24, base+1, hour-6, base+1)
		p.write(f, hour, text, "time")
		p.rule(firm, hour+24, base+1, x+st.wide, base+1)
	}}
}

// twoTables sets two tables that follow each other side by side, where both are
// narrow enough and none has to go over a page.
func (p *press) twoTables(a, b *item, st setting) (slab, bool) {
	const between = 26
	wa, wb := p.natural(a, st), p.natural(b, st)
	if wa+wb+between > st.wide || len(a.rows) > 14 || len(b.rows) > 14 {
		return slab{}, false
	}
	first, second := st, st
	first.wide = wa + (st.wide-wa-wb-between)*wa/(wa+wb)
	second.wide = st.wide - between - first.wide
	return beside([]float64{0, first.wide + between}, p.table(a, first), p.table(b, second)), true
}
