package sheet

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"layshaft/internal/numtest"
)

func TestRounding(t *testing.T) {
	// 13/16 = 0.8125 is a tie that float formatting rounds to even, 0.812.
	assert.Equal(t, "0.813", fraction{13, 16}.text())
	assert.Equal(t, "2.769", fraction{36, 13}.text())
	assert.Equal(t, "1.000", fraction{29, 29}.text())
	assert.Equal(t, "0.059", fraction{1, 17}.text())
	// A rule of a least ratio 1.70 is not met by 1.699 (common practice): both
	// stay apart on paper.
	assert.Equal(t, "1.699", fraction{1699, 1000}.text())
	assert.Equal(t, "1.700", fraction{34, 20}.text())

	assert.Equal(t, "0.13", milliseconds(0.00012301), "an error is never rounded down")
	assert.Equal(t, "1.00", milliseconds(0.001))
	assert.Equal(t, "0.00", milliseconds(0))
	assert.Equal(t, 0.001, ceilTo(0.001, timeDecimals))
	assert.Equal(t, 0.000124, ceilTo(0.00012301, timeDecimals))
	assert.Equal(t, "19", bench(18.1), "bench minutes are rounded up")
	assert.Equal(t, "18", bench(18))
	assert.Equal(t, "0.0", fixed(-0.04, 1), "no negative nothing")
	assert.False(t, math.Signbit(roundTo(-0.04, 1)))

	assert.Equal(t, "+0.002", difference(83.4567, 83.4588))
	assert.Equal(t, "0.000", difference(1.0004, 1.0001))
	assert.Equal(t, "-0.032", difference(83.1518, 83.1204), "83.152 - 0.032 = 83.120 as printed")

	assert.Equal(t, "1:23.457", clock(83.4567891))
	assert.Equal(t, "1:05.000", clock(64.9999))
	assert.Equal(t, "1:00.000", clock(59.9999), "the carry goes into the minutes")
	assert.Equal(t, "58.321", clock(58.321))
	assert.Equal(t, "12,345,678", Grouped("12345678"))
	assert.Equal(t, "999", Grouped("999"))
}

// International yard and pound agreement (1959): 1 mile = 1.609344 km,
// 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, all exact.
func TestUSUnits(t *testing.T) {
	us := display{us: true}
	assert.Equal(t, "100.0 mph", us.speedWithUnit(160.9344))
	assert.Equal(t, "1000 ft", us.distWithUnit(304.8))
	assert.Equal(t, "100.0 lb", us.mass(45.359237))
	assert.Equal(t, "160.9 km/h", display{}.speedWithUnit(160.9344))
}

// The fixture's first gear by hand: 13 and 36 teeth with 12 and 37 behind, a
// wheel of 0.3 m, upshift at 7,750 rpm into 16 and 35 teeth.
func TestGearByHand(t *testing.T) {
	g := mustBuild(t, fixture(6)).Gears[0]
	numtest.Equal(t, "ratio 36/13", 2.769230769, g.Ratio, 1e-9, 0)                                 // last digit as written
	numtest.Equal(t, "overall 36·37/(13·12)", 8.538461538, g.OverallRatio, 1e-9, 0)                // last digit as written
	numtest.Equal(t, "step (36·16)/(13·35)", 1.265934066, *g.StepRatio, 1e-9, 0)                   // last digit as written
	numtest.Equal(t, "km/h at 7750 rpm", 102.6537, *g.SpeedAtUpshiftKmh, 1e-3, 0)                  // JSON rounds to 0.001
	assert.Equal(t, []int{7750, 6122, 1628}, []int{*g.UpshiftRPM, *g.RPMAfterUpshift, *g.RPMDrop}) // 7750·455/576 = 6121.96
	assert.Equal(t, Turn{2, 277}, g.WheelTurn.Bench)                                               // 0.76923 · 360 = 276.9
	assert.Equal(t, Turn{8, 194}, g.WheelTurn.BothWheels)                                          // 0.53846 · 360 = 193.8
	assert.Equal(t, Turn{4, 97}, g.WheelTurn.OneWheel)                                             // 4.26923: 0.26923 · 360 = 96.9
}

// For any teeth and any rpm the printed numbers add up and the self-test agrees.
func TestPrintedNumbersAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		teeth := rapid.IntRange(9, 60)
		a := Gear{LayshaftTeeth: teeth.Draw(rt, "lay"), MainshaftTeeth: teeth.Draw(rt, "main")}
		b := Gear{LayshaftTeeth: teeth.Draw(rt, "next lay"), MainshaftTeeth: teeth.Draw(rt, "next main")}
		up := rapid.IntRange(1000, 20000).Draw(rt, "rpm")
		c := &sums{}
		c.printed(0, "ratio", pairRatio(&a).text(), exactRatio(a.MainshaftTeeth, a.LayshaftTeeth))
		if c.err() != nil {
			rt.Fatal(c.err())
		}
		step := stepRatio(&a, &b)
		after := fraction{step.den, step.num}.of(up)
		want := float64(up) / step.value()
		if !(math.Abs(float64(after)-want) <= 0.5+1e-9) {
			rt.Fatalf("%d rpm over %g: %d, want %g", up, step.value(), after, want)
		}
	})
}

// Every JSON key of a number ends in its unit, or is one of the counts, names
// and rpm values whose key says it already.
func TestKeysEndInTheirUnit(t *testing.T) {
	suffixes := []string{"_s", "_m", "_km", "_kmh", "_kg", "_kgm3", "_kj", "_c", "_hpa", "_pct", "_deg", "_rpm", "_ratio", "_count", "_min", "_teeth", "_version", "_mm", "_n", "_nm", "_coef"}
	bare := []string{"gear", "ratio", "from", "to", "fork", "stack_position", "step", "rpm_after_upshift", "rpm_drop", "rpm_before", "rpm_after", "km_per_lap", "throttle_on_gear", "top_speed_gear"}
	seen := map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(typ reflect.Type) {
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
			typ = typ.Elem()
		}
		if typ.Kind() != reflect.Struct || seen[typ] {
			return
		}
		seen[typ] = true
		for i := range typ.NumField() {
			f := typ.Field(i)
			key := f.Tag.Get("json")
			assert.True(t, key != "" || f.Anonymous, "%s.%s has no key", typ, f.Name)
			base := f.Type
			if base.Kind() == reflect.Pointer {
				base = base.Elem()
			}
			if base.Kind() == reflect.Int || base.Kind() == reflect.Float64 {
				ok := false
				for _, s := range suffixes {
					ok = ok || strings.HasSuffix(key, s)
				}
				for _, b := range bare {
					ok = ok || key == b
				}
				assert.True(t, ok, "%s.%s: key %q names no unit", typ, f.Name, key)
			}
			walk(f.Type)
		}
	}
	for _, v := range []any{Sheet{}, WhatIf{}, Comparison{}, LapReport{}, BarrelReport{}, DriverCard{}} {
		walk(reflect.TypeOf(v))
	}
	assert.Greater(t, len(seen), 15)
}
