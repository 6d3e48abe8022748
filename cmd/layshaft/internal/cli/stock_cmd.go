package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/units"
	"layshaft/sim"

	"github.com/spf13/cobra"
)

// stockOptions are the flags of stock list and stock chart.
type stockOptions struct {
	files
	rules
	show
	shiftRPM number
}

func (a *app) stockCommand() *cobra.Command {
	c := group(&cobra.Command{
		Use:     "stock",
		Short:   "The pairs that the team owns: list, ratio chart, pair store",
		Example: "  layshaft stock list",
	})
	c.AddCommand(a.stockList(), a.stockChart(), a.stockExport())
	for _, sub := range []*cobra.Command{
		a.stockNew(), a.stockImport(), a.stockAdd(), a.stockAmend(), a.stockMate(), a.stockMove(),
		a.stockFit(), a.stockUnfit(), a.stockBook(), a.stockInspect(), a.stockRetire(),
		a.stockUndo(), a.stockHistory(), a.stockCheck(), a.stockIssue(), a.stockSheets(),
	} {
		what := "--stock"
		if strings.Contains(sub.Use, " ") && sub.Name() != "history" {
			what = "name "
		}
		c.AddCommand(needs(sub, what))
	}
	return c
}

// needsFile marks commands that cannot run without a file of the user, with a
// word of what they say when it is missing.
const needsFile = "needs-file"

func needs(c *cobra.Command, says string) *cobra.Command {
	c.Annotations = map[string]string{needsFile: says}
	return c
}

func (a *app) stockList() *cobra.Command {
	var o stockOptions
	c := &cobra.Command{
		Use:     "list",
		Short:   "Every pair: teeth, ratio, count, life, whether it may run",
		Example: "  layshaft stock list --format json",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := o.output.check(); err != nil {
				return err
			}
			if err := o.loadStock(); err != nil {
				return err
			}
			o.files.warnings = append(o.files.warnings, o.stock.Warnings...)
			a.warn(&o.show, o.files.warnings...)
			if o.store != nil {
				return o.print(c, listUnits(&o))
			}
			return o.print(c, listPairs(&o.files))
		},
	}
	o.stockFlag(c)
	o.show.flags(c)
	return c
}

// sortedPairs gives the stock from the shortest gear to the longest.
func sortedPairs(s *gearbox.Stock) []*gearbox.Pair {
	out := make([]*gearbox.Pair, len(s.Pairs))
	for i := range s.Pairs {
		out[i] = &s.Pairs[i]
	}
	slices.SortStableFunc(out, gearbox.ByFallingRatio)
	return out
}

// state says in a word or two whether a pair may run.
func state(p *gearbox.Pair) string {
	switch {
	case p.Count < 1:
		return "none"
	case p.LifeM > 0 && p.RunM >= p.LifeM:
		return "out of life"
	case p.InspectionDue:
		return "inspect"
	}
	return "ready"
}

func listPairs(f *files) *sheet.Listing {
	l := &sheet.Listing{
		Title:    "Pairs of " + titleOr(f.stock.Title, f.stock.Name),
		NameHead: "pair",
		Columns: []sheet.Column{
			{Key: "layshaft_teeth", Head: "layshaft"},
			{Key: "mainshaft_teeth", Head: "mainshaft"},
			{Key: "mark"},
			{Key: "ratio", Head: "ratio", Decimals: 3},
			{Key: "pair_count", Head: "count"},
			{Key: "run_km", Head: "run km", Decimals: 0},
			{Key: "life_km", Head: "life km", Decimals: 0},
			{Key: "state", Head: "state"},
			{Key: "fitted_gear", Head: "fitted"},
			{Key: "group"},
			{Key: "fits"},
		},
		Warnings: f.warnings,
		Inputs:   only(f.used, "stock"),
	}
	fitted := map[string]int{}
	for i, id := range f.stock.Fitted {
		fitted[id] = i + 1
	}
	ready := 0
	for _, p := range sortedPairs(f.stock) {
		var gear, group, life any
		if g, ok := fitted[p.ID]; ok {
			gear = g
		}
		if p.Group != "" {
			group = p.Group
		}
		if p.LifeM > 0 {
			life = p.LifeM / 1000
		}
		if state(p) == "ready" {
			ready++
		}
		l.Items = append(l.Items, sheet.Item{Name: p.ID, Facts: []any{
			p.Layshaft, p.Mainshaft, p.Mark, p.Ratio(), p.Count, p.RunM / 1000, life, state(p), gear, group, p.Fits,
		}})
	}
	l.Notes = append(l.Notes, fmt.Sprintf("%d of %d pairs may run. Ratio = mainshaft teeth / layshaft teeth.", ready, len(f.stock.Pairs)))
	return l
}

const chartLong = `The ratio chart of the whole stock: for every pair that may run, the road speed
at the shift light, at the limiter and per 1,000 rpm, with this car's tyre
(its growth with speed and the drive slip are in) and this final drive.

The shift light of the chart is one engine speed for all gears: the limiter
less the car file's shift margin, or --shift-rpm.`

func (a *app) stockChart() *cobra.Command {
	var o stockOptions
	c := &cobra.Command{
		Use:     "chart",
		Short:   "The ratio chart of the whole stock",
		Long:    chartLong,
		Example: "  layshaft stock chart --units us",
		Args:    noArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return a.runChart(c, &o) },
	}
	o.carFlags(c)
	o.stockFlag(c)
	o.finalDrive = finalFixed
	c.Flags().Var(&textValue{&o.finalDrive, "DRIVE"}, "final-drive", "final drive: fixed (the one fitted) or its `NAME`")
	o.shiftRPM = number{lo: 1000, hi: 25000, unit: "rpm"}
	c.Flags().Var(&o.shiftRPM, "shift-rpm", "engine speed at the shift light; default the limiter less the shift margin")
	o.show.flags(c)
	return c
}

func (a *app) runChart(c *cobra.Command, o *stockOptions) error {
	if err := o.output.check(); err != nil {
		return err
	}
	// Speed over engine speed is a matter of car and ratio alone, but the
	// one place that knows it is the model, which wants a track and air.
	o.trackRef = defaultTrack
	if err := o.loadAll(); err != nil {
		return err
	}
	finals, err := o.finals(&o.files)
	if err != nil {
		return err
	}
	if len(finals) > 1 && o.finalDrive == finalAny {
		return badInput("--final-drive any: a chart is for one final drive: name it")
	}
	drops, err := o.drops(&o.files)
	if err != nil {
		return err
	}
	model, err := sim.New(o.car, o.track, sim.Conditions{AirDensity: 1.225, EngineFactor: 1, TowDrag: 1, TowDownforce: 1, Fuel: o.car.Fuel, Grip: 1}, nil)
	if err != nil {
		return asInput(err)
	}
	light := model.LimiterRPM() - o.car.Engine.ShiftMarginRPM
	if o.shiftRPM.given {
		light = o.shiftRPM.value
	}
	if o.box.ToothSum > 0 { // else loadAll has taken them over
		o.files.warnings = append(o.files.warnings, o.stock.Warnings...)
	}
	a.warn(&o.show, o.files.warnings...)
	return o.print(c, ratioChart(o, model, finals[0], drops, light))
}

// ratioChart makes the listing; the keys of the speeds say their unit, the
// heads the one that the paper shows.
func ratioChart(o *stockOptions, model *sim.Model, final *gearbox.Drive, drops []*gearbox.Drive, light float64) *sheet.Listing {
	beyond := final.Ratio()
	drives := fmt.Sprintf("final drive %s (%d/%d)", final.Name, final.Driving, final.Driven)
	if len(drops) > 0 {
		drop := prefer(drops)
		beyond *= drop.Ratio()
		drives += fmt.Sprintf(", drop pair %s (%d/%d)", drop.Name, drop.Driving, drop.Driven)
	}
	l := &sheet.Listing{
		Title:    "Ratio chart: " + titleOr(o.car.Title, o.car.Name) + ", " + titleOr(o.stock.Title, o.stock.Name),
		NameHead: "pair",
		Columns: []sheet.Column{
			{Key: "layshaft_teeth", Head: "layshaft"},
			{Key: "mainshaft_teeth", Head: "mainshaft"},
			{Key: "ratio", Head: "ratio", Decimals: 3},
			{Key: "overall_ratio", Head: "overall", Decimals: 3},
			{Key: "speed_at_light_kmh", Head: "at light", Decimals: 1},
			{Key: "speed_at_limiter_kmh", Head: "limiter", Decimals: 1},
			{Key: "speed_per_1000rpm_kmh", Head: "per 1,000", Decimals: 2},
			{Key: "fitted_gear", Head: "fitted"},
		},
		Warnings: o.files.warnings,
		Inputs:   only(o.used, "car", "gearbox", "stock"),
	}
	fitted := map[string]int{}
	for i, id := range o.stock.Fitted {
		fitted[id] = i + 1
	}
	unit, factor := "km/h", units.ToKmh
	if o.units.value == string(sheet.US) && o.format.value == formatText {
		unit, factor = "mph", units.ToMph // the JSON keys say km/h, whatever the paper shows
	}
	left := 0
	for _, p := range sortedPairs(o.stock) {
		if gearbox.StockRules(p) != nil {
			left++
			continue
		}
		total := p.Ratio() * beyond
		speed := func(rpm float64) float64 { return model.Speed(rpm, total) * factor }
		var gear any
		if g, ok := fitted[p.ID]; ok {
			gear = g
		}
		l.Items = append(l.Items, sheet.Item{Name: p.ID, Facts: []any{
			p.Layshaft, p.Mainshaft, p.Ratio(), total, speed(light), speed(model.LimiterRPM()), 1000 * speed(light) / light, gear,
		}})
	}
	l.Notes = append(l.Notes,
		fmt.Sprintf("Speeds in %s. Shift light %.0f rpm, limiter %.0f rpm, %s.", unit, math.Round(light), model.LimiterRPM(), drives),
		"Per 1,000 rpm: speed at the shift light / its rpm x 1,000; the tyre grows with speed, so it is less at lower speed.",
		fmt.Sprintf("Rolling radius %.0f mm at low speed: %s.", o.car.TyreRadius*1000, o.car.RadiusSource))
	if left > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("Left out: %d pairs that may not run (see stock list).", left))
	}
	return l
}
