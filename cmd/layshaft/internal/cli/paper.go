package cli

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

// Forms beside text and JSON.
const (
	formatPDF  = "pdf"
	formatHTML = "html"
)

// paperHelp explains the forms of a sheet in the help.
const paperHelp = `
--format pdf prints A4 or US Letter: page one for the bench with boxes to tick,
then prediction, build order, life and basis. --format html is one file for a
browser, a phone at the bench too. --format csv is gear and build table as one
table: the heads are the keys of the JSON, which end in the unit; the decimal
sign is a point, the separator a comma; marks and pairs read "mark 16/35" and
"pair 16/35", as a spreadsheet would make a date of 16/35. Sorted by
stack_position it is the build table.`

// paperFlags adds forms for paper, browser and spreadsheet.
func (s *show) paperFlags(c *cobra.Command, forms ...string) {
	s.format.words = append(s.format.words, forms...)
	s.paper = choice{value: string(sheet.A4), words: []string{string(sheet.A4), string(sheet.Letter)}}
	c.Flags().Var(&s.paper, "paper", "size of the paper of pdf, and of html when it is printed")
}

// onPaper tells whether the answer has pictures.
func (s *show) onPaper() bool { return s.format.value == formatPDF || s.format.value == formatHTML }

// check refuses before any work what could not be shown later.
func (s *show) check(a *app) error {
	if s.format.value == formatPDF && a.screen && s.onStdout() {
		return badInput("--format pdf: a terminal cannot show it: use -o FILE.pdf, or let the shell redirect")
	}
	ext := strings.TrimPrefix(strings.ToLower(filepath.Ext(s.path)), ".")
	if kinds := []string{formatCSV, formatHTML, formatPDF}; slices.Contains(kinds, ext) && ext != s.format.value {
		return badInput("--format %s, but --output %s ends in .%s: make them agree", s.format.value, s.path, ext)
	}
	return s.output.check()
}

// other writes a report in a form that is neither text nor JSON.
func (s *show) other(w io.Writer, v sheet.View) error {
	opt := sheet.PaperOptions{Units: sheet.Units(s.units.value), Paper: sheet.Paper(s.paper.value), Figures: s.figures}
	if table, ok := v.(*sheet.Sheet); ok && s.format.value == formatCSV {
		return table.CSV(w)
	}
	page, ok := v.(sheet.PaperView)
	switch {
	case ok && s.format.value == formatPDF:
		return page.PDF(w, opt)
	case ok && s.format.value == formatHTML:
		return page.HTML(w, opt)
	}
	return fmt.Errorf("this report has no form %s", s.format.value)
}

// Size for which a figure is drawn, in points, and its resolution: the page shows
// it at four fifths, so that it has 300 dots an inch there.
const (
	figureWidth  = 640
	figureHeight = 690
	figureDPI    = 240
)

// lapFigures are the pictures of a sheet, in the form that is asked for.
func (s *show) lapFigures(l *chart.Lap) ([]sheet.Figure, error) {
	f := sheet.Figure{Title: "SPEED TRACE: speed and gear over distance", Ratio: float64(figureWidth) / figureHeight}
	var b bytes.Buffer
	var err error
	if s.format.value == formatPDF {
		err = l.WritePNG(&b, figureWidth, figureHeight, figureDPI)
		f.PNG = b.Bytes()
	} else {
		err = l.Write(&b, chart.SVG)
		f.SVG = b.Bytes()
	}
	if err != nil {
		return nil, err
	}
	return []sheet.Figure{f}, nil
}

// sheetFigures are those of the sheet's own lap.
func (o *sheetOptions) sheetFigures(report *sheet.Sheet, l *chart.Lap, set *gearbox.Set) error {
	if !o.onPaper() {
		return nil
	}
	words := make([]string, len(set.Pairs))
	for i, p := range set.Pairs {
		words[i] = fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
	}
	l.Title = fmt.Sprintf("%s, %s: lap %.3f s", report.Track, report.Car, report.LapTimeS)
	l.Subtitle = fmt.Sprintf("layshaft/mainshaft %s, final drive %s; conditions as on the sheet", strings.Join(words, " "), set.Final.Name)
	l.US = o.units.value == string(sheet.US)
	var err error
	o.figures, err = o.lapFigures(l)
	return err
}
