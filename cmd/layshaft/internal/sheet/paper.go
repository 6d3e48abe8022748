package sheet

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// Paper is a size of paper.
type Paper string

const (
	A4     Paper = "a4"     // 210 x 297 mm
	Letter Paper = "letter" // 8.5 x 11 in
)

// PaperOptions of the views for paper and browser; the zero value is metric on A4.
type PaperOptions struct {
	Units   Units
	Paper   Paper // of PDF; a browser asks for it when it prints
	Figures []Figure
}

// Figure is a picture that somebody else has made ready: this package draws none.
type Figure struct {
	Title   string
	Caption string
	SVG     []byte  // for the browser; nil = it has none there
	Ratio   float64 // width over height on paper; 0 = 1.5
	// Draw draws it into a rectangle of a page, in points from the page's top left
	// corner; nil = it has none on paper.
	Draw func(pdf *fpdf.Fpdf, x, y, width, height float64) error
}

// PaperView is a report that can also be had on paper and in a browser. Each
// method writes the whole with one Write, or returns an error and writes nothing;
// the same report gives the same bytes.
type PaperView interface {
	View
	PDF(w io.Writer, opt PaperOptions) error
	HTML(w io.Writer, opt PaperOptions) error
}

// size is the paper's in points, portrait.
func (p Paper) size() (width, height float64, err error) {
	switch p {
	case "", A4:
		return 210 * pointsPerMm, 297 * pointsPerMm, nil
	case Letter:
		return 8.5 * 72, 11 * 72, nil
	}
	return 0, 0, fmt.Errorf("sheet: paper %q is not known: use %q or %q", p, A4, Letter)
}

// part is a page, or a few, for one reader.
type part struct {
	name  string
	items []item
}

// benchItems is what page one says, in pieces that are arranged.
type benchItems struct {
	title    item
	standing []item
	issue    []item // what it is for
	makeUp   []item // the box and what is in it
	gears    []item
	legend   []item // of the gear table
	build    []item
	notes    []item // on the build table
	forks    []item
	neutral  []item
	signing  []item
	maker    []item
	cautions []item
}

// said are the items of a section.
func said(section func(p *page)) []item {
	p := &page{}
	section(p)
	return p.items
}

// benchPage gathers page one around the rendered gear table.
func (s *Sheet) benchPage(d display, rows [][]string) benchItems {
	b := benchItems{
		title:    item{kind: headItem, text: "RATIO SHEET", mark: s.issue()},
		standing: said(s.textStanding),
		issue:    said(func(p *page) { s.textIssue(p, d) }),
		makeUp:   said(s.textMakeUp),
		legend:   said(s.textGearLegend),
		gears: said(func(p *page) {
			p.heading("GEARS, in gear order")
			p.table(gearColumns(d), rows)
		}),
		build:    said(s.textBuildTable),
		notes:    said(func(p *page) { p.blank(); s.textBuildNotes(p) }),
		forks:    said(func(p *page) { p.heading("FORKS"); s.textForks(p) }),
		neutral:  said(func(p *page) { p.label("neutral", s.Neutral) }),
		signing:  said(s.textSignatures),
		maker:    said(s.textMaker),
		cautions: said(s.textCautions),
	}
	if n := len(s.Warnings); n > 0 {
		b.makeUp = append(b.makeUp, item{kind: labelItem, mark: "warnings", text: plural(n, "warning") + ": see WARNINGS"})
	}
	return b
}

// issue is what tells this sheet from an earlier one; left open to be written in
// where it was not issued under a number.
func (s *Sheet) issue() string {
	revision, date := "____", "____________"
	if s.Revision > 0 {
		revision = strconv.Itoa(s.Revision)
	}
	if s.Date != "" {
		date = s.Date
	}
	return "revision " + revision + ", date " + date
}

// engineerPage is what the engineer reads before and after the figures.
func (s *Sheet) engineerPage(d display) part {
	return part{"prediction", said(func(p *page) {
		p.heading("PREDICTION: a simulation's")
		s.textPrediction(p, d)
		textConditions(p, d, s.Conditions)
		s.textWarnings(p)
		s.textTopGear(p, d)
		s.textAlternates(p)
		textLoss(p, d, s.Loss, s.LapTimeS, s.NoLossReason)
		s.textThrottleOns(p, d)
	})}
}

// workshopPage is the build, part by part.
func (s *Sheet) workshopPage() part {
	return part{"build order", said(func(p *page) {
		s.textBuildOrder(p)
		s.textStrips(p)
		s.textCounts(p)
	})}
}

// recordPage is for the file.
func (s *Sheet) recordPage() part {
	return part{"life and basis", said(func(p *page) { s.textLife(p); s.textBasis(p) })}
}

// Digest are the first digits of the SHA-256 of the sheet's JSON as it was made:
// what has become of it since does not count, so that the paper, the saved file
// and every reprint of it carry the same.
func (s *Sheet) Digest() (string, error) {
	made := *s
	made.Superseded, made.Standing = "", []string{}
	var b bytes.Buffer
	if err := made.JSON(&b); err != nil {
		return "", err
	}
	sum := sha256.Sum256(b.Bytes())
	return hex.EncodeToString(sum[:])[:hashShown], nil
}

// setLine is the set in a line: layshaft/mainshaft teeth in gear order.
func (s *Sheet) setLine() string {
	words := make([]string, len(s.Gears))
	for i := range s.Gears {
		words[i] = fmt.Sprintf("%d/%d", s.Gears[i].LayshaftTeeth, s.Gears[i].MainshaftTeeth)
	}
	return fmt.Sprintf("set %s, final %d/%d", strings.Join(words, " "), s.FinalDrive.DrivingTeeth, s.FinalDrive.DrivenTeeth)
}
