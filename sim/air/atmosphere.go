package air

import (
	"math"

	"layshaft/internal/units"
)

// The standard atmosphere below 11 km: ISO 2533:1975, Standard Atmosphere,
// section 2 (constants and formulas); the same as U.S. Standard Atmosphere,
// 1976, part 1, below 32 km. All exact by definition.
const (
	seaTemperature = 288.15    // K
	seaPressure    = 101325.0  // Pa
	lapse          = 0.0065    // K/m of geopotential altitude
	gasConstant    = 287.05287 // J/(kg·K), dry air
	earthRadius    = 6356766.0 // m, nominal, for geopotential altitude
	tropopause     = 11000.0   // m, geopotential; end of the constant lapse
	deepest        = -5000.0   // m, geopotential; start of the tables
)

// StandardAtmosphere returns temperature (K), pressure (Pa) and density
// (kg/m³) of the standard atmosphere at geopotential altitude h (m), -5,000 to
// 11,000. It panics outside that range and on NaN; Resolve, the door for user
// input, allows less. Source: ISO 2533:1975, section 2.
func StandardAtmosphere(h float64) (temperature, pressure, density float64) {
	if !(h >= deepest && h <= tropopause) {
		panic("air: altitude outside the standard atmosphere's lowest layer")
	}
	temperature = seaTemperature - lapse*h
	pressure = seaPressure * math.Pow(temperature/seaTemperature, units.Gravity/(gasConstant*lapse))
	return temperature, pressure, pressure / (gasConstant * temperature)
}

// Geopotential converts geometric altitude (m) to geopotential altitude (m):
// 0.2 m apart at 1,000 m. Source: ISO 2533:1975, section 2.
func Geopotential(geometric float64) float64 {
	return earthRadius * geometric / (earthRadius + geometric)
}

// FromSeaLevel returns the station pressure (Pa) at an altitude (m) from a
// pressure reduced to sea level (Pa) and the station's temperature (K),
// through air whose temperature falls by the standard 6.5 K/km: the
// hydrostatic equation in closed form. With the standard's own temperature at
// that altitude and 101,325 Pa it gives the standard's pressure.
//
// Weather services reduce with the station's temperature, as here; airfields
// report a setting reduced with the standard temperature. At 500 m and 35 °C
// the two differ by about 0.5 %.
func FromSeaLevel(sea, temperature, altitude float64) float64 {
	h := Geopotential(altitude)
	return sea * math.Pow(temperature/(temperature+lapse*h), units.Gravity/(gasConstant*lapse))
}
