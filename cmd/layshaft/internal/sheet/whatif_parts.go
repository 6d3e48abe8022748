package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/internal/units"
	"layshaft/sim"
)

// Wish is what the driver asks of a gear: taller (a smaller ratio number, fewer rpm
// at the same speed) or shorter, by about an amount or by any.
type Wish struct {
	Gear   int
	Taller bool
	Amount float64 // in Unit; 0 = any
	Unit   string  // "%" of the ratio or "rpm"; "" = any
	Ref    float64 // 1/min, the base's engine speed at the speed at which rpm are compared
	Driven bool    // that is the gear's highest on the base lap; else the limiter
	Want   float64 // the ratio asked for; the base's where any amount will do
}

// WishShown is a wish as the report shows it.
type WishShown struct {
	Gear         int      `json:"gear"`
	Direction    string   `json:"direction"`       // taller or shorter
	AmountPct    *float64 `json:"amount_pct"`      // nil unless asked for in per cent
	AmountRPM    *float64 `json:"amount_rpm"`      // nil unless asked for in rpm
	ComparedRPM  int      `json:"compared_at_rpm"` // the base's engine speed at the speed at which rpm are compared
	HighestOnLap bool     `json:"highest_on_lap"`  // that is the highest of the base lap in the gear; else the limiter
	WantedRatio  *float64 `json:"wanted_ratio"`    // nil where any amount will do
}

// ChangedPair is a pair that an answer puts in.
type ChangedPair struct {
	Gear           int      `json:"gear"`
	PairID         string   `json:"pair_id"`
	LayshaftTeeth  int      `json:"layshaft_teeth"`
	MainshaftTeeth int      `json:"mainshaft_teeth"`
	Ratio          float64  `json:"ratio"`
	AgainstBasePct float64  `json:"against_base_pct"` // ratio against the base's, positive = shorter
	AgainstBaseRPM int      `json:"against_base_rpm"` // at the speed where the base turns the gear highest on its lap, else its limiter
	OffWishPct     *float64 `json:"off_wish_pct"`     // ratio against the one wished for, positive = shorter; nil without an amount
	OffWishRPM     *int     `json:"off_wish_rpm"`     // the same at the same speed
	InStock        bool     `json:"in_stock"`
	PairsCount     *int     `json:"pairs_count"` // how many the team has; nil for one that is not in stock
	Place          *string  `json:"place"`       // where it lies: box, shop, car NAME; nil = not known
	Free           bool     `json:"free"`        // it may be fitted now
	NotFree        string   `json:"not_free"`    // why it may not: "" = it may
	LeftKm         *float64 `json:"left_km"`     // of its life; nil where no limit is given
}

// LimiterPlace is a stretch of the lap on the limiter.
type LimiterPlace struct {
	Place     string  `json:"place"`
	DistanceM float64 `json:"distance_m"` // where it begins
	Gear      int     `json:"gear"`
	TimeS     float64 `json:"time_s"`
}

// Unstated is the base's lap with no conditions stated.
type Unstated struct {
	Lap        *sim.Lap
	Weather    Weather
	LimiterRPM float64 // 1/min, of the map in use there
}

// UnstatedBase is that lap as the report shows it.
type UnstatedBase struct {
	LapTimeS    *float64   `json:"lap_time_s"` // nil when the base cannot drive it
	ChangeS     *float64   `json:"change_s"`   // s, lap in the conditions stated - this one; positive = they cost time
	TopSpeedKmh *float64   `json:"top_speed_kmh"`
	HeadroomRPM *int       `json:"headroom_rpm"`
	LimiterS    *float64   `json:"on_limiter_s"`
	CannotDrive string     `json:"cannot_drive"`
	Conditions  Conditions `json:"conditions"`
}

// Purchase is what a pair that is not in stock would bring.
type Purchase struct {
	PairID     string   `json:"pair_id"`
	LapTimeS   *float64 `json:"lap_time_s"`        // the best answer with it; nil = it stands in none
	GainS      *float64 `json:"gain_s"`            // s against the base, positive = faster
	OverStockS *float64 `json:"gain_over_stock_s"` // s against the best answer without any such pair; nil = there is none
}

func wishesShown(list []Wish) []WishShown {
	out := []WishShown{}
	for _, w := range list {
		one := WishShown{Gear: w.Gear, Direction: "shorter", ComparedRPM: wholeRPM(w.Ref), HighestOnLap: w.Driven}
		if w.Taller {
			one.Direction = "taller"
		}
		switch w.Unit {
		case "%":
			one.AmountPct = &w.Amount
		case "rpm":
			one.AmountRPM = &w.Amount
		}
		if w.Amount > 0 {
			one.WantedRatio = &w.Want
		}
		out = append(out, one)
	}
	return out
}

const percent = 100

// changedPairs describes the pairs of a set in the gears that change.
func changedPairs(in *WhatIfInput, set *gearbox.Set, gears []int) []ChangedPair {
	out := []ChangedPair{}
	for _, g := range gears {
		p, base := set.Pairs[g-1], in.Base.Set.Pairs[g-1]
		ref := in.LimiterRPM
		if lap := in.Base.Lap; lap != nil && g <= len(lap.MaxRPM) && lap.MaxRPM[g-1] > 0 {
			ref = lap.MaxRPM[g-1]
		}
		moved := p.Ratio()/base.Ratio() - 1
		one := ChangedPair{
			Gear: g, PairID: p.ID, LayshaftTeeth: p.Layshaft, MainshaftTeeth: p.Mainshaft, Ratio: p.Ratio(),
			AgainstBasePct: roundTo(percent*moved, 2), AgainstBaseRPM: wholeRPM(ref * moved), InStock: !slices.Contains(in.NotInStock, p.ID),
		}
		for _, w := range in.Wishes {
			if w.Gear == g && w.Amount > 0 {
				pct, rpm := roundTo(percent*(p.Ratio()/w.Want-1), 2), wholeRPM(w.Ref*(p.Ratio()-w.Want)/base.Ratio())
				one.OffWishPct, one.OffWishRPM = &pct, &rpm
			}
		}
		if one.InStock {
			count := p.Count
			one.PairsCount = &count
			if p.Place != "" {
				place := p.Place
				one.Place = &place
			}
			if err := gearbox.StockRules(p); err != nil {
				one.NotFree = strings.ReplaceAll(err.Error(), "\n", "; ")
			}
			one.Free = one.NotFree == ""
			if p.LifeM > 0 {
				left := roundTo((p.LifeM-p.RunM)/metresPerKm, 3)
				one.LeftKm = &left
			}
		} else {
			one.NotFree = "not in stock"
		}
		out = append(out, one)
	}
	return out
}

func inStock(in *WhatIfInput, set *gearbox.Set) bool {
	return !slices.ContainsFunc(set.Pairs, func(p *gearbox.Pair) bool { return slices.Contains(in.NotInStock, p.ID) })
}

// limiterPlaces lists the stretches of a lap on the limiter.
func limiterPlaces(lap *sim.Lap, place func(float64) string) []LimiterPlace {
	out := []LimiterPlace{}
	for i := 0; i+1 < len(lap.Samples); i++ {
		a, b := &lap.Samples[i], &lap.Samples[i+1]
		if a.Phase != sim.Limiting {
			continue
		}
		if i == 0 || lap.Samples[i-1].Phase != sim.Limiting || lap.Samples[i-1].Gear != a.Gear {
			one := LimiterPlace{DistanceM: roundTo(a.S, distDecimals), Gear: a.Gear}
			if place != nil {
				one.Place = place(a.S)
			}
			out = append(out, one)
		}
		out[len(out)-1].TimeS += b.T - a.T
	}
	for i := range out {
		out[i].TimeS = roundTo(out[i].TimeS, timeDecimals)
	}
	return out
}

// addUnstated adds what the set does with no conditions stated.
func (a *RankedSet) addUnstated(in *WhatIfInput, t float64) {
	u := in.Unstated
	if u == nil || !(t > 0) || math.IsInf(t, 1) {
		return
	}
	lap := roundTo(t, timeDecimals)
	a.LapUnstatedS = &lap
	if u.Lap.Infeasible == "" {
		gain := roundTo(roundTo(u.Lap.Time, timeDecimals)-lap, timeDecimals)
		a.GainUnstatedS = &gain
	}
}

func unstatedBase(in *WhatIfInput, base *RankedSet) *UnstatedBase {
	if in.Unstated == nil {
		return nil
	}
	lap := in.Unstated.Lap
	u := &UnstatedBase{CannotDrive: lap.Infeasible, Conditions: conditions(in.Unstated.Weather)}
	if lap.Infeasible != "" {
		return u
	}
	t, top, on := roundTo(lap.Time, timeDecimals), roundTo(lap.TopSpeed*units.ToKmh, speedDecimals), roundTo(lap.LimiterTime, timeDecimals)
	u.LapTimeS, u.TopSpeedKmh, u.LimiterS, u.HeadroomRPM = &t, &top, &on, headroom(in.Unstated.LimiterRPM, lap)
	if base.LapTimeS != nil {
		change := roundTo(*base.LapTimeS-t, timeDecimals)
		u.ChangeS = &change
	}
	return u
}

// markSameLaps tells of answers, fastest first, that drive the very lap of the one
// before: as quick, and the same ratio in every gear that the lap engages.
func markSameLaps(list []RankedSet) {
	for i := 1; i < len(list); i++ {
		a, b := &list[i-1], &list[i]
		if a.LapTimeS == nil || b.LapTimeS == nil || *a.LapTimeS != *b.LapTimeS || len(a.UsedOnLap) == 0 || a.OtherDrives != b.OtherDrives ||
			!slices.Equal(a.UsedOnLap, b.UsedOnLap) {
			continue
		}
		b.SameLap = true
		for g, used := range b.UsedOnLap {
			if used && !sameRatio(a.Set[g], b.Set[g]) {
				b.SameLap = false
			}
		}
	}
}

// sameRatio compares two pairs as a set shows them, "20/30" and "18/27".
func sameRatio(a, b string) bool {
	one, other := fraction{}, fraction{}
	_, errA := fmt.Sscanf(a, "%d/%d", &one.den, &one.num)
	_, errB := fmt.Sscanf(b, "%d/%d", &other.den, &other.num)
	return errA == nil && errB == nil && one.num*other.den == other.num*one.den
}

// purchases weighs each pair that is not in stock.
func purchases(in *WhatIfInput, answers []RankedSet) []Purchase {
	out := []Purchase{}
	var stock *RankedSet
	for i := range answers {
		if answers[i].InStock && answers[i].LapTimeS != nil {
			stock = &answers[i]
			break
		}
	}
	for _, id := range in.NotInStock {
		one := Purchase{PairID: id}
		for i := range answers {
			a := &answers[i]
			if !slices.Contains(a.PairIDs, id) || a.LapTimeS == nil {
				continue
			}
			one.LapTimeS, one.GainS = a.LapTimeS, a.GainS
			if stock != nil {
				over := roundTo(*stock.LapTimeS-*a.LapTimeS, timeDecimals)
				one.OverStockS = &over
			}
			break
		}
		out = append(out, one)
	}
	return out
}

// checkMore holds a set's parts against each other.
func (c *sums) checkMore(where string, a *RankedSet) {
	if a.LimiterS != nil {
		sum := 0.0
		for _, p := range a.LimiterPlaces {
			sum += p.TimeS
		}
		// Each stretch rounded to 1e-6 s.
		if !(math.Abs(sum-*a.LimiterS) <= 1e-6*float64(len(a.LimiterPlaces)+1)) {
			c.fault("%s: stretches on the limiter add up to %g s, the lap has %g s", where, sum, *a.LimiterS)
		}
	}
	for _, p := range a.Changed {
		if !slices.Contains(a.ChangedGears, p.Gear) || a.PairIDs[p.Gear-1] != p.PairID {
			c.fault("%s: gear %d is said to get pair %s", where, p.Gear, p.PairID)
		}
		if p.Free != (p.NotFree == "") || (p.InStock && !p.Free && a.Refused == "") {
			c.fault("%s: pair %s is not free (%s), but the set is an answer", where, p.PairID, p.NotFree)
		}
	}
}
