package sheet

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/internal/units"
	"layshaft/optimize"
	"layshaft/optimize/gearing"
	"layshaft/sim"
)

// ErrNoSet says that the answer holds no set to make a sheet of.
var ErrNoSet = errors.New("there is no set to make a sheet of")

// ErrCannotDrive says that the set cannot drive the lap; the wrapping error
// carries the place and the numbers.
var ErrCannotDrive = errors.New("the set cannot drive this lap")

// A proof gap means something only where the numerical error is at most a
// quarter of it. A proof that reached a smaller gap than was asked of it is
// measured by usualGap, the one that is asked for by default.
const (
	gapShare = 0.25
	usualGap = 0.001 // s
)

// Build makes the ratio sheet. The set is first checked by cars/gearbox/verify,
// which shares nothing with the search, and at the end the sheet tests its own
// sums; a failure of either is an error and there is no sheet. ErrNoSet and
// ErrCannotDrive are to be found with errors.Is.
func Build(in Input) (*Sheet, error) {
	if in.Answer == nil || in.Answer.Set == nil || in.Answer.Lap == nil {
		return nil, ErrNoSet
	}
	set, lap := in.Answer.Set, in.Answer.Lap
	if lap.Infeasible != "" {
		return nil, fmt.Errorf("%w: %s", ErrCannotDrive, lap.Infeasible)
	}
	if err := checkSets(&in); err != nil {
		return nil, err
	}
	s := &Sheet{
		Schema: SchemaVersion, Event: in.Event, Session: in.Session, Revision: in.Revision, IssuedBy: in.IssuedBy, Date: in.Date,
		InCar: in.InCar, PairsFor: in.PairsFor, Standing: []string{},
		Car: title(in.Car.Title, in.Car.Name), Track: title(in.Track.Title, in.Track.Name),
		TrackLengthM: roundTo(in.Track.Length, distDecimals),
		Gearbox:      title(in.Box.Title, in.Box.Name), Stock: title(in.Stock.Title, in.Stock.Name),
		LapTimeS:        roundTo(lap.Time, timeDecimals),
		NumericalErrorS: ceilTo(lap.NumericalError, timeDecimals),
		TopSpeedKmh:     roundTo(lap.TopSpeed*units.ToKmh, speedDecimals),
		TopSpeedAtM:     roundTo(lap.TopSpeedAt, distDecimals),
		LimiterRPM:      wholeRPM(in.LimiterRPM), PullingRPM: wholeRPM(in.Car.Engine.PullingRPM),
		ShiftMarginRPM: wholeRPM(in.Car.Engine.ShiftMarginRPM), LimiterS: roundTo(lap.LimiterTime, timeDecimals),
		Sensitivities: sensitivitiesOf(in.Sensitivity),
		HeadroomRPM:   headroom(in.LimiterRPM, lap),
		FinalDrive:    *teeth(set.Final), Drop: teeth(set.Drop),
		Cluster: set.Cluster.Name, Neutral: neutral(in.Box),
		OpensAt: opensAt(in.Box),
		Forks:   forkLists(set.Cluster.Forks), Stack: slices.Clone(set.Cluster.Stack),
		Bench: benchOf(in.Box), StepsStated: in.Box.StepsStated(), BuildOrder: buildSteps(in.Box.BuildOrder(set)),
		ThrottleOns: throttleOns(lap),
		Search:      search(in.Answer), Near: near(in.Answer),
		Conditions: conditions(in.Weather), RadiusSource: in.Car.RadiusSource,
		MakerNotes: makerNotes(in.Box), Cautions: cautions(),
		Inputs: inputRefs(in.Files),
	}
	s.Loss, s.NoLossReason = lossOf(in.Loss, s.LapTimeS), in.Loss.Why
	if out := in.Answer.OutLap; out != nil && out.Infeasible == "" {
		t := roundTo(out.Time, timeDecimals)
		s.OutLapTimeS = &t
	}
	if err := s.buildGears(&in); err != nil {
		return nil, err
	}
	if err := errors.Join(s.buildDriving(&in), s.buildLife(&in)); err != nil {
		return nil, err
	}
	if err := s.buildTopGear(&in); err != nil {
		return nil, err
	}
	if err := s.buildAlternates(&in); err != nil {
		return nil, err
	}
	s.Basis = s.basis()
	s.Warnings = s.warnings(&in)
	if err := s.Check(); err != nil {
		return nil, err
	}
	return s, nil
}

// checkSets holds every set that the sheet will show against box and stock once
// more: its own, the near ones, and its own with each alternate in.
func checkSets(in *Input) error {
	limits := verify.Limits{StepMin: in.Limits.StepMin, StepMax: in.Limits.StepMax, Waived: in.Waived}
	var faults []error
	check := func(what string, set *gearbox.Set) {
		for _, f := range verify.Verify(in.Box, in.Stock, set, limits) {
			faults = append(faults, fmt.Errorf("%s: %w", what, f))
		}
	}
	check("the set", in.Answer.Set)
	for i, n := range in.Answer.Near {
		check(fmt.Sprintf("near set %d", i+1), n.Set)
	}
	for _, group := range in.Alternates {
		for _, a := range group.List {
			if a.Gear < 1 || a.Gear > len(in.Answer.Set.Pairs) || a.Pair == nil {
				faults = append(faults, fmt.Errorf("alternate for gear %d: no such gear, or no pair", a.Gear))
				continue
			}
			set := *in.Answer.Set
			set.Pairs = slices.Clone(set.Pairs)
			set.Pairs[a.Gear-1] = a.Pair
			check(fmt.Sprintf("alternate %s for gear %d", a.Pair.ID, a.Gear), &set)
		}
	}
	if len(faults) > 0 {
		return fmt.Errorf("the last check against gearbox and stock fails:\n%w", errors.Join(faults...))
	}
	return nil
}

func title(long, short string) string {
	if long != "" {
		return long
	}
	return short
}

// buildGears fills the gear table, the strips and the way from the fitted set.
func (s *Sheet) buildGears(in *Input) error {
	set, lap := in.Answer.Set, in.Answer.Lap
	total := set.TotalRatios()
	counts := set.BenchCounts()
	var all []int
	for i, p := range set.Pairs {
		n := i + 1
		all = append(all, n)
		strip, err := stripFor(in.Box, set.Cluster, []int{n})
		if err != nil {
			return err
		}
		_, fork := set.Cluster.Fork(n)
		g := Gear{
			Gear: n, PairID: p.ID, LayshaftTeeth: p.Layshaft, MainshaftTeeth: p.Mainshaft, Mark: p.Mark,
			UsedOnLap: lap.Used(n), TimeInGearS: roundTo(lap.TimeInGear[i], timeDecimals),
			Fork: fork, StackPosition: set.Cluster.Position(n),
			Group: p.Group, Note: p.Note, RunKm: roundTo(p.RunM/metresPerKm, 1), InShop: p.Count,
			Place: p.Place, CrackTested: p.Crack.On.String(), Waiver: in.Waived[p.ID], Strip: *strip, WheelTurn: wheelTurn(counts[i]),
		}
		if slot := in.Box.Slot(set.Cluster, n); slot != nil {
			g.SlotKind, g.DogSide = slot.Kind, slot.DogSide
		}
		if p.LifeM > 0 {
			life := roundTo(p.LifeM/metresPerKm, 1)
			g.LifeKm = &life
		}
		if rpm := lap.MaxRPM[i]; rpm > 0 {
			whole := wholeRPM(rpm)
			g.MaxRPM = &whole
		}
		g.Ratio = pairRatio(&g).value()
		g.OverallRatio = overallRatio(&g, s.FinalDrive, s.Drop).value()
		v := in.Speed(float64(s.LimiterRPM), total[i])
		if !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("sheet: gear %d: speed at the limiter is %g m/s", n, v)
		}
		g.SpeedAtLimiterKmh = roundTo(v*units.ToKmh, speedDecimals)
		s.Gears = append(s.Gears, g)
	}
	for i := range s.Gears[:len(s.Gears)-1] {
		if err := s.buildUpshift(i, lap.CrossRPM, in.Speed, total); err != nil {
			return err
		}
	}
	strip, err := stripFor(in.Box, set.Cluster, all)
	if err != nil {
		return err
	}
	s.StripAll = *strip
	s.FromFitted, err = fromFitted(in)
	return err
}

// buildUpshift fills step, shift-light rpm, rpm after and drop of gear i+1.
func (s *Sheet) buildUpshift(i int, cross []float64, speed func(rpm, total float64) float64, total []float64) error {
	g, next := &s.Gears[i], &s.Gears[i+1]
	step := stepRatio(g, next)
	value := step.value()
	g.StepRatio = &value
	if i >= len(cross) || !(cross[i] > 0) || math.IsInf(cross[i], 0) {
		return fmt.Errorf("sheet: gear %d: the lap gives no upshift rpm", g.Gear)
	}
	up := wholeRPM(cross[i])
	after := fraction{step.den, step.num}.of(up)
	drop := up - after
	v := roundTo(speed(float64(up), total[i])*units.ToKmh, speedDecimals)
	g.UpshiftRPM, g.RPMAfterUpshift, g.RPMDrop, g.SpeedAtUpshiftKmh = &up, &after, &drop, &v
	return nil
}

// buildTopGear reads the end of the longest straight out of each case's lap.
func (s *Sheet) buildTopGear(in *Input) error {
	span, length := longestStraight(in.Track)
	s.Straight = Straight{StartM: roundTo(span.Start, distDecimals), LengthM: roundTo(length, distDecimals)}
	s.TopGear = []TopGear{}
	for _, c := range in.TopGear {
		if c.Lap == nil || c.Lap.Infeasible != "" {
			why := "no lap"
			if c.Lap != nil {
				why = c.Lap.Infeasible
			}
			s.Warnings = append(s.Warnings, fmt.Sprintf("top-gear table, %s: %s", c.Case, why))
			continue
		}
		at, ok := fastest(c.Lap.Samples, span)
		if !ok {
			return fmt.Errorf("sheet: top-gear table, %s: the lap has no sample from %g to %g m", c.Case, span.Start, span.End)
		}
		rpm := wholeRPM(at.RPM)
		s.TopGear = append(s.TopGear, TopGear{
			Case: c.Case, LapTimeS: roundTo(c.Lap.Time, timeDecimals),
			SpeedKmh: roundTo(at.V*units.ToKmh, speedDecimals), Gear: at.Gear,
			EngineRPM: rpm, HeadroomRPM: s.LimiterRPM - rpm,
			LimiterS: roundTo(c.Lap.LimiterTime, timeDecimals),
		})
	}
	return nil
}

// buildAlternates lists the pairs to have ready.
func (s *Sheet) buildAlternates(in *Input) error {
	s.Alternates = []Alternate{}
	for _, group := range in.Alternates {
		for _, a := range group.List {
			strip, err := stripFor(in.Box, in.Answer.Set.Cluster, []int{a.Gear})
			if err != nil {
				return err
			}
			base := roundTo(a.LapTime-a.Loss, timeDecimals)
			t := roundTo(a.LapTime, timeDecimals)
			s.Alternates = append(s.Alternates, Alternate{
				Gear: a.Gear, PairID: a.Pair.ID, LayshaftTeeth: a.Pair.Layshaft, MainshaftTeeth: a.Pair.Mainshaft,
				Mark: a.Pair.Mark, LapTimeS: t, LossS: roundTo(t-base, timeDecimals),
				Condition: group.Condition, ComesOff: strip.ComesOff, BenchMin: strip.BenchMin,
			})
		}
	}
	return nil
}

func search(a *gearing.Answer) Search {
	out := Search{Status: a.Status, Stages: []Stage{}, Ties: []Tie{}, NearBy: []string{}}
	searched := a.Status == optimize.Proved || a.Status == optimize.Stopped
	if searched {
		out.GapS = gap(a.Gap)
	}
	if a.Open != "" {
		out.OpenBecause = &a.Open
	}
	if a.SetsInSpace != nil {
		n := json.Number(a.SetsInSpace.String())
		out.SetsInSpace = &n
	}
	for _, st := range a.Stages {
		one := Stage{Name: st.Name, ValueS: roundTo(st.Value, timeDecimals), Proved: st.Proved}
		if searched {
			one.GapS = gap(st.Gap)
		}
		out.Stages = append(out.Stages, one)
	}
	if a.FineLapTime > 0 {
		least := a.FineLapTime
		for _, n := range a.Near {
			least = min(least, n.FineLapTime)
		}
		mine, best := roundTo(a.FineLapTime, timeDecimals), roundTo(least, timeDecimals)
		out.FineLapS, out.FineBestS = &mine, &best
	}
	if a.NearCount > 0 {
		out.NearCount = &a.NearCount
		for n := range a.NearStages {
			out.NearBy = append(out.NearBy, a.Stages[n].Name)
		}
	}
	for _, t := range a.Ties {
		out.Ties = append(out.Ties, Tie{Rule: t.Rule, Left: t.Left})
	}
	return out
}

// gap is nil for a gap that nothing is known of.
func gap(g float64) *float64 {
	if math.IsNaN(g) || math.IsInf(g, 0) {
		return nil
	}
	v := ceilTo(g, timeDecimals)
	return &v
}

func near(a *gearing.Answer) []Near {
	out := []Near{}
	base := roundTo(a.Lap.Time, timeDecimals)
	for _, n := range a.Near {
		t := roundTo(n.LapTime, timeDecimals)
		out = append(out, Near{
			Set: setTeeth(n.Set), PairIDs: setIDs(n.Set), Final: n.Set.Final.Name,
			LapTimeS: t, LossS: roundTo(t-base, timeDecimals), FineLapS: roundTo(n.FineLapTime, timeDecimals),
		})
		if !math.IsInf(n.OutTime, 1) {
			o := roundTo(n.OutTime, timeDecimals)
			out[len(out)-1].OutLapS = &o
		}
	}
	return out
}

// headroom is limiter minus highest rpm in top; nil when the lap never uses it.
func headroom(limiter float64, lap *sim.Lap) *int {
	highest := lap.MaxRPM[len(lap.MaxRPM)-1]
	if !(highest > 0) {
		return nil
	}
	h := wholeRPM(limiter) - wholeRPM(highest)
	return &h
}

// warnings gathers what a reader must know, each line once, in a fixed order.
func (s *Sheet) warnings(in *Input) []string {
	all := slices.Concat(in.Warnings, in.Answer.Warnings, in.Answer.Lap.Warnings,
		gearbox.SetWarnings(in.Box, in.Answer.Set), s.Warnings)
	if g := s.Search.GapS; g != nil && s.Search.Status == optimize.Proved && s.NumericalErrorS > gapShare*max(*g, usualGap) {
		all = append(all, fmt.Sprintf("the numerical error of %s ms is more than a quarter of the proof gap of %s ms: sets that lie so close are not told apart",
			milliseconds(s.NumericalErrorS), milliseconds(max(*g, usualGap))))
	}
	return unique(all)
}
