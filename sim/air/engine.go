package air

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/units"
)

// Correction is a published rule by which the power of a naturally aspirated
// spark-ignition engine is referred to standard air. The formulas are as
// quoted in secondary sources; titles and sections are from memory, since the
// standards themselves were not at hand. The tests name what each was held
// against.
type Correction int

const (
	// None leaves the torque as it is.
	None Correction = iota
	// SAEJ1349: SAE J1349 JUN90, Engine Power Test Code - Spark Ignition and
	// Compression Ignition - Net Power Rating, section on correction of
	// brake power: CF = 1.18·(990/pd)·sqrt((t+273)/298) - 0.18, pd dry in
	// hPa. Its reference is 990 hPa dry and 25 °C; the 0.18 stands for
	// friction, which does not change with the air.
	SAEJ1349
	// ISO1585: ISO 1585:1992, Road vehicles - Engine test code - Net power,
	// section 6 (power correction, positive-ignition engines):
	// CF = (99/pd)^1.2·(T/298)^0.6, pd dry in kPa.
	ISO1585
	// SAEJ607: SAE J607, Small Spark Ignition Engine Test Code, the older
	// "standard" correction: CF = (29.92/pd)·sqrt((F+460)/520), pd dry in
	// inches of mercury; reference 60 °F.
	SAEJ607
	// DIN70020: DIN 70020 part 6, Road vehicles; engine power:
	// CF = (1013/p)·sqrt((273+t)/293), p station pressure in hPa, without
	// regard to humidity. Formula from memory.
	DIN70020
)

// correctionNames (read-only) are the names in the order of the constants.
var correctionNames = [...]string{"none", "SAE J1349", "ISO 1585", "SAE J607", "DIN 70020"}

// Corrections lists every correction by its name.
func Corrections() []string { return append([]string(nil), correctionNames[:]...) }

func (c Correction) String() string {
	if c < 0 || int(c) >= len(correctionNames) {
		return fmt.Sprintf("Correction(%d)", int(c))
	}
	return correctionNames[c]
}

// CorrectionByName finds a correction by its name; case and spaces do not
// matter, and "" is None. The error lists the names.
func CorrectionByName(name string) (Correction, error) {
	plain := func(s string) string { return strings.ToLower(strings.ReplaceAll(s, " ", "")) }
	if name == "" {
		return None, nil
	}
	for i, n := range correctionNames {
		if plain(n) == plain(name) {
			return Correction(i), nil
		}
	}
	return None, fmt.Errorf("no engine correction %q; known are %s", name, strings.Join(correctionNames[:], ", "))
}

// inchMercury is the conventional inch of mercury at 0 °C.
const inchMercury = 3386.389 // Pa

// CF is the standard's own factor: observed power in this air times CF is the
// power in standard air. Above 1 in thin or hot air. It is not positive, and
// Factor refuses it, only where an engine could not run.
func (c Correction) CF(s State) float64 {
	dry, t := s.DryPressure(), s.Temperature
	switch c {
	case SAEJ1349:
		return 1.18*(990*units.HPa/dry)*math.Sqrt((t-0.15)/298) - 0.18
	case ISO1585:
		return math.Pow(99e3/dry, 1.2) * math.Pow(t/298, 0.6)
	case SAEJ607:
		fahrenheit := t*1.8 - 459.67
		return 29.92 * inchMercury / dry * math.Sqrt((fahrenheit+460)/520)
	case DIN70020:
		return 1013 * units.HPa / s.Pressure * math.Sqrt((t-0.15)/293)
	}
	return 1
}

// Factor is the factor on the torque that the car's file states, as corrected
// to this standard, for an engine that breathes this air: 1/CF. Below 1 in
// thin or hot air. It fails for air in which the formula gives nothing
// positive. The text is a warning, empty when there is none: both SAE J1349
// and ISO 1585 confine their factor to 0.93 to 1.07.
func (c Correction) Factor(s State) (factor float64, warning string, err error) {
	cf := c.CF(s)
	if !(cf > 0) || math.IsInf(cf, 0) {
		return 0, "", fmt.Errorf("engine correction %s gives the factor %g in air of %.1f °C, %.1f hPa, %.0f %% humidity; check the weather",
			c, cf, s.Temperature-units.ZeroC, s.Pressure/units.HPa, 100*s.Humidity)
	}
	if (c == SAEJ1349 || c == ISO1585) && (cf < 0.93 || cf > 1.07) {
		warning = fmt.Sprintf("engine correction factor %.3f (%s) lies outside 0.93 to 1.07, the range for which the standard vouches", cf, c)
	}
	return 1 / cf, warning, nil
}
