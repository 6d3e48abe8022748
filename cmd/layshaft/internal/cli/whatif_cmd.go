package cli

import (
	"context"
	"fmt"
	"sort"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize/gearing"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

const whatifLong = `Answers "what would it gain to change a gear, and what must be stripped?". The
base is --set, else the fitted set that the stock file names. Answers are
ranked by lap time, with the gain against the base, the headroom in top, what
comes off and the minutes on the bench.

--change 6 looks at sixth alone; without --change or --keep every gear is
changed by itself. Conditions hold for the base as well as for the answers.`

// whatifOptions are the flags of whatif.
type whatifOptions struct {
	files
	weather
	rules
	effort
	show
	answers number
}

func (a *app) whatifCommand() *cobra.Command {
	var o whatifOptions
	c := &cobra.Command{
		Use:   "whatif",
		Short: "Ranked changes from a set: gain, headroom, bench work",
		Long:  whatifLong,
		Example: "  layshaft whatif --track saltmere --change 6\n" +
			"  layshaft whatif --track saltmere --change 6 --tow-drag-ratio 0.9",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runWhatif(c, &o) },
	}
	o.carFlags(c)
	o.trackFlag(c)
	o.stockFlag(c)
	o.searchFlags(c)
	o.headroom.value = -1 // shown with every answer, so that it need not hide any
	o.weather.flags(c)
	c.Flags().Var(&o.timeLimit, "time-limit", "end with an error after this time, such as 30s")
	o.show.flags(c)
	o.answers = number{value: 10, lo: 1, hi: 500, whole: true}
	c.Flags().Var(&o.answers, "answers", "answers to list at most")
	return c
}

func (a *app) runWhatif(c *cobra.Command, o *whatifOptions) error {
	if err := o.output.check(); err != nil {
		return err
	}
	if err := o.loadAll(); err != nil {
		return err
	}
	w, warnings, err := o.resolve(o.car, o.track)
	if err != nil {
		return err
	}
	o.files.warnings = append(o.files.warnings, warnings...)
	b, err := o.needSet(&o.files)
	if err != nil {
		return err
	}
	free, err := o.free(o.box.Gears)
	if err != nil {
		return err
	}
	limits, err := o.limits(&o.files, b)
	if err != nil {
		return err
	}
	limits.Keep = nil // which gears may change is said to Rank
	model, err := sim.New(o.car, o.track, w.Used, &w.Settings)
	if err != nil {
		return asInput(err)
	}
	baseLap := model.Lap(b.set.TotalRatios())
	if baseLap.Infeasible != "" {
		return infeasible("the base (%s) cannot drive this lap: %s", b.name, baseLap.Infeasible)
	}

	p := &gearing.Problem{Model: model, Box: o.box, Stock: o.stock, Limits: limits}
	ctx, cancel := o.within(c.Context())
	defer cancel()
	near, question, err := rank(ctx, p, b, free, int(o.answers.value))
	if err != nil {
		return noAnswer(c.Context(), err)
	}
	o.oddSums(b.set.Pairs...)
	for _, n := range near {
		o.oddSums(n.Set.Pairs...)
	}
	a.warn(&o.show, o.files.warnings...)
	in := sheet.WhatIfInput{
		Box: o.box, Stock: o.stock, Limits: limits, Question: o.question(question), BaseName: b.name,
		CarName: titleOr(o.car.Title, o.car.Name), TrackName: titleOr(o.track.Title, o.track.Name),
		LimiterRPM: model.LimiterRPM(), Weather: w,
		Base:  sheet.SetResult{Set: b.set, Lap: baseLap},
		Files: o.used, Warnings: o.files.warnings,
	}
	for _, n := range near {
		in.Answers = append(in.Answers, sheet.SetResult{Set: n.Set, Lap: model.Lap(n.Set.TotalRatios()), LapTime: n.LapTime})
	}
	report, err := sheet.BuildWhatIf(in)
	if err != nil {
		return err
	}
	return o.print(c, report)
}

// question adds the state of things to what may change.
func (o *whatifOptions) question(may string) string {
	if !o.asked() {
		return may
	}
	return may + ", in the conditions stated"
}

// rank lists the best sets in which only free gears differ from the base; nil
// = every gear by itself. It stops between two gears when the context ends.
func rank(ctx context.Context, p *gearing.Problem, b *base, free []int, n int) ([]gearing.Near, string, error) {
	if len(free) > 0 {
		near, err := gearing.Rank(ctx, p, b.set, free, n)
		return near, "only " + gearWords(free) + " may change", err
	}
	var all []gearing.Near
	seen := map[string]bool{}
	for g := range b.set.Pairs {
		near, err := gearing.Rank(ctx, p, b.set, []int{g + 1}, n)
		if err != nil {
			return nil, "", fmt.Errorf("gear %d: %w", g+1, err)
		}
		for _, one := range near {
			if key := setKey(one.Set); !seen[key] {
				seen[key] = true
				all = append(all, one)
			}
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].LapTime < all[j].LapTime })
	if len(all) > n {
		all = all[:n]
	}
	return all, "any one gear may change", nil
}

// setKey tells two sets apart.
func setKey(s *gearbox.Set) string {
	words := []string{s.Cluster.Name, s.Final.Name}
	if s.Drop != nil {
		words = append(words, s.Drop.Name)
	}
	for _, p := range s.Pairs {
		words = append(words, p.ID)
	}
	return strings.Join(words, "\x00")
}
