package units_test

import (
	"testing"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// Factors as printed in A. Thompson, B. N. Taylor, Guide for the Use of the
// International System of Units, NIST Special Publication 811 (2008),
// appendix B.8: those in bold there are exact, the others are given to seven
// digits. From memory (MEM), cross-checked by the definitions below.
func TestFactorsAgainstThePublishedTable(t *testing.T) {
	const exact, sevenDigits = 1e-15, 5e-7
	cases := []struct {
		name   string
		si     float64 // one such unit in SI
		factor float64 // ours, from SI
		tol    float64 // relative
	}{
		{"mile per hour", 0.44704, units.ToMph, exact},
		{"kilometre per hour", 0.2777778, units.ToKmh, sevenDigits},
		{"revolution per minute", 0.1047198, units.ToRPM, sevenDigits},
		{"degree (angle)", 0.01745329, units.ToDeg, sevenDigits},
		{"foot", 0.3048, units.ToFoot, exact},
		{"pound (avoirdupois)", 0.45359237, units.ToPound, exact},
		{"foot pound-force (torque)", 1.355818, units.ToLbfFt, sevenDigits},
		{"pound-force", 4.448222, units.ToPoundForce, sevenDigits},
		{"horsepower (550 ft·lbf/s)", 745.6999, units.ToHorsepower, sevenDigits},
	}
	for _, c := range cases {
		numtest.Equal(t, c.name, 1, c.si*c.factor, 0, c.tol)
	}
	numtest.Equal(t, "standard acceleration of free fall, m/s²", 9.80665, units.Gravity, 0, 0)
	numtest.Equal(t, "0 °C, K", 273.15, units.ZeroC, 0, 0)
	numtest.Equal(t, "hectopascal, Pa", 100, units.HPa, 0, 0)
}

// The definitions chain up: the mile is 5280 feet; a pound-force foot is the
// weight of a pound under standard gravity on a lever of a foot. The only error
// left is rounding in the last place.
func TestFactorsAgainstDefinitions(t *testing.T) {
	const round = 1e-15
	numtest.Equal(t, "mile, m", 1609.344, 5280/units.ToFoot, 0, round)
	numtest.Equal(t, "mile/h from the mile", 3600/1609.344, units.ToMph, 0, round)
	numtest.Equal(t, "lbf·ft from pound, foot and gravity",
		0.3048*0.45359237*9.80665, 1/units.ToLbfFt, 0, round)
}

func TestInverses(t *testing.T) {
	const round = 1e-15 // one rounding of a product
	numtest.Equal(t, "km/h there and back", 1, units.ToKmh*units.FromKmh, 0, round)
	numtest.Equal(t, "mile/h there and back", 1, units.ToMph*units.FromMph, 0, round)
	numtest.Equal(t, "rpm there and back", 1, units.ToRPM*units.FromRPM, 0, round)
	numtest.Equal(t, "degrees there and back", 1, units.ToDeg*units.FromDeg, 0, round)
}

// Power from torque: hp = lbf·ft × rpm / 5252.11 (one horsepower is 550 ft·lbf
// each second, by definition), kW = N·m × rpm / 9549.3. Both numbers are common
// practice and follow from the definitions.
func TestPowerFromTorque(t *testing.T) {
	footPoundSecond := 1 / units.ToLbfFt // W
	hp := 550 * footPoundSecond
	numtest.Equal(t, "rpm at which hp and lbf·ft show the same number",
		5252.11, hp/footPoundSecond*units.ToRPM, 0.005, 0)
	numtest.Equal(t, "rpm at which kW and N·m show the same number",
		9549.3, 1000*units.ToRPM, 0.05, 0)
	numtest.Equal(t, "mechanical horsepower, W", 745.6999, hp, 5e-5, 0)
}
