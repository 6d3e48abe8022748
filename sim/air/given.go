package air

import (
	"errors"
	"fmt"
	"math"

	"layshaft/internal/units"
)

// Given is what the user knows about the weather. A nil field is not known.
type Given struct {
	Temperature      *float64 // K; default the standard temperature at the altitude
	StationPressure  *float64 // Pa, absolute, at the circuit
	SeaLevelPressure *float64 // Pa, reduced to sea level; only together with Altitude
	Altitude         *float64 // m, geometric, of the circuit
	Humidity         *float64 // 0 to 1; default 0, dry air
}

// Two pressures that disagree by more than this are no matter of weather or
// rounding: one of them is not what it is said to be.
const disagreement = 0.02

// Weather moves the station pressure by up to about 4 % around the standard
// one; beyond that, altitude and pressure do not belong together.
const weatherSpread = 0.05

// Resolve makes the state of the air out of what is given, with warnings for
// what contradicts itself. Where no pressure is known it is that of ISO 2533
// at the altitude, at sea level when that is not known either. Every fault is
// reported, all at once.
func Resolve(g Given) (State, []string, error) {
	var faults []error
	check := func(p *float64, what, unit string, lo, hi, scale, zero float64) {
		if p != nil && !(*p >= lo && *p <= hi) {
			faults = append(faults, fmt.Errorf("%s %.6g %s is outside %.6g to %.6g %s",
				what, *p/scale-zero, unit, lo/scale-zero, hi/scale-zero, unit))
		}
	}
	check(g.Temperature, "air temperature", "°C", 233.15, 333.15, 1, units.ZeroC)
	check(g.StationPressure, "station pressure", "hPa", 50000, 110000, units.HPa, 0)
	check(g.SeaLevelPressure, "sea-level pressure", "hPa", 87000, 109000, units.HPa, 0)
	check(g.Altitude, "altitude", "m", -500, 5000, 1, 0)
	check(g.Humidity, "relative humidity", "%", 0, 1, 0.01, 0)
	if g.SeaLevelPressure != nil && g.Altitude == nil {
		faults = append(faults, errors.New("a sea-level pressure says nothing without the altitude of the circuit: give the altitude, or the station pressure instead"))
	}
	if len(faults) > 0 {
		return State{}, nil, errors.Join(faults...)
	}

	var s State
	h := 0.0
	if g.Altitude != nil {
		h = Geopotential(*g.Altitude)
	}
	standardT, standardP, _ := StandardAtmosphere(h)
	s.Temperature = valueOr(g.Temperature, standardT)
	s.Humidity = valueOr(g.Humidity, 0)
	s.Pressure = standardP
	if g.SeaLevelPressure != nil {
		s.Pressure = FromSeaLevel(*g.SeaLevelPressure, s.Temperature, *g.Altitude)
	}
	if g.StationPressure == nil {
		return s, nil, nil
	}

	reduced := s.Pressure
	s.Pressure = *g.StationPressure
	var warnings []string
	off := math.Abs(s.Pressure/reduced - 1)
	switch {
	case g.SeaLevelPressure != nil && off > disagreement:
		warnings = append(warnings, fmt.Sprintf("station pressure %.1f hPa and sea-level pressure %.1f hPa disagree by %.1f %%: at %.0f m the latter means %.1f hPa; the station pressure is used",
			s.Pressure/units.HPa, *g.SeaLevelPressure/units.HPa, 100*off, *g.Altitude, reduced/units.HPa))
	case g.SeaLevelPressure == nil && g.Altitude != nil && off > weatherSpread:
		warnings = append(warnings, fmt.Sprintf("station pressure %.1f hPa is %.1f %% off the standard %.1f hPa at %.0f m: is it a pressure reduced to sea level?",
			s.Pressure/units.HPa, 100*off, reduced/units.HPa, *g.Altitude))
	}
	return s, warnings, nil
}

func valueOr(p *float64, otherwise float64) float64 {
	if p != nil {
		return *p
	}
	return otherwise
}
