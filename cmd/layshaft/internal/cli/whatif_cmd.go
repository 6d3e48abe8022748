package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize/gearing"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

const whatifLong = `Answers "what would it gain to change a gear, and what must be stripped?". The
base is --set, else the fitted set that the stock file names. Answers are
ranked by lap time, with the gain against the base, the headroom in top, the
time on the limiter, the rpm where full throttle goes on, what comes off, the
minutes on the bench and where the pairs lie.

--change 6 looks at sixth alone; without a word on gears every gear is changed
by itself. The sets of three gears and more are thousands: whatif then wants
--time-limit, and 'layshaft sheet --change 4,5,6' proves the best of them.

--taller 6 and --shorter 2 are a driver's wishes: taller is a smaller ratio
number, fewer rpm at the same speed. 6:2% is a ratio that differs by about 2 %;
6:150rpm about 150 rpm less at the speed at which the base lap turns the gear
highest (at its limiter where the lap never engages it). About is from half to
double of it, and never the other way: the four nearest for each gear asked for
are shown, with how far each is from the wish. Other gears stay, unless
--change or --keep sets them free too.

Conditions hold for the base as well as for the answers. Where some are stated,
the base's lap without them is shown too, and what each answer gains there.

--if-bought 23/27 puts a pair that the stock does not hold among the answers,
labelled NOT IN STOCK: would it be worth buying? It is taken to fit every loose
slot of the box; 23/27:narrow is made for one kind.

Exit code 4: no pair does what --taller or --shorter asks for; the message
names the nearest in that direction and what forbids it.`

// whatifOptions are the flags of whatif.
type whatifOptions struct {
	files
	weather
	rules
	effort
	show
	taller, shorter wishes
	ifBought        boughtList
	answers         number
}

func (a *app) whatifCommand() *cobra.Command {
	var o whatifOptions
	c := &cobra.Command{
		Use:   "whatif",
		Short: "Ranked changes from a set: gain, headroom, bench work",
		Long:  whatifLong,
		Example: "  layshaft whatif --track saltmere --change 6\n" +
			"  layshaft whatif --track saltmere --taller 6:2%\n" +
			"  layshaft whatif --track saltmere --change 6 --tow-drag-ratio 0.9",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runWhatif(c, &o) },
	}
	o.carFlags(c)
	o.trackFlag(c)
	o.stockFlag(c)
	o.searchFlags(c, &o.files)
	o.headroom.value = -1 // shown with every answer, so that it need not hide any
	c.Flags().Lookup("headroom-rpm").Usage = "rpm that top gear keeps below the limiter on the answer's own lap; default -1 = no rule"
	o.shorter.taller, o.taller.taller = false, true
	c.Flags().Var(&o.taller, "taller", "gears to be taller, by any amount or by about so much: 6, 6:2%, 5:2%,6:150rpm")
	c.Flags().Var(&o.shorter, "shorter", "gears to be shorter, in the same way")
	c.Flags().Var(&o.ifBought, "if-bought", "pairs that the stock does not hold, layshaft/mainshaft teeth: 23/27, or 23/27:KIND for one kind of slot")
	o.weather.flags(c)
	c.Flags().Var(&o.timeLimit, "time-limit", "end with an error after this time, such as 30s; also lets thousands of sets be lapped")
	o.show.flags(c)
	o.answers = number{value: 10, lo: 1, hi: 500, whole: true}
	c.Flags().Var(&o.answers, "answers", "answers to list at most; pairs with which the lap is the same count as one")
	return c
}

func (a *app) runWhatif(c *cobra.Command, o *whatifOptions) error {
	if err := o.output.check(); err != nil {
		return err
	}
	q, w, err := o.ask()
	if err != nil {
		return err
	}
	usual := o.unstated() // works while the answers are looked for
	line := a.progress(o.quiet)
	defer line.wipe()
	ctx, cancel := o.within(c.Context())
	defer cancel()
	found, err := q.answer(ctx, int(o.answers.value), o.timeLimit.d > 0, line)
	if err != nil {
		return noAnswer(c.Context(), err)
	}
	in := sheet.WhatIfInput{
		Box: o.box, Stock: q.p.Stock, Limits: q.p.Limits, Question: o.question(q), BaseName: q.b.name,
		CarName: titleOr(o.car.Title, o.car.Name), TrackName: titleOr(o.track.Title, o.track.Name),
		LimiterRPM: q.p.Model.LimiterRPM(), Weather: w, Place: o.track.Place,
		Base:    sheet.SetResult{Set: q.b.set, Lap: q.lap},
		Answers: found.answers, Refused: found.refused, NotInStock: q.bought,
		Files: o.used,
	}
	for i := range q.targets {
		in.Wishes = append(in.Wishes, q.targets[i].shown())
	}
	if err := usual.compare(&in); err != nil {
		return err
	}
	o.oddSums(q.b.set.Pairs...)
	for _, n := range found.answers {
		o.oddSums(n.Set.Pairs...)
	}
	in.Warnings = o.files.warnings
	line.wipe()
	if c.Context().Err() != nil {
		return interrupted()
	}
	report, err := sheet.BuildWhatIf(in)
	if err != nil {
		return err
	}
	a.warn(&o.show, o.files.warnings...)
	return o.print(c, report)
}

// ask loads everything and states the question.
func (o *whatifOptions) ask() (*asking, sheet.Weather, error) {
	none := sheet.Weather{}
	if err := o.loadAll(); err != nil {
		return nil, none, err
	}
	w, warnings, err := o.resolve(o.car, o.track)
	if err != nil {
		return nil, none, err
	}
	o.files.warnings = append(o.files.warnings, warnings...)
	b, err := o.needSet(&o.files) // out of the stock alone: what might be bought is not in the car
	if err != nil {
		return nil, none, err
	}
	wished, err := o.wished()
	if err != nil {
		return nil, none, err
	}
	free, err := o.free(o.box.Gears)
	if err != nil {
		return nil, none, err
	}
	for _, one := range wished {
		if !slices.Contains(free, one.gear) {
			free = append(free, one.gear)
		}
	}
	slices.Sort(free)
	limits, err := o.limits(&o.files, b)
	if err != nil {
		return nil, none, err
	}
	limits.Keep = nil // which gears may change is said to Sets
	stock, bought, err := o.ifBought.extend(&o.files)
	if err != nil {
		return nil, none, err
	}
	model, err := sim.New(o.car, o.track, w.Used, &w.Settings)
	if err != nil {
		return nil, none, asInput(err)
	}
	q := &asking{
		p: &gearing.Problem{Model: model, Box: o.box, Stock: stock, Limits: limits},
		b: b, lap: model.LapOnly(b.set.TotalRatios()), free: free, bought: bought,
	}
	if q.lap.Infeasible != "" {
		return nil, none, infeasible("the base (%s) cannot drive this lap: %s\nGive another base with --set; 'layshaft sheet' finds one", b.name, q.lap.Infeasible)
	}
	for _, one := range wished {
		q.targets = append(q.targets, newTarget(one, b.set, q.lap, model.LimiterRPM()))
	}
	return q, w, nil
}

// question words what is asked, and the state of things.
func (o *whatifOptions) question(q *asking) string {
	var text string
	for i := range q.targets {
		if i > 0 {
			text += ", "
		}
		text += q.targets[i].ask()
	}
	others := slices.DeleteFunc(slices.Clone(q.free), q.wishes)
	switch {
	case text == "" && len(q.free) == 0:
		text = "any one gear may change"
	case text == "":
		text = "only " + gearWords(q.free) + " may change"
	case len(others) > 0:
		text += "; " + gearWords(others) + " may change with it"
	}
	if len(q.bought) > 0 {
		text += "; might be bought: " + strings.Join(q.bought, ", ")
	}
	if o.asked() {
		text += ", in the conditions stated"
	}
	return text
}

// ask words the wish.
func (t *target) ask() string {
	text := fmt.Sprintf("gear %d %s", t.gear, t.direction())
	switch t.unit {
	case "%":
		text += fmt.Sprintf(" by about %s %%", plain(t.amount))
	case "rpm":
		text += fmt.Sprintf(" by about %s rpm", plain(t.amount))
	}
	return text
}

// usual is the lap without the conditions that were stated, made on the side.
type usual struct {
	done    chan struct{} // nil = none were stated
	model   *sim.Model
	weather sheet.Weather
	err     error
}

// unstated begins to prepare the same car and track with nothing stated: the air of
// the standard, calm, alone, the file's fuel and map, grip 1, the quickest shifts.
func (o *whatifOptions) unstated() *usual {
	if !o.asked() {
		return &usual{}
	}
	u := &usual{done: make(chan struct{})}
	go func() {
		defer close(u.done)
		var nothing weather
		nothing.flags(&cobra.Command{}) // gives the defaults
		if u.weather, _, u.err = nothing.resolve(o.car, o.track); u.err == nil {
			u.model, u.err = sim.New(o.car, o.track, u.weather.Used, &u.weather.Settings)
		}
	}()
	return u
}

// compare adds the laps without the conditions to a report.
func (u *usual) compare(in *sheet.WhatIfInput) error {
	if u.done == nil {
		return nil
	}
	<-u.done
	if u.err != nil {
		return asInput(u.err)
	}
	in.Unstated = &sheet.Unstated{Lap: u.model.LapOnly(in.Base.Set.TotalRatios()), Weather: u.weather, LimiterRPM: u.model.LimiterRPM()}
	solver := u.model.NewSolver()
	for _, list := range [][]sheet.SetResult{in.Answers, in.Refused} {
		for i := range list {
			list[i].UnstatedTime = solver.LapTime(list[i].Set.TotalRatios())
		}
	}
	return nil
}

// rank is the flying laps of all the sets, best first.
func rank(ctx context.Context, p *gearing.Problem, sets []*gearbox.Set, line *progress) ([]gearing.Near, error) {
	line.set(fmt.Sprintf("%d sets to lap", len(sets)))
	return gearing.LapAll(ctx, p, sets, func(done int) { line.set(fmt.Sprintf("%d of %d sets lapped", done, len(sets))) })
}
