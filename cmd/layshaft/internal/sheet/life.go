package sheet

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/sim"
)

// GearLife is what a lap takes out of a gear's pair, and what is left. What is nil
// is not known. Kilometres left are the car's, as the team's limit counts them and
// as runs are booked. The damage is an estimate that may shorten what the limit
// allows and never lengthens it.
type GearLife struct {
	KmPerLap          *float64 `json:"km_per_lap"`                   // with the gear engaged; the pair turns without load in all others
	TurnsPerLap       *float64 `json:"layshaft_turns_per_lap_count"` // with the gear engaged, pauses of shifts left out
	DamagePerLapRatio *float64 `json:"damage_per_lap_ratio"`         // Miner's sum of one lap; 1 = end of life
	DamageUsedRatio   float64  `json:"damage_used_ratio"`            // as booked, and as assumed
	DamageAssumed     float64  `json:"damage_assumed_ratio"`         // of it: kilometres run without an estimate, taken for laps like this one
	LifeLeftKm        *float64 `json:"life_left_km"`                 // the team's: limit - run
	EstimateLeftKm    *float64 `json:"estimate_left_km"`             // (1 - used) / damage per lap x length of the lap, rounded down
	CountsLeftKm      *float64 `json:"counts_left_km"`               // the smaller of the two
	LapsLeft          *int     `json:"laps_left_count"`              // whole laps in CountsLeftKm
}

// Life is what the kilometres and the damage rest on.
type Life struct {
	CentreDistanceMm *float64     `json:"centre_distance_mm"` // nil = not stated
	Endurances       []Endurance  `json:"endurances"`         // by slot kind; empty = none stated
	AtWheels         bool         `json:"torque_at_wheels"`   // the losses of the mesh are inside the torque
	Unstated         []SlotOfGear `json:"unstated"`           // gears without a damage sum
}

// Endurance is what the gears of a slot kind stand, as the gearbox file states it.
type Endurance struct {
	SlotKind         string   `json:"slot_kind"`
	ToothForceN      *float64 `json:"tooth_force_n"` // nil = the torque is stated
	LayshaftTorqueNm *float64 `json:"layshaft_torque_nm"`
	Cycles           float64  `json:"cycles_count"`
	Exponent         float64  `json:"exponent_coef"`
	Source           string   `json:"source"`
}

// SlotOfGear is a gear and the kind of the slot it stands in.
type SlotOfGear struct {
	Gear     int    `json:"gear"`
	SlotKind string `json:"slot_kind"`
}

const (
	lapKmDecimals = 4 // JSON: 0.1 m, as the track's length
	lapKmText     = 3
	leftDecimals  = 1 // km
	// mostLeftKm is where an estimate ends to say anything.
	mostLeftKm = 1e8
)

// buildLife fills in Sheet.Life and the life of every gear. Without duties there
// is neither.
func (s *Sheet) buildLife(in *Input) error {
	set := in.Answer.Set
	for i, p := range set.Pairs {
		s.Gears[i].DamageUsedRatio = significant(p.Damage)
		if life := s.Gears[i].LifeKm; life != nil {
			left := roundTo(*life-s.Gears[i].RunKm, leftDecimals)
			s.Gears[i].LifeLeftKm = &left
		}
	}
	if len(in.Duties) == 0 {
		return nil
	}
	if len(in.Duties) != len(set.Pairs) {
		return fmt.Errorf("sheet: duties of %d gears, the set has %d", len(in.Duties), len(set.Pairs))
	}
	s.Life = lifeOf(in)
	ways := make([]float64, len(in.Duties))
	for i, d := range in.Duties {
		ways[i] = d.Way / metresPerKm
	}
	ways = apportion(ways, s.TrackLengthM/metresPerKm, lapKmDecimals)
	for i, p := range set.Pairs {
		g, duty := &s.Gears[i], &in.Duties[i]
		km := ways[i]
		turns := roundTo(shaftTurns(set, duty), 1)
		g.KmPerLap, g.TurnsPerLap = &km, &turns
		damage, known := in.Box.Damage(g.SlotKind, gearbox.Teeth{Driving: p.Layshaft, Driven: p.Mainshaft}, set.LayshaftLoads(duty.Loads))
		if known {
			damage = significant(damage)
			g.DamagePerLapRatio = &damage
			// What ran before damage was booked has worn too.
			g.DamageAssumed = significant(max(0, p.RunM-p.DamageM) / s.TrackLengthM * damage)
			g.DamageUsedRatio = significant(p.Damage + g.DamageAssumed)
		} else {
			s.Life.Unstated = append(s.Life.Unstated, SlotOfGear{g.Gear, g.SlotKind})
		}
	}
	for i := range s.Gears {
		s.Gears[i].leave(s.TrackLengthM)
	}
	return nil
}

// shaftTurns is how often the layshaft turns in a gear on a lap.
func shaftTurns(set *gearbox.Set, d *sim.Duty) float64 {
	return set.LayshaftLoads([]gearbox.Load{{Cycles: d.Turns}})[0].Cycles
}

// leave works out what is left by the numbers as shown; length is the lap's (m).
func (g *GearLife) leave(length float64) {
	g.EstimateLeftKm = g.estimate(length)
	g.CountsLeftKm = smaller(g.LifeLeftKm, g.EstimateLeftKm)
	g.LapsLeft = nil
	if g.CountsLeftKm != nil && length > 0 {
		laps := max(0, int(math.Floor(*g.CountsLeftKm/(length/metresPerKm)+1e-9)))
		g.LapsLeft = &laps
	}
}

// estimate is (1 - used) / damage per lap x length (m), rounded down; nil without
// damage on the lap, and where it is beyond all reason.
func (g *GearLife) estimate(length float64) *float64 {
	if g.DamagePerLapRatio == nil || !(*g.DamagePerLapRatio > 0) {
		return nil
	}
	left := max(0, 1-g.DamageUsedRatio) / *g.DamagePerLapRatio * length / metresPerKm
	if !(left < mostLeftKm) {
		return nil
	}
	left = floorTo(left, leftDecimals)
	return &left
}

// smaller is the smaller of two numbers of which either may be missing.
func smaller(a, b *float64) *float64 {
	if a == nil || b != nil && *b < *a {
		a = b
	}
	if a == nil {
		return nil
	}
	v := *a
	return &v
}

// significant rounds to six significant digits.
func significant(x float64) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		return x
	}
	return v
}

func lifeOf(in *Input) *Life {
	l := &Life{AtWheels: in.Car.Engine.Place == cars.AtWheels, Endurances: []Endurance{}, Unstated: []SlotOfGear{}}
	if a := in.Box.CentreDistance; a > 0 {
		mm := roundTo(a*1e3, 3)
		l.CentreDistanceMm = &mm
	}
	for _, e := range in.Box.Endurances {
		one := Endurance{SlotKind: e.SlotKind, Cycles: e.Cycles, Exponent: e.Exponent, Source: e.Source}
		if v := e.Force; v > 0 {
			one.ToothForceN = &v
		}
		if v := e.Torque; v > 0 {
			one.LayshaftTorqueNm = &v
		}
		l.Endurances = append(l.Endurances, one)
	}
	return l
}

// life tests the kilometres and what is left.
func (c *sums) life(s *Sheet) {
	if s.Life == nil {
		return // made without, or by an earlier version
	}
	sum := 0.0
	for i := range s.Gears {
		g := &s.Gears[i]
		if g.KmPerLap == nil || g.TurnsPerLap == nil {
			c.fault("gear %d: its kilometres per lap are missing", g.Gear)
			continue
		}
		c.finite(fmt.Sprintf("gear %d: km per lap", g.Gear), *g.KmPerLap)
		sum += *g.KmPerLap
		if stated := slices.ContainsFunc(s.Life.Endurances, func(e Endurance) bool { return e.SlotKind == g.SlotKind }); stated != (g.DamagePerLapRatio != nil) {
			c.fault("gear %d: slot kind %q and its damage per lap do not go together", g.Gear, g.SlotKind)
		}
		if !(g.DamageUsedRatio >= 0) || g.DamagePerLapRatio != nil && !(*g.DamagePerLapRatio >= 0) {
			c.fault("gear %d: damage below nothing", g.Gear)
		}
		want := g.GearLife
		want.LifeLeftKm = nil
		if g.LifeKm != nil {
			left := roundTo(*g.LifeKm-g.RunKm, leftDecimals)
			want.LifeLeftKm = &left
		}
		want.leave(s.TrackLengthM)
		for _, n := range []struct {
			what      string
			want, got *float64
		}{
			{"limit - run", want.LifeLeftKm, g.LifeLeftKm}, {"km left by the estimate", want.EstimateLeftKm, g.EstimateLeftKm},
			{"km left that count", want.CountsLeftKm, g.CountsLeftKm},
		} {
			if (n.want == nil) != (n.got == nil) || n.want != nil && *n.want != *n.got {
				c.fault("gear %d: %s is %s, want %s", g.Gear, n.what, orDash(n.got, leftDecimals), orDash(n.want, leftDecimals))
			}
		}
		if whole(want.LapsLeft) != whole(g.LapsLeft) {
			c.fault("gear %d: laps left are %s, want %s", g.Gear, whole(g.LapsLeft), whole(want.LapsLeft))
		}
	}
	// Rounding of floats alone.
	if length := s.TrackLengthM / metresPerKm; !(math.Abs(sum-length) <= 1e-9) {
		c.fault("the kilometres per gear add up to %s, the lap is %s km", fixed(sum, lapKmDecimals), fixed(length, lapKmDecimals))
	}
}

// orDash writes a number, or a dash for none.
func orDash(v *float64, decimals int) string {
	if v == nil {
		return none
	}
	return fixed(*v, decimals)
}
