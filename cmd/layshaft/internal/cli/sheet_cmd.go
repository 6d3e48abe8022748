package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"layshaft/cars/gearbox/store"
	"layshaft/cars/gearbox/verify"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize"
	"layshaft/optimize/gearing"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

const sheetLong = `Chooses the pair for every gear out of the stock so that the computed lap takes
the least time, proves it, and prints the ratio sheet: gear table, build table
in stack order, build order part by part, what comes off, wheel-turn counts,
predicted lap, top gear in a tow and in the wind, pairs to have ready.

Sets within --gap-ms of the best lap count as equal. They are told apart by the
out lap; within the gap of that by fewer pairs changed from the fitted set, less
bench time, more life left, evener steps; at last by stock order.

With --set the sheet is for your own set: nothing is searched. With --set or a
fitted set in the stock, --keep and --change search from that set.

The model is a point mass on a given line. Left out: line choice, tyre
temperature and wear, lateral load transfer, transient yaw, crosswind,
differential, brake balance, boost recovery after a shift, driver error.

Exit code 3: the set is buildable but not proved best (time limit, Ctrl-C, or
bounds too wide).
Exit code 4: nothing in the stock satisfies the limits; the message names the
limits that clash and the smallest changes that would help.`

// sheetOptions are the flags of sheet.
type sheetOptions struct {
	files
	weather
	rules
	effort
	show
	event    string
	session  string
	revision number
	issuedBy string
}

func (a *app) sheetCommand() *cobra.Command {
	var o sheetOptions
	c := &cobra.Command{
		Use:   "sheet",
		Short: "Choose the set and print the ratio sheet",
		Long:  sheetLong + "\n" + paperHelp,
		Example: "  layshaft sheet\n" +
			"  layshaft sheet --track quayside --wind-kmh 20 --wind-from-deg 240\n" +
			"  layshaft sheet --change 6 --format json\n" +
			"  layshaft sheet --change 6 --format pdf > bench.pdf",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runSheet(c, &o) },
	}
	o.carFlags(c)
	o.trackFlag(c)
	o.stockFlag(c)
	o.searchFlags(c, &o.files)
	o.weather.flags(c)
	o.effort.flags(c)
	o.show.flags(c)
	o.paperFlags(c, formatCSV, formatHTML, formatPDF)
	o.allowFlags(c)
	c.Flags().Var(&textValue{&o.event, "TEXT"}, "event", "what the sheet is for, printed at its head")
	c.Flags().Var(&textValue{&o.session, "TEXT"}, "session", "part of the event, printed at its head")
	o.revision = number{lo: 1, hi: 9999, whole: true}
	c.Flags().Var(&o.revision, "revision", "number under which the sheet is issued, from 1 for each event and session")
	c.Flags().Var(&textValue{&o.issuedBy, "NAME"}, "issued-by", "who answers for the sheet")
	return c
}

func (a *app) runSheet(c *cobra.Command, o *sheetOptions) error {
	if err := errors.Join(o.show.check(a), o.effort.check()); err != nil {
		return asInput(err)
	}
	p, w, b, err := o.problem()
	if err != nil {
		return err
	}
	a.warn(&o.show, o.files.warnings...)

	line := a.progress(o.quiet)
	defer line.wipe()
	ans, took, err := a.answer(c.Context(), o, p, b, line)
	if err != nil {
		return err
	}
	var report *sheet.Sheet
	if ans.Set == nil {
		err = noSet(ans)
	} else {
		line.set("checking the set, other conditions and the pairs next to it")
		report, err = a.buildSheet(c.Context(), o, p, w, ans)
	}
	if err == nil {
		err = o.sheetFigures(report, p.Model, ans)
	}
	line.wipe()
	if ans.Status != optimize.Given {
		if err := o.report(a, o.quiet, ans, took); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	if err := o.print(c, report); err != nil {
		return err
	}
	if ans.Status == optimize.Stopped {
		why := o.unfinished(ans.Open)
		if len(ans.Stages) > 0 && ans.Stages[0].Proved {
			return unproved("the %s is proved, what decides between equal ones is not: %s; the sheet shows the best set so far", ans.Stages[0].Name, why)
		}
		return unproved("not proved: %s; the sheet shows the best set so far", why)
	}
	return nil
}

// problem loads everything and states the question; the base set is nil when
// there is none or none is needed.
func (o *sheetOptions) problem() (*gearing.Problem, sheet.Weather, *base, error) {
	none := sheet.Weather{}
	if err := o.loadAll(); err != nil {
		return nil, none, nil, err
	}
	if err := o.freshRevision(); err != nil {
		return nil, none, nil, err
	}
	w, warnings, err := o.resolve(o.car, o.track)
	if err != nil {
		return nil, none, nil, err
	}
	o.files.warnings = append(o.files.warnings, warnings...)
	var b *base
	if len(o.set.words) > 0 || len(o.keep.list) > 0 || len(o.change.list) > 0 {
		limits := o.steps()
		if len(o.keep.list)+len(o.change.list) > 0 {
			// Asked of the answer, not of what it starts from.
			limits = verify.Limits{Waived: inTheCar(o.stock)}
		}
		if b, err = o.ownSet(&o.files, limits); err != nil {
			return nil, none, nil, err
		}
	}
	if b == nil {
		o.files.warnings = append(o.files.warnings, fittedOut(o.stock)...)
	}
	limits, err := o.limits(&o.files, b)
	if err != nil {
		return nil, none, nil, err
	}
	model, err := sim.New(o.car, o.track, w.Used, &w.Settings)
	if err != nil {
		return nil, none, nil, asInput(err)
	}
	return &gearing.Problem{Model: model, Box: o.box, Stock: o.stock, Limits: limits}, w, b, nil
}

// answer searches, or evaluates the engineer's own set.
func (a *app) answer(parent context.Context, o *sheetOptions, p *gearing.Problem, b *base, line *progress) (*gearing.Answer, time.Duration, error) {
	ctx, cancel := o.within(parent)
	defer cancel()
	settings := o.settings(line)
	line.set(fmt.Sprintf("preparing %d pairs", len(o.stock.Pairs)))
	began := time.Now()
	var ans *gearing.Answer
	var err error
	if b != nil && len(o.keep.list)+len(o.change.list) == 0 {
		ans, err = gearing.Evaluate(ctx, p, b.set, settings)
	} else {
		ans, err = gearing.Search(ctx, p, settings)
	}
	if err != nil {
		return nil, 0, noAnswer(parent, err)
	}
	return ans, time.Since(began), nil
}

// noSet ends the program with what leaves no set and what would help.
func noSet(ans *gearing.Answer) error {
	text := "no buildable set: " + ans.Infeasible
	if ans.Relaxation != "" {
		text += "\n" + ans.Relaxation
	}
	return infeasible("%s", text)
}

// buildSheet adds what the sheet shows beside the answer. It takes a second or
// two, which an interrupt does not cut short: the sheet is whole.
func (a *app) buildSheet(ctx context.Context, o *sheetOptions, p *gearing.Problem, w sheet.Weather, ans *gearing.Answer) (*sheet.Sheet, error) {
	in := sheet.Input{
		Car: o.car, Track: o.track, Stock: o.stock, Box: o.box,
		Answer: ans, Limits: p.Limits,
		Speed: p.Model.Speed, LimiterRPM: p.Model.LimiterRPM(),
		Weather: w, Files: o.used, Event: o.event, Date: o.date.String(),
		Session: o.session, Revision: int(o.revision.value), IssuedBy: o.issuedBy,
		Waived: o.wanted.Waived, PairsFor: o.pairsFor(),
		InCar:    o.carName(),
		Warnings: o.files.warnings,
	}
	if ans.Lap != nil && ans.Lap.Infeasible == "" {
		var err error
		if in.TopGear, in.Alternates, err = beside(ctx, &o.files, p, &w.Settings, ans); err != nil {
			return nil, err
		}
		changes, err := sim.Sensitivities(p.Model, ans.Set.TotalRatios())
		if err != nil {
			return nil, err
		}
		in.Sensitivity = &changes
		in.Loss = lossInput(p.Model, ans.Lap, ans.Ideal)
		in.Duties = p.Model.Duties(ans.Set.TotalRatios())
	}
	if err := o.auditUnits(ans.Set); err != nil {
		return nil, err
	}
	report, err := sheet.Build(in)
	if errors.Is(err, sheet.ErrCannotDrive) || errors.Is(err, sheet.ErrNoSet) {
		return nil, infeasible("%s", err)
	}
	if err != nil {
		return nil, fmt.Errorf("the sheet failed its own check and is not printed:\n%w", err)
	}
	return report, nil
}

// freshRevision refuses a number that the pair store has seen: two sheets of one
// number are how a wrong gear gets into a car.
func (o *sheetOptions) freshRevision() error {
	if o.store == nil || !o.revision.given {
		return nil
	}
	one := store.Issued{Car: o.wanted.Car, Track: titleOr(o.track.Title, o.track.Name), Event: o.event, Session: o.session, Revision: int(o.revision.value)}
	last := o.store.Known(&one)
	if later := o.store.Replaced(&one); later != nil {
		last = later
	}
	if last != nil {
		return badInput("--revision %s: there is %s, for this car, track, event and session: take %d", &o.revision, last.Name(), last.Revision+1)
	}
	return nil
}
