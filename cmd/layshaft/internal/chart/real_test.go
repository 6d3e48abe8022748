package chart

import (
	"context"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/optimize/gearing"
	"layshaft/sim"
	"layshaft/tracks"
)

func source(t testing.TB, f fs.FS, name string) datafile.Source {
	t.Helper()
	data, err := fs.ReadFile(f, name)
	require.NoError(t, err)
	return datafile.Source{Name: name, Data: data, Embedded: true}
}

// demo is the embedded car with its fitted set on a circuit, and all that the
// figures need of it.
type demo struct {
	car     *cars.Car
	box     *gearbox.Box
	stock   *gearbox.Stock
	track   *tracks.Track
	set     *gearbox.Set
	model   *sim.Model
	lap     *sim.Lap
	account *sim.LossAccount
}

func newDemo(t testing.TB, circuit string) *demo {
	t.Helper()
	track, err := tracks.Parse(source(t, tracks.Embedded(), "circuits/"+circuit+".toml"))
	require.NoError(t, err)
	return demoOn(t, track)
}

func demoOn(t testing.TB, track *tracks.Track) *demo {
	t.Helper()
	d := &demo{track: track}
	var err error
	d.car, err = cars.Parse(source(t, cars.Embedded(), "examples/wren.toml"))
	require.NoError(t, err)
	d.box, err = gearbox.ParseBox(source(t, gearbox.Embedded(), "boxes/wren-six.toml"))
	require.NoError(t, err)
	require.NoError(t, d.car.Attach(d.box))
	d.stock, err = gearbox.ParseStock(source(t, gearbox.Embedded(), "stocks/wren.toml"))
	require.NoError(t, err)
	d.set = &gearbox.Set{Cluster: &d.box.Clusters[0], Final: d.stock.FittedFinal()}
	for _, id := range d.stock.Fitted {
		d.set.Pairs = append(d.set.Pairs, d.stock.Pair(id))
	}
	cond := sim.Conditions{AirDensity: 1.2, EngineFactor: 1.03, TowDrag: 1, TowDownforce: 1, Fuel: 20, Grip: 1}
	d.model, err = sim.New(d.car, d.track, cond, nil)
	require.NoError(t, err)
	d.lap = d.model.LapOnly(d.set.TotalRatios())
	require.Empty(t, d.lap.Infeasible)
	p := gearing.Problem{Model: d.model, Box: d.box, Stock: d.stock, Limits: gearing.Limits{TopHeadroomRPM: -1}}
	ideal, err := p.Ideal(d.set)
	require.NoError(t, err)
	d.account, err = d.model.LossAccount(d.lap, ideal)
	require.NoError(t, err)
	return d
}

func (d *demo) chartSet() Set {
	s := Set{Model: d.model, Total: d.set.TotalRatios()}
	for _, p := range d.set.Pairs {
		s.Pairs = append(s.Pairs, fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft))
	}
	return s
}

func (d *demo) ideal() []Choice {
	var out []Choice
	for g := 1; g <= d.box.Gears; g++ {
		fit, _ := gearbox.Candidates(d.box, d.set.Cluster, d.stock, g, nil)
		for _, p := range fit {
			out = append(out, Choice{Gear: g, Total: p.Ratio() * d.set.Final.Ratio()})
		}
	}
	return out
}

func (d *demo) choice(t testing.TB, f Frame, gear int) *LapChoice {
	fit, _ := gearbox.Candidates(d.box, d.set.Cluster, d.stock, gear, nil)
	var options []Option
	for _, p := range fit {
		options = append(options, Option{Name: p.Mark, Ratio: p.Ratio(), Chosen: p.ID == d.set.Pairs[gear-1].ID, Buildable: p.Count > 1})
	}
	c, err := NewLapChoice(context.Background(), f, d.model, d.set.TotalRatios(), gear, d.set.Final.Ratio(), options)
	require.NoError(t, err)
	return c
}

func (d *demo) rows() []StockRow {
	var rows []StockRow
	for i := range d.stock.Pairs {
		p := &d.stock.Pairs[i]
		row := StockRow{Name: p.Mark, Ratio: p.Ratio(), Total: p.Ratio() * d.set.Final.Ratio(), Count: p.Count}
		if g := slices.Index(d.set.Pairs, p); g >= 0 {
			row.Gear = g + 1
		}
		rows = append(rows, row)
	}
	return rows
}

// figures are one of each kind.
func (d *demo) figures(t testing.TB, f Frame) map[string]Figure {
	other := slices.Clone(d.set.TotalRatios())
	other[2] *= 0.98
	return map[string]Figure{
		"speed":    &Lap{f, d.track, d.lap},
		"laps":     &Laps{f, d.track, []NamedLap{{"13/38 17/36 20/33", d.lap}, {"third longer", d.model.LapOnly(other)}}},
		"rpm":      &Revs{f, d.track, d.lap, d.car.Engine.PullingRPM, d.model.ShiftRPM(), d.model.LimiterRPM(), d.car.Engine.OverRevRPM},
		"sawtooth": &Sawtooth{f, d.chartSet(), d.car.Engine.PullingRPM},
		"effort":   &Effort{f, d.chartSet(), d.car.Engine.Maps[0].RPM[0], d.ideal()},
		"gears":    &TrackMap{f, d.track, d.lap, ByGear, nil},
		"speeds":   &TrackMap{f, d.track, d.lap, BySpeed, nil},
		"losses":   &TrackMap{f, d.track, d.lap, ByLoss, d.account},
		"loss":     &Loss{f, d.track, d.lap, d.account},
		"choice":   d.choice(t, f, 4),
		"engine":   &Engine{f, &d.car.Engine, "", 1.03},
		"stock":    &RatioChart{f, d.model, d.car.Engine.PullingRPM, d.rows()},
	}
}

// long is a frame with more words than any page wants.
func long() Frame {
	return Frame{
		Title:   strings.Repeat("Årsmøte Grand Parc of the Very Long Names ", 5),
		Caption: strings.Repeat("layshaft/mainshaft 13/38 17/36 20/33, µ ° é – Ω ², wind 20 km/h from 200°, ", 6),
	}
}

// manyCorners is a regular circuit of 40 corners with long names, driven
// clockwise.
func manyCorners(t testing.TB) *tracks.Track {
	t.Helper()
	var b strings.Builder
	b.WriteString("title = \"Forty corners\"\nheading_deg = 10.0\naltitude_m = 0.0\npit_limit_kmh = 60.0\npit_exit_m = 30.0\n")
	for i := range 40 {
		fmt.Fprintf(&b, "[[segment]]\nkind = \"straight\"\nlength_m = 60.0\n[[segment]]\nkind = \"corner\"\nname = \"Corner with a long name %d\"\n"+
			"direction = \"right\"\nradius_m = 120.0\nangle_deg = 9.0\n", i+1)
	}
	track, err := tracks.Parse(datafile.Source{Name: "forty.toml", Data: []byte(b.String())})
	require.NoError(t, err)
	return track
}

// eightGears is the demo with two more gears than its box has.
func eightGears(t testing.TB) *demo {
	d := demoOn(t, manyCorners(t))
	car, box := *d.car, *d.box
	box.Gears = 8
	box.UpshiftTime = append(slices.Clone(box.UpshiftTime), 0.05, 0.05)
	car.Efficiency = append(slices.Clone(car.Efficiency), car.Efficiency[5], car.Efficiency[5])
	car.Box = &box
	var err error
	d.model, err = sim.New(&car, d.track, d.model.Conditions(), nil)
	require.NoError(t, err)
	set := *d.set
	set.Pairs = nil
	for _, id := range []string{"13/38", "16/36", "18/34", "20/33", "22/32", "22/30", "24/29", "25/28"} {
		p := d.stock.Pair(id)
		require.NotNil(t, p, id)
		set.Pairs = append(set.Pairs, p)
	}
	d.car, d.box, d.set = &car, &box, &set
	d.lap = d.model.LapOnly(set.TotalRatios())
	require.Empty(t, d.lap.Infeasible)
	eta := car.Efficiency
	d.account, err = d.model.LossAccount(d.lap, d.model.NewIdeal(set.TotalRatios(), eta))
	require.NoError(t, err)
	return d
}
