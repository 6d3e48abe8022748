package cli

import (
	"fmt"
	"strings"

	"layshaft/cars"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"
	"layshaft/internal/units"

	"github.com/spf13/cobra"
)

func (a *app) carCommand() *cobra.Command {
	c := group(&cobra.Command{
		Use:     "car",
		Short:   "Cars: list, show, check",
		Example: "  layshaft car list",
	})
	c.AddCommand(a.carList(), a.carShow(), a.carCheck())
	return c
}

func (a *app) carList() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "list",
		Short:   "The embedded cars, all invented",
		Example: "  layshaft car list --format json",
	}
	return a.viewCommand(c, &o, nil, func() (*sheet.Listing, error) {
		l := &sheet.Listing{
			Title:    "Embedded cars (invented)",
			NameHead: "car",
			Columns: []sheet.Column{
				{Key: "mass_kg", Head: "mass kg", Decimals: 0},
				{Key: "power_kw", Head: "kW", Decimals: 0},
				{Key: "limiter_rpm", Head: "limiter rpm", Decimals: 0},
				{Key: "gears_count", Head: "gears"},
				{Key: "gearbox", Head: "gearbox"},
				{Key: "title", Head: "title"},
			},
			Notes: []string{"--car takes one of these names, or a file (a path, or a name that ends in .toml)."},
		}
		for _, ref := range datafile.Names(cars.Embedded(), cars.ExampleDir, fileExt) {
			one := files{carRef: ref}
			if err := one.loadCar(); err != nil {
				return nil, err
			}
			power, err := peakPower(&one.car.Engine.Maps[0])
			if err != nil {
				return nil, asInput(err)
			}
			l.Inputs = append(l.Inputs, one.used...)
			l.Items = append(l.Items, sheet.Item{Name: ref, Facts: []any{
				one.car.Mass, power, one.car.Engine.Maps[0].LimiterRPM, one.box.Gears, one.box.Name, one.car.Title,
			}})
		}
		return l, nil
	})
}

// peakPower is the greatest power of a map in kW, as measured.
func peakPower(m *cars.EngineMap) (float64, error) {
	curve, err := m.Curve()
	if err != nil {
		return 0, err
	}
	_, power := curve.PeakPower()
	return power / 1000, nil
}

func (a *app) carShow() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "show [CAR]",
		Short:   "The figures of a car",
		Example: "  layshaft car show wren",
	}
	o.carFlags(c)
	return a.viewCommand(c, &o, &o.carRef, func() (*sheet.Listing, error) {
		if err := o.loadCar(); err != nil {
			return nil, err
		}
		return showCar(&o.files)
	})
}

// showCar lists figure by figure; in the JSON each has its value and unit.
func showCar(f *files) (*sheet.Listing, error) {
	c := f.car
	l := &sheet.Listing{
		Title:    titleOr(c.Title, c.Name),
		NameHead: "figure",
		Columns:  []sheet.Column{{Key: "value", Head: "value"}, {Key: "unit", Head: "unit"}},
		Warnings: f.warnings,
		Inputs:   f.used,
	}
	add := func(name string, decimals int, value float64, unit string) {
		l.Items = append(l.Items, sheet.Item{Name: name, Facts: []any{fmt.Sprintf("%.*f", decimals, value), unit}})
	}
	add("mass with driver, without fuel", 0, c.Mass, "kg")
	add("fuel", 0, c.Fuel, "kg")
	add("static weight on the front axle", 1, 100*c.FrontShare, "%")
	add("wheelbase", 3, c.Wheelbase, "m")
	add("height of the centre of gravity", 3, c.CGHeight, "m")
	add("drag area Cd·A", 3, c.Aero.DragArea, "m²")
	add("downforce area Cl·A", 3, c.Aero.DownforceArea, "m²")
	add("downforce on the front axle", 1, 100*c.Aero.FrontShare, "%")
	add("front grip, along, at the reference load", 3, c.Front.MuX, "")
	add("front grip, across, at the reference load", 3, c.Front.MuY, "")
	add("rear grip, along, at the reference load", 3, c.Rear.MuX, "")
	add("rear grip, across, at the reference load", 3, c.Rear.MuY, "")
	add("rolling radius at low speed", 1, 1000*c.TyreRadius, "mm")
	add("rolling radius at 250 km/h", 1, 1000*c.Radius(250*units.FromKmh), "mm")
	add("drive slip", 1, 100*c.DriveSlip, "%")
	add("engine inertia", 4, c.Engine.Inertia, "kg·m²")
	add("shift margin below the limiter", 0, c.Engine.ShiftMarginRPM, "rpm")
	add("pulling rpm", 0, c.Engine.PullingRPM, "rpm")
	add("launch rpm", 0, c.Engine.LaunchRPM, "rpm")
	if c.Engine.FuelConsumption > 0 {
		add("fuel at full throttle", 0, c.Engine.FuelConsumption*3.6e9, "g/kWh")
	}
	for i := range c.Engine.Maps {
		m := &c.Engine.Maps[i]
		curve, err := m.Curve()
		if err != nil {
			return nil, asInput(err)
		}
		rpm, power := curve.PeakPower()
		add("map "+m.Name+": peak power", 1, power/1000, fmt.Sprintf("kW at %.0f rpm", rpm))
		rpm, torque := curve.PeakTorque()
		add("map "+m.Name+": peak torque", 1, torque, fmt.Sprintf("N·m at %.0f rpm", rpm))
		add("map "+m.Name+": limiter", 0, m.LimiterRPM, "rpm")
	}
	driven := "front"
	if c.RearDriven {
		driven = "rear"
	}
	l.Notes = []string{
		fmt.Sprintf("Driven axle: %s. Gearbox %s, %d gears.", driven, titleOr(f.box.Title, f.box.Name), f.box.Gears),
		"Rolling radius: " + strings.TrimSuffix(c.RadiusSource, ".") + ".",
	}
	return l, nil
}

func (a *app) carCheck() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "check [CAR]",
		Short:   "Whether a car file and its gearbox file are sound",
		Example: "  layshaft car check wren",
	}
	o.carFlags(c)
	return a.viewCommand(c, &o, &o.carRef, func() (*sheet.Listing, error) {
		if err := o.loadCar(); err != nil {
			return nil, err
		}
		return &sheet.Listing{
			Title:    fmt.Sprintf("%s and %s are sound", o.used[0].Name, o.used[1].Name),
			NameHead: "car",
			Columns: []sheet.Column{
				{Key: "map_count", Head: "maps"},
				{Key: "gearbox", Head: "gearbox"},
				{Key: "gears_count", Head: "gears"},
				{Key: "cluster_count", Head: "listed clusters"},
			},
			Items: []sheet.Item{{Name: o.car.Name, Facts: []any{
				len(o.car.Engine.Maps), o.box.Name, o.box.Gears, len(o.box.Clusters),
			}}},
			Warnings: o.files.warnings,
			Inputs:   o.used,
		}, nil
	})
}
