package sim

import (
	"context"
	"errors"
	"fmt"
)

// MostLaps is the greatest number of laps of a Stint.
const MostLaps = 200

// StintLap is one lap of a stint.
type StintLap struct {
	Kind  Kind
	Fuel  float64 // kg on board when it begins
	Burnt float64 // kg
	Lap   *Lap
}

// Stint is a run of laps that burns fuel.
type Stint struct {
	Laps           []StintLap
	Time           float64 // s, of all laps
	Average        float64 // s, of all laps
	NumericalError float64 // s, sum of the laps'
	Burnt          float64 // kg, of all laps
	FuelLeft       float64 // kg

	// Joined says that nothing on the lap resets the speed: each lap begins with
	// the speed and in the gear with which the one before it ended.
	Joined     bool
	Infeasible string // not empty: the lap that cannot be driven, and why
}

// Stint simulates n laps one after the other, 1 to MostLaps, beginning with the
// fuel of the model's conditions. The first is a flying lap, an out lap or a
// standing start; the others are flying laps. Each is driven with the fuel on
// board when it begins (10.6). What it burns is the work of the engine times the
// car's fuel consumption (10.7); a car that does not state it is an error. A lap
// that the set cannot drive, or that the fuel does not last for, ends the stint:
// Infeasible then names it, and Laps holds those before it. It ends with the
// context's error when that is done.
func (m *Model) Stint(ctx context.Context, total []float64, n int, first Kind) (*Stint, error) {
	if n < 1 || n > MostLaps {
		return nil, fmt.Errorf("a run of %d laps: give 1 to %d", n, MostLaps)
	}
	if first != Flying && first != Out && first != Start {
		return nil, errors.New("the first lap of a run is a flying lap, an out lap or a standing start")
	}
	rate := m.car.Engine.FuelConsumption
	if !(rate > 0) {
		return nil, fmt.Errorf("car %s: what a lap burns is not known; add engine.fuel_consumption_g_per_kwh to its file", m.car.Name)
	}
	r := &Stint{FuelLeft: m.cond.Fuel}
	at := m
	for i := range n {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if i > 0 {
			cond := m.cond
			cond.Fuel = r.FuelLeft
			var err error
			if at, err = New(m.car, m.track, cond, &m.settings); err != nil {
				return nil, fmt.Errorf("lap %d, %.2f kg of fuel: %w", i+1, cond.Fuel, err)
			}
		}
		p := passage{kind: first, total: total}
		if i > 0 {
			p = at.after(r.Laps[i-1].Lap, total)
			r.Joined = r.Joined || p.next
		}
		lap := at.report(p)
		if lap.Infeasible != "" {
			r.Infeasible = fmt.Sprintf("lap %d of %d, %.2f kg of fuel: %s", i+1, n, r.FuelLeft, lap.Infeasible)
			break
		}
		one := StintLap{Kind: p.kind, Fuel: r.FuelLeft, Burnt: rate * lap.EngineWork, Lap: lap}
		if one.Burnt > one.Fuel {
			r.Infeasible = fmt.Sprintf("lap %d of %d: the fuel runs out: %.2f kg are left of %.2f kg, and the lap burns %.2f kg", i+1, n, one.Fuel, m.cond.Fuel, one.Burnt)
			break
		}
		r.Laps = append(r.Laps, one)
		r.Time += lap.Time
		r.NumericalError += lap.NumericalError
		r.Burnt += one.Burnt
		r.FuelLeft = max(r.FuelLeft-one.Burnt, 0)
	}
	if len(r.Laps) > 0 {
		r.Average = r.Time / float64(len(r.Laps))
	}
	return r, nil
}

// after is the passage that follows a lap: a flying lap where something resets
// the speed, so that the lap before does not matter, else the lap that begins as
// that one ended.
func (m *Model) after(lap *Lap, total []float64) passage {
	p := passage{kind: Flying, total: total}
	k := m.NewSolver()
	if _, settled := k.flying(total); !settled {
		return p
	}
	end := lap.Samples[len(lap.Samples)-1]
	p.next, p.speed, p.gear = true, end.V, end.Gear-1
	if n := len(lap.Shifts); end.Phase == Shifting && n > 0 {
		p.gear = lap.Shifts[n-1].To - 1
	}
	return p
}
