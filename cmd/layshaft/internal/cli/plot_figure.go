package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/internal/units"
	"layshaft/sim"

	"github.com/spf13/pflag"
)

// Kinds of pictures.
const (
	plotSpeed    = "speed"
	plotRPM      = "rpm"
	plotSawtooth = "sawtooth"
	plotEffort   = "effort"
	plotMapGear  = "map-gear"
	plotMapSpeed = "map-speed"
	plotMapLoss  = "map-loss"
	plotLoss     = "loss"
	plotChoice   = "choice"
	plotEngine   = "engine"
	plotStock    = "stock"
)

// plotKinds are all of them, in the order of a gallery.
func plotKinds() []string {
	return []string{plotSpeed, plotRPM, plotSawtooth, plotEffort, plotMapGear, plotMapSpeed, plotMapLoss,
		plotLoss, plotChoice, plotEngine, plotStock}
}

// plotKind is a choice with more words than the line of a flag holds.
type plotKind struct{ choice }

// Type is the placeholder in the help; the text above it lists the words.
func (*plotKind) Type() string { return "KIND" }

// setList is a list of sets, one for each time that the flag is given.
type setList struct{ sets []pairList }

var _ pflag.Value = (*setList)(nil)

// Set adds a set.
func (l *setList) Set(s string) error {
	if len(l.sets) >= chart.MostLaps-1 {
		return fmt.Errorf("more than %d sets beside the first: leave some out", chart.MostLaps-1)
	}
	var p pairList
	if err := p.Set(s); err != nil {
		return err
	}
	l.sets = append(l.sets, p)
	return nil
}

func (l *setList) String() string { return "" }

// Type is the placeholder in the help.
func (l *setList) Type() string { return "PAIRS" }

// figure makes the picture of a kind.
func (o *plotOptions) figure(ctx context.Context, d *driven, kind string) (chart.Figure, error) {
	switch kind {
	case plotRPM:
		return &chart.Revs{
			Frame: o.frame(d, "engine speed"), Track: o.track, Lap: d.lap,
			PullingRPM: o.car.Engine.PullingRPM, ShiftRPM: d.model.ShiftRPM(), LimiterRPM: d.model.LimiterRPM(),
			OverRevRPM: o.car.Engine.OverRevRPM,
		}, nil
	case plotSawtooth:
		return &chart.Sawtooth{Frame: o.frame(d, "engine speed over road speed"), Set: chartSet(d), PullingRPM: o.car.Engine.PullingRPM}, nil
	case plotEffort:
		return o.effort(d)
	case plotMapGear, plotMapSpeed, plotMapLoss:
		return o.trackMap(d, chart.MapBy(strings.TrimPrefix(kind, "map-")))
	case plotLoss:
		account, err := o.account(d)
		if err != nil {
			return nil, err
		}
		return &chart.Loss{Frame: o.frame(d, "where the time goes"), Track: o.track, Lap: d.lap, Account: account}, nil
	case plotChoice:
		gear := int(o.gear.value)
		if !o.gear.given {
			for g := range d.lap.TimeInGear {
				if d.lap.Used(g + 1) {
					gear = g + 1
				}
			}
		}
		return o.lapChoice(ctx, d, gear)
	case plotEngine:
		f := o.frame(d, "engine")
		f.Title = titleOr(o.car.Title, o.car.Name) + ": torque and power at full throttle"
		f.Caption = fmt.Sprintf("air %.3f kg/m³, torque x %.3f (%s)", d.weather.Used.AirDensity, d.weather.Used.EngineFactor, d.weather.EngineSource)
		if d.weather.Used.Map != "" {
			f.Caption += ", engine map " + d.weather.Used.Map
		}
		return &chart.Engine{Frame: f, Engine: &o.car.Engine, Map: d.weather.Used.Map, Factor: d.weather.Used.EngineFactor}, nil
	case plotStock:
		return o.ratioChart(d)
	}
	if len(o.against.sets) > 0 {
		return o.laps(d)
	}
	return &chart.Lap{Frame: o.frame(d, fmt.Sprintf("lap %.3f s", d.lap.Time)), Track: o.track, Lap: d.lap}, nil
}

// frame is the words around a picture.
func (o *plotOptions) frame(d *driven, what string) chart.Frame {
	return chart.Frame{
		Title:   fmt.Sprintf("%s, %s: %s", titleOr(o.track.Title, o.track.Name), titleOr(o.car.Title, o.car.Name), what),
		Caption: o.caption(d),
		US:      o.us(),
	}
}

// caption says what the lap was driven with.
func (o *plotOptions) caption(d *driven) string {
	used := d.weather.Used
	text := fmt.Sprintf("layshaft/mainshaft %s, final drive %s", strings.Join(setWords(d.base.set), " "), d.base.set.Final.Name)
	if drop := d.base.set.Drop; drop != nil {
		text += ", drop pair " + drop.Name
	}
	text += fmt.Sprintf("; air %.3f kg/m³, torque x %.3f", used.AirDensity, used.EngineFactor)
	if used.Map != "" {
		text += ", engine map " + used.Map
	}
	if used.WindSpeed > 0 {
		speed := fmt.Sprintf("%.0f km/h", used.WindSpeed*units.ToKmh)
		if o.us() {
			speed = fmt.Sprintf("%.0f mph", used.WindSpeed*units.ToMph)
		}
		text += fmt.Sprintf(", wind %s from %.0f°", speed, used.WindFrom*units.ToDeg)
	}
	if used.TowDrag != 1 || used.TowDownforce != 1 {
		text += fmt.Sprintf(", tow: drag x %.2f, downforce x %.2f, %s", used.TowDrag, used.TowDownforce, strings.Join(used.TowWhere, ", "))
	}
	if len(d.weather.Settings.ShiftRPM) > 0 {
		text += ", the driver's own shift rpm"
	}
	fuel := fmt.Sprintf("%.1f kg", used.Fuel)
	if o.us() {
		fuel = fmt.Sprintf("%.1f lb", used.Fuel*units.ToPound)
	}
	return text + fmt.Sprintf(", fuel %s, grip x %.2f", fuel, used.Grip)
}

func setWords(set *gearbox.Set) []string {
	words := make([]string, len(set.Pairs))
	for i, p := range set.Pairs {
		words[i] = fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
	}
	return words
}

func chartSet(d *driven) chart.Set {
	return chart.Set{Model: d.model, Pairs: setWords(d.base.set), Total: d.base.set.TotalRatios()}
}

// drives is the ratio behind the gears.
func drives(set *gearbox.Set) float64 {
	r := set.Final.Ratio()
	if set.Drop != nil {
		r *= set.Drop.Ratio()
	}
	return r
}

// account is the lap's loss account, or why there is none.
func (o *plotOptions) account(d *driven) (*sim.LossAccount, error) {
	loss, err := o.loss(d)
	if err != nil {
		return nil, err
	}
	if loss.Account == nil {
		return nil, fmt.Errorf("this lap has no loss account, so it cannot be drawn: %s", loss.Why)
	}
	return loss.Account, nil
}

func (o *plotOptions) trackMap(d *driven, by chart.MapBy) (chart.Figure, error) {
	m := &chart.TrackMap{Track: o.track, Lap: d.lap, By: by}
	what := "gear"
	switch by {
	case chart.BySpeed:
		what = "speed"
	case chart.ByLoss:
		what = fmt.Sprintf("time lost against the ideal car, mean over %d m", chart.LossWindow)
		if o.us() {
			what = fmt.Sprintf("time lost against the ideal car, mean over %.0f ft", chart.LossWindow*units.ToFoot)
		}
		var err error
		if m.Account, err = o.account(d); err != nil {
			return nil, err
		}
	}
	m.Frame = o.frame(d, what)
	return m, nil
}

// effort has for ideal car all pairs that may stand in a gear by themselves.
func (o *plotOptions) effort(d *driven) (chart.Figure, error) {
	limits, err := o.limits(&o.files, nil)
	if err != nil {
		return nil, err
	}
	engineMap, err := o.car.Engine.Map(d.weather.Used.Map)
	if err != nil {
		return nil, err
	}
	var ideal []chart.Choice
	rest := drives(d.base.set)
	for c := range o.box.Clusters {
		for g := 1; g <= o.box.Gears; g++ {
			fit, _ := gearbox.Candidates(o.box, &o.box.Clusters[c], o.stock, g, limits.Allowed)
			for _, p := range fit {
				if one := (chart.Choice{Gear: g, Total: p.Ratio() * rest}); !slices.Contains(ideal, one) {
					ideal = append(ideal, one)
				}
			}
		}
	}
	return &chart.Effort{
		Frame: o.frame(d, "tractive effort and road load"), Set: chartSet(d),
		LowRPM: engineMap.RPM[0], Ideal: ideal,
	}, nil
}

// laps drives the other sets.
func (o *plotOptions) laps(d *driven) (chart.Figure, error) {
	l := &chart.Laps{Frame: o.frame(d, "laps compared"), Track: o.track}
	l.Laps = append(l.Laps, chart.NamedLap{Name: strings.Join(setWords(d.base.set), " "), Lap: d.lap})
	for _, words := range o.against.sets {
		other := o.rules
		other.set = words
		b, err := other.needSet(&o.files)
		if err != nil {
			return nil, badInput("--against: %s", strings.TrimPrefix(err.Error(), "--set: "))
		}
		lap := d.model.LapOnly(b.set.TotalRatios())
		if lap.Infeasible != "" {
			return nil, infeasible("--against %s: the set cannot drive this lap: %s", words.String(), lap.Infeasible)
		}
		l.Laps = append(l.Laps, chart.NamedLap{Name: strings.Join(setWords(b.set), " "), Lap: lap})
	}
	return l, nil
}
