package air

import (
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// U.S. Standard Atmosphere, 1976 (NASA-TM-X-74335), part 4, table I, which is
// identical to ISO 2533 below 32 km; geometric altitudes. The values were
// taken from the test suite of an open library that cites the table. Its
// pressures up to 1 km are rounded to 10 Pa or interpolated, hence 10 Pa there.
func TestStandardAtmosphereTable(t *testing.T) {
	for _, row := range []struct{ z, temperature, pressure, density, tolP float64 }{
		{0, 288.15, 101325, 1.2250, 10},
		{50, 287.825, 100720, 1.2191, 10},
		{500, 284.900, 95461, 1.1673, 10},
		{550, 284.575, 94890, 1.1616, 10},
		{850, 282.626, 91523, 1.1281, 10},
		{2500, 271.906, 74691, 0.95695, 1},
		{6500, 245.943, 44075, 0.62431, 1},
		{9000, 229.733, 30800, 0.46706, 1},
	} {
		temp, p, rho := StandardAtmosphere(Geopotential(row.z))
		numtest.Equal(t, "temperature (K)", row.temperature, temp, 1e-3, 0)
		numtest.Equal(t, "pressure (Pa)", row.pressure, p, row.tolP, 0)
		numtest.Equal(t, "density (kg/m³)", row.density, rho, 5e-5, 0)
	}
}

// Geopotential altitude 11,000 m: 216.65 K, 22,632.1 Pa, 0.363918 kg/m³, as
// printed in teaching notes on altimetry; last digit of the pressure.
func TestStandardAtmosphereTropopause(t *testing.T) {
	temp, p, rho := StandardAtmosphere(11000)
	numtest.Equal(t, "temperature (K)", 216.65, temp, 1e-9, 0)
	numtest.Equal(t, "pressure (Pa)", 22632.1, p, 0.1, 0)
	numtest.Equal(t, "density (kg/m³)", 0.363918, rho, 1e-6, 0)
}

// ASHRAE Handbook - Fundamentals, 2017, ch. 1, table 1 (geopotential), taken
// from the test suite of an open psychrometric library that cites it.
func TestStandardAtmosphereHandbook(t *testing.T) {
	for _, row := range []struct{ h, pressure, celsius float64 }{
		{-500, 107478, 18.2},
		{0, 101325, 15.0},
		{500, 95461, 11.8},
		{1000, 89875, 8.5},
		{4000, 61640, -11.0},
		{10000, 26436, -50.0},
	} {
		temp, p, _ := StandardAtmosphere(row.h)
		numtest.Equal(t, "pressure (Pa)", row.pressure, p, 1, 0)
		numtest.Equal(t, "temperature (°C)", row.celsius, temp-273.15, 0.1, 0)
	}
}

func TestStandardAtmospherePanicsOutside(t *testing.T) {
	for _, h := range []float64{-5001, 11001, math.NaN()} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("StandardAtmosphere(%g) did not panic", h)
				}
			}()
			StandardAtmosphere(h)
		}()
	}
}

// In the standard's own column of air the reduction to sea level and the
// standard's table are two routes to one pressure.
func TestFromSeaLevelMeetsStandard(t *testing.T) {
	for _, z := range []float64{-400, 0, 300, 1200, 2240, 4000} {
		temp, p, _ := StandardAtmosphere(Geopotential(z))
		numtest.Equal(t, "station pressure (Pa)", p, FromSeaLevel(101325, temp, z), 0, 1e-12)
	}
}

// Second route: dp/dz = -p·g/(R·T(z)) integrated downhill in 1 m steps from
// the station to sea level, by the midpoint rule.
func TestFromSeaLevelHydrostatic(t *testing.T) {
	const sea, station, altitude = 101800.0, 303.15, 800.0
	h := Geopotential(altitude)
	n := 800
	p := FromSeaLevel(sea, station, altitude)
	dh := h / float64(n)
	for i := range n {
		temp := station + 0.0065*(float64(i)+0.5)*dh
		p *= math.Exp(9.80665 * dh / (287.05287 * temp))
	}
	numtest.Equal(t, "sea-level pressure (Pa)", sea, p, 0, 1e-8)
}
