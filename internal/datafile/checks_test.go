package datafile_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

func TestChecks(t *testing.T) {
	const text = "[car]\nmass_kg = -5\ntrack = 'lft'\n[engine]\ntorque_rpm = [1, 3,\n 2, 2]\n[[pair]]\nlayshaft_teeth = 13.5\n"
	cases := []struct {
		name  string
		check func(d *datafile.Doc) bool
		want  string // "" = holds or stays silent
		holds bool
	}{
		{"positive", func(d *datafile.Doc) bool { return d.Positive("car.mass_kg", -5) }, "my.toml:2: car.mass_kg: -5 is not > 0", false},
		{"positive zero", func(d *datafile.Doc) bool { return d.Positive("car.mass_kg", 0) }, "my.toml:2: car.mass_kg: 0 is not > 0", false},
		{"positive nan", func(d *datafile.Doc) bool { return d.Positive("car.mass_kg", math.NaN()) }, "my.toml:2: car.mass_kg: nan is not > 0", false},
		{"positive inf", func(d *datafile.Doc) bool { return d.Positive("car.mass_kg", math.Inf(1)) }, "my.toml:2: car.mass_kg: inf is not > 0", false},
		{"positive holds", func(d *datafile.Doc) bool { return d.Positive("car.mass_kg", 1e-9) }, "", true},
		{"absent key is silent", func(d *datafile.Doc) bool { return d.Positive("car.tyre_radius_m", 0) }, "", false},
		{"absent key with a default", func(d *datafile.Doc) bool { return d.Positive("car.tyre_radius_m", 0.3) }, "", true},
		{"non-negative", func(d *datafile.Doc) bool { return d.NonNegative("car.mass_kg", -5) }, "my.toml:2: car.mass_kg: -5 is not >= 0", false},
		{"non-negative zero", func(d *datafile.Doc) bool { return d.NonNegative("car.mass_kg", math.Copysign(0, -1)) }, "", true},
		{"between", func(d *datafile.Doc) bool { return d.Between("car.mass_kg", -5, 0, 0.25) }, "my.toml:2: car.mass_kg: -5 is not between 0 and 0.25", false},
		{"between holds at the ends", func(d *datafile.Doc) bool {
			return d.Between("car.mass_kg", 0, 0, 1) && d.Between("car.mass_kg", 1, 0, 1)
		}, "", true},
		{"between nan", func(d *datafile.Doc) bool { return d.Between("car.mass_kg", math.NaN(), 0, 1) }, "my.toml:2: car.mass_kg: nan is not between 0 and 1", false},
		{"increasing", func(d *datafile.Doc) bool { return d.Increasing("engine.torque_rpm", []float64{1, 3, 2, 2}) },
			"my.toml:6: engine.torque_rpm[3]: 2 is not > 3, the value before it; sort the list and merge equal values (and so at 1 more places)", false},
		{"increasing nan", func(d *datafile.Doc) bool { return d.Increasing("engine.torque_rpm", []float64{math.NaN()}) },
			"my.toml:5: engine.torque_rpm[1]: nan is not a finite number", false},
		{"increasing holds", func(d *datafile.Doc) bool { return d.Increasing("engine.torque_rpm", []float64{1, 2}) }, "", true},
		{"one of", func(d *datafile.Doc) bool { return d.OneOf("car.track", "lft", "left", "right") },
			`my.toml:3: car.track: "lft" is not one of "left", "right"; did you mean "left"?`, false},
		{"one of holds", func(d *datafile.Doc) bool { return d.OneOf("car.track", "left", "left", "right") }, "", true},
		{"whole", func(d *datafile.Doc) bool { _, ok := d.Whole("pair[1].layshaft_teeth", 13.5, 1, 99); return ok },
			"my.toml:8: pair[1].layshaft_teeth: 13.5 is not a whole number", false},
		{"whole range", func(d *datafile.Doc) bool { _, ok := d.Whole("pair[1].layshaft_teeth", 0, 1, 99); return ok },
			"my.toml:8: pair[1].layshaft_teeth: 0 is not a whole number between 1 and 99", false},
		{"whole nan", func(d *datafile.Doc) bool {
			_, ok := d.Whole("pair[1].layshaft_teeth", math.NaN(), 1, 99)
			return ok
		},
			"my.toml:8: pair[1].layshaft_teeth: nan is not a whole number", false},
		{"whole holds", func(d *datafile.Doc) bool {
			n, ok := d.Whole("pair[1].layshaft_teeth", 13, 13, 13)
			return ok && n == 13
		}, "", true},
		{"need", func(d *datafile.Doc) bool { return d.Need("car.mass_kg", "car.tyre_radius_m", "engine.torque_nm") },
			"my.toml:1: car.tyre_radius_m: is missing (a number)\nmy.toml:4: engine.torque_nm: is missing (a list of numbers)", false},
		{"need in an array of tables", func(d *datafile.Doc) bool { return d.Need("pair[1].mark") }, "my.toml:7: pair[1].mark: is missing (a text in quotes)", false},
		{"need a table once", func(d *datafile.Doc) bool { return d.Need("spare", "spare.mark") }, "my.toml: spare: is missing (a table)", false},
		{"need holds", func(d *datafile.Doc) bool { return d.Need("car", "car.mass_kg", "pair[1]") }, "", true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d, _ := decode(t, text)
			assert.Equal(t, c.holds, c.check(d))
			got := ""
			if err := d.Err(); err != nil {
				got = err.Error()
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestOneFaultPerKey(t *testing.T) {
	d, f := decode(t, "[car]\nmass_kg = nan\ntyre_radius = 0.3\n[engine]\ntorque_nm = [inf, 2]\n")
	assert.False(t, d.Positive("car.mass_kg", f.Car.MassKg))
	assert.False(t, d.Between("car.mass_kg", 5, 0, 9), "a faulty key holds nothing")
	assert.False(t, d.Need("car.tyre_radius_m"), "its misspelling was reported already")
	assert.False(t, d.Positive("engine.torque_nm[1]", f.Engine.TorqueNm[0]))
	d.Fault("", "the file as a whole")
	var fe *datafile.FaultsError
	require.ErrorAs(t, d.Err(), &fe)
	require.Len(t, fe.Faults, 4)
	assert.Equal(t, datafile.Fault{File: "my.toml", Line: 2, Key: "car.mass_kg",
		Message: "nan is not a number that can be computed with; write a finite number"}, fe.Faults[0])
	assert.Equal(t, "my.toml: the file as a whole", fe.Faults[3].String(), "faults without a line come last")
}
