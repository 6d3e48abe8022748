package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/cmd/layshaft/internal/chart"
)

// lapChoice drives the laps with every pair that fits the gear.
func (o *plotOptions) lapChoice(ctx context.Context, d *driven, gear int) (chart.Figure, error) {
	set := d.base.set
	if gear < 1 || gear > len(set.Pairs) {
		return nil, badInput("--gear %d: the box has %d gears", gear, len(set.Pairs))
	}
	limits, err := o.limits(&o.files, nil)
	if err != nil {
		return nil, err
	}
	fit, _ := gearbox.Candidates(o.box, set.Cluster, o.stock, gear, limits.Allowed)
	if !slices.ContainsFunc(fit, func(p *gearbox.Pair) bool { return p.ID == set.Pairs[gear-1].ID }) {
		fit = append(fit, set.Pairs[gear-1])
		slices.SortStableFunc(fit, func(a, b *gearbox.Pair) int { return cmp.Compare(b.Ratio(), a.Ratio()) })
	}
	steps := o.steps()
	steps.Waived = o.wanted.Waived
	var options []chart.Option
	for _, p := range fit {
		trial := *set
		trial.Pairs = slices.Clone(set.Pairs)
		trial.Pairs[gear-1] = p
		one := chart.Option{
			Name: fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft), Ratio: p.Ratio(),
			Chosen:    p.ID == set.Pairs[gear-1].ID,
			Buildable: len(verify.Verify(o.box, o.stock, &trial, steps)) == 0,
		}
		same := func(x chart.Option) bool { return x.Name == one.Name }
		switch i := slices.IndexFunc(options, same); {
		case i < 0:
			options = append(options, one)
		default: // one of several pairs alike: what any of them can do, the picture shows
			options[i].Chosen = options[i].Chosen || one.Chosen
			options[i].Buildable = options[i].Buildable || one.Buildable
		}
	}
	f, err := chart.NewLapChoice(ctx, o.frame(d, fmt.Sprintf("choice of gear %d, lap %.3f s", gear, d.lap.Time)),
		d.model, set.TotalRatios(), gear, drives(set), options)
	if err != nil && ctx.Err() != nil {
		return nil, interrupted()
	}
	return f, err
}

// ratioChart lists the pairs of the stock by falling ratio, those alike in one row.
func (o *plotOptions) ratioChart(d *driven) (chart.Figure, error) {
	limits, err := o.limits(&o.files, nil)
	if err != nil {
		return nil, err
	}
	may := limits.Allowed
	if may == nil {
		may = gearbox.StockRules
	}
	var rows []chart.StockRow
	rest := drives(d.base.set)
	for i := range o.stock.Pairs {
		p := &o.stock.Pairs[i]
		if p.Layshaft == 0 || p.Mainshaft == 0 {
			continue // a loose gear without its mate
		}
		row := chart.StockRow{Name: fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft), Ratio: p.Ratio(), Total: p.Ratio() * rest}
		if may(p) == nil {
			row.Count = p.Count
		}
		for g, own := range d.base.set.Pairs {
			if own.ID == p.ID {
				row.Gear = g + 1
			}
		}
		at := slices.IndexFunc(rows, func(r chart.StockRow) bool { return r.Name == row.Name })
		if at < 0 {
			rows = append(rows, row)
			continue
		}
		rows[at].Count += row.Count
		rows[at].Gear = max(rows[at].Gear, row.Gear)
	}
	if len(rows) == 0 {
		return nil, errors.New("the stock holds no pair to draw")
	}
	slices.SortStableFunc(rows, func(a, b chart.StockRow) int { return cmp.Compare(b.Ratio, a.Ratio) })
	f := o.frame(d, "ratio chart of the stock")
	f.Title = titleOr(o.stock.Title, o.stockName()) + ": ratio chart"
	f.Caption = fmt.Sprintf("%s, final drive %s; least pulling %.0f rpm, latest shift %.0f rpm, limiter %.0f rpm; no. = how many may run", titleOr(o.car.Title, o.car.Name),
		d.base.set.Final.Name, o.car.Engine.PullingRPM, d.model.ShiftRPM(), d.model.LimiterRPM())
	return &chart.RatioChart{Frame: f, Model: d.model, PullingRPM: o.car.Engine.PullingRPM, Rows: rows}, nil
}
