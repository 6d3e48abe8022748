package air

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

func p(v float64) *float64 { return &v }

func TestResolveDefaults(t *testing.T) {
	s, warnings, err := Resolve(Given{})
	require.NoError(t, err)
	require.Empty(t, warnings)
	require.Equal(t, State{288.15, 101325, 0}, s)

	// ISO 2533 at 500 m geometric (see TestStandardAtmosphereTable).
	s, warnings, err = Resolve(Given{Altitude: p(500)})
	require.NoError(t, err)
	require.Empty(t, warnings)
	numtest.Equal(t, "pressure (Pa)", 95461, s.Pressure, 1, 0)
	numtest.Equal(t, "temperature (K)", 284.900, s.Temperature, 1e-3, 0)
}

func TestResolveStationWins(t *testing.T) {
	s, warnings, err := Resolve(Given{Temperature: p(298.15), StationPressure: p(97200), Humidity: p(0.4)})
	require.NoError(t, err)
	require.Empty(t, warnings)
	require.Equal(t, State{298.15, 97200, 0.4}, s)
}

func TestResolveSeaLevel(t *testing.T) {
	s, warnings, err := Resolve(Given{Temperature: p(298.15), SeaLevelPressure: p(101800), Altitude: p(800)})
	require.NoError(t, err)
	require.Empty(t, warnings)
	numtest.Equal(t, "pressure (Pa)", FromSeaLevel(101800, 298.15, 800), s.Pressure, 0, 0)
}

func TestResolveWarnings(t *testing.T) {
	cases := map[string]struct {
		given Given
		want  string // "" = no warning
	}{
		"agree": {Given{StationPressure: p(92600), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, ""},
		// By hand the sea-level pressure means 92668 Pa there: 1.9 and 2.1 % more, 2.1 % less.
		"just agree":          {Given{StationPressure: p(94428), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, ""},
		"just disagree":       {Given{StationPressure: p(94614), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, "disagree by 2.1 %"},
		"disagree from below": {Given{StationPressure: p(90722), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, "disagree by 2.1 %"},
		"disagree by 2.9 %":   {Given{StationPressure: p(95400), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, "disagree by 2.9 %"},
		"same number twice":   {Given{StationPressure: p(101800), SeaLevelPressure: p(101800), Altitude: p(800), Temperature: p(288.15)}, "the station pressure is used"},
		"reduced as station":  {Given{StationPressure: p(101300), Altitude: p(800)}, "is it a pressure reduced to sea level?"},
		"deep low at 800 m":   {Given{StationPressure: p(89500), Altitude: p(800)}, ""},
		"sea level, high air": {Given{StationPressure: p(103500), Altitude: p(0)}, ""},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			s, warnings, err := Resolve(c.given)
			require.NoError(t, err)
			require.Equal(t, *c.given.StationPressure, s.Pressure)
			if c.want == "" {
				require.Empty(t, warnings)
				return
			}
			require.Len(t, warnings, 1)
			require.Contains(t, warnings[0], c.want)
		})
	}
}

func TestResolveFaultsAllAtOnce(t *testing.T) {
	_, _, err := Resolve(Given{
		Temperature: p(25), StationPressure: p(1013.25), SeaLevelPressure: p(101325), Humidity: p(55),
	})
	require.ErrorContains(t, err, "air temperature -248.15 °C is outside -40 to 60 °C")
	require.ErrorContains(t, err, "station pressure 10.1325 hPa is outside 500 to 1100 hPa")
	require.ErrorContains(t, err, "give the altitude")
	require.ErrorContains(t, err, "relative humidity 5500 % is outside 0 to 100 %")
	for _, bad := range []Given{
		{Temperature: p(math.NaN())}, {StationPressure: p(math.Inf(1))}, {Humidity: p(math.NaN())},
		{Altitude: p(math.NaN())}, {Altitude: p(9000)},
		{SeaLevelPressure: p(math.NaN()), Altitude: p(100)},
	} {
		_, _, err := Resolve(bad)
		require.Error(t, err)
	}
}

// Any weather that Resolve accepts gives finite, plausible numbers.
func FuzzResolve(f *testing.F) {
	f.Add(298.15, 97200.0, 400.0, 0.5)
	f.Add(333.15, 50000.0, 5000.0, 1.0)
	f.Fuzz(func(t *testing.T, temp, pressure, altitude, humidity float64) {
		s, _, err := Resolve(Given{Temperature: &temp, StationPressure: &pressure, Altitude: &altitude, Humidity: &humidity})
		if err != nil {
			return
		}
		if rho := s.Density(); !(rho > 0.4 && rho < 1.8) {
			t.Errorf("density %g kg/m³ for %+v", rho, s)
		}
		for _, c := range []Correction{SAEJ1349, ISO1585, SAEJ607, DIN70020} {
			if k, _, err := c.Factor(s); err != nil || !(k > 0.2 && k < 2) {
				t.Errorf("%s: factor %g, error %v for %+v", c, k, err, s)
			}
		}
	})
}
