package cli

import (
	"context"
	"errors"
	"io"
	"math"

	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/units"
	"layshaft/optimize/gearing"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

const lapLong = `Simulates a lap with a given set: lap time, gears used, shift points, engine
speed at the throttle-on places. The set is --set, else the fitted one that the
stock file names. --kind says how it begins:

  flying   as it ends
  out      at the pit exit with the pit-lane limit
  start    at a standstill on the start line: the clutch slips in first gear at
           the car's launch rpm until the speeds meet
  restart  on the start line with --restart-speed-kmh, at full throttle
  run      --laps laps on end, of which --first says how the first begins; each
           is driven with the fuel that the ones before have left

Every lap ends on the start line. Shifts come where they cost the least time on
the lap; with --shift-rpm they come at the driver's own engine speeds, and no
gear is held past them but in a no-shift place. --limiter-time-s bounds the time
that a gear is held on the limiter: exit code 4 where the set cannot keep it.

--format csv is the trace for a spreadsheet: distance, time, speed, gear, engine
speed, what the car does, the corner and braking limit, the time lost; the
header names the units. --trace-step-m sets the distance between rows.`

// defaultLaps is the length of a run.
const defaultLaps = 10

// kindRun is the kind that is more than one lap.
const kindRun = "run"

// lapOptions are the flags of lap and of plot.
type lapOptions struct {
	files
	weather
	rules
	show
	trace     bool
	traceStep number // m
	lapKind
}

// lapKind holds the flags on how a lap begins.
type lapKind struct {
	kind, first  choice
	restartSpeed number
	laps         number
}

func (k *lapKind) flags(c *cobra.Command) {
	k.kind = choice{value: sim.Flying.String(), words: []string{
		sim.Flying.String(), sim.Out.String(), sim.Start.String(), sim.Restart.String(), kindRun,
	}}
	k.first = choice{words: []string{sim.Flying.String(), sim.Out.String(), sim.Start.String()}}
	k.restartSpeed = number{lo: 5, hi: 500, unit: "km/h"}
	k.laps = number{lo: 1, hi: sim.MostLaps, unit: "laps", whole: true}
	f := c.Flags()
	f.Var(&k.kind, "kind", "how the lap begins, or a run of laps")
	f.Var(&k.restartSpeed, "restart-speed-kmh", "speed on the start line of --kind restart, in km/h")
	f.Var(&k.laps, "laps", "number of laps of --kind run; default 10")
	f.Var(&k.first, "first", "how the first lap of --kind run begins; default flying")
}

// check refuses flags that do not go with the kind.
func (k *lapKind) check() error {
	restart, run := k.kind.value == sim.Restart.String(), k.kind.value == kindRun
	switch {
	case restart && !k.restartSpeed.given:
		return badInput("--kind restart: add --restart-speed-kmh, the speed on the start line")
	case !restart && k.restartSpeed.given:
		return badInput("--restart-speed-kmh goes with --kind restart")
	case !run && k.laps.given:
		return badInput("--laps goes with --kind run")
	case !run && k.first.value != "":
		return badInput("--first goes with --kind run")
	}
	return nil
}

// kindOf is the kind that a word of --kind or --first names; flying for none.
func kindOf(word string) sim.Kind {
	for _, k := range []sim.Kind{sim.Out, sim.Start, sim.Restart} {
		if word == k.String() {
			return k
		}
	}
	return sim.Flying
}

func (o *lapOptions) inputFlags(c *cobra.Command) {
	o.carFlags(c)
	o.trackFlag(c)
	o.stockFlag(c)
	o.setFlag(c, &o.files)
	o.weather.flags(c)
}

func (a *app) lapCommand() *cobra.Command {
	var o lapOptions
	c := &cobra.Command{
		Use:   "lap",
		Short: "One lap with a given set, or a run of laps",
		Long:  lapLong,
		Example: "  layshaft lap --track quayside\n" +
			"  layshaft lap --format csv --trace-step-m 5 > lap.csv\n" +
			"  layshaft lap --track saltmere --tow-drag-ratio 0.9 --format json --trace\n" +
			"  layshaft lap --track quayside --shift-rpm 8900,8850,8800,8800,8800\n" +
			"  layshaft lap --kind restart --restart-speed-kmh 80\n" +
			"  layshaft lap --kind run --laps 5 --first start",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runLap(c, &o) },
	}
	o.inputFlags(c)
	o.lapKind.flags(c)
	o.show.flags(c)
	o.format = choice{value: formatText, words: []string{formatText, "json", formatCSV}, later: []string{formatHTML, formatPDF}, elsewhere: "is not a form of this answer"}
	o.traceStep = number{lo: 0.1, hi: 1000, unit: "m"}
	c.Flags().Var(&o.traceStep, "trace-step-m", "distance between the rows of --format csv, in m; default every sample of the lap")
	c.Flags().BoolVar(&o.trace, "trace", false, "add every sample of the lap; of a run, of its quickest lap")
	return c
}

func (a *app) runLap(c *cobra.Command, o *lapOptions) error {
	if o.traceStep.given && o.format.value != formatCSV {
		return badInput("--trace-step-m goes with --format csv")
	}
	if err := errors.Join(o.output.check(), o.lapKind.check()); err != nil {
		return err
	}
	d, err := o.drive(c.Context())
	if err != nil {
		return err
	}
	a.warn(&o.show, o.files.warnings...)
	changes, err := o.changes(d)
	if err != nil {
		return err
	}
	loss, err := o.loss(d)
	if err != nil {
		return err
	}
	report, err := sheet.BuildLap(sheet.LapInput{
		CarName: titleOr(o.car.Title, o.car.Name), TrackName: titleOr(o.track.Title, o.track.Name),
		Set: d.base.set, SetName: d.base.name, Lap: d.lap, Stint: d.stint,
		FuelConsumption: o.car.Engine.FuelConsumption,
		LimiterRPM:      d.model.LimiterRPM(), PullingRPM: o.car.Engine.PullingRPM,
		ShiftMarginRPM: o.car.Engine.ShiftMarginRPM, Sensitivity: changes, Loss: loss,
		Weather: d.weather, Trace: o.trace || o.format.value == formatCSV, Files: o.used, Warnings: o.files.warnings,
	})
	if err != nil {
		return err
	}
	if o.format.value == formatCSV {
		return o.write(c, func(w io.Writer) error { return report.TraceCSV(w, o.traceStep.value) })
	}
	return o.print(c, report)
}

// driven is one lap, or a run of laps, and what it came from.
type driven struct {
	base    *base
	model   *sim.Model
	lap     *sim.Lap   // nil for a run
	stint   *sim.Stint // nil for one lap
	weather sheet.Weather
}

// drive loads the inputs and simulates the lap, a flying one where no kind is
// asked for; a set that cannot drive it ends with the place and the numbers.
func (o *lapOptions) drive(ctx context.Context) (*driven, error) {
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
	model, err := sim.New(o.car, o.track, w.Used, &w.Settings)
	if err != nil {
		return nil, asInput(err)
	}
	d := &driven{base: b, model: model, weather: w}
	if err := o.simulate(ctx, d); err != nil {
		return nil, err
	}
	o.oddSums(b.set.Pairs...)
	return d, nil
}

// simulate fills in the lap or the run.
func (o *lapOptions) simulate(ctx context.Context, d *driven) error {
	total := d.base.set.TotalRatios()
	if o.kind.value == kindRun {
		laps := defaultLaps
		if o.laps.given {
			laps = int(o.laps.value)
		}
		stint, err := d.model.Stint(ctx, total, laps, kindOf(o.first.value))
		switch {
		case ctx.Err() != nil:
			return interrupted()
		case err != nil:
			return asInput(err)
		case stint.Infeasible != "":
			return infeasible("the set cannot drive this run: %s", stint.Infeasible)
		}
		d.stint = stint
		return nil
	}
	switch kindOf(o.kind.value) {
	case sim.Out:
		d.lap = d.model.OutLap(total)
	case sim.Start:
		d.lap = d.model.StartLap(total)
	case sim.Restart:
		if limit := d.model.RestartLimit() * units.ToKmh; o.restartSpeed.value > limit {
			return badInput("--restart-speed-kmh: %s is above the corner and braking limit of %.1f km/h on the start line, %s: give less",
				plain(o.restartSpeed.value), math.Floor(10*limit)/10, o.track.Place(0))
		}
		d.lap = d.model.RestartLap(total, o.restartSpeed.value*units.FromKmh)
	default:
		d.lap = d.model.Lap(total)
	}
	if d.lap.Infeasible != "" {
		return infeasible("the set cannot drive this lap: %s", d.lap.Infeasible)
	}
	return nil
}

// changes are what the time of the lap depends on beside the set; nil for a run.
func (o *lapOptions) changes(d *driven) (*sim.Sensitivity, error) {
	if d.lap == nil {
		return nil, nil
	}
	s, err := sim.SensitivitiesOf(d.model, d.base.set.TotalRatios(), d.lap.Kind, o.restartSpeed.value*units.FromKmh)
	if err != nil {
		return nil, err
	}
	return &s, nil
}

// loss is the lap's account against the ideal car of all pairs that may stand in a
// set by the rules of the box, and of the set's own; none of a run.
func (o *lapOptions) loss(d *driven) (sheet.LossInput, error) {
	if d.lap == nil {
		return sheet.LossInput{}, nil
	}
	limits, err := o.limits(&o.files, nil)
	if err != nil {
		return sheet.LossInput{}, err
	}
	p := gearing.Problem{Model: d.model, Box: o.box, Stock: o.stock, Limits: limits}
	ideal, err := p.Ideal(d.base.set)
	if err != nil {
		return sheet.LossInput{}, err
	}
	return lossInput(d.model, d.lap, ideal), nil
}

// lossInput makes the account of a lap, or says why there is none.
func lossInput(m *sim.Model, lap *sim.Lap, ideal *sim.Ideal) sheet.LossInput {
	account, err := m.LossAccount(lap, ideal)
	if err != nil {
		return sheet.LossInput{Why: err.Error()}
	}
	return sheet.LossInput{Account: account, Choices: ideal.Choices()}
}

func titleOr(title, name string) string {
	if title == "" {
		return name
	}
	return title
}
