package gearing

import (
	"context"
	"fmt"
	"io/fs"
	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/sim"
	"layshaft/tracks"
	"os"
	"testing"
	"time"
)

func src(t testing.TB, f fs.FS, name string) datafile.Source {
	d, err := fs.ReadFile(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return datafile.Source{Name: name, Data: d, Embedded: true}
}
func demo(t testing.TB, track string) *Problem {
	car, err := cars.Parse(src(t, cars.Embedded(), "examples/wren.toml"))
	if err != nil {
		t.Fatal(err)
	}
	box, err := gearbox.ParseBox(src(t, gearbox.Embedded(), "boxes/wren-six.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := car.Attach(box); err != nil {
		t.Fatal(err)
	}
	st, err := gearbox.ParseStock(src(t, gearbox.Embedded(), "stocks/wren.toml"))
	if err != nil {
		t.Fatal(err)
	}
	tr, err := tracks.Parse(src(t, tracks.Embedded(), "circuits/"+track+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := sim.New(car, tr, sim.Conditions{AirDensity: 1.2, EngineFactor: 1, TowDrag: 1, TowDownforce: 1, Fuel: 20, Grip: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Problem{Model: m, Box: box, Stock: st, Limits: Limits{TopHeadroomRPM: -1}}
}
func TestSmoke(t *testing.T) {
	names := []string{"harrowdale", "quayside", "saltmere"}
	if s := os.Getenv("T"); s != "" {
		names = []string{s}
	}
	for _, n := range names {
		p := demo(t, n)
		t0 := time.Now()
		a, err := Search(ctx60(), p, nil)
		if err != nil {
			t.Error(n, err)
			continue
		}
		fmt.Println(n, time.Since(t0), a.Status, a.SetsInSpace, a.Stats, a.Gap, a.Stages)
		if a.Set != nil {
			for _, q := range a.Set.Pairs {
				fmt.Print(q.ID, " ")
			}
			fmt.Println(a.Lap.Time, a.Lap.NumericalError, a.Lap.TopSpeed*3.6, a.Lap.TimeInGear, a.OutLap.Time, a.Lap.Infeasible)
		} else {
			fmt.Println(a.Infeasible)
		}
	}
}
func ctx60() context.Context {
	c, _ := context.WithTimeout(context.Background(), 60*time.Second)
	return c
}
