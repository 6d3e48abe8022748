package cli

import (
	"io"

	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

// formatText is the form that has its warnings in it, for people.
const formatText = "text"

// show holds the flags on how an answer is shown.
type show struct {
	output
	format choice
	units  choice
	quiet  bool

	paper   choice         // with paperFlags only
	figures []sheet.Figure // of pdf and html
}

func (s *show) flags(c *cobra.Command) {
	s.output.flags(c)
	s.format = choice{value: formatText, words: []string{formatText, "json"}, later: []string{formatCSV, formatHTML, formatPDF},
		elsewhere: "is not a form of this answer"}
	c.Flags().Var(&s.format, "format", "form of the answer")
	s.unitFlags(c)
}

// unitFlags are those that also a picture has.
func (s *show) unitFlags(c *cobra.Command) {
	s.units = choice{value: string(sheet.Metric), words: []string{string(sheet.Metric), string(sheet.US)}}
	c.Flags().Var(&s.units, "units", "units of text, pages and plots; JSON and CSV say their own")
	c.Flags().BoolVarP(&s.quiet, "quiet", "q", false, "say nothing on stderr but errors")
}

// print writes a report in the form asked for.
func (s *show) print(c *cobra.Command, v sheet.View) error {
	return s.write(c, func(w io.Writer) error {
		switch s.format.value {
		case formatText:
			return v.Text(w, sheet.TextOptions{Units: sheet.Units(s.units.value)})
		case "json":
			return v.JSON(w)
		}
		return s.other(w, v)
	})
}
