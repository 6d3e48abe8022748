package air

import (
	"math"

	"layshaft/internal/units"
)

// State is the air at the circuit.
type State struct {
	Temperature float64 // K
	Pressure    float64 // Pa, station pressure, absolute
	Humidity    float64 // relative humidity, 0 to 1
}

// Constants of the CIPM-2007 formula: A. Picard, R. S. Davis, M. Gläser,
// K. Fujii, Revised formula for the density of moist air (CIPM-2007),
// Metrologia 45 (2008) 149-155, appendix A1. The saturation pressure is the
// paper's equation (A1.1), the enhancement factor (A1.2), the compressibility
// (A1.4), the density (1) with the constants of its section 2.
const (
	satA, satB, satC, satD = 1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3

	enhAlpha, enhBeta, enhGamma = 1.00062, 3.14e-8, 5.6e-7 // -, 1/Pa, 1/K²

	zA0, zA1, zA2 = 1.58123e-6, -2.9331e-8, 1.1043e-10 // K/Pa, 1/Pa, 1/(K·Pa)
	zB0, zB1      = 5.707e-6, -2.051e-8                // K/Pa, 1/Pa
	zC0, zC1      = 1.9898e-4, -2.376e-6               // K/Pa, 1/Pa
	zD, zE        = 1.83e-11, -0.765e-8                // K²/Pa²

	massOverR   = 3.483740e-3 // kg·K/J, molar mass of dry air at 400 ppm CO2 / gas constant
	vapourShare = 0.3780      // 1 - molar mass of water / of dry air
)

// SaturationPressure is the vapour pressure (Pa) over plane liquid water at
// temperature (K). The source states it for 273 to 300 K within 0.01 %; up to
// 373 K it stays within 0.05 % of the steam tables.
func SaturationPressure(temperature float64) float64 {
	t := temperature
	return math.Exp(satA*t*t + satB*t + satC + satD/t)
}

// VapourFraction is the mole fraction of water vapour, 0 to 1.
func (s State) VapourFraction() float64 {
	t := s.Temperature - units.ZeroC
	f := enhAlpha + enhBeta*s.Pressure + enhGamma*t*t
	return min(s.Humidity*f*SaturationPressure(s.Temperature)/s.Pressure, 1)
}

// Density is the density of moist air (kg/m³) at temperature (K), station
// pressure (Pa) and relative humidity (0 to 1), by the full CIPM-2007 formula
// with compressibility. The source states 600 to 1,100 hPa and 15 to 27 °C
// with 2.2e-5 relative uncertainty of the formula; outside, at any weather a
// race is run in, it stays within 0.1 % of the ideal mixture.
func Density(temperature, pressure, humidity float64) float64 {
	s := State{temperature, pressure, humidity}
	t := temperature - units.ZeroC
	xv := s.VapourFraction()
	q := pressure / temperature
	z := 1 - q*(zA0+zA1*t+zA2*t*t+(zB0+zB1*t)*xv+(zC0+zC1*t)*xv*xv) + q*q*(zD+zE*xv*xv)
	return massOverR * q / z * (1 - vapourShare*xv)
}

// Density is the density of this air (kg/m³); see the function Density.
func (s State) Density() float64 { return Density(s.Temperature, s.Pressure, s.Humidity) }

// DryPressure is the pressure (Pa) without the vapour's share, on which the
// engine corrections rest.
func (s State) DryPressure() float64 { return s.Pressure * (1 - s.VapourFraction()) }
