package datafile_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

const goodCar = `# a made-up car
title = "Made up"
wet = true
forks = [[1, 3], [2]]
spare = { mark = 'x', layshaft_teeth = 12 }

[car]
mass_kg = 565
tyre_radius_m = 2.87e-1

[engine] # dotted keys and lists over several lines
inertia_kgm2 = 0.05
torque_rpm = [
  2_000, # idle
  3000,
]

[[pair]]
mark = "13/36"
fits = ["A", 'B']
[[pair]]
mark = """a
b"""
layshaft_teeth = 14
`

func TestDecodeFillsTheSchema(t *testing.T) {
	d, f := decode(t, goodCar)
	require.NoError(t, d.Err())
	assert.Equal(t, "Made up", f.Title)
	assert.True(t, f.Wet)
	assert.Equal(t, [][]float64{{1, 3}, {2}}, f.Forks)
	assert.Equal(t, &pairTable{Mark: "x", LayshaftTeeth: 12}, f.Spare)
	assert.Equal(t, carTable{MassKg: 565, TyreRadiusM: 0.287}, f.Car)
	assert.Equal(t, []float64{2000, 3000}, f.Engine.RPM)
	assert.Equal(t, []pairTable{{Mark: "13/36", Fits: []string{"A", "B"}}, {Mark: "a\nb", LayshaftTeeth: 14}}, f.Pair)
	assert.Equal(t, "my.toml", d.Source().Name)
}

func TestHasAndLine(t *testing.T) {
	d, _ := decode(t, goodCar)
	lines := map[string]int{
		"title": 2, "forks": 4, "forks[1][2]": 4, "spare.mark": 5, "car": 7, "car.mass_kg": 8,
		"engine.torque_rpm": 13, "engine.torque_rpm[2]": 15, "pair[1]": 18, "pair[1].fits[2]": 20,
		"pair[2]": 21, "pair[2].layshaft_teeth": 24,
	}
	for key, line := range lines {
		assert.True(t, d.Has(key), key)
		assert.Equal(t, line, d.Line(key), key)
	}
	for _, key := range []string{"car.track", "pair[1].layshaft_teeth", "pair[3]", "engine.torque_nm", "Car", ""} {
		assert.False(t, d.Has(key), key)
	}
	assert.Equal(t, 7, d.Line("car.track"), "line of the table around a missing key")
	assert.Equal(t, 18, d.Line("pair[1].layshaft_teeth"))
	assert.Equal(t, 0, d.Line("nothing.here"))
}

func TestDottedAndInlineFormsAreTheSame(t *testing.T) {
	forms := []string{
		"[car]\nmass_kg = 600\n[[pair]]\nmark = 'a'\n[[pair]]\nmark = 'b'\n",
		"car.mass_kg = 600\npair = [{mark = 'a'}, {mark = 'b'}]\n",
		"car = { mass_kg = 600 }\npair = [\n  {mark = 'a'},\n  {mark = 'b'},\n]\n",
		"\"car\" . 'mass_kg' = 600\n[[ pair ]]\nmark = 'a'\n[[pair]]\nmark = 'b'\n",
	}
	for _, text := range forms {
		d, f := decode(t, text)
		require.NoError(t, d.Err(), text)
		assert.Equal(t, 600.0, f.Car.MassKg, text)
		assert.Equal(t, []pairTable{{Mark: "a"}, {Mark: "b"}}, f.Pair, text)
		for _, key := range []string{"car", "car.mass_kg", "pair", "pair[1]", "pair[2].mark"} {
			assert.True(t, d.Has(key), "%s in %q", key, text)
		}
	}
}

// Every message names file, line, key and remedy.
func TestDecodeFaults(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"unknown key", "[car]\nmas_kg = 1\n", `my.toml:2: car.mas_kg: is not a known key; did you mean "mass_kg"?`},
		{"unit left out", "[car]\ntyre_radius = 1\n", `my.toml:2: car.tyre_radius: is not a known key; did you mean "tyre_radius_m"?`},
		{"nothing near", "[car]\ncolour = 1\n", `my.toml:2: car.colour: is not a known key; known here: mass_kg, track, tyre_radius_m`},
		{"unknown key in an array of tables", "[[pair]]\nmark = 'a'\n[[pair]]\nmarc = 'b'\n", `my.toml:4: pair[2].marc: is not a known key; did you mean "mark"?`},
		{"unknown table once", "[motor]\na = 1\n[motor.b]\nc = 2\n", `my.toml:1: motor: is not a known table; known here: car, engine, forks, pair, spare, title, wet`},
		{"wrong case", "[car]\nMass_KG = 1\n", `my.toml:2: car.Mass_KG: is not a key; keys are case-sensitive: write "mass_kg"`},
		{"both cases", "[car]\nmass_kg = 1\nMass_KG = 2\n", `my.toml:3: car.Mass_KG: is the key "mass_kg" in other letters, which is there too; delete one of the two`},
		{"nan", "[car]\nmass_kg = nan\n", `my.toml:2: car.mass_kg: nan is not a number that can be computed with; write a finite number`},
		{"inf in a list", "[engine]\ntorque_nm = [1, 2,\n  -inf]\n", `my.toml:3: engine.torque_nm[3]: -inf is not a number that can be computed with; write a finite number`},
		{"quoted number", "[car]\nmass_kg = '600'\n", `my.toml:2: car.mass_kg: wants a number, got a text ("600"); write it without quotes and without a unit, with a decimal point`},
		{"quoted with unit", "[car]\nmass_kg = '600,5 kg'\n", `my.toml:2: car.mass_kg: wants a number, got a text ("600,5 kg"); write it without quotes and without a unit, with a decimal point`},
		{"number for a text", "title = 3\n", `my.toml:1: title: wants a text in quotes, got the number 3; put it in quotes`},
		{"number for a table", "engine = 3.5\n", `my.toml:1: engine: wants a table, got the number 3.5`},
		{"number for a list", "[engine]\ntorque_nm = 3\n", `my.toml:2: engine.torque_nm: wants a list of numbers, got the number 3; put it in square brackets`},
		{"text in a list", "[engine]\ntorque_nm = [3, 'x']\n", `my.toml:2: engine.torque_nm[2]: wants a number, got a text ("x")`},
		{"text for true", "wet = 'True'\n", `my.toml:1: wet: wants true or false, got a text ("True"); write it without quotes`},
		{"one bracket", "[pair]\nmark = 'a'\n", `my.toml:1: pair: wants an array of tables, got a table; start each one with [[pair]], in double brackets`},
		{"date for a number", "[car]\nmass_kg = 2020-12-01\n", `my.toml:2: car.mass_kg: wants a number, got a date or a time of day`},
		{"too large", "[car]\nmass_kg = 9007199254740993\n", `my.toml:2: car.mass_kg: 9007199254740993 is too large; at most 9007199254740992 can be held exactly`},
		{"windows path", "[car]\ntrack = \"D:\\tracks\\new.csv\"\n", `my.toml:2: car.track: "D:\tracks\new.csv" holds a control character, since a backslash in double quotes starts an escape; use single quotes: 'D:\tracks\new.csv'`},
		{"escape character", "title = \"\\u001b[31m\"\n", `my.toml:1: title: "\u001b[31m" holds a control character, since a backslash in double quotes starts an escape; use single quotes: '\u001b[31m'`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, faultText(t, c.text)) })
	}
}

func TestAllFaultsAtOnceInFileOrder(t *testing.T) {
	got := faultText(t, "titel = 'x'\n[engine]\ntorque_nm = [1, nan]\ninertia_kgm2 = 'x'\n[car]\nmass_kg = true\n")
	assert.Equal(t, strings.Join([]string{
		`my.toml:1: titel: is not a known key; did you mean "title"?`,
		`my.toml:3: engine.torque_nm[2]: nan is not a number that can be computed with; write a finite number`,
		`my.toml:4: engine.inertia_kgm2: wants a number, got a text ("x")`,
		`my.toml:6: car.mass_kg: wants a number, got true`,
	}, "\n"), got)
}

// A schema with values of the wrong kind holds zeros in their place, so a loader
// must not go on with it.
func TestWrongKindsEndAtOnce(t *testing.T) {
	var f taggedCarFile
	d, err := datafile.Decode(datafile.NewSource("my.toml", []byte("colour = 1\nwet = 1\n")), &f)
	assert.Nil(t, d)
	var fe *datafile.FaultsError
	require.ErrorAs(t, err, &fe)
	assert.Len(t, fe.Faults, 2)
	d, err = datafile.Decode(datafile.NewSource("my.toml", []byte("colour = 1\n")), &f)
	require.NoError(t, err)
	assert.Error(t, d.Err())
}

// The fixtures hold faults that were met in real files.
func TestFixtures(t *testing.T) {
	cases := map[string]string{
		"own_car_nan.toml": `own_car_nan.toml:2: car.mass_kg: nan is not a number that can be computed with; write a finite number`,
		"own_car_windows_path_and_typo.toml": `own_car_windows_path_and_typo.toml:1: track: is not a known key; known here: car, engine, forks, pair, spare, title, wet` + "\n" +
			`own_car_windows_path_and_typo.toml:5: car.tyre_radius: is not a known key; did you mean "tyre_radius_m"?`,
	}
	for name, want := range cases {
		src, err := datafile.Read("../../testdata/bad/"+name, nil, "", ".toml")
		require.NoError(t, err)
		var f taggedCarFile
		d, err := datafile.Decode(src, &f)
		require.NoError(t, err)
		assert.EqualError(t, d.Err(), want)
	}
	// The path of the second fixture, where the schema has the key.
	data, err := os.ReadFile("../../testdata/bad/own_car_windows_path_and_typo.toml")
	require.NoError(t, err)
	var f struct {
		Track string   `toml:"track"`
		Car   carTable `toml:"car"`
	}
	d, err := datafile.Decode(datafile.NewSource("p.toml", data), &f)
	require.NoError(t, err)
	assert.ErrorContains(t, d.Err(), `use single quotes: 'D:\tracks\new.csv'`)
}

func TestSchemaMistakesPanic(t *testing.T) {
	src := datafile.NewSource("my.toml", []byte("a = 1\n"))
	assert.Panics(t, func() { _, _ = datafile.Decode(src, carFile{}) }, "no pointer")
	assert.Panics(t, func() { _, _ = datafile.Decode(src, &carFile{}) }, "exported field without a tag")
	assert.Panics(t, func() {
		_, _ = datafile.Decode(src, &struct {
			A int `toml:"a"`
		}{})
	}, "int field")
}
