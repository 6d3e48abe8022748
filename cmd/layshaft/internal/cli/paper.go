package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize/gearing"
	"layshaft/sim"
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

// On paper: about the width of the page's text, in points, and width over height of
// the diagram of the set, which comes first: it fills up the page of the tables.
const (
	pageWidth    = 520
	diagramRatio = 2
)

// lapFigures are the pictures of a sheet, in the form that is asked for: drawn into
// the page of a PDF, which has their headings itself, or SVG.
func (s *show) lapFigures(l *chart.Lap, t *chart.Sawtooth) ([]sheet.Figure, error) {
	figures := []struct {
		title string
		ratio float64
		it    chart.Figure
	}{
		{"ENGINE SPEED over road speed, gear by gear", diagramRatio, t},
		{"SPEED TRACE: speed and gear over distance", pageWidth / l.HeightFor(pageWidth), l},
	}
	var out []sheet.Figure
	for _, f := range figures {
		one := sheet.Figure{Title: f.title, Ratio: f.ratio}
		if s.format.value == formatPDF {
			one.Draw = chart.Painter(f.it)
		} else {
			svg, err := chart.SVGBytes(f.it, chart.Width, chart.Height)
			if err != nil {
				return nil, err
			}
			one.SVG = svg
		}
		out = append(out, one)
	}
	return out, nil
}

// sheetFigures are those of the sheet's own lap.
func (o *sheetOptions) sheetFigures(report *sheet.Sheet, m *sim.Model, ans *gearing.Answer) error {
	if !o.onPaper() {
		return nil
	}
	set := chart.Set{Model: m, Pairs: setWords(ans.Set), Total: ans.Set.TotalRatios()}
	l := &chart.Lap{Track: o.track, Lap: ans.Lap}
	t := &chart.Sawtooth{Set: set, PullingRPM: o.car.Engine.PullingRPM}
	frame := chart.Frame{US: o.units.value == string(sheet.US)}
	if o.format.value != formatPDF {
		frame.Title = fmt.Sprintf("%s, %s: lap %.3f s", report.Track, report.Car, report.LapTimeS)
		frame.Caption = fmt.Sprintf("layshaft/mainshaft %s, final drive %s; conditions as on the sheet", strings.Join(set.Pairs, " "), ans.Set.Final.Name)
	}
	l.Frame, t.Frame = frame, frame
	t.Bare = o.format.value == formatPDF
	var err error
	o.figures, err = o.lapFigures(l, t)
	return err
}
