package cli

import (
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

const lapLong = `Simulates one flying lap with a given set: lap time, gears used, shift points,
engine speed at the throttle-on places. The set is --set, else the fitted one
that the stock file names.

Shifts come at the loss-free crossing of tractive effort, with hold-or-shift
before a braking point.`

// lapOptions are the flags of lap and of plot.
type lapOptions struct {
	files
	weather
	rules
	show
	trace bool
}

func (o *lapOptions) inputFlags(c *cobra.Command) {
	o.carFlags(c)
	o.trackFlag(c)
	o.stockFlag(c)
	o.setFlag(c)
	o.weather.flags(c)
}

func (a *app) lapCommand() *cobra.Command {
	var o lapOptions
	c := &cobra.Command{
		Use:   "lap",
		Short: "One lap with a given set",
		Long:  lapLong,
		Example: "  layshaft lap --track quayside\n" +
			"  layshaft lap --track saltmere --tow-drag-ratio 0.9 --format json --trace",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runLap(c, &o) },
	}
	o.inputFlags(c)
	o.show.flags(c)
	c.Flags().BoolVar(&o.trace, "trace", false, "add every sample of the lap")
	return c
}

func (a *app) runLap(c *cobra.Command, o *lapOptions) error {
	if err := o.output.check(); err != nil {
		return err
	}
	d, err := o.drive()
	if err != nil {
		return err
	}
	a.warn(&o.show, o.files.warnings...)
	report, err := sheet.BuildLap(sheet.LapInput{
		CarName: titleOr(o.car.Title, o.car.Name), TrackName: titleOr(o.track.Title, o.track.Name),
		Set: d.base.set, SetName: d.base.name, Lap: d.lap,
		LimiterRPM: d.model.LimiterRPM(), PullingRPM: o.car.Engine.PullingRPM,
		Weather: d.weather, Trace: o.trace, Files: o.used, Warnings: o.files.warnings,
	})
	if err != nil {
		return err
	}
	return o.print(c, report)
}

// driven is one lap and what it came from.
type driven struct {
	base    *base
	model   *sim.Model
	lap     *sim.Lap
	weather sheet.Weather
}

// drive loads the inputs and simulates the lap; a set that cannot drive it
// ends with the place and the numbers.
func (o *lapOptions) drive() (*driven, error) {
	if err := o.loadAll(); err != nil {
		return nil, err
	}
	w, warnings, err := o.resolve(o.car, o.track)
	if err != nil {
		return nil, err
	}
	o.files.warnings = append(o.files.warnings, warnings...)
	b, err := o.needSet(&o.files)
	if err != nil {
		return nil, err
	}
	model, err := sim.New(o.car, o.track, w.Used, nil)
	if err != nil {
		return nil, asInput(err)
	}
	lap := model.Lap(b.set.TotalRatios())
	if lap.Infeasible != "" {
		return nil, infeasible("the set cannot drive this lap: %s", lap.Infeasible)
	}
	o.oddSums(b.set.Pairs...)
	return &driven{base: b, model: model, lap: lap, weather: w}, nil
}

func titleOr(title, name string) string {
	if title == "" {
		return name
	}
	return title
}
