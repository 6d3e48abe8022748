package chart

import (
	"strings"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// fallback is how much wider letters may come out for a reader of an SVG who has
// none of its fonts.
const fallback = 1.15

// keyItem is one entry of the key: a sample of width keySample, and its meaning.
type keyItem struct {
	mark func(c draw.Canvas, left vg.Point) // left = middle of the sample's left edge
	text string
}

const (
	keySample = vg.Length(22)
	keyGap    = vg.Length(9)
	keyRow    = vg.Length(12)
	lineRow   = vg.Length(10.5) // of the caption
)

func lineKey(s draw.LineStyle, text string) keyItem {
	return keyItem{func(c draw.Canvas, l vg.Point) { c.StrokeLine2(s, l.X, l.Y, l.X+keySample, l.Y) }, text}
}

// head is title, caption and key of a figure.
type head struct {
	title    string
	caption  []string
	rows     [][]keyItem
	titled   bool
	keyStyle text.Style
}

func newHead(f *Frame, key []keyItem, width vg.Length) *head {
	h := &head{keyStyle: textStyle(smallSize, false), titled: !f.Bare && f.Title+f.Caption != ""}
	if h.titled {
		h.title = fit(textStyle(titleSize, true), f.title(), width)
		h.caption = wrap(textStyle(tickSize, false), f.caption(), width)
	}
	room := vg.Length(0)
	for _, k := range key {
		w := h.itemWidth(k)
		if len(h.rows) == 0 || w > room {
			h.rows, room = append(h.rows, nil), width
		}
		h.rows[len(h.rows)-1] = append(h.rows[len(h.rows)-1], k)
		room -= w
	}
	return h
}

func (h *head) itemWidth(k keyItem) vg.Length {
	return keySample + 4 + h.keyStyle.Width(k.text)*fallback + keyGap
}

func (h *head) height() vg.Length {
	sum := keyRow*vg.Length(len(h.rows)) + 2
	if h.titled {
		sum += 16 + lineRow*vg.Length(len(h.caption))
	}
	return sum
}

func (h *head) draw(c draw.Canvas) {
	top := c.Max.Y
	if h.titled {
		title, sub := textStyle(titleSize, true), textStyle(tickSize, false)
		title.YAlign, sub.YAlign = text.YTop, text.YTop
		c.FillText(title, vg.Point{X: c.Min.X, Y: top}, h.title)
		top -= 15
		for _, line := range h.caption {
			c.FillText(sub, vg.Point{X: c.Min.X, Y: top}, line)
			top -= lineRow
		}
		top -= 1
	}
	style := h.keyStyle
	style.YAlign = text.YCenter
	for _, row := range h.rows {
		at := vg.Point{X: c.Min.X, Y: top - keyRow/2}
		for _, k := range row {
			k.mark(c, at)
			c.FillText(style, vg.Point{X: at.X + keySample + 4, Y: at.Y}, k.text)
			at.X += h.itemWidth(k)
		}
		top -= keyRow
	}
}

// fit cuts a text that is wider than the room for it.
func fit(style text.Style, s string, width vg.Length) string {
	if style.Width(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && style.Width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// wrap breaks a text between words into lines that fit the width; a single
// longer word is cut.
func wrap(style text.Style, s string, width vg.Length) []string {
	var lines []string
	for _, word := range strings.Fields(s) {
		if n := len(lines) - 1; n >= 0 && style.Width(lines[n]+" "+word)*fallback <= width {
			lines[n] += " " + word
			continue
		}
		lines = append(lines, fit(style, word, width))
	}
	return lines
}
