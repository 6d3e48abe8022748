package sim

import "math"

// SensitivityRPM is how far (1/min) Sensitivities moves the shifts.
const SensitivityRPM = 100

// Sensitivity is what a lap's time depends on beside the set: changes of lap
// time (s), positive = slower, +Inf where the lap cannot be driven so.
type Sensitivity struct {
	ShiftEarly float64 // every shift SensitivityRPM below its rpm
	ShiftLate  float64 // every shift SensitivityRPM above it, not above the limiter
	// InertiaReturn is the step of the car's shift-inertia return (9.2) from 0
	// to 1, whatever the car itself states.
	InertiaReturn float64
}

// Sensitivities drives the flying lap with total ratios by gear (engine turns per
// wheel turn) again with every shift rpm moved, and with none and all of the
// engine's spin given back at upshifts. All laps are on the model's own mesh, so
// that most of the numerical error drops out of the differences.
func Sensitivities(m *Model, total []float64) (Sensitivity, error) {
	return sensitivities(m, passage{kind: Flying, total: total})
}

// SensitivitiesOf is Sensitivities for any kind of lap; speed (m/s) is that of a
// restart and left unread otherwise.
func SensitivitiesOf(m *Model, total []float64, kind Kind, speed float64) (Sensitivity, error) {
	return sensitivities(m, passage{kind: kind, total: total, speed: speed})
}

func sensitivities(m *Model, p passage) (Sensitivity, error) {
	base := m.NewSolver().timeOf(p)
	// again is the time (s) with the shifts moved and the share of spin energy
	// that comes back.
	again := func(offset, inertia float64) (float64, error) {
		if offset == 0 && inertia == m.car.ShiftInertiaReturn {
			return base, nil
		}
		car, settings := *m.car, m.settings
		car.ShiftInertiaReturn = inertia
		settings.ShiftOffset += offset
		other, err := New(&car, m.track, m.cond, &settings)
		if err != nil {
			return 0, err
		}
		return other.NewSolver().timeOf(p), nil
	}
	var t [4]float64
	own := m.car.ShiftInertiaReturn
	for i, change := range [4][2]float64{{-SensitivityRPM, own}, {SensitivityRPM, own}, {0, 0}, {0, 1}} {
		var err error
		if t[i], err = again(change[0], change[1]); err != nil {
			return Sensitivity{}, err
		}
	}
	return Sensitivity{
		ShiftEarly: longer(base, t[0]), ShiftLate: longer(base, t[1]), InertiaReturn: longer(t[2], t[3]),
	}, nil
}

// longer is to - from (s), +Inf where either cannot be driven.
func longer(from, to float64) float64 {
	if math.IsInf(from, 1) || math.IsInf(to, 1) {
		return math.Inf(1)
	}
	return to - from
}
