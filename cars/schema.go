package cars

// file is a car file as written; every key ends in its unit. It exists only
// between decoding and Parse.
type file struct {
	Car       carTable       `toml:"car"`
	Engine    engineTable    `toml:"engine"`
	Map       []mapTable     `toml:"map"`
	Aero      aeroTable      `toml:"aero"`
	Tyres     tyresTable     `toml:"tyres"`
	Driveline drivelineTable `toml:"driveline"`
}

type carTable struct {
	Name       string  `toml:"name"`
	Title      string  `toml:"title"`
	Mass       float64 `toml:"mass_kg"`
	Fuel       float64 `toml:"fuel_kg"`
	FrontShare float64 `toml:"front_share_ratio"`
	Wheelbase  float64 `toml:"wheelbase_m"`
	CGHeight   float64 `toml:"cg_height_m"`
	Driven     string  `toml:"driven"`
}

type engineTable struct {
	Place       string  `toml:"torque_measured_at"`
	How         string  `toml:"torque_measured_how"`
	CorrectedTo string  `toml:"torque_corrected_to"`
	Inertia     float64 `toml:"inertia_kgm2"`
	Boosted     bool    `toml:"boosted"`
	ShiftMargin float64 `toml:"shift_margin_rpm"`
	Pulling     float64 `toml:"pulling_rpm"`
	OverRev     float64 `toml:"over_rev_rpm"`
	Launch      float64 `toml:"launch_rpm"`
	Consumption float64 `toml:"fuel_consumption_g_per_kwh"`
}

type mapTable struct {
	Name    string    `toml:"name"`
	Limiter float64   `toml:"limiter_rpm"`
	RPM     []float64 `toml:"speed_rpm"`
	Torque  []float64 `toml:"torque_nm"`
	Power   []float64 `toml:"power_kw"`
}

type aeroTable struct {
	DragArea      float64 `toml:"drag_area_m2"`
	DownforceArea float64 `toml:"downforce_area_m2"`
	FrontShare    float64 `toml:"front_share_ratio"`
}

type tyresTable struct {
	Radius         float64   `toml:"radius_m"`
	RadiusGrowth   float64   `toml:"radius_growth_s2_per_m"`
	RadiusSource   string    `toml:"radius_source"`
	Rolling        float64   `toml:"rolling_coef"`
	RollingGrowth  float64   `toml:"rolling_growth_s_per_m"`
	RollingGrowth2 float64   `toml:"rolling_growth_s2_per_m2"`
	Front          tyreTable `toml:"front"`
	Rear           tyreTable `toml:"rear"`
}

type tyreTable struct {
	MuX             float64 `toml:"grip_drive_coef"`
	MuY             float64 `toml:"grip_lateral_coef"`
	RefLoad         float64 `toml:"reference_load_n"`
	LoadSensitivity float64 `toml:"load_sensitivity_ratio"`
	Stiffness       float64 `toml:"cornering_stiffness_per_rad"`
}

type drivelineTable struct {
	Gearbox       string    `toml:"gearbox"`
	Efficiency    []float64 `toml:"gear_efficiency_ratio"`
	BoxDrag       float64   `toml:"box_drag_nm"`
	DriveSlip     float64   `toml:"drive_slip_ratio"`
	WheelInertia  float64   `toml:"wheel_inertia_kgm2"`
	InertiaReturn float64   `toml:"shift_inertia_return_ratio"`
}
