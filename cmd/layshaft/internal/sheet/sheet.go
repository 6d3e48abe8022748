package sheet

import (
	"encoding/json"

	"layshaft/optimize"
	"layshaft/optimize/gearing"
)

// SchemaVersion is the version of every JSON object that this package writes.
// Keys may be added under the same version; a renamed key or a new meaning
// needs the next one.
const SchemaVersion = 1

// Teeth are the tooth numbers of a final drive or a drop pair.
type Teeth struct {
	Name         string `json:"name"`
	DrivingTeeth int    `json:"driving_teeth"`
	DrivenTeeth  int    `json:"driven_teeth"`
}

// Gear is one line of the gear table. Values are rounded as rounding.go says.
type Gear struct {
	Gear              int      `json:"gear"`
	PairID            string   `json:"pair_id"`
	LayshaftTeeth     int      `json:"layshaft_teeth"`
	MainshaftTeeth    int      `json:"mainshaft_teeth"`
	Mark              string   `json:"mark"`
	Ratio             float64  `json:"ratio"`
	OverallRatio      float64  `json:"overall_ratio"`
	StepRatio         *float64 `json:"step_ratio"`        // this gear's ratio / the next gear's; nil in top
	UpshiftRPM        *int     `json:"upshift_rpm"`       // 1/min; nil in top
	RPMAfterUpshift   *int     `json:"rpm_after_upshift"` // 1/min, same road speed in the next gear
	RPMDrop           *int     `json:"rpm_drop"`          // 1/min, UpshiftRPM - RPMAfterUpshift
	SpeedAtUpshiftKmh *float64 `json:"speed_at_upshift_kmh"`
	SpeedAtLimiterKmh float64  `json:"speed_at_limiter_kmh"`
	UsedOnLap         bool     `json:"used_on_lap"`
	TimeInGearS       float64  `json:"time_in_gear_s"`
	MaxRPM            *int     `json:"max_rpm"` // 1/min on the lap; nil when never engaged
	Fork              int      `json:"fork"`    // from 1, as listed in Sheet.Forks
	StackPosition     int      `json:"stack_position"`
	SlotKind          string   `json:"slot_kind"`
	DogSide           string   `json:"dog_side"` // side on which the ring engages; "" = not stated
	Group             string   `json:"group"`    // integral part the pair is cut on; "" = a loose pair
	Note              string   `json:"note"`     // of the stock file
	RunKm             float64  `json:"run_km"`
	LifeKm            *float64 `json:"life_km"` // nil = no limit given
	InShop            int      `json:"in_shop_count"`
	Place             string   `json:"place"`        // where the pair lies: "box", "shop", "car"; "" = not known
	CrackTested       string   `json:"crack_tested"` // year-month-day; "" = never, or not known
	Waiver            string   `json:"waiver"`       // who allowed it against the stock's rules, and why; "" = nobody had to
	Strip             Strip    `json:"strip"`        // to change this gear alone
	WheelTurn         Counts   `json:"wheel_turn"`
	DownshiftMaxKmh   *float64 `json:"downshift_speed_max_kmh"` // highest for a downshift into this gear (Sheet.OverRevRPM), rounded down; nil in top
	GearLife
}

// Strip is what has to come off, and how long the job takes.
type Strip struct {
	ComesOff      []int    `json:"comes_off"` // gears in removal order, Reverse as -1; those to be changed included
	Layshaft      []string `json:"layshaft"`  // parts off the layshaft, in removal order
	Mainshaft     []string `json:"mainshaft"` // parts off the mainshaft, in removal order
	ClusterStrip  bool     `json:"cluster_strip"`
	PositionsDeep int      `json:"positions_deep_count"` // stack positions opened
	BenchMin      float64  `json:"bench_min"`            // min, opening + deepest layer + pairs + closing check
}

// Change is the way from the fitted set to the sheet's.
type Change struct {
	ChangedGears []int  `json:"changed_gears"`
	OtherDrives  bool   `json:"other_drives"` // final drive or drop pair differ too; their time is not in Strip
	Strip        *Strip `json:"strip"`        // nil when no gear changes
}

// Counts are the input-shaft turns that a mechanic counts.
type Counts struct {
	Bench      Turn `json:"bench"`       // output of the box turned once
	BothWheels Turn `json:"both_wheels"` // in the car, both driven wheels turned once
	OneWheel   Turn `json:"one_wheel"`   // in the car, one driven wheel turned once, the other held
}

// Turn is an angle in whole turns and whole degrees.
type Turn struct {
	Turns    int `json:"turns_count"`
	AngleDeg int `json:"angle_deg"` // 0 to 359
}

// Alternate is another pair to have ready for one gear.
type Alternate struct {
	Gear           int     `json:"gear"`
	PairID         string  `json:"pair_id"`
	LayshaftTeeth  int     `json:"layshaft_teeth"`
	MainshaftTeeth int     `json:"mainshaft_teeth"`
	Mark           string  `json:"mark"`
	LapTimeS       float64 `json:"lap_time_s"`
	LossS          float64 `json:"loss_s"` // s against the sheet's set in the same condition; negative = faster
	Condition      string  `json:"condition"`
	ComesOff       []int   `json:"comes_off"`
	BenchMin       float64 `json:"bench_min"`
}

// Search is how the set was found and what is proved of it.
type Search struct {
	Status      optimize.Status `json:"status"`
	OpenBecause *gearing.Open   `json:"open_because"`  // why it is not proved; nil when it is, or when nothing was searched
	GapS        *float64        `json:"gap_s"`         // s; nil when nothing was searched or nothing is known
	SetsInSpace *json.Number    `json:"sets_in_space"` // exact count; nil when it was not counted
	Stages      []Stage         `json:"stages"`
	NearCount   *int            `json:"near_count"`           // sets within the gap of the best in all that near_by names; nil when they were too many to list
	NearBy      []string        `json:"near_by"`              // names of stages
	Ties        []Tie           `json:"ties"`                 // rules that told sets apart which both stages had left
	FineLapS    *float64        `json:"fine_mesh_lap_time_s"` // this set on a mesh four times as fine; nil when nothing was searched
	FineBestS   *float64        `json:"fine_mesh_best_s"`     // the least of the near sets and it there
}

// Tie is a written rule that was asked for, in order.
type Tie struct {
	Rule string `json:"rule"`
	Left int    `json:"left_count"` // sets that are as good by it
}

// Stage is one stage of the staged objective.
type Stage struct {
	Name   string   `json:"name"`
	ValueS float64  `json:"value_s"`
	GapS   *float64 `json:"gap_s"`
	Proved bool     `json:"proved"`
}

// Near is another set close to the chosen one.
type Near struct {
	Set      []string `json:"set"`      // "13/36" by gear, layshaft/mainshaft
	PairIDs  []string `json:"pair_ids"` // by gear
	Final    string   `json:"final_drive"`
	LapTimeS float64  `json:"lap_time_s"`
	LossS    float64  `json:"loss_s"`
	OutLapS  *float64 `json:"out_lap_time_s"`
	FineLapS float64  `json:"fine_mesh_lap_time_s"` // on a mesh four times as fine
}

// TopGear is one line of the table for the end of the longest straight.
type TopGear struct {
	Case        string  `json:"case"`
	LapTimeS    float64 `json:"lap_time_s"`
	SpeedKmh    float64 `json:"speed_kmh"` // highest on the longest straight
	Gear        int     `json:"gear"`      // engaged there
	EngineRPM   int     `json:"engine_rpm"`
	HeadroomRPM int     `json:"headroom_rpm"` // limiter - EngineRPM
	LimiterS    float64 `json:"on_limiter_s"` // s of the lap on the limiter
}

// Straight is the stretch that the top-gear table speaks of; it may wrap over
// the line.
type Straight struct {
	StartM  float64 `json:"start_m"`
	LengthM float64 `json:"length_m"`
}

// ThrottleOn is a place where full throttle begins.
type ThrottleOn struct {
	DistanceM float64 `json:"distance_m"`
	Corner    string  `json:"corner"`
	SpeedKmh  float64 `json:"speed_kmh"`
	Gear      int     `json:"gear"`
	EngineRPM int     `json:"engine_rpm"`
	Lowest    bool    `json:"lowest"` // the least rpm of the lap
}

// Conditions are the weather and the car's state, as used and as given.
type Conditions struct {
	AirDensityKgm3      float64  `json:"air_density_kgm3"`
	AirSource           string   `json:"air_source"`
	AirTempC            *float64 `json:"air_temp_c"`
	StationPressureHpa  *float64 `json:"station_pressure_hpa"`
	SeaLevelPressureHpa *float64 `json:"sea_level_pressure_hpa"`
	HumidityPct         *float64 `json:"humidity_pct"`
	EngineFactorRatio   float64  `json:"engine_factor_ratio"`
	EngineSource        string   `json:"engine_source"`
	WindKmh             float64  `json:"wind_kmh"`
	WindFromDeg         float64  `json:"wind_from_deg"`
	TowDragRatio        float64  `json:"tow_drag_ratio"`
	TowDownforceRatio   float64  `json:"tow_downforce_ratio"`
	TowWhere            string   `json:"tow_where"` // "straights", "everywhere", or names of places with commas between
	FuelKg              float64  `json:"fuel_kg"`
	GripRatio           float64  `json:"grip_ratio"`
	Map                 string   `json:"map"`
	DriverShiftRPM      []int    `json:"driver_shift_rpm"` // the driver's own by gear, first to second first; nil = the quickest
	LimiterMostS        *float64 `json:"limiter_most_s"`   // bound on the time a gear is held on the limiter; nil = none
}

// InputRef is an input as the sheet names it.
type InputRef struct {
	Name     string `json:"name"`
	SHA256   string `json:"sha256"`
	Role     string `json:"role"`
	Embedded bool   `json:"embedded"`
}

// MakerNote is a figure of the gearbox maker, quoted from the user's file.
type MakerNote struct {
	What   string `json:"what"`
	Value  string `json:"value"`
	Source string `json:"source"`
}

// Sheet is the ratio sheet: the one model of which text and JSON (and later
// other forms) are views. Build makes it; fields are in the order of the JSON.
type Sheet struct {
	Schema          int            `json:"schema_version"`
	InCar           string         `json:"in_car"` // which of the team's cars it is for; "" = no pair store was asked
	Event           string         `json:"event"`
	Session         string         `json:"session"`
	Revision        int            `json:"revision_count"` // from 1; 0 = not issued under a number
	IssuedBy        string         `json:"issued_by"`
	Date            string         `json:"date"`
	Car             string         `json:"car"`
	Track           string         `json:"track"`
	TrackLengthM    float64        `json:"track_length_m"`
	Gearbox         string         `json:"gearbox"`
	Stock           string         `json:"stock"`
	LapTimeS        float64        `json:"lap_time_s"`
	NumericalErrorS float64        `json:"numerical_error_s"`
	OutLapTimeS     *float64       `json:"out_lap_time_s"`
	TopSpeedKmh     float64        `json:"top_speed_kmh"`
	TopSpeedAtM     float64        `json:"top_speed_at_m"`
	LimiterRPM      int            `json:"limiter_rpm"`
	PullingRPM      int            `json:"pulling_rpm"`
	ShiftMarginRPM  int            `json:"shift_margin_rpm"` // below the limiter, where a shift comes at the latest
	LimiterS        float64        `json:"on_limiter_s"`     // s of the lap on the limiter
	Sensitivities   *Sensitivities `json:"sensitivities"`
	Loss            *Loss          `json:"loss"`
	NoLossReason    string         `json:"no_loss_reason"` // "" with an account
	HeadroomRPM     *int           `json:"headroom_rpm"`   // limiter - highest rpm in top; nil when top is never engaged
	FinalDrive      Teeth          `json:"final_drive"`
	Drop            *Teeth         `json:"drop"`
	Gears           []Gear         `json:"gears"`
	Cluster         string         `json:"cluster"`
	Neutral         string         `json:"neutral"`
	Forks           [][]int        `json:"forks"`
	Stack           []int          `json:"stack"`
	OpensAt         string         `json:"opens_at"`           // end at which the box opens: "outer" or "housing"
	Bench           *Bench         `json:"bench"`              // nil in a sheet from before build orders
	StepsStated     bool           `json:"build_steps_stated"` // the gearbox file has a steps table; else stack and forks alone tell
	BuildOrder      []BuildStep    `json:"build_order"`        // first on first
	StripAll        Strip          `json:"strip_all"`          // to change every gear
	FromFitted      *Change        `json:"from_fitted"`        // nil when the stock names no fitted set
	Alternates      []Alternate    `json:"alternates"`
	TopGear         []TopGear      `json:"top_gear"`
	Straight        Straight       `json:"longest_straight"`
	ThrottleOns     []ThrottleOn   `json:"throttle_on"`
	Corners         []Corner       `json:"corners"`
	TopSpeedGear    int            `json:"top_speed_gear"`
	Upshifts        int            `json:"upshifts_per_lap_count"`
	Downshifts      int            `json:"downshifts_per_lap_count"`
	LimiterTouches  int            `json:"limiter_touches_per_lap_count"` // simulated
	OverRevRPM      int            `json:"over_rev_rpm"`
	OverRevFrom     string         `json:"over_rev_from"`
	Life            *Life          `json:"life"` // nil = not computed
	Search          Search         `json:"search"`
	Near            []Near         `json:"near"`
	Conditions      Conditions     `json:"conditions"`
	RadiusSource    string         `json:"tyre_radius_source"`
	MakerNotes      []MakerNote    `json:"maker_notes"`
	Cautions        []string       `json:"cautions"`
	Basis           []string       `json:"basis"` // what the numbers rest on, in sentences
	Inputs          []InputRef     `json:"inputs"`
	Warnings        []string       `json:"warnings"`
	PairsFor        string         `json:"pairs_for"`  // for what use the pairs were judged; "" = only as the stock file marks them
	Superseded      string         `json:"superseded"` // by what; "" = by nothing that is known. Only a reprint can say
	Standing        []string       `json:"standing"`   // what has become of it since it was made. Only a reprint can say
}
