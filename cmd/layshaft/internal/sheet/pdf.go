package sheet

import (
	"fmt"
	"io"
	"slices"
)

// PDF writes the ratio sheet for paper: page one for the bench, then pages for
// the engineer, the build part by part, and life and basis for the file. The
// sheet tests its sums and proof-reads the gear table first.
func (s *Sheet) PDF(w io.Writer, opt PaperOptions) error {
	d, err := (TextOptions{opt.Units}).display()
	if err != nil {
		return err
	}
	width, height, err := opt.Paper.size()
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
	p, err := newPress(width, height, "Ratio sheet, "+s.Car+", "+s.Track)
	if err != nil {
		return err
	}
	p.foot = p.footLines(s.foot(), s.setLine(), "sheet "+digest)
	left := s.pressBench(p, s.benchPage(d, rows))

	engineer := p.usual()
	if p.y > p.limit()/2 || len(p.pages) == 1 { // else under what page one had no room for
		p.newPage()
	}
	p.place(p.set(s.engineerPage(d).items, engineer))
	for i := range opt.Figures {
		if opt.Figures[i].Draw != nil {
			p.place(p.figure(&opt.Figures[i]))
		}
	}
	p.newPage()
	p.place(p.set(s.workshopPage().items, engineer))
	p.newPage()
	p.place(p.set(s.recordPage().items, engineer))
	if len(left) > 0 {
		p.place(p.set(append([]item{{kind: headingItem, text: "HOW TO READ PAGE 1: the gear table"}}, left...), engineer))
	}
	return p.print(w)
}

// usual is how pages of text and tables are set.
func (p *press) usual() setting {
	return setting{wide: p.wide(), body: bodyType, small: smallType, label: 62}
}

// pressBench arranges page one: as airy as the page allows, the explanation of
// the gear table on it where there is room. Where even the densest is too long,
// the cautions go whole to the top of page two, and page one says so. It gives
// back what else had no room.
func (s *Sheet) pressBench(p *press, b benchItems) (left []item) {
	const roomy, step, usual, steps = 1.5, 0.05, 10, 14 // 1.5 down to 1.0, and to 0.8
	room := p.limit() - p.top
	try := func(b benchItems, densest int) bool {
		for k := range densest + 1 {
			if slabs := p.benchSlabs(b, roomy-step*float64(k)); depth(slabs) <= room || densest == steps && k == steps && b.cautions == nil {
				p.place(slabs)
				return true
			}
		}
		return false
	}
	if try(b, usual) {
		return nil
	}
	left, b.legend = b.legend, nil
	if try(b, steps) {
		return left
	}
	moved := b.cautions
	b.cautions = nil
	b.maker = append(slices.Clone(b.maker), item{kind: labelItem, mark: "cautions", text: "on the next page: read them before the build"})
	try(b, steps)
	p.newPage()
	p.place(p.set(moved, p.usual()))
	return left
}

// benchSlabs are the slabs of page one.
func (p *press) benchSlabs(b benchItems, airy float64) []slab {
	st := setting{wide: p.wide(), body: bodyType, small: smallType, label: 52, airy: airy}
	table := st
	table.body, table.ruled, table.markSize = 10.5, true, markType
	if st.tight = airy < 0.99; st.tight { // a full page
		table.markSize, table.body = leastMark, bodyType
	}
	alarm := st
	alarm.framed = true

	var out []slab
	add := func(items []item, st setting) { out = append(out, p.set(items, st)...) }
	add([]item{b.title}, st)
	add(b.standing, alarm)
	half := st
	const between = 14.0
	half.wide = (st.wide - between) / 2
	about := beside([]float64{0, half.wide + between}, p.set(b.issue, half), p.set(b.makeUp, half))
	about.space = max(about.space, 4)
	out = append(out, about)
	add(b.gears, table)
	add(b.legend, st)
	add(b.build, table)
	add(b.notes, st)
	fork, sign := st, st
	fork.wide, fork.body = 176, 10
	sign.wide = st.wide - fork.wide - 22
	forks := p.set(b.forks, fork)
	forks = append(forks, p.set(b.neutral, fork)...)
	forks[len(forks)-1].space = 3
	out = append(out, beside([]float64{0, fork.wide + 22}, forks, p.set(b.signing, sign)))
	add(append([]item{{kind: blankItem}}, b.maker...), st)
	add(b.cautions, st)
	return out
}

// figure sets a figure as wide as the page, its title on top.
func (p *press) figure(f *Figure) []slab {
	ratio := f.Ratio
	if ratio <= 0 {
		ratio = 1.5
	}
	wide := p.wide()
	high := wide / ratio
	if most := p.limit() - p.top - 90; high > most {
		high = most
		wide = high * ratio
	}
	out := p.heading(f.Title, p.wide())
	out = append(out, slab{height: high, space: 3, keep: f.Caption != "", draw: func(x, y float64) {
		if err := p.picture(f, x, y, wide, high); err != nil && p.broken == nil {
			p.broken = fmt.Errorf("%s: %w", f.Title, err)
		}
	}})
	small := face{smallType, false}
	return append(out, p.lines(small, p.wrap(small, f.Caption, p.wide()), 0, 3)...)
}

func (p *press) picture(f *Figure, x, y, wide, high float64) error {
	p.pdf.TransformBegin()
	err := f.Draw(p.pdf, x, y, wide, high)
	p.pdf.TransformEnd()
	// The library remembers what the figure set last, the document what was set
	// before it: say both anew.
	p.pdf.SetFillColor(255, 255, 255)
	p.pdf.SetDrawColor(255, 255, 255)
	p.pdf.SetTextColor(255, 255, 255)
	p.pdf.SetFillColor(0, 0, 0)
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetTextColor(0, 0, 0)
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.SetFont(fontName, boldFace, bodyType)
	p.pdf.SetFont(fontName, plainFace, smallType)
	return err
}

// foot is what stands at the foot of each page.
func (s *Sheet) foot() string {
	issue := s.issue()
	if s.Superseded != "" {
		issue = "SUPERSEDED " + issue
	}
	return issue + ": " + s.Car + ", " + s.Track
}
