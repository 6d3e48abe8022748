package air

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

func dryAir(celsius, hPa float64) State {
	return State{Temperature: celsius + 273.15, Pressure: hPa * 100}
}

// SAE J1349 JUN90: the formula as quoted from the standard, which makes the
// factor 1 at its reference of 990 hPa dry and 25 °C; the other two rows are
// an independent computation.
func TestSAEJ1349(t *testing.T) {
	numtest.Equal(t, "CF at reference", 1, SAEJ1349.CF(dryAir(25, 990)), 1e-12, 0)
	numtest.Equal(t, "CF 1013.25 hPa, 15 °C", 0.953414, SAEJ1349.CF(dryAir(15, 1013.25)), 1e-6, 0)
	numtest.Equal(t, "CF 960 hPa, 30 °C", 1.04704, SAEJ1349.CF(dryAir(30, 960)), 5e-6, 0)
}

// ISO 1585 (the same as UN Regulation 85) for spark ignition: 1 at 99 kPa dry
// and 298 K by definition. 0.98592 for 100 kPa, 20 % humidity and 294 K is an
// independent computation from the formula; it took 2,487 Pa (21 °C) as the
// saturation pressure, so the dry pressure is given here as such.
func TestISO1585(t *testing.T) {
	numtest.Equal(t, "CF at reference", 1, ISO1585.CF(State{Temperature: 298, Pressure: 99e3}), 1e-12, 0)
	numtest.Equal(t, "CF 100 kPa, 294 K, 20 %", 0.98592, ISO1585.CF(State{Temperature: 294, Pressure: 100e3 - 0.2*2487}), 1e-5, 0)
}

// SAE J607: the worked example of a dynamometer note. 400 hp seen at 85 °F,
// 85 % humidity, 28.85 inHg, and 442 hp at 55 °F, 35 %, 30.10 inHg, both come
// to about 440 hp; its factors are 1.1005 and 0.994, three and four digits.
func TestSAEJ607WorkedExample(t *testing.T) {
	hot := State{Temperature: (85 + 459.67) / 1.8, Pressure: 28.85 * 3386.389, Humidity: 0.85}
	cold := State{Temperature: (55 + 459.67) / 1.8, Pressure: 30.10 * 3386.389, Humidity: 0.35}
	numtest.Equal(t, "CF hot", 1.1005, SAEJ607.CF(hot), 0.001, 0)
	numtest.Equal(t, "CF cold", 0.994, SAEJ607.CF(cold), 0.001, 0)
	numtest.Equal(t, "hp hot", 440, 400*SAEJ607.CF(hot), 1, 0)
	numtest.Equal(t, "hp cold", 440, 442*SAEJ607.CF(cold), 1, 0)
}

// DIN 70020: reference 20 °C and 1,013 hPa; 1.07306 at 960 hPa and 30 °C.
// Formula from memory.
func TestDIN70020(t *testing.T) {
	numtest.Equal(t, "CF at reference", 1, DIN70020.CF(dryAir(20, 1013)), 1e-12, 0)
	numtest.Equal(t, "CF 960 hPa, 30 °C", 1.07306, DIN70020.CF(dryAir(30, 960)), 1e-5, 0)
}

// Thin, hot or damp air takes power away, whatever the standard: the factor on
// torque falls with altitude and heat and is the inverse of CF.
func TestFactorDirection(t *testing.T) {
	for _, c := range []Correction{SAEJ1349, ISO1585, SAEJ607, DIN70020} {
		base, _, err := c.Factor(State{293.15, 99000, 0.4})
		require.NoError(t, err)
		thin, _, err := c.Factor(State{293.15, 90000, 0.4})
		require.NoError(t, err)
		hot, _, err := c.Factor(State{308.15, 99000, 0.4})
		require.NoError(t, err)
		require.Less(t, thin, base, c.String())
		require.Less(t, hot, base, c.String())
		numtest.Equal(t, c.String(), 1, base*c.CF(State{293.15, 99000, 0.4}), 1e-15, 0)
	}
	for _, c := range []Correction{SAEJ1349, ISO1585, SAEJ607} {
		require.Greater(t, c.CF(State{303.15, 99000, 0.9}), c.CF(State{303.15, 99000, 0}), c.String())
	}
}

func TestFactorNone(t *testing.T) {
	f, w, err := None.Factor(State{320, 60000, 1})
	require.NoError(t, err)
	require.Empty(t, w)
	require.Equal(t, 1.0, f)
}

// Both standards state 0.93 to 1.07 as the range of their factor (common
// knowledge of the trade; standards not opened).
func TestFactorWarnsOutsideRange(t *testing.T) {
	_, w, err := SAEJ1349.Factor(dryAir(30, 880))
	require.NoError(t, err)
	require.Contains(t, w, "0.93 to 1.07")
	_, w, err = ISO1585.Factor(dryAir(20, 985))
	require.NoError(t, err)
	require.Empty(t, w)
}

func TestFactorRefusesImpossibleAir(t *testing.T) {
	// All of the pressure is vapour: no dry air is left to burn.
	_, _, err := SAEJ1349.Factor(State{373.15, 90000, 1})
	require.ErrorContains(t, err, "SAE J1349")
}

func TestCorrectionNames(t *testing.T) {
	for _, name := range Corrections() {
		c, err := CorrectionByName(strings.ToLower(name))
		require.NoError(t, err)
		require.Equal(t, name, c.String())
	}
	c, err := CorrectionByName("")
	require.NoError(t, err)
	require.Equal(t, None, c)
	_, err = CorrectionByName("J9999")
	require.ErrorContains(t, err, "SAE J1349, ISO 1585")
}
