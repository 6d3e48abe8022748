package sheet

import (
	"fmt"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/internal/units"
)

// none stands where a number does not exist.
const none = "-"

// display writes quantities in the reader's units.
type display struct{ us bool }

func (o TextOptions) display() (display, error) {
	switch o.Units {
	case "", Metric:
		return display{}, nil
	case US:
		return display{us: true}, nil
	}
	return display{}, fmt.Errorf("sheet: units %q are not known: use %q or %q", o.Units, Metric, US)
}

func (d display) speedUnit() string {
	if d.us {
		return "mph"
	}
	return "km/h"
}

// speed writes km/h in the reader's unit, without the unit.
func (d display) speed(kmh float64) string { return fixed(d.inUnit(kmh), speedText) }

// speedDown is speed rounded down.
func (d display) speedDown(kmh float64) string {
	return fixed(floorTo(d.inUnit(kmh), speedText), speedText)
}

func (d display) inUnit(kmh float64) float64 {
	if d.us {
		return kmh * units.FromKmh * units.ToMph
	}
	return kmh
}

func (d display) speedWithUnit(kmh float64) string { return d.speed(kmh) + " " + d.speedUnit() }

func (d display) distUnit() string {
	if d.us {
		return "ft"
	}
	return "m"
}

// dist writes metres in the reader's unit, without the unit.
func (d display) dist(m float64) string {
	if d.us {
		m *= units.ToFoot
	}
	return fixed(m, 0)
}

func (d display) distWithUnit(m float64) string { return d.dist(m) + " " + d.distUnit() }

func (d display) mass(kg float64) string {
	if d.us {
		return fixed(kg*units.ToPound, 1) + " lb"
	}
	return fixed(kg, 1) + " kg"
}

// seconds writes a time to 1 ms.
func seconds(s float64) string { return fixed(s, timeText) }

// clock writes a lap time as 1:23.456, under a minute as 58.321.
func clock(s float64) string {
	s = roundTo(s, timeText)
	m := int(s / secondsPerMinute)
	rest := fixed(s-float64(m*secondsPerMinute), timeText)
	if m == 0 {
		return rest
	}
	if len(rest) < len("00.000") {
		rest = "0" + rest
	}
	return strconv.Itoa(m) + ":" + rest
}

// difference writes to - from of two times as printed: the printed times and
// the difference add up.
func difference(from, to float64) string {
	return signed(roundTo(to, timeText)-roundTo(from, timeText), timeText)
}

// milliseconds writes an error or gap, rounded up.
func milliseconds(s float64) string { return fixed(ceilTo(s*1e3, errorText), errorText) }

// bench writes bench minutes, rounded up to whole ones.
func bench(min float64) string { return strconv.Itoa(int(ceilTo(min, 0))) }

func whole(n *int) string {
	if n == nil {
		return none
	}
	return strconv.Itoa(*n)
}

// Grouped writes a whole number, given by its digits, with a comma every three digits.
func Grouped(digits string) string {
	var b strings.Builder
	for i, r := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// gearList writes gears as people read them: "6, 4, R"; "none" without any.
func gearList(gears []int) string {
	if len(gears) == 0 {
		return "none"
	}
	names := make([]string, len(gears))
	for i, g := range gears {
		names[i] = gearbox.GearName(g)
	}
	return strings.Join(names, ", ")
}

// forkName writes a fork as its gears: "2-5".
func forkName(fork []int) string { return gearbox.Fork(fork).String() }

// plural writes a count with its word: "1 gear", "3 gears".
func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return strconv.Itoa(n) + " " + word + "s"
}

// given writes a figure as the user gave it.
func given(v *float64, unit string) string {
	return strconv.FormatFloat(*v, 'g', -1, 64) + " " + unit
}
