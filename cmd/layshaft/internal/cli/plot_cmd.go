package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

const plotLong = `Draws one picture, for the set of --set, else the fitted one that the stock file
names. --kind says which:

  speed      speed and gear over distance, the shift points numbered; with
             --against, several laps together and the time between them
  rpm        engine speed and gear over distance
  sawtooth   engine speed over road speed, gear by gear
  effort     force at the driven wheels and road load over road speed
  map-gear, map-speed, map-loss
             the circuit in plan by gear, speed or time lost
  loss       time lost against the ideal car over distance, by gear
  choice     lap time over the ratio of one gear (--gear), with the pairs of the
             stock
  engine     torque and power over engine speed
  stock      ratio chart: speed range of every pair of the stock

The picture is PNG, SVG or PDF, as the name of --output ends. Without --output
it is saved in the current folder as KIND-TRACK.png, the speed as lap-TRACK.png.

--all draws all of them, choice for every gear, into the folder --output with an
index.html to look through them; the folder is made if need be.`

// plotOptions are the flags of plot.
type plotOptions struct {
	lapOptions
	kindOf  plotKind
	picture choice
	gear    number
	against setList
	all     bool
}

func (a *app) plotCommand() *cobra.Command {
	var o plotOptions
	c := &cobra.Command{
		Use:   "plot",
		Short: "Pictures of a lap, a set, an engine, a stock",
		Long:  plotLong,
		Example: "  layshaft plot --track saltmere --output saltmere.svg\n" +
			"  layshaft plot --kind sawtooth --output set.pdf\n" +
			"  layshaft plot --against 13/38,17/36,20/33,22/30,24/28,27/27 -o two.png\n" +
			"  layshaft plot --format svg --output - > lap.svg\n" +
			"  layshaft plot --all --track quayside --output quayside-plots",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if o.all {
				return a.runGallery(c, &o)
			}
			return a.runPlot(c, &o)
		},
	}
	o.inputFlags(c)
	o.output.flags(c)
	f := c.Flags()
	o.kindOf = plotKind{choice{value: plotSpeed, words: plotKinds()}}
	f.Var(&o.kindOf, "kind", "which picture")
	for _, form := range chart.Formats() {
		o.picture.words = append(o.picture.words, string(form))
	}
	f.Var(&o.picture, "format", "kind of file; default as --output ends")
	o.gear = number{lo: 1, hi: maxGears, unit: "(a gear)", whole: true}
	f.Var(&o.gear, "gear", "gear of --kind choice; default the top gear that the lap uses")
	f.Var(&o.against, "against", "another set to compare with, as --set has them; up to 3 times")
	f.BoolVar(&o.all, "all", false, "all pictures, into the folder --output")
	o.unitFlags(c)
	return c
}

// check refuses flags that do not go together.
func (o *plotOptions) check(c *cobra.Command) error {
	kind := o.kindOf.value
	switch {
	case o.all && c.Flags().Changed("kind"):
		return badInput("--all draws every kind: leave --kind out")
	case o.all && len(o.against.sets) > 0:
		return badInput("--against goes with --kind speed, not with --all")
	case len(o.against.sets) > 0 && kind != plotSpeed:
		return badInput("--against goes with --kind speed, not %s", kind)
	case o.gear.given && (o.all || kind != plotChoice):
		return badInput("--gear goes with --kind choice")
	}
	return nil
}

// place settles where the picture goes and of what kind it is; screen: standard
// output is a terminal.
func (o *plotOptions) place(screen bool) (chart.Format, error) {
	form := o.picture.value
	if o.path == "" {
		if form == "" {
			form = string(chart.PNG)
		}
		o.path = o.fileName(o.kindOf.value, form)
		return chart.Format(form), nil
	}
	ext := strings.ToLower(strings.TrimPrefix(filepath.Ext(o.path), "."))
	if o.path == toStdout {
		ext = form
		if form == "" {
			ext = string(chart.SVG)
		}
	}
	of := choice{words: o.picture.words}
	if err := of.Set(ext); err != nil {
		return "", badInput("--output %s: a picture's name ends in .png, .svg or .pdf", o.path)
	}
	if o.path == toStdout && screen && ext != string(chart.SVG) {
		return "", badInput("--format %s: a terminal cannot show it: use -o FILE.%s, or let the shell redirect", ext, ext)
	}
	if form != "" && form != ext {
		return "", badInput("--format %s, but --output %s ends in .%s: make them agree", form, o.path, ext)
	}
	return chart.Format(ext), nil
}

// fileName is the name of a picture that was given none.
func (o *plotOptions) fileName(kind, ext string) string {
	word := kind
	if kind == plotSpeed {
		word = "lap"
	}
	return word + "-" + safeName(strings.TrimSuffix(baseName(o.trackRef), fileExt)) + "." + ext
}

// safeName is a word as part of a file's name on any system: letters, digits,
// dots, dashes and underlines.
func safeName(s string) string {
	out := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
			return r
		}
		return '-'
	}, s)
	if out = strings.Trim(out, "-."); out == "" {
		return "track"
	}
	return out
}

func (a *app) runPlot(c *cobra.Command, o *plotOptions) error {
	if err := o.check(c); err != nil {
		return err
	}
	form, err := o.place(a.screen)
	if err != nil {
		return err
	}
	if err := o.output.check(); err != nil {
		return err
	}
	d, err := o.drive(c.Context())
	if err != nil {
		return err
	}
	a.warn(&o.show, o.files.warnings...)
	figure, err := o.figure(c.Context(), d, o.kindOf.value)
	if err != nil {
		return err
	}
	if err := o.write(c, func(w io.Writer) error { return chart.Write(w, figure, form) }); err != nil {
		return err
	}
	if o.path != toStdout {
		_, err = fmt.Fprintf(c.OutOrStdout(), "saved %s\n", o.path)
	}
	return err
}

// us says whether miles and feet are wanted.
func (o *plotOptions) us() bool { return o.units.value == string(sheet.US) }
