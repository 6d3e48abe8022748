package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/internal/units"
	"layshaft/optimize/gearing"
	"layshaft/sim"
)

// SetResult is one set with the lap that it does.
type SetResult struct {
	Set     *gearbox.Set
	Lap     *sim.Lap // may be nil when only the time is known; then LapTime counts
	LapTime float64  // s; ignored when Lap is there

	UnstatedTime float64 // s, its lap with no conditions stated (WhatIfInput.Unstated); read where that is there
	Refused      string  // why the set may not be built as things are; "" = it may
}

// WhatIfInput is what a what-if report is made of.
type WhatIfInput struct {
	Box                *gearbox.Box
	Stock              *gearbox.Stock
	Limits             gearing.Limits // as ranked; their step range is what the answers are held against
	Question           string         // in words: "only gear 6 may change"
	BaseName           string         // where the base comes from: "fitted set of wren.toml", "--set"
	CarName, TrackName string
	LimiterRPM         float64 // 1/min, of the engine map in use
	Weather            Weather
	Base               SetResult
	Answers            []SetResult            // in any order; the base itself may be among them
	Refused            []SetResult            // quicker than the base, but not to be built, each with its reason
	Wishes             []Wish                 // what the driver asks for, gear by gear
	Unstated           *Unstated              // the lap without the conditions stated; nil where none are
	NotInStock         []string               // ids of pairs in Stock that are not there but might be bought
	Place              func(s float64) string // words for a place on the track (m); nil = only the distance
	Files              []InputFile
	Warnings           []string
}

// RankedSet is a set as a what-if report shows it.
type RankedSet struct {
	Set         []string `json:"set"`      // "13/36" by gear, layshaft/mainshaft
	PairIDs     []string `json:"pair_ids"` // by gear
	FinalDrive  Teeth    `json:"final_drive"`
	Drop        *Teeth   `json:"drop"`
	LapTimeS    *float64 `json:"lap_time_s"` // nil when the set cannot drive the lap
	GainS       *float64 `json:"gain_s"`     // s against the base, positive = faster
	TopSpeedKmh *float64 `json:"top_speed_kmh"`
	HeadroomRPM *int     `json:"headroom_rpm"` // limiter - highest rpm in top; nil when top is never engaged or no lap is at hand
	LimiterS    *float64 `json:"on_limiter_s"`

	LimiterPlaces []LimiterPlace `json:"limiter_places"`            // in the order of the lap; they add up to on_limiter_s
	ThrottleOns   []ThrottleOn   `json:"throttle_on"`               // every place of the lap where full throttle goes on
	UsedOnLap     []bool         `json:"used_on_lap"`               // by gear; empty when no lap is at hand
	SameLap       bool           `json:"same_lap_as_before"`        // drives the very lap of the answer before it: they differ in gears never engaged
	GainUnstatedS *float64       `json:"gain_default_conditions_s"` // s against the base with no conditions stated; nil where none are stated
	LapUnstatedS  *float64       `json:"lap_default_conditions_s"`  // s, the lap there
	Changed       []ChangedPair  `json:"changed_pairs"`             // in gear order
	InStock       bool           `json:"in_stock"`                  // false: it needs a pair that the stock does not hold
	MustBeNew     []string       `json:"must_be_new"`               // parts; nil where the gearbox file does not tell
	Refused       string         `json:"refused"`                   // why it may not be built as things are; "" = it may

	ChangedGears []int   `json:"changed_gears"`
	OtherDrives  bool    `json:"other_drives"` // final drive or drop pair differ too; their time is not in BenchMin
	ComesOff     []int   `json:"comes_off"`    // gears in removal order
	Strip        *Strip  `json:"strip"`        // nil when no pair changes
	BenchMin     float64 `json:"bench_min"`
	CannotDrive  string  `json:"cannot_drive"` // why the set cannot drive the lap; "" = it can
}

// WhatIf is the report on a base set and the sets that could replace it.
type WhatIf struct {
	Schema     int         `json:"schema_version"`
	Question   string      `json:"question"`
	Car        string      `json:"car"`
	Track      string      `json:"track"`
	Gearbox    string      `json:"gearbox"`
	BaseName   string      `json:"base_name"`
	Base       RankedSet   `json:"base"`
	Answers    []RankedSet `json:"answers"` // fastest first; those that cannot drive the lap last
	LimiterRPM int         `json:"limiter_rpm"`
	Conditions Conditions  `json:"conditions"`
	Inputs     []InputRef  `json:"inputs"`
	Warnings   []string    `json:"warnings"`

	Wishes     []WishShown   `json:"wishes"`
	Refused    []RankedSet   `json:"quicker_but"`             // quicker than the base, but one pair may not be used; fastest first
	NotInStock []Purchase    `json:"not_in_stock"`            // pairs that might be bought
	Unstated   *UnstatedBase `json:"base_default_conditions"` // nil where no conditions are stated
}

// BuildWhatIf makes the report of a what-if question and ranks its answers:
// fastest first, equal times by fewer bench minutes, then as handed over. A
// base that cannot drive the lap is no error: its time is nil, and so is every
// gain. Every answer is held against gearbox and stock once more and is an error
// if it fails; the base is what is in the car, so its faults are warnings.
func BuildWhatIf(in WhatIfInput) (*WhatIf, error) {
	if in.Base.Set == nil {
		return nil, ErrNoSet
	}
	r := &WhatIf{
		Schema: SchemaVersion, Question: in.Question, Car: in.CarName, Track: in.TrackName,
		Gearbox: title(in.Box.Title, in.Box.Name), BaseName: in.BaseName, LimiterRPM: wholeRPM(in.LimiterRPM),
		Answers: []RankedSet{}, Refused: []RankedSet{}, Conditions: conditions(in.Weather), Inputs: inputRefs(in.Files), Warnings: unique(in.Warnings),
	}
	base, err := rankedSet(&in, in.Base, nil)
	if err != nil {
		return nil, err
	}
	r.Base, r.Wishes, r.Unstated = *base, wishesShown(in.Wishes), unstatedBase(&in, base)
	limits := verify.Limits{StepMin: in.Limits.StepMin, StepMax: in.Limits.StepMax}
	var known []string
	for _, f := range verify.Verify(in.Box, in.Stock, in.Base.Set, limits) {
		known = append(known, f.Error())
		r.Warnings = append(r.Warnings, "the base could not be built again as it is: "+f.Error())
	}
	for i, a := range in.Answers {
		one, err := rankedSet(&in, a, base)
		if err != nil {
			return nil, err
		}
		if len(one.ChangedGears) > 0 || one.OtherDrives {
			faults := slices.DeleteFunc(verify.Verify(in.Box, in.Stock, a.Set, limits), func(f error) bool {
				return slices.Contains(known, f.Error()) // stays in the car with the gears that do not change
			})
			if len(faults) > 0 {
				return nil, fmt.Errorf("answer %d fails the last check against gearbox and stock:\n%w", i+1, errors.Join(faults...))
			}
		}
		r.Answers = append(r.Answers, *one)
	}
	slices.SortStableFunc(r.Answers, fasterFirst)
	markSameLaps(r.Answers)
	for _, a := range in.Refused {
		one, err := rankedSet(&in, a, base)
		if err != nil {
			return nil, err
		}
		r.Refused = append(r.Refused, *one)
	}
	slices.SortStableFunc(r.Refused, fasterFirst)
	r.NotInStock = purchases(&in, r.Answers)
	return r, r.Check()
}

// fasterFirst orders by lap, then by bench minutes; those that cannot drive the lap
// come last.
func fasterFirst(a, b RankedSet) int {
	switch {
	case a.LapTimeS == nil && b.LapTimeS == nil:
		return 0
	case a.LapTimeS == nil:
		return 1
	case b.LapTimeS == nil:
		return -1
	case *a.LapTimeS != *b.LapTimeS:
		return sign(*a.LapTimeS - *b.LapTimeS)
	}
	return sign(a.BenchMin - b.BenchMin)
}

func sign(x float64) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// rankedSet describes one set; against a nil base it is the base itself.
func rankedSet(in *WhatIfInput, res SetResult, base *RankedSet) (*RankedSet, error) {
	if res.Set == nil {
		return nil, ErrNoSet
	}
	r := &RankedSet{
		Set: setTeeth(res.Set), PairIDs: setIDs(res.Set), FinalDrive: *teeth(res.Set.Final), Drop: teeth(res.Set.Drop),
		ChangedGears: []int{}, ComesOff: []int{}, Refused: res.Refused, InStock: inStock(in, res.Set),
		LimiterPlaces: []LimiterPlace{}, ThrottleOns: []ThrottleOn{}, UsedOnLap: []bool{}, Changed: []ChangedPair{},
	}
	t := res.LapTime
	if lap := res.Lap; lap != nil {
		t = lap.Time
		r.CannotDrive = lap.Infeasible
		if lap.Infeasible == "" {
			top, on := roundTo(lap.TopSpeed*units.ToKmh, speedDecimals), roundTo(lap.LimiterTime, timeDecimals)
			r.TopSpeedKmh, r.LimiterS, r.HeadroomRPM = &top, &on, headroom(in.LimiterRPM, lap)
			r.LimiterPlaces, r.ThrottleOns = limiterPlaces(lap, in.Place), throttleOns(lap)
			for g := range res.Set.Pairs {
				r.UsedOnLap = append(r.UsedOnLap, lap.Used(g+1))
			}
		}
	}
	if r.CannotDrive == "" {
		t = roundTo(t, timeDecimals)
		r.LapTimeS = &t
	}
	if base == nil {
		if r.LapTimeS != nil {
			zero := 0.0
			r.GainS = &zero
		}
		return r, nil
	}
	if base.LapTimeS != nil && r.LapTimeS != nil {
		gain := roundTo(*base.LapTimeS-*r.LapTimeS, timeDecimals)
		r.GainS = &gain
	}
	r.OtherDrives = r.FinalDrive != base.FinalDrive || !sameDrop(r.Drop, base.Drop)
	r.ChangedGears = changedGears(base.PairIDs, r.PairIDs)
	if len(r.ChangedGears) > 0 {
		strip, err := stripFor(in.Box, res.Set.Cluster, r.ChangedGears)
		if err != nil {
			return nil, err
		}
		r.Strip, r.ComesOff, r.BenchMin = strip, strip.ComesOff, strip.BenchMin
		if len(in.Box.Steps) > 0 {
			r.MustBeNew = []string{}
			for _, n := range newPartsOf(in.Box.Rebuild(in.Base.Set, res.Set)) {
				r.MustBeNew = append(r.MustBeNew, n.phrase())
			}
		}
	}
	r.Changed = changedPairs(in, res.Set, r.ChangedGears)
	r.addUnstated(in, res.UnstatedTime)
	return r, nil
}

func sameDrop(a, b *Teeth) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// Check tests the report's own sums: gain = base lap - lap, changed gears and
// what comes off agree.
func (r *WhatIf) Check() error {
	c := &sums{}
	for i, a := range r.Answers {
		where := "answer " + strconv.Itoa(i+1)
		if a.LapTimeS != nil {
			c.finite(where+": lap time", *a.LapTimeS)
		}
		if (a.GainS == nil) != (a.LapTimeS == nil || r.Base.LapTimeS == nil) {
			c.fault("%s: gain and lap time do not go together", where)
		} else if a.GainS != nil && roundTo(*r.Base.LapTimeS-*a.LapTimeS, timeDecimals) != *a.GainS {
			c.fault("%s: lap %g s + gain %g s is not the base's %g s", where, *a.LapTimeS, *a.GainS, *r.Base.LapTimeS)
		}
		c.checkMore(where, &a)
		for _, g := range a.ChangedGears {
			if !slices.Contains(a.ComesOff, g) {
				c.fault("%s: gear %d changes but does not come off (%v)", where, g, a.ComesOff)
			}
		}
	}
	return c.err()
}

// JSON writes the report as one object.
func (r *WhatIf) JSON(w io.Writer) error {
	if err := r.Check(); err != nil {
		return err
	}
	return writeJSON(w, r)
}
