package gearbox

import "math"

// Turn is an angle as a mechanic counts it: whole turns and what is left.
type Turn struct {
	Turns   int
	Degrees float64 // degrees, 0 <= Degrees < 360
}

// degreesPerTurn is exact; degrees are the unit in which the bench counts.
const degreesPerTurn = 360

// turnGrain is the part of a turn below which a remainder is rounding of the
// ratio, not an angle: 9 turns must not read 8 turns and 360 degrees.
const turnGrain = 1e-9

// WheelTurn splits a ratio into whole turns of the input shaft and degrees for
// one turn of the shaft or wheel that is turned by hand. total must be finite
// and not negative.
func WheelTurn(total float64) Turn {
	whole := math.Floor(total + turnGrain)
	rest := max(0, total-whole)
	if rest < turnGrain {
		rest = 0
	}
	return Turn{Turns: int(whole), Degrees: rest * degreesPerTurn}
}

// Rounded gives whole turns and whole degrees, 0 to 359, rounded to the
// nearest degree with the carry done: 8 turns 359.7 degrees is 9 turns 0.
func (t Turn) Rounded() (turns, degrees int) {
	d := int(math.Round(t.Degrees))
	if d >= degreesPerTurn {
		return t.Turns + 1, 0
	}
	return t.Turns, d
}

// BenchCount is what a mechanic counts at the input shaft to check that the
// pair of a gear is the right one.
type BenchCount struct {
	Gear       int
	Bench      Turn // on the bench: mainshaft turned once, box alone (pair, and drop pair where there is one)
	BothWheels Turn // in the car: both driven wheels turned once together
	OneWheel   Turn // in the car: one driven wheel turned once, the other held
}

// BenchCounts gives the counts for every gear of the set, in gear order.
//
// With one wheel held the open differential halves the count: its carrier
// turns at the mean of both wheels (kinematics of the bevel differential, any
// textbook on mechanisms; e.g. Shigley and Uicker, Theory of Machines and
// Mechanisms, planetary trains: automotive differential; cited from memory).
// A locked or limited-slip differential that does not slip gives no such
// count: then both wheels turn together.
func (s *Set) BenchCounts() []BenchCount {
	total := s.TotalRatios()
	out := make([]BenchCount, len(s.Pairs))
	for i, p := range s.Pairs {
		box := p.Ratio()
		if s.Drop != nil {
			box *= s.Drop.Ratio()
		}
		out[i] = BenchCount{
			Gear:       i + 1,
			Bench:      WheelTurn(box),
			BothWheels: WheelTurn(total[i]),
			OneWheel:   WheelTurn(total[i] / 2),
		}
	}
	return out
}
