package sheet

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/internal/units"
	"layshaft/sim"
)

// LapInput is what a lap report is made of.
type LapInput struct {
	CarName, TrackName string
	Set                *gearbox.Set
	SetName            string           // where it comes from: "--set", "fitted set of wren.toml"
	Lap                *sim.Lap         // of a report on one lap
	Stint              *sim.Stint       // of a report on a run; Lap is then nil
	FuelConsumption    float64          // kg/J; 0 = not stated
	LimiterRPM         float64          // 1/min
	PullingRPM         float64          // 1/min; 0 = not stated
	ShiftMarginRPM     float64          // 1/min below the limiter at which a shift comes at the latest
	Sensitivity        *sim.Sensitivity // of the lap; nil = not computed
	Loss               LossInput        // of the lap; left unread for a run
	Weather            Weather
	Trace              bool // put the samples into the report
	Files              []InputFile
	Warnings           []string // the lap's own are added
}

// LapShift is one gear change of the lap.
type LapShift struct {
	DistanceM float64 `json:"distance_m"`
	From      int     `json:"from"`
	To        int     `json:"to"`
	RPMBefore int     `json:"rpm_before"`
	RPMAfter  int     `json:"rpm_after"`
	SpeedKmh  float64 `json:"speed_kmh"`
	Held      bool    `json:"held"` // delayed by a no-shift place
}

// LapGear is what the lap does with one gear.
type LapGear struct {
	Gear           int     `json:"gear"`
	PairID         string  `json:"pair_id"`
	LayshaftTeeth  int     `json:"layshaft_teeth"`
	MainshaftTeeth int     `json:"mainshaft_teeth"`
	OverallRatio   float64 `json:"overall_ratio"`
	ShiftLightRPM  *int    `json:"shift_light_rpm"` // nil in top
	TimeInGearS    float64 `json:"time_in_gear_s"`
	MaxRPM         *int    `json:"max_rpm"` // nil when never engaged
	UsedOnLap      bool    `json:"used_on_lap"`
}

// TracePoint is one sample of the lap.
type TracePoint struct {
	DistanceM float64  `json:"distance_m"`
	TimeS     float64  `json:"time_s"`
	SpeedKmh  float64  `json:"speed_kmh"`
	Gear      int      `json:"gear"`
	EngineRPM float64  `json:"engine_rpm"`
	Phase     string   `json:"phase"`     // driving, shifting, limiting, capped
	LimitKmh  *float64 `json:"limit_kmh"` // corner and braking limit; nil where there is none
	LostS     *float64 `json:"lost_s"`    // against the ideal car since the lap began; nil without a loss account
}

// LapReport is one lap with one set, or a run of laps of which the quickest is
// shown.
type LapReport struct {
	Schema          int            `json:"schema_version"`
	Car             string         `json:"car"`
	Track           string         `json:"track"`
	SetName         string         `json:"set_name"`
	Set             []string       `json:"set"`
	FinalDrive      Teeth          `json:"final_drive"`
	Drop            *Teeth         `json:"drop"`
	Kind            string         `json:"kind"` // flying, out, start, restart, run
	LapTimeS        float64        `json:"lap_time_s"`
	NumericalErrorS float64        `json:"numerical_error_s"`
	StartSpeedKmh   float64        `json:"start_speed_kmh"` // where the lap begins
	TopSpeedKmh     float64        `json:"top_speed_kmh"`
	TopSpeedAtM     float64        `json:"top_speed_at_m"`
	LimiterS        float64        `json:"on_limiter_s"`
	LimiterRPM      int            `json:"limiter_rpm"`
	PullingRPM      int            `json:"pulling_rpm"`
	ShiftMarginRPM  int            `json:"shift_margin_rpm"`
	Sensitivities   *Sensitivities `json:"sensitivities"` // nil for a run
	EnergyKj        EnergyKj       `json:"energy_kj"`
	Loss            *Loss          `json:"loss"`           // nil for a run and a standing start
	NoLossReason    string         `json:"no_loss_reason"` // "" with an account
	Gears           []LapGear      `json:"gears"`
	Shifts          []LapShift     `json:"shifts"`
	ThrottleOns     []ThrottleOn   `json:"throttle_on"`
	Trace           []TracePoint   `json:"trace"` // null unless asked for
	Conditions      Conditions     `json:"conditions"`
	Inputs          []InputRef     `json:"inputs"`
	Warnings        []string       `json:"warnings"`

	// Of all laps; those above are of the lap shown.
	Laps               []LapOfRun `json:"laps"` // one, or those of the run
	RunTimeS           float64    `json:"run_time_s"`
	RunNumericalErrorS float64    `json:"run_numerical_error_s"`
	AverageLapTimeS    float64    `json:"average_lap_time_s"`
	FuelBurntKg        *float64   `json:"fuel_burnt_kg"` // nil where the car file does not state its consumption
	FuelLeftKg         *float64   `json:"fuel_left_kg"`
}

// BuildLap makes the report of one lap, or of a run. A set that cannot drive the lap is
// ErrCannotDrive with place and numbers.
func BuildLap(in LapInput) (*LapReport, error) {
	switch {
	case in.Set == nil || in.Lap == nil && in.Stint == nil:
		return nil, ErrNoSet
	case in.Stint != nil && in.Stint.Infeasible != "":
		return nil, fmt.Errorf("%w: %s", ErrCannotDrive, in.Stint.Infeasible)
	case in.Stint == nil && in.Lap.Infeasible != "":
		return nil, fmt.Errorf("%w: %s", ErrCannotDrive, in.Lap.Infeasible)
	}
	r := &LapReport{
		Schema: SchemaVersion, Car: in.CarName, Track: in.TrackName, SetName: in.SetName, Set: setTeeth(in.Set),
		FinalDrive: *teeth(in.Set.Final), Drop: teeth(in.Set.Drop),
		LimiterRPM: wholeRPM(in.LimiterRPM), PullingRPM: wholeRPM(in.PullingRPM),
		ShiftMarginRPM: wholeRPM(in.ShiftMarginRPM), Sensitivities: sensitivitiesOf(in.Sensitivity),
		Shifts: []LapShift{}, Conditions: conditions(in.Weather), Inputs: inputRefs(in.Files),
	}
	lap := r.run(in)
	r.LapTimeS, r.NumericalErrorS = roundTo(lap.Time, timeDecimals), ceilTo(lap.NumericalError, timeDecimals)
	if len(lap.Samples) > 0 {
		r.StartSpeedKmh = roundTo(lap.Samples[0].V*units.ToKmh, speedDecimals)
	}
	r.TopSpeedKmh, r.TopSpeedAtM = roundTo(lap.TopSpeed*units.ToKmh, speedDecimals), roundTo(lap.TopSpeedAt, distDecimals)
	r.LimiterS = roundTo(lap.LimiterTime, timeDecimals)
	r.EnergyKj = energyKj(&lap.Energy)
	if r.NoLossReason = noLossOfRun; in.Stint == nil {
		r.Loss, r.NoLossReason = lossOf(in.Loss, r.LapTimeS), in.Loss.Why
	}
	r.ThrottleOns = throttleOns(lap)
	r.Warnings = unique(append(append([]string{}, in.Warnings...), lap.Warnings...))
	for i, p := range in.Set.Pairs {
		g := Gear{LayshaftTeeth: p.Layshaft, MainshaftTeeth: p.Mainshaft}
		one := LapGear{
			Gear: i + 1, PairID: p.ID, LayshaftTeeth: p.Layshaft, MainshaftTeeth: p.Mainshaft,
			OverallRatio: overallRatio(&g, r.FinalDrive, r.Drop).value(),
			TimeInGearS:  roundTo(lap.TimeInGear[i], timeDecimals), UsedOnLap: lap.Used(i + 1),
		}
		if i < len(lap.CrossRPM) && i < len(in.Set.Pairs)-1 {
			light := wholeRPM(lap.CrossRPM[i])
			one.ShiftLightRPM = &light
		}
		if rpm := lap.MaxRPM[i]; rpm > 0 {
			highest := wholeRPM(rpm)
			one.MaxRPM = &highest
		}
		r.Gears = append(r.Gears, one)
	}
	for _, s := range lap.Shifts {
		r.Shifts = append(r.Shifts, LapShift{
			DistanceM: roundTo(s.S, distDecimals), From: s.From, To: s.To,
			RPMBefore: wholeRPM(s.RPMBefore), RPMAfter: wholeRPM(s.RPMAfter),
			SpeedKmh: roundTo(s.V*units.ToKmh, speedDecimals), Held: s.Held,
		})
	}
	if in.Trace {
		r.Trace = trace(lap.Samples)
		if r.Loss != nil {
			addLosses(r.Trace, in.Loss.Account.Curve)
		}
	}
	return r, r.Check()
}

// trace keeps what a plot or a spreadsheet needs of the samples.
func trace(samples []sim.Sample) []TracePoint {
	phases := map[sim.Phase]string{sim.Driving: "driving", sim.Shifting: "shifting", sim.Limiting: "limiting", sim.Capped: "capped"}
	out := []TracePoint{}
	for _, p := range samples {
		one := TracePoint{
			DistanceM: roundTo(p.S, 3), TimeS: roundTo(p.T, timeDecimals), SpeedKmh: roundTo(p.V*units.ToKmh, speedDecimals),
			Gear: p.Gear, EngineRPM: roundTo(p.RPM, 1), Phase: phases[p.Phase],
		}
		if !math.IsInf(p.Limit, 0) {
			limit := roundTo(p.Limit*units.ToKmh, speedDecimals)
			one.LimitKmh = &limit
		}
		out = append(out, one)
	}
	return out
}

// addLosses puts what has been lost so far beside each sample.
func addLosses(points []TracePoint, curve []float64) {
	for i := range min(len(points), len(curve)) {
		lost := roundTo(curve[i], timeDecimals)
		points[i].LostS = &lost
	}
}

// Check tests the report's own sums: the times in the gears are the lap, and
// rpm falls at an upshift and rises at a downshift.
func (r *LapReport) Check() error {
	c := &sums{}
	c.finite("lap time", r.LapTimeS)
	c.finite("numerical error", r.NumericalErrorS)
	c.finite("top speed", r.TopSpeedKmh)
	sum := 0.0
	for _, g := range r.Gears {
		c.finite(fmt.Sprintf("gear %d: time in gear", g.Gear), g.TimeInGearS)
		sum += g.TimeInGearS
	}
	// Up to eight gears, each rounded to 1e-6 s, and the float's own rounding.
	if !(math.Abs(sum-r.LapTimeS) <= 1e-5) {
		c.fault("the times in the gears add up to %s s, the lap is %s s", fixed(sum, timeDecimals), fixed(r.LapTimeS, timeDecimals))
	}
	r.checkLaps(c)
	r.checkEnergy(c)
	c.checkLoss(r.Loss, r.LapTimeS)
	for _, s := range r.Shifts {
		if s.To > s.From && s.RPMAfter >= s.RPMBefore || s.To < s.From && s.RPMAfter <= s.RPMBefore || s.To == s.From {
			c.fault("shift %d to %d at %g m goes from %d to %d rpm", s.From, s.To, s.DistanceM, s.RPMBefore, s.RPMAfter)
		}
	}
	return c.err()
}

// JSON writes the report as one object.
func (r *LapReport) JSON(w io.Writer) error {
	if err := r.Check(); err != nil {
		return err
	}
	return writeJSON(w, r)
}

// Text writes the report for an 80-column terminal. The trace is in the JSON
// only.
func (r *LapReport) Text(w io.Writer, opt TextOptions) error {
	d, err := opt.display()
	if err = errors.Join(err, r.Check()); err != nil {
		return err
	}
	p := &page{}
	p.head("LAP", "")
	p.label("car", r.Car)
	p.label("track", r.Track)
	p.label("set", fmt.Sprintf("%s: %s", r.SetName, strings.Join(r.Set, ", ")))
	p.label("", "layshaft/mainshaft teeth in gear order; final drive "+drivePhrase(r.FinalDrive))
	if r.Drop != nil {
		p.label("drop pair", drivePhrase(*r.Drop))
	}
	p.label("kind", r.kindPhrase(d))
	textConditions(p, d, r.Conditions)
	if r.Kind == kindRun {
		r.textRun(p, d)
	} else {
		p.blank()
	}
	lap := seconds(r.LapTimeS) + " s"
	if r.LapTimeS >= secondsPerMinute {
		lap += " (" + clock(r.LapTimeS) + ")"
	}
	p.label("lap", fmt.Sprintf("%s, numerical error below %s ms", lap, milliseconds(r.NumericalErrorS)))
	p.label("top speed", fmt.Sprintf("%s at %s from the line", d.speedWithUnit(r.TopSpeedKmh), d.distWithUnit(r.TopSpeedAtM)))
	p.label("limiter", limiterPhrase(r.LimiterRPM, r.LimiterS))
	p.label("shifts", shiftRule(r.Conditions, r.ShiftMarginRPM))
	if r.Sensitivities != nil {
		p.label("changes", r.Sensitivities.phrase())
	}
	if r.Kind != kindRun {
		r.textFuel(p, d)
	}
	r.textGears(p)
	if r.Kind != kindRun {
		textLoss(p, d, r.Loss, r.LapTimeS, r.NoLossReason)
	}
	r.textShifts(p, d)
	p.heading("THROTTLE-ON PLACES: engine speed where full throttle goes on")
	textThrottleOns(p, d, r.ThrottleOns, r.PullingRPM)
	r.textEnergy(p)
	textWarnings(p, r.Warnings)
	p.heading("WHAT IT RESTS ON")
	p.hang("- ", "A simulation that was not matched to a logged lap: its own error is not known.")
	if len(r.Conditions.DriverShiftRPM) == 0 {
		p.hang("- ", "Shifts where they cost the least time on the lap, the shift time counted: early, late or not at all where that is quicker.")
	}
	if r.Sensitivities != nil {
		if text := r.Sensitivities.marginPhrase(r.ShiftMarginRPM, r.NumericalErrorS); text != "" {
			p.hang("- ", text)
		}
	}
	if r.FuelBurntKg != nil {
		p.hang("- ", "Fuel burnt: work of the engine at the crank x the consumption of the car file at full throttle; nothing off throttle. A lap is driven with the fuel on board when it begins.")
	}
	textInputs(p, r.Inputs)
	return p.flush(w)
}

func (r *LapReport) textGears(p *page) {
	p.heading("GEARS")
	cols := []column{
		{head: "gear", right: true}, {head: "lay|teeth", right: true}, {head: "main|teeth", right: true}, {head: "pair", flex: true},
		{head: "|overall", right: true}, {head: "shift light|rpm", right: true}, {head: "highest|rpm", right: true}, {head: "time in gear|s", right: true},
	}
	var rows [][]string
	for i := range r.Gears {
		g := &r.Gears[i]
		pair := Gear{LayshaftTeeth: g.LayshaftTeeth, MainshaftTeeth: g.MainshaftTeeth}
		rows = append(rows, []string{
			strconv.Itoa(g.Gear), strconv.Itoa(g.LayshaftTeeth), strconv.Itoa(g.MainshaftTeeth), g.PairID,
			overallRatio(&pair, r.FinalDrive, r.Drop).text(), whole(g.ShiftLightRPM), whole(g.MaxRPM), seconds(g.TimeInGearS),
		})
	}
	p.table(cols, rows)
}

func (r *LapReport) textShifts(p *page, d display) {
	p.heading("SHIFTS")
	if len(r.Shifts) == 0 {
		p.line("None: the lap stays in one gear.")
		return
	}
	cols := []column{
		{head: "|no.", right: true}, {head: "at|" + d.distUnit(), right: true}, {head: "|from", right: true}, {head: "|to", right: true},
		{head: "rpm|before", right: true}, {head: "rpm|after", right: true}, {head: "|" + d.speedUnit(), right: true}, {head: ""},
	}
	var rows [][]string
	for i, s := range r.Shifts {
		held := ""
		if s.Held {
			held = "held by a no-shift place"
		}
		rows = append(rows, []string{
			strconv.Itoa(i + 1), d.dist(s.DistanceM), strconv.Itoa(s.From), strconv.Itoa(s.To),
			strconv.Itoa(s.RPMBefore), strconv.Itoa(s.RPMAfter), d.speed(s.SpeedKmh), held,
		})
	}
	p.table(cols, rows)
}
