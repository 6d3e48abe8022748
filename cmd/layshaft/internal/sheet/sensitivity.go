package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"layshaft/sim"
)

// Sensitivities are changes of lap time (s), positive = slower; nil where the
// lap cannot be driven so.
type Sensitivities struct {
	ShiftEarlyS  *float64 `json:"shift_rpm_minus_100_s"`
	ShiftLateS   *float64 `json:"shift_rpm_plus_100_s"` // not above the limiter
	ShiftReturnS *float64 `json:"shift_inertia_return_s"`
}

// sensitivitiesOf is nil for none.
func sensitivitiesOf(s *sim.Sensitivity) *Sensitivities {
	if s == nil {
		return nil
	}
	one := func(d float64) *float64 {
		if math.IsInf(d, 0) || math.IsNaN(d) {
			return nil
		}
		v := roundTo(d, timeDecimals)
		return &v
	}
	return &Sensitivities{ShiftEarlyS: one(s.ShiftEarly), ShiftLateS: one(s.ShiftLate), ShiftReturnS: one(s.InertiaReturn)}
}

// phrase says what the lap time does when shifts move.
func (s *Sensitivities) phrase() string {
	change := func(d *float64) string {
		if d == nil {
			return "cannot be driven"
		}
		return signed(*d, timeText) + tie + "s"
	}
	return fmt.Sprintf("%s with every shift %d rpm earlier, %s later; %s with all of the engine's spin given back at upshifts, against none",
		change(s.ShiftEarlyS), int(sim.SensitivityRPM), change(s.ShiftLateS), change(s.ShiftReturnS))
}

// marginPhrase explains a gain by later shifts; "" where there is none.
func (s *Sensitivities) marginPhrase(margin int, numericalError float64) string {
	if s.ShiftLateS == nil || margin <= 0 || *s.ShiftLateS >= -numericalError {
		return ""
	}
	return fmt.Sprintf("Later shifts would be quicker, but the car file's shift margin keeps them %d rpm below the limiter.", margin)
}

// shiftRule says when shifts come.
func shiftRule(c Conditions, margin int) string {
	if len(c.DriverShiftRPM) > 0 {
		return "at the driver's own rpm; no gear is held past it but in a no-shift place"
	}
	return fmt.Sprintf("where they cost the least time, at the latest %d rpm below the limiter", margin)
}

// driverPhrase is what was asked of the driver; "" for nothing.
func (c *Conditions) driverPhrase() string {
	var parts []string
	if len(c.DriverShiftRPM) > 0 {
		words := make([]string, len(c.DriverShiftRPM))
		for i, rpm := range c.DriverShiftRPM {
			words[i] = strconv.Itoa(rpm)
		}
		parts = append(parts, "shifts at "+strings.Join(words, ", ")+" rpm, first gear first")
	}
	if c.LimiterMostS != nil {
		parts = append(parts, "at most "+strconv.FormatFloat(*c.LimiterMostS, 'f', -1, 64)+" s on the limiter in a gear")
	}
	return strings.Join(parts, "; ")
}

// limiterPhrase is the limiter and the time on it.
func limiterPhrase(limiter int, onIt float64) string {
	return fmt.Sprintf("%d rpm, %s s of the lap on it", limiter, seconds(onIt))
}
