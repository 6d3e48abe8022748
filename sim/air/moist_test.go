package air

import (
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// ASHRAE Handbook - Fundamentals, 2017, ch. 1, table 3, taken from the test
// suite of an open psychrometric library that cites it. The tolerance covers
// the difference between that table's formula and the CIPM's (0.01 %) and the
// library's own margin.
func TestSaturationPressureHandbook(t *testing.T) {
	for _, row := range []struct{ celsius, pressure float64 }{
		{5, 872.6}, {25, 3169.7}, {50, 12351.3}, {100, 101418},
	} {
		rel := 3e-4
		if row.celsius == 100 {
			rel = 5e-4 // 70 K above the range that the CIPM formula claims
		}
		numtest.Equal(t, "saturation pressure (Pa)", row.pressure, SaturationPressure(row.celsius+273.15), 0, rel)
	}
}

// A. Wexler, Vapor Pressure Formulation for Water in Range 0 to 100 °C. A
// Revision, J. Res. Natl. Bur. Stand. 80A (1976) 775, abstract: 611.657 Pa at
// the triple point.
func TestSaturationPressureTriplePoint(t *testing.T) {
	numtest.Equal(t, "saturation pressure (Pa)", 611.657, SaturationPressure(273.16), 0.001, 0)
}

// WMO, Guide to Instruments and Methods of Observation, annex 4.B: the Magnus
// form 6.112·exp(17.62·t/(243.12+t)) hPa; its stated uncertainty is 0.6 %
// between -45 and 60 °C (from memory). A check of the shape only.
func TestSaturationPressureMagnus(t *testing.T) {
	for c := -5.0; c <= 50; c += 5 {
		numtest.Equal(t, "saturation pressure (Pa)", 611.2*math.Exp(17.62*c/(243.12+c)), SaturationPressure(c+273.15), 0, 6e-3)
	}
}

// Density of moist air by CIPM-2007 at four states. The formula and its
// coefficients are the paper's (Metrologia 45, 2008, 149); the numbers are
// independent computations in another language: five digits from one source,
// nine from another, so that the smallest term of the compressibility (2e-6)
// shows. The first state is quoted as 1.199 in laboratory practice (from
// memory).
func TestDensityCIPM(t *testing.T) {
	for _, row := range []struct{ celsius, pressure, humidity, density, tol float64 }{
		{20, 101325, 0.5, 1.19931, 1e-5},
		{20, 100000, 0.5, 1.18356, 1e-5},
		{15, 101325, 0, 1.22552, 1e-5},
		{25, 101325, 0.5, 1.17732, 1e-5},
		{20, 101325, 0.5, 1.199, 5e-4},
		{20, 101325, 0.5, 1.199314437, 1e-9},
		{40, 85000, 0.9, 0.917947251, 1e-9},
		{5, 103000, 0.7, 1.287840687, 1e-9},
	} {
		numtest.Equal(t, "density (kg/m³)", row.density, Density(row.celsius+273.15, row.pressure, row.humidity), row.tol, 0)
	}
	s := State{293.15, 101325, 0.5}
	numtest.Equal(t, "vapour fraction", 0.0115893, s.VapourFraction(), 1e-7, 0)
	numtest.Equal(t, "saturation pressure at 20 °C (Pa)", 2339.16, SaturationPressure(293.15), 0.01, 0)
}

// OIML R 111-1 (2004), annex E, equation E.3-1, the simplified formula, with a
// relative standard uncertainty of 2e-4 between 900 and 1,100 hPa, 10 and
// 30 °C, up to 80 % humidity: 2e-4 in the middle, twice that at the edges of
// its range. Formula and uncertainty from memory.
func TestDensitySimplified(t *testing.T) {
	numtest.Equal(t, "density (kg/m³)", 1.19929, Density(293.15, 101325, 0.5), 0, 2e-4)
	for c := 10.0; c <= 30; c += 5 {
		for _, hPa := range []float64{900, 960, 1013.25, 1050} {
			for _, rh := range []float64{0, 20, 50, 80} {
				simple := (0.34848*hPa - 0.009*rh*math.Exp(0.061*c)) / (273.15 + c)
				numtest.Equal(t, "density (kg/m³)", simple, Density(c+273.15, hPa*100, rh/100), 0, 4e-4)
			}
		}
	}
}

// Dry air at 25 °C and 101,325 Pa: 0.8443 m³/kg in ASHRAE Handbook -
// Fundamentals, 2017, ch. 1, table 2, by way of an open library's tests.
func TestDensityDryHandbook(t *testing.T) {
	numtest.Equal(t, "specific volume (m³/kg)", 0.8443, 1/Density(298.15, 101325, 0), 1e-3*0.8443, 0)
}

// 30 °C, humidity ratio 0.02, 95,461 Pa: 1.08411986348219 kg/m³, the value of
// an open psychrometric library for the handbook's ideal-mixture equation.
// Real air is denser by its compressibility, about 3e-4 here.
func TestDensityHumidityRatio(t *testing.T) {
	const temperature, pressure, ratio = 303.15, 95461.0, 0.02
	fraction := ratio / (0.621945 + ratio) // mole fraction of vapour
	full := State{temperature, pressure, 1}.VapourFraction()
	numtest.Equal(t, "density (kg/m³)", 1.08411986348219, Density(temperature, pressure, fraction/full), 0, 4e-4)
}
