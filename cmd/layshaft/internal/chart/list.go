package chart

import (
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// list is a small table beside or below a panel.
type list struct {
	heads []string
	left  []bool // by column: flush left, else right
	rows  [][]string
	bold  int // row set in bold, -1 = none
}

const (
	rowHeight = 9.6 * vg.Length(1)
	columnGap = 8 * vg.Length(1)
	tableTop  = 17 * vg.Length(1)
	blockGap  = 20 * vg.Length(1)
)

// widths are those of the columns, with room for a wider fallback font.
func (l *list) widths() []vg.Length {
	style := textStyle(smallSize, true)
	out := make([]vg.Length, len(l.heads))
	for i, h := range l.heads {
		out[i] = style.Width(h)
	}
	for _, r := range l.rows {
		for i, cell := range r {
			out[i] = max(out[i], style.Width(cell))
		}
	}
	for i := range out {
		out[i] *= 1.06
	}
	return out
}

func (l *list) width() vg.Length {
	sum := vg.Length(0)
	for _, w := range l.widths() {
		sum += w + columnGap
	}
	return sum - columnGap
}

// height is that of so many rows with their head.
func listHeight(rows int) vg.Length { return rowHeight*vg.Length(rows+1) + 4 }

// rowsIn is how many rows a block of the height holds.
func rowsIn(height vg.Length) int {
	return max(1, int(float64((height-4)/rowHeight))-1)
}

// blocks is how many blocks side by side a height asks for, and how wide they
// are in all.
func (l *list) blocks(height vg.Length) (n int, width vg.Length) {
	n = max(1, (len(l.rows)+rowsIn(height)-1)/rowsIn(height))
	return n, vg.Length(n)*(l.width()+blockGap) - blockGap
}

// draw writes the list from the top left of the canvas, in as many blocks as
// its height asks for.
func (l *list) draw(c draw.Canvas) {
	widths := l.widths()
	n, _ := l.blocks(c.Max.Y - c.Min.Y)
	per := (len(l.rows) + n - 1) / n
	for b := range n {
		x := c.Min.X + vg.Length(b)*(l.width()+blockGap)
		y := c.Max.Y - rowHeight
		l.row(c, x, y, widths, l.heads, true)
		for i := b * per; i < min(len(l.rows), (b+1)*per); i++ {
			y -= rowHeight
			l.row(c, x, y, widths, l.rows[i], i == l.bold)
		}
	}
}

func (l *list) row(c draw.Canvas, x, base vg.Length, widths []vg.Length, cells []string, bold bool) {
	for i, cell := range cells {
		style := textStyle(smallSize, bold)
		at := vg.Point{X: x, Y: base}
		if !l.left[i] {
			style.XAlign, at.X = text.XRight, x+widths[i]
		}
		c.FillText(style, at, cell)
		x += widths[i] + columnGap
	}
}

// rowsAcross is how many rows the list needs with as many blocks as the width holds,
// less the room for figures of an axis on the left.
func (l *list) rowsAcross(width vg.Length) int {
	const axis = 30
	across := max(1, int(float64((width-axis+blockGap)/(l.width()+blockGap))))
	return (len(l.rows) + across - 1) / across
}

// below draws panels with a list under them, as flat as the width allows. none
// is written where the list is empty.
func below(c draw.Canvas, l *list, none string, panels func(draw.Canvas) draw.Canvas) {
	per := l.rowsAcross(c.Max.X - c.Min.X)
	rows := split(c, 0, tableTop+listHeight(per))
	data := panels(rows[0])
	foot := rows[1]
	foot.Min.X, foot.Max.Y = data.Min.X, foot.Max.Y-tableTop+4
	if len(l.rows) == 0 {
		c.FillText(textStyle(smallSize, false), vg.Point{X: foot.Min.X, Y: foot.Max.Y - 2*rowHeight}, none)
		return
	}
	l.draw(foot)
}

// label writes text on a white ground, so that lines under it do not strike it
// out.
func label(c draw.Canvas, style text.Style, at vg.Point, s string) {
	w, h := style.Width(s), style.Font.Size
	x := at.X + w*vg.Length(style.XAlign)
	y := at.Y + h*vg.Length(style.YAlign)
	c.FillPolygon(paper(), box(x-1.5, y-1.8, x+w+1.5, y+h))
	c.FillText(style, at, s)
}
