package cars

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"layshaft/internal/units"
)

// Units in which a torque or power column is often written by mistake, from
// their definitions: mechanical horsepower 550 ft·lbf/s, metric horsepower
// 75 kgf·m/s (CGPM definitions of pound, foot and standard gravity).
const (
	mechanicalHP = 550 * units.Gravity / (units.ToFoot * units.ToPound) // W
	metricHP     = 75 * units.Gravity                                   // W
	lbfFt        = 1 / units.ToLbfFt                                    // N·m
	kgfM         = units.Gravity                                        // N·m
)

// powerTolerance is how far a stated power may be off torque x speed: two
// rounded columns agree to a fraction of a percent, metric and mechanical
// horsepower differ by 1.4 %.
const powerTolerance = 0.01

// mistake is a wrong unit and the factor by which stated power / (torque x
// speed) is then off.
type mistake struct {
	what   string
	factor float64
}

func mistakes() []mistake {
	const kW = 1000.0
	return []mistake{
		{"the torque is in lbf·ft, not N·m", lbfFt},
		{"the torque is in kgf·m, not N·m", kgfM},
		{"the power is in mechanical horsepower, not kW", kW / mechanicalHP},
		{"the power is in metric horsepower, not kW", kW / metricHP},
		{"the power is in W, not kW", kW},
		{"the torque is in lbf·ft and the power in mechanical horsepower", lbfFt * kW / mechanicalHP},
		{"the torque is in lbf·ft and the power in metric horsepower", lbfFt * kW / metricHP},
		{"the torque is in kgf·m and the power in metric horsepower", kgfM * kW / metricHP},
		{"the torque is in kgf·m and the power in mechanical horsepower", kgfM * kW / mechanicalHP},
		{"the power was metric horsepower, converted as if mechanical", mechanicalHP / metricHP},
		{"the power was mechanical horsepower, converted as if metric", metricHP / mechanicalHP},
	}
}

// checkPower compares a power column (kW) with torque (N·m) x speed (1/min).
// It returns an empty text when all agree within powerTolerance, else the
// index of the worst point and what is wrong, with the wrong unit that would
// explain it.
func checkPower(rpm, torque, power []float64) (worst int, why string) {
	ratios := make([]float64, len(rpm))
	off := 0.0
	for i := range rpm {
		ratios[i] = power[i] * 1000 / (torque[i] * rpm[i] * units.FromRPM)
		if e := math.Abs(ratios[i] - 1); e > off || math.IsNaN(e) {
			off, worst = e, i
		}
	}
	if off <= powerTolerance {
		return 0, ""
	}
	is := fmt.Sprintf("%g kW, but %g N·m at %g rpm make %g kW", power[worst], torque[worst], rpm[worst],
		round4(torque[worst]*rpm[worst]*units.FromRPM/1000))
	sorted := append([]float64(nil), ratios...)
	sort.Float64s(sorted)
	median := sorted[len(sorted)/2]
	if sorted[len(sorted)-1]/sorted[0] > 1+3*powerTolerance || median <= 0 {
		return worst, is + "; the points are off by different amounts, so it is no matter of units: correct the columns or leave power_kw out"
	}
	var fits []string
	for _, m := range mistakes() {
		if math.Abs(median/m.factor-1) < powerTolerance/2 {
			fits = append(fits, m.what)
		}
	}
	if len(fits) == 0 {
		return worst, is + fmt.Sprintf("; all points are off by a factor of about %g, which no usual unit explains: correct the columns or leave power_kw out", round4(median))
	}
	return worst, is + "; it would fit if " + strings.Join(fits, ", or if ") + ": convert the column"
}
