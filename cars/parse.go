package cars

import (
	"embed"
	"fmt"
	"io/fs"

	"layshaft/internal/datafile"
)

// ExampleDir is the folder of Embedded that holds the cars, for
// datafile.Read.
const ExampleDir = "examples"

// embedded is read-only.
//
//go:embed examples/*.toml
var embedded embed.FS

// Embedded holds the invented example cars, ExampleDir/*.toml.
func Embedded() fs.FS { return embedded }

// Parse reads a car file: strictly, and with every fault of the file in one
// error (see package datafile). Values that make no sense for any car (a tyre
// radius of 300, an efficiency of 96) are refused, since they are nearly
// always a wrong unit. The gearbox stays a name in BoxRef until Attach.
//
// What the file states but the way of measuring makes void is set aside with
// a warning in Warnings: see Engine.
func Parse(src datafile.Source) (*Car, error) {
	var f file
	d, err := datafile.Decode(src, &f)
	if err != nil {
		return nil, err
	}
	c := &Car{
		Name: f.Car.Name, Title: f.Car.Title,
		Mass: f.Car.Mass, Fuel: f.Car.Fuel,
		FrontShare: f.Car.FrontShare, Wheelbase: f.Car.Wheelbase, CGHeight: f.Car.CGHeight,
		RearDriven:  f.Car.Driven == "rear",
		RollingCoef: f.Tyres.Rolling, RollingCoefV: f.Tyres.RollingGrowth, RollingCoefVV: f.Tyres.RollingGrowth2,
		TyreRadius: f.Tyres.Radius, TyreGrowth: f.Tyres.RadiusGrowth, RadiusSource: f.Tyres.RadiusSource,
		Aero:      Aero(f.Aero),
		DriveSlip: f.Driveline.DriveSlip, WheelInertia: f.Driveline.WheelInertia,
		BoxRef: f.Driveline.Gearbox,
	}
	parseBody(d, &f)
	c.Front = parseTyre(d, "tyres.front", f.Tyres.Front)
	c.Rear = parseTyre(d, "tyres.rear", f.Tyres.Rear)
	parseEngine(d, &f, c)
	parseDriveline(d, &f, c)
	if err := d.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

// parseBody checks the tables [car], [aero] and the scalars of [tyres]. The
// bounds are wide enough for any car and too narrow for a wrong unit.
func parseBody(d *datafile.Doc, f *file) {
	d.Need("car.name", "car.mass_kg", "car.fuel_kg", "car.front_share_ratio",
		"car.wheelbase_m", "car.cg_height_m", "car.driven",
		"aero.drag_area_m2", "aero.downforce_area_m2",
		"tyres.radius_m", "tyres.radius_source", "tyres.rolling_coef")
	if d.Has("car.name") && f.Car.Name == "" {
		d.Fault("car.name", "is empty; give the car a name")
	}
	between(d, "car.mass_kg", f.Car.Mass, 100, 5000)
	between(d, "car.fuel_kg", f.Car.Fuel, 0, 500)
	between(d, "car.front_share_ratio", f.Car.FrontShare, 0.2, 0.8)
	between(d, "car.wheelbase_m", f.Car.Wheelbase, 1, 6)
	between(d, "car.cg_height_m", f.Car.CGHeight, 0, 1.5)
	if d.Has("car.driven") {
		d.OneOf("car.driven", f.Car.Driven, "rear", "front")
	}
	between(d, "aero.drag_area_m2", f.Aero.DragArea, 0, 10)
	between(d, "aero.downforce_area_m2", f.Aero.DownforceArea, -5, 20)
	between(d, "aero.front_share_ratio", f.Aero.FrontShare, 0, 1)
	if f.Aero.DownforceArea != 0 {
		d.Need("aero.front_share_ratio")
	}
	between(d, "tyres.radius_m", f.Tyres.Radius, 0.1, 1)
	between(d, "tyres.radius_growth_s2_per_m", f.Tyres.RadiusGrowth, 0, 1e-5)
	between(d, "tyres.rolling_coef", f.Tyres.Rolling, 0, 0.1)
	between(d, "tyres.rolling_growth_s_per_m", f.Tyres.RollingGrowth, 0, 0.01)
	between(d, "tyres.rolling_growth_s2_per_m2", f.Tyres.RollingGrowth2, 0, 1e-4)
	if d.Has("tyres.radius_source") && f.Tyres.RadiusSource == "" {
		d.Fault("tyres.radius_source", "is empty; say who measured the radius and how (catalogue, free or loaded radii differ by up to 7 %%)")
	}
}

func parseTyre(d *datafile.Doc, table string, t tyreTable) Tyre {
	d.Need(table+".grip_drive_coef", table+".grip_lateral_coef",
		table+".reference_load_n", table+".load_sensitivity_ratio",
		table+".cornering_stiffness_per_rad")
	between(d, table+".grip_drive_coef", t.MuX, 0.1, 5)
	between(d, table+".grip_lateral_coef", t.MuY, 0.1, 5)
	between(d, table+".reference_load_n", t.RefLoad, 100, 20000)
	between(d, table+".load_sensitivity_ratio", t.LoadSensitivity, 0, 0.5)
	between(d, table+".cornering_stiffness_per_rad", t.Stiffness, 2, 100)
	return Tyre(t)
}

// between checks a key that was written; a missing one is the business of
// Need.
func between(d *datafile.Doc, key string, v, lo, hi float64) {
	if d.Has(key) {
		d.Between(key, v, lo, hi)
	}
}

// parseDriveline checks [driveline] and fills in the losses, which a torque
// measured at the wheels already contains.
func parseDriveline(d *datafile.Doc, f *file, c *Car) {
	l := &f.Driveline
	d.Need("driveline.gearbox", "driveline.drive_slip_ratio", "driveline.wheel_inertia_kgm2")
	if d.Has("driveline.gearbox") && l.Gearbox == "" {
		d.Fault("driveline.gearbox", "is empty; name an embedded gearbox or a gearbox file")
	}
	between(d, "driveline.drive_slip_ratio", l.DriveSlip, 0, 0.2)
	between(d, "driveline.wheel_inertia_kgm2", l.WheelInertia, 0, 50)
	between(d, "driveline.box_drag_nm", l.BoxDrag, 0, 50)
	between(d, "driveline.shift_inertia_return_ratio", l.InertiaReturn, 0, 1)
	for i, e := range l.Efficiency {
		d.Between(fmt.Sprintf("driveline.gear_efficiency_ratio[%d]", i+1), e, 0.5, 1)
	}
	if d.Has("driveline.gear_efficiency_ratio") && len(l.Efficiency) == 0 {
		d.Fault("driveline.gear_efficiency_ratio", "is empty; give one value for all gears or one for each")
	}
	c.ShiftInertiaReturn = l.InertiaReturn
	if c.Engine.Place == AtWheels {
		c.Efficiency = []float64{1}
		c.ignored(len(l.Efficiency) > 0, "driveline.gear_efficiency_ratio", "the torque was measured at the wheels, so the losses are inside it")
		c.ignored(l.BoxDrag > 0, "driveline.box_drag_nm", "the torque was measured at the wheels, so the box's drag is inside it")
		return
	}
	if c.Engine.Place == AtCrank {
		d.Need("driveline.gear_efficiency_ratio")
	}
	c.Efficiency = append([]float64(nil), l.Efficiency...)
	c.BoxDrag = l.BoxDrag
}

// ignored notes a value of the file that is set aside.
func (c *Car) ignored(given bool, key, why string) {
	if given {
		c.Warnings = append(c.Warnings, fmt.Sprintf("car %s: %s is not used: %s", c.Name, key, why))
	}
}
