package cars

import (
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
)

// Power from torque, by definition of the units: lbf·ft and horsepower show
// the same number at 5,252.11 rpm, and kW = N·m x rpm / 9,549.3.
func TestPowerConstants(t *testing.T) {
	numtest.Equal(t, "hp = lbf·ft at (rpm)", 5252.11, mechanicalHP/lbfFt*units.ToRPM, 0.01, 0)
	numtest.Equal(t, "rpm·N·m per kW", 9549.3, 1000*units.ToRPM, 0.01, 0)
	// ISO 80000-4 and conversion tables: 745.700 W and 735.499 W (from memory).
	numtest.Equal(t, "mechanical hp (W)", 745.69987, mechanicalHP, 1e-4, 0)
	numtest.Equal(t, "metric hp (W)", 735.49875, metricHP, 1e-9, 0)
}

func TestCheckPower(t *testing.T) {
	rpm := []float64{3000, 5000, 7000}
	torque := []float64{200, 250, 220}               // N·m
	power := []float64{62.83185, 130.8997, 161.2684} // kW = T·n/9549.3
	scaled := func(v []float64, f float64) []float64 {
		out := make([]float64, len(v))
		for i := range v {
			out[i] = v[i] * f
		}
		return out
	}
	cases := map[string]struct {
		torque, power []float64
		want          []string
	}{
		"agree":               {torque, power, nil},
		"rounded":             {torque, []float64{63, 131, 161}, nil},
		"torque lbf·ft":       {scaled(torque, 1/1.35582), power, []string{"lbf·ft, not N·m", "metric horsepower, not kW"}},
		"torque kgf·m":        {scaled(torque, 1/9.80665), power, []string{"kgf·m, not N·m"}},
		"mechanical hp":       {torque, scaled(power, 1/0.745700), []string{"mechanical horsepower, not kW"}},
		"metric hp":           {torque, scaled(power, 1/0.735499), []string{"metric horsepower, not kW"}},
		"watts":               {torque, scaled(power, 1000), []string{"the power is in W"}},
		"lbf·ft and hp":       {scaled(torque, 1/1.35582), scaled(power, 1/0.745700), []string{"lbf·ft and the power in mechanical"}},
		"kgf·m and metric hp": {scaled(torque, 1/9.80665), scaled(power, 1/0.735499), []string{"kgf·m and the power in metric"}},
		"metric as if mech.":  {torque, scaled(power, 0.745700/0.735499), []string{"metric horsepower, converted as if mechanical"}},
		"one point":           {torque, []float64{62.83, 139, 161.27}, []string{"139 kW, but 250 N·m at 5000 rpm make 130.9 kW", "no matter of units"}},
		"no unit":             {torque, scaled(power, 1.1), []string{"factor of about 1.1", "no usual unit"}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, why := checkPower(rpm, c.torque, c.power)
			if c.want == nil {
				require.Empty(t, why)
				return
			}
			for _, w := range c.want {
				require.Contains(t, why, w)
			}
		})
	}
}
