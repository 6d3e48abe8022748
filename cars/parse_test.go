package cars

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
)

// edit returns the example with lines replaced: each pair is the start of a
// line, of which the first is meant, and what stands there instead ("" = the
// line goes).
func edit(t testing.TB, name string, pairs ...string) datafile.Source {
	t.Helper()
	text := string(example(t, name).Data)
	for i := 0; i < len(pairs); i += 2 {
		re := regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(pairs[i]) + `.*$`)
		at := re.FindStringIndex(text)
		require.NotNil(t, at, "no line begins with %q", pairs[i])
		text = text[:at[0]] + pairs[i+1] + text[at[1]:]
	}
	return datafile.NewSource("my.toml", []byte(text))
}

func TestParseWren(t *testing.T) {
	c, err := Parse(example(t, "wren"))
	require.NoError(t, err)
	require.Equal(t, "wren", c.Name)
	require.True(t, c.RearDriven)
	require.Equal(t, AtCrank, c.Engine.Place)
	require.False(t, c.Engine.Sweep)
	require.Equal(t, 0.045, c.Engine.Inertia)
	require.Len(t, c.Efficiency, 6)
	require.Equal(t, 0.970, c.Efficiency[5])
	require.Equal(t, 9200.0, c.Engine.OverRevRPM)
	require.Equal(t, 5500.0, c.Engine.LaunchRPM)
	// 290 g over 1 kWh = 3.6 MJ, by hand.
	numtest.Equal(t, "fuel per work (kg/J)", 8.05556e-8, c.Engine.FuelConsumption, 0, 1e-6)
	require.Len(t, c.Engine.Maps, 2)
	require.Equal(t, 8700.0, c.Engine.Maps[1].LimiterRPM)
	require.Equal(t, Tyre{MuX: 1.52, MuY: 1.56, RefLoad: 2000, LoadSensitivity: 0.06, Stiffness: 20}, c.Front)
	require.Equal(t, Aero{DragArea: 0.95, DownforceArea: 2.5, FrontShare: 0.42}, c.Aero)
	require.Equal(t, "wren-six", c.BoxRef)
	require.Empty(t, c.Warnings)
}

// Torque from a rolling road in a sweep: losses and engine inertia are inside.
func TestParsePlover(t *testing.T) {
	c, err := Parse(example(t, "plover"))
	require.NoError(t, err)
	require.False(t, c.RearDriven)
	require.Equal(t, AtWheels, c.Engine.Place)
	require.True(t, c.Engine.Sweep)
	require.Equal(t, 0.0, c.Engine.Inertia)
	require.Equal(t, []float64{1}, c.Efficiency)
	require.Equal(t, 0.0, c.BoxDrag)
	require.Empty(t, c.Warnings)
	require.NoError(t, c.Attach(&gearbox.Box{Name: "five", Gears: 5}))
	require.Equal(t, []float64{1, 1, 1, 1, 1}, c.Efficiency)
}

// What the way of measuring makes void is set aside, and said so.
func TestParseSetsAsideWhatIsInside(t *testing.T) {
	c, err := Parse(edit(t, "wren",
		"torque_measured_at", `torque_measured_at = "wheels"`,
		"torque_measured_how", `torque_measured_how = "sweep"`,
		"drive_slip_ratio", "drive_slip_ratio = 0.02\nbox_drag_nm = 1.5"))
	require.NoError(t, err)
	require.Equal(t, []float64{1}, c.Efficiency)
	require.Equal(t, 0.0, c.BoxDrag)
	require.Equal(t, 0.0, c.Engine.Inertia)
	text := strings.Join(c.Warnings, "\n")
	require.Contains(t, text, "driveline.gear_efficiency_ratio is not used")
	require.Contains(t, text, "driveline.box_drag_nm is not used")
	require.Contains(t, text, "engine.inertia_kgm2 is not used")
	require.Len(t, c.Warnings, 3)
}

func TestParsePullingBelowTheTableWarns(t *testing.T) {
	c, err := Parse(edit(t, "wren", "pulling_rpm", "pulling_rpm = 3000.0"))
	require.NoError(t, err)
	require.Len(t, c.Warnings, 2, "one for each map")
	require.Contains(t, c.Warnings[0], `pulling_rpm 3000 lies below the torque table of map "race"`)
	require.Contains(t, c.Warnings[0], "raise it to 3500 or extend the table")
}

// Absent, the clutch holds the first speed that every table has, and the fuel
// per work is not known; 0 says that in so many words.
func TestParseLaunchAndFuelDefaults(t *testing.T) {
	c, err := Parse(edit(t, "wren", "launch_rpm", "", "fuel_consumption", ""))
	require.NoError(t, err)
	require.Equal(t, 3500.0, c.Engine.LaunchRPM)
	require.Equal(t, 0.0, c.Engine.FuelConsumption)
	c, err = Parse(edit(t, "wren", "launch_rpm", "", "fuel_consumption", "fuel_consumption_g_per_kwh = 0.0",
		"speed_rpm = [3500.0, 4500.0", "speed_rpm = [3700.0, 4500.0, 5500.0, 6500.0, 7000.0, 7500.0, 8000.0, 8500.0, 9000.0]"))
	require.NoError(t, err)
	require.Equal(t, 3700.0, c.Engine.LaunchRPM)
	require.Equal(t, 0.0, c.Engine.FuelConsumption)
	for _, rpm := range []string{"3500.0", "8700.0"} { // the ends are allowed
		_, err = Parse(edit(t, "wren", "launch_rpm", "launch_rpm = "+rpm))
		require.NoError(t, err)
	}
}

func TestParseBadFiles(t *testing.T) {
	const crankRPM = "speed_rpm = [3500.0, 4000.0, 4500.0"
	cases := map[string]struct {
		pairs []string
		want  []string
	}{
		"does not say where":   {[]string{"torque_measured_at", ""}, []string{"engine.torque_measured_at: is missing", `"crank" or "wheels"`}},
		"does not say how":     {[]string{"torque_measured_how", ""}, []string{"engine.torque_measured_how: is missing", `"steady" or "sweep"`}},
		"measured elsewhere":   {[]string{"torque_measured_at", `torque_measured_at = "wheel"`}, []string{"engine.torque_measured_at", `did you mean "wheels"?`}},
		"measured somehow":     {[]string{"torque_measured_how", `torque_measured_how = "guess"`}, []string{"engine.torque_measured_how", `"steady", "sweep"`}},
		"no correction named":  {[]string{"torque_corrected_to", ""}, []string{"engine.torque_corrected_to: is missing", "SAE J1349, ISO 1585"}},
		"unknown correction":   {[]string{"torque_corrected_to", `torque_corrected_to = "SAE J1394"`}, []string{"engine.torque_corrected_to", `did you mean "SAE J1349"?`}},
		"steady needs inertia": {[]string{"inertia_kgm2", ""}, []string{"engine.inertia_kgm2: is missing"}},
		"crank needs losses":   {[]string{"gear_efficiency_ratio", ""}, []string{"driveline.gear_efficiency_ratio: is missing"}},
		"efficiency in percent": {[]string{"gear_efficiency_ratio", "gear_efficiency_ratio = [96.0]"},
			[]string{"driveline.gear_efficiency_ratio[1]: 96 is not between 0.5 and 1"}},
		"no efficiency":         {[]string{"gear_efficiency_ratio", "gear_efficiency_ratio = []"}, []string{"driveline.gear_efficiency_ratio: is empty"}},
		"radius in mm":          {[]string{"radius_m", "radius_m = 300.0"}, []string{"tyres.radius_m: 300 is not between 0.1 and 1"}},
		"radius of nobody":      {[]string{"radius_source", ""}, []string{"tyres.radius_source: is missing"}},
		"radius of an empty":    {[]string{"radius_source", `radius_source = ""`}, []string{"tyres.radius_source: is empty; say who measured"}},
		"mass in lb, negative":  {[]string{"mass_kg", "mass_kg = -600.0"}, []string{"car.mass_kg: -600 is not between"}},
		"mass nan":              {[]string{"mass_kg", "mass_kg = nan"}, []string{"car.mass_kg"}},
		"mass missing":          {[]string{"mass_kg", ""}, []string{"car.mass_kg: is missing"}},
		"mass zero":             {[]string{"mass_kg", "mass_kg = 0.0"}, []string{"car.mass_kg: 0 is not between"}},
		"mass as text":          {[]string{"mass_kg", `mass_kg = "600"`}, []string{"mass_kg"}},
		"share in percent":      {[]string{"front_share_ratio", "front_share_ratio = 44.0"}, []string{"car.front_share_ratio: 44 is not between"}},
		"driven by all":         {[]string{"driven", `driven = "all"`}, []string{"car.driven", `"rear", "front"`}},
		"wrong case":            {[]string{"mass_kg", "Mass_kg = 600.0"}, []string{"car.Mass_kg", "mass_kg"}},
		"misspelt key":          {[]string{"cg_height_m", "cg_hight_m = 0.3"}, []string{"car.cg_hight_m", "cg_height_m"}},
		"wrong unit in the key": {[]string{"mass_kg", "mass_lb = 1323.0"}, []string{"car.mass_lb", "mass_kg"}},
		"empty name":            {[]string{"name", `name = ""`}, []string{"car.name: is empty"}},
		"windows path":          {[]string{"gearbox", `gearbox = "D:\new\tall.toml"`}, []string{"driveline.gearbox", "single quotes"}},
		"no gearbox":            {[]string{"gearbox", ""}, []string{"driveline.gearbox: is missing"}},
		"empty gearbox":         {[]string{"gearbox", `gearbox = ""`}, []string{"driveline.gearbox: is empty"}},
		"limiter above table":   {[]string{"limiter_rpm", "limiter_rpm = 9500.0"}, []string{"map[1].limiter_rpm: 9500 lies outside the torque table (3500 to 9300 rpm)"}},
		"limiter below table":   {[]string{"limiter_rpm", "limiter_rpm = 3500.0"}, []string{"map[1].limiter_rpm: 3500 lies outside"}},
		"rpm falls":             {[]string{crankRPM, "speed_rpm = [3500.0, 4500.0, 4000.0, 5000.0, 5500.0, 6000.0, 6500.0, 7000.0, 7500.0, 8000.0, 8300.0, 8500.0, 9000.0, 9300.0]"}, []string{"map[1].speed_rpm[3]: 4000 is not > 4500"}},
		"rpm repeats":           {[]string{crankRPM, "speed_rpm = [3500.0, 4000.0, 4000.0, 5000.0, 5500.0, 6000.0, 6500.0, 7000.0, 7500.0, 8000.0, 8300.0, 8500.0, 9000.0, 9300.0]"}, []string{"map[1].speed_rpm[3]: 4000 is not > 4000"}},
		"lengths differ":        {[]string{crankRPM, "speed_rpm = [3500.0, 6000.0, 9300.0]"}, []string{"map[1].torque_nm: has 14 values for 3 engine speeds"}},
		"two points":            {[]string{crankRPM, "speed_rpm = [3500.0, 9300.0]"}, []string{"map[1].speed_rpm: has 2 points; a torque curve needs at least 3"}},
		"negative torque":       {[]string{"torque_nm = [300.0, 318.0,", "torque_nm = [300.0, 318.0, -5.0, 352.0, 368.0, 382.0, 392.0, 396.0, 395.0, 388.0, 380.0, 369.0, 340.0, 318.0]"}, []string{"map[1].torque_nm[3]: -5 is not > 0"}},
		"same map twice":        {[]string{`name = "save"`, `name = "race"`}, []string{`map[2].name: "race" is taken`}},
		"pulling at limiter":    {[]string{"pulling_rpm", "pulling_rpm = 8900.0"}, []string{"engine.pulling_rpm: 8900 is not below the limiter"}},
		"over-rev below":        {[]string{"over_rev_rpm", "over_rev_rpm = 8000.0"}, []string{"engine.over_rev_rpm: 8000 is below the limiter 9000"}},
		"power in horsepower": {[]string{"limiter_rpm", "limiter_rpm = 9000.0\npower_kw = [149.5, 181.1, 215.3, 250.6, 288.2, 326.3, 362.8, 394.7, 421.8, 441.9, 449.1, 446.6, 435.7, 421.1]"},
			[]string{"map[1].power_kw[", "metric horsepower, not kW"}},
		"launch below table":    {[]string{"launch_rpm", "launch_rpm = 3400.0"}, []string{`engine.launch_rpm: 3400 is outside what the clutch can hold in map "race"`, "(3500 to 9000 rpm)"}},
		"launch above limiter":  {[]string{"launch_rpm", "launch_rpm = 8800.0"}, []string{`engine.launch_rpm: 8800 is outside what the clutch can hold in map "save"`, "(3500 to 8700 rpm)"}},
		"fuel in kg per kWh":    {[]string{"fuel_consumption", "fuel_consumption_g_per_kwh = 0.29"}, []string{"engine.fuel_consumption_g_per_kwh: 0.29 is not between 100 and 2000"}},
		"fuel below zero":       {[]string{"fuel_kg", "fuel_kg = -1.0"}, []string{"car.fuel_kg: -1 is not between 0 and 500"}},
		"power too short":       {[]string{"limiter_rpm", "limiter_rpm = 9000.0\npower_kw = [109.9]"}, []string{"map[1].power_kw: has 1 values for 14"}},
		"downforce without aim": {[]string{"front_share_ratio = 0.42", ""}, []string{"aero.front_share_ratio: is missing"}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			car, err := Parse(edit(t, "wren", c.pairs...))
			require.Nil(t, car)
			require.Error(t, err)
			for _, w := range c.want {
				require.Contains(t, err.Error(), w)
			}
			require.Contains(t, err.Error(), "my.toml")
		})
	}
}

// Every fault of a file in one error, in file order.
func TestParseAllFaultsAtOnce(t *testing.T) {
	_, err := Parse(edit(t, "wren",
		"mass_kg", "mass_kg = -1.0", "wheelbase_m", "", "torque_measured_at", "",
		"limiter_rpm", "limiter_rpm = 20000.0", "radius_m", "radius_m = 30.0",
		"reference_load_n", "reference_load_n = inf", "drive_slip_ratio", "drive_slip_ratio = 2.0"))
	var faults *datafile.FaultsError
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults.Faults, 7, err.Error())
}

func TestParseEmptyFile(t *testing.T) {
	_, err := Parse(datafile.NewSource("my.toml", nil))
	for _, w := range []string{"map: is missing", "torque_measured_at", "mass_kg", "gearbox"} {
		require.ErrorContains(t, err, w)
	}
}

func TestParseAwkwardSamples(t *testing.T) {
	for file, want := range map[string]string{
		"nan.toml":                   "mass_kg",
		"windows_path_and_typo.toml": "car.tyre_radius: is not a known key",
	} {
		data, err := os.ReadFile("testdata/" + file)
		require.NoError(t, err)
		_, err = Parse(datafile.NewSource(file, data))
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, file)
	}
}

func TestAttach(t *testing.T) {
	c, err := Parse(example(t, "wren"))
	require.NoError(t, err)
	require.ErrorContains(t, c.Attach(nil), `asks for "wren-six"`)
	require.ErrorContains(t, c.Attach(&gearbox.Box{Name: "five", Gears: 5}), "has 6 values, but gearbox five has 5 gears")
	require.Nil(t, c.Box)
	box := &gearbox.Box{Name: "six", Gears: 6}
	require.NoError(t, c.Attach(box))
	require.Same(t, box, c.Box)

	one, err := Parse(edit(t, "wren", "gear_efficiency_ratio", "gear_efficiency_ratio = [0.95]"))
	require.NoError(t, err)
	require.NoError(t, one.Attach(box))
	require.Equal(t, []float64{0.95, 0.95, 0.95, 0.95, 0.95, 0.95}, one.Efficiency)
}

func TestEngineMapByName(t *testing.T) {
	c, err := Parse(example(t, "wren"))
	require.NoError(t, err)
	m, err := c.Engine.Map("")
	require.NoError(t, err)
	require.Equal(t, "race", m.Name)
	m, err = c.Engine.Map("save")
	require.NoError(t, err)
	require.Equal(t, "save", m.Name)
	_, err = c.Engine.Map("rain")
	require.EqualError(t, err, `no engine map "rain"; this car has "race", "save"`)
}

// No input makes the loader panic, and a car that it accepts can be driven:
// its curve fits, its limiter lies inside it, its grip is finite.
func FuzzParse(f *testing.F) {
	for _, name := range datafile.Names(Embedded(), ExampleDir, ".toml") {
		f.Add(example(f, name).Data)
	}
	f.Add([]byte("[car]\nmass_kg = nan\n[[map]]\nspeed_rpm = [1, 2, 3]\ntorque_nm = [1, 2]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Parse(datafile.NewSource("fuzz.toml", data))
		if err != nil {
			return
		}
		if c.Mass <= 0 || c.TyreRadius <= 0 || len(c.Engine.Maps) == 0 || len(c.Efficiency) == 0 {
			t.Fatalf("accepted a car that cannot be driven: %+v", c)
		}
		for i := range c.Engine.Maps {
			m := &c.Engine.Maps[i]
			curve, err := m.Curve()
			if err != nil {
				t.Fatal(err)
			}
			if at := curve.At(m.LimiterRPM); !(at > 0) || !finite(at) {
				t.Fatalf("torque %g at the limiter", at)
			}
		}
		for _, tyre := range []Tyre{c.Front, c.Rear} {
			if x, y := tyre.Capacity(3000, 1); !(x > 0 && y > 0) || !finite(x) || !finite(y) {
				t.Fatalf("grip %g, %g N", x, y)
			}
		}
	})
}
