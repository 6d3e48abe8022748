package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/units"

	"github.com/spf13/cobra"
)

const plotLong = `Draws one lap: speed over distance with the gears and every shift point
numbered, for the set of --set, else the fitted one that the stock file names.

The picture is PNG or SVG, as the name of --output ends. Without --output it is
saved in the current folder as lap-TRACK.png.`

// plotOptions are the flags of plot.
type plotOptions struct {
	lapOptions
	picture choice
}

func (a *app) plotCommand() *cobra.Command {
	var o plotOptions
	c := &cobra.Command{
		Use:   "plot",
		Short: "Picture of a lap: speed, gears and shift points",
		Long:  plotLong,
		Example: "  layshaft plot --track saltmere --output saltmere.svg\n" +
			"  layshaft plot --format svg --output - > lap.svg",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runPlot(c, &o) },
	}
	o.inputFlags(c)
	o.output.flags(c)
	o.picture = choice{words: []string{string(chart.PNG), string(chart.SVG)}, later: []string{"pdf"}}
	c.Flags().Var(&o.picture, "format", "kind of picture; default as --output ends")
	o.unitFlags(c)
	return c
}

// place settles where the picture goes and of what kind it is.
func (o *plotOptions) place() (chart.Format, error) {
	kind := o.picture.value
	if o.path == "" {
		if kind == "" {
			kind = string(chart.PNG)
		}
		track := strings.TrimSuffix(filepath.Base(o.trackRef), fileExt)
		o.path = "lap-" + track + "." + kind
		return chart.Format(kind), nil
	}
	ext := strings.ToLower(strings.TrimPrefix(filepath.Ext(o.path), "."))
	if o.path == toStdout {
		ext = kind
		if kind == "" {
			ext = string(chart.SVG)
		}
	}
	of := choice{words: o.picture.words, later: o.picture.later}
	if err := of.Set(ext); err != nil {
		if ext == "pdf" {
			return "", badInput("--output %s: PDF is not available yet: end the name in .png or .svg", o.path)
		}
		return "", badInput("--output %s: a picture's name ends in .png or .svg", o.path)
	}
	if kind != "" && kind != ext {
		return "", badInput("--format %s, but --output %s ends in .%s: make them agree", kind, o.path, ext)
	}
	return chart.Format(ext), nil
}

func (a *app) runPlot(c *cobra.Command, o *plotOptions) error {
	kind, err := o.place()
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
	figure := chart.Lap{
		Title:    fmt.Sprintf("%s, %s: lap %.3f s", titleOr(o.track.Title, o.track.Name), titleOr(o.car.Title, o.car.Name), d.lap.Time),
		Subtitle: o.subtitle(d),
		Track:    o.track,
		Lap:      d.lap,
		US:       o.units.value == string(sheet.US),
	}
	if err := o.write(c, func(w io.Writer) error { return figure.Write(w, kind) }); err != nil {
		return err
	}
	if o.path != toStdout {
		_, err = fmt.Fprintf(c.OutOrStdout(), "saved %s\n", o.path)
	}
	return err
}

// subtitle says what the lap was driven with.
func (o *plotOptions) subtitle(d *driven) string {
	words := make([]string, len(d.base.set.Pairs))
	for i, p := range d.base.set.Pairs {
		words[i] = fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
	}
	used := d.weather.Used
	text := fmt.Sprintf("layshaft/mainshaft %s, final drive %s; air %.3f kg/m³", strings.Join(words, " "), d.base.set.Final.Name, used.AirDensity)
	if used.WindSpeed > 0 {
		text += fmt.Sprintf(", wind %.0f km/h from %.0f°", used.WindSpeed*units.ToKmh, used.WindFrom*units.ToDeg)
	}
	if used.TowDrag != 1 || used.TowDownforce != 1 {
		text += fmt.Sprintf(", tow: drag x %.2f", used.TowDrag)
	}
	if len(d.weather.Settings.ShiftRPM) > 0 {
		text += ", the driver's own shift rpm"
	}
	return text + fmt.Sprintf(", fuel %.0f kg, grip x %.2f", used.Fuel, used.Grip)
}
