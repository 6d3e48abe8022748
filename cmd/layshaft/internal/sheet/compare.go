package sheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Compared is one of the two sheets of a comparison.
type Compared struct {
	Sheet  *Sheet   // as Read or Build gave it
	Name   string   // base name of its file, or what it is: "fitted"
	SHA256 string   // hex, of the file's bytes; "" = it is no file
	Stale  []string // what has changed since it was made, in sentences
}

// Comparison is the report of two ratio sheets: what differs, what it gains,
// and the shortest rebuild from the old to the new. Gains are old - new, so
// that positive is faster; every other change is new - old.
type Comparison struct {
	Schema        int           `json:"schema_version"`
	Old           ComparedSheet `json:"old"`
	New           ComparedSheet `json:"new"`
	Differs       []Difference  `json:"differs"`        // beside the gears
	NotComparable []string      `json:"not_comparable"` // why lap times, speeds and headroom are not subtracted; empty = they are
	GainS         *float64      `json:"gain_s"`         // old lap - new lap, positive = the new sheet is faster; nil = not comparable
	ErrorS        float64       `json:"numerical_error_s"`
	OutLapGainS   *float64      `json:"out_lap_gain_s"`
	TopChangeKmh  *float64      `json:"top_speed_change_kmh"`
	HeadroomRPM   *int          `json:"headroom_change_rpm"`
	LimiterS      *float64      `json:"on_limiter_change_s"`
	Gears         []GearChange  `json:"gears"`
	Rebuild       *Rebuild      `json:"rebuild"`           // nil = there is no plan
	NoRebuild     string        `json:"no_rebuild_reason"` // "" with a plan
	WheelTurns    []GearTurns   `json:"wheel_turns"`       // of the new sheet, of the gears whose count changes
	Cautions      []string      `json:"cautions"`
	Inputs        []InputRef    `json:"inputs"`
	Warnings      []string      `json:"warnings"`
}

// ComparedSheet is the head of a sheet.
type ComparedSheet struct {
	Name        string   `json:"name"`
	Event       string   `json:"event"`
	Session     string   `json:"session"`
	Revision    int      `json:"revision_count"`
	IssuedBy    string   `json:"issued_by"`
	Date        string   `json:"date"`
	Car         string   `json:"car"`
	Track       string   `json:"track"`
	Gearbox     string   `json:"gearbox"`
	Cluster     string   `json:"cluster"`
	FinalDrive  Teeth    `json:"final_drive"`
	Drop        *Teeth   `json:"drop"`
	Set         []string `json:"set"` // layshaft/mainshaft teeth by gear
	LapTimeS    float64  `json:"lap_time_s"`
	OutLapTimeS *float64 `json:"out_lap_time_s"`
	TopSpeedKmh float64  `json:"top_speed_kmh"`
	HeadroomRPM *int     `json:"headroom_rpm"`
	LimiterS    float64  `json:"on_limiter_s"`
}

// Difference is something that the two sheets state differently, in words.
type Difference struct {
	What string `json:"what"`
	Old  string `json:"old"`
	New  string `json:"new"`
}

// GearChange is one gear in both sheets; a sheet without the gear has nil.
type GearChange struct {
	Gear           int        `json:"gear"`
	Changed        bool       `json:"changed"` // another pair
	Old            *GearState `json:"old"`
	New            *GearState `json:"new"`
	RatioChange    *float64   `json:"ratio_change_pct"`      // of the ratio, negative = taller
	UpshiftChange  *int       `json:"upshift_change_rpm"`    // new - old
	AtLimiterKmh   *float64   `json:"limiter_change_kmh"`    // speed at the limiter, new - old
	TimeChangeS    *float64   `json:"time_in_gear_change_s"` // nil = not comparable
	AfterChangeRPM *int       `json:"after_upshift_change_rpm"`
}

// GearState is what a sheet says of a gear.
type GearState struct {
	PairID            string  `json:"pair_id"`
	LayshaftTeeth     int     `json:"layshaft_teeth"`
	MainshaftTeeth    int     `json:"mainshaft_teeth"`
	Mark              string  `json:"mark"`
	Ratio             float64 `json:"ratio"`
	OverallRatio      float64 `json:"overall_ratio"`
	UpshiftRPM        *int    `json:"upshift_rpm"`
	RPMAfterUpshift   *int    `json:"rpm_after_upshift"`
	SpeedAtLimiterKmh float64 `json:"speed_at_limiter_kmh"`
}

// GearTurns are the turns to count for one gear.
type GearTurns struct {
	Gear      int    `json:"gear"`
	WheelTurn Counts `json:"wheel_turn"`
}

// pctDecimals are those of a change of ratio in JSON.
const pctDecimals = 2

// BuildComparison compares two sheets that were checked by Read or Build.
// warnings are those of the command; what is stale of either sheet is added.
// The error is that of a sheet whose sums do not hold.
func BuildComparison(old, now Compared, warnings ...string) (*Comparison, error) {
	for _, one := range []Compared{old, now} {
		if err := one.Sheet.Check(); err != nil {
			return nil, fmt.Errorf("%s: %w", one.Name, err)
		}
	}
	o, n := old.Sheet, now.Sheet
	lapped, all := differences(o, n)
	c := &Comparison{
		Schema: SchemaVersion, Old: comparedSheet(old), New: comparedSheet(now),
		Differs: all, NotComparable: notComparable(lapped),
		ErrorS: roundTo(o.NumericalErrorS+n.NumericalErrorS, timeDecimals),
		Gears:  []GearChange{}, WheelTurns: []GearTurns{}, Cautions: cautions(), Inputs: []InputRef{},
	}
	if len(c.NotComparable) == 0 {
		c.changes(o, n)
	}
	for g := range max(len(o.Gears), len(n.Gears)) {
		c.Gears = append(c.Gears, gearChange(o, n, g, len(c.NotComparable) == 0))
		if g < len(n.Gears) && (g >= len(o.Gears) || o.Gears[g].WheelTurn != n.Gears[g].WheelTurn) {
			c.WheelTurns = append(c.WheelTurns, GearTurns{Gear: g + 1, WheelTurn: n.Gears[g].WheelTurn})
		}
	}
	var planned []string
	c.Rebuild, c.NoRebuild, planned = rebuild(o, n)
	for _, one := range []struct {
		role string
		Compared
	}{{"old sheet", old}, {"new sheet", now}} {
		if one.SHA256 != "" {
			c.Inputs = append(c.Inputs, InputRef{Name: one.Name, SHA256: one.SHA256, Role: one.role})
		}
		for _, text := range one.Stale {
			warnings = append(warnings, fmt.Sprintf("%s (%s): %s", one.role, one.Name, text))
		}
	}
	c.Warnings = unique(slices.Concat(warnings, planned, c.judge(o, n)))
	return c, nil
}

func comparedSheet(c Compared) ComparedSheet {
	s := c.Sheet
	out := ComparedSheet{
		Name: c.Name, Event: s.Event, Session: s.Session, Revision: s.Revision, IssuedBy: s.IssuedBy, Date: s.Date,
		Car: s.Car, Track: s.Track, Gearbox: s.Gearbox, Cluster: s.Cluster, FinalDrive: s.FinalDrive, Drop: s.Drop,
		Set: []string{}, LapTimeS: s.LapTimeS, OutLapTimeS: s.OutLapTimeS, TopSpeedKmh: s.TopSpeedKmh,
		HeadroomRPM: s.HeadroomRPM, LimiterS: s.LimiterS,
	}
	for i := range s.Gears {
		out.Set = append(out.Set, fmt.Sprintf("%d/%d", s.Gears[i].LayshaftTeeth, s.Gears[i].MainshaftTeeth))
	}
	return out
}

// changes are differences of rounded values, so that the printed ones add up.
func (c *Comparison) changes(o, n *Sheet) {
	minus := func(a, b float64, decimals int) *float64 {
		v := roundTo(a-b, decimals)
		return &v
	}
	c.GainS = minus(o.LapTimeS, n.LapTimeS, timeDecimals)
	c.TopChangeKmh = minus(n.TopSpeedKmh, o.TopSpeedKmh, speedDecimals)
	c.LimiterS = minus(n.LimiterS, o.LimiterS, timeDecimals)
	if o.OutLapTimeS != nil && n.OutLapTimeS != nil {
		c.OutLapGainS = minus(*o.OutLapTimeS, *n.OutLapTimeS, timeDecimals)
	}
	if o.HeadroomRPM != nil && n.HeadroomRPM != nil {
		v := *n.HeadroomRPM - *o.HeadroomRPM
		c.HeadroomRPM = &v
	}
}

func gearChange(o, n *Sheet, g int, comparable bool) GearChange {
	out := GearChange{Gear: g + 1, Changed: true}
	if g < len(o.Gears) {
		out.Old = gearState(&o.Gears[g])
	}
	if g < len(n.Gears) {
		out.New = gearState(&n.Gears[g])
	}
	if out.Old == nil || out.New == nil {
		return out
	}
	a, b := &o.Gears[g], &n.Gears[g]
	out.Changed = a.PairID != b.PairID
	pct := roundTo((pairRatio(b).value()/pairRatio(a).value()-1)*100, pctDecimals)
	kmh := roundTo(b.SpeedAtLimiterKmh-a.SpeedAtLimiterKmh, speedDecimals)
	out.RatioChange, out.AtLimiterKmh = &pct, &kmh
	out.UpshiftChange = rpmChange(a.UpshiftRPM, b.UpshiftRPM)
	out.AfterChangeRPM = rpmChange(a.RPMAfterUpshift, b.RPMAfterUpshift)
	if comparable {
		t := roundTo(b.TimeInGearS-a.TimeInGearS, timeDecimals)
		out.TimeChangeS = &t
	}
	return out
}

func rpmChange(old, now *int) *int {
	if old == nil || now == nil {
		return nil
	}
	v := *now - *old
	return &v
}

func gearState(g *Gear) *GearState {
	return &GearState{
		PairID: g.PairID, LayshaftTeeth: g.LayshaftTeeth, MainshaftTeeth: g.MainshaftTeeth, Mark: g.Mark,
		Ratio: g.Ratio, OverallRatio: g.OverallRatio, UpshiftRPM: g.UpshiftRPM, RPMAfterUpshift: g.RPMAfterUpshift,
		SpeedAtLimiterKmh: g.SpeedAtLimiterKmh,
	}
}

// fact is something that a sheet states: how it is shown, and by what two of
// them are told apart.
type fact struct{ what, text, key string }

// facts are what two sheets may state differently, in a fixed order; asLapped
// are those on which a lap time rests beside the set itself. Numbers are
// written in full: a difference that is not printed is one all the same.
func facts(s *Sheet) (head, asLapped []fact) {
	say := func(what, text string) fact { return fact{what, text, text} }
	number := func(v float64, unit string) string { return given(&v, unit) }
	file := func(role string) fact {
		for _, in := range s.Inputs {
			if in.Role == role {
				return fact{role + " file", in.Name + " " + in.SHA256[:min(len(in.SHA256), hashShown)], in.SHA256}
			}
		}
		return say(role+" file", "not named")
	}
	revision := ""
	if s.Revision > 0 {
		revision = strconv.Itoa(s.Revision)
	}
	head = []fact{
		say("event", s.Event), say("session", s.Session), say("revision", revision), say("issued by", s.IssuedBy), say("date", s.Date),
		say("gearbox", s.Gearbox), file("gearbox"), say("cluster", s.Cluster), say("stock", s.Stock), file("stock"),
		say("final drive", drivePhrase(s.FinalDrive)), say("drop pair", dropPhrase(s.Drop)), say("search", string(s.Search.Status)),
	}
	c := &s.Conditions
	wind, tow, most := "none", "none", "no bound"
	if c.WindKmh != 0 {
		wind = number(c.WindKmh, "km/h from ") + number(c.WindFromDeg, "deg")
	}
	if c.TowDragRatio != 1 || c.TowDownforceRatio != 1 {
		tow = "drag x " + number(c.TowDragRatio, "and downforce x ") + number(c.TowDownforceRatio, c.TowWhere)
	}
	if c.LimiterMostS != nil {
		most = given(c.LimiterMostS, "s")
	}
	asLapped = []fact{
		say("car", s.Car), file("car"), say("track", s.Track), file("track"),
		say("air density", number(c.AirDensityKgm3, "kg/m3")), say("engine factor", number(c.EngineFactorRatio, "x torque")), say("engine map", c.Map),
		say("wind", wind), say("tow", tow), say("fuel", number(c.FuelKg, "kg")), say("grip", number(c.GripRatio, "x the track's")),
		say("driver's shift rpm", shiftWords(c.DriverShiftRPM)), say("most on the limiter", most),
		say("limiter", number(float64(s.LimiterRPM), "rpm")), say("shift margin", number(float64(s.ShiftMarginRPM), "rpm")),
	}
	return head, asLapped
}

func dropPhrase(t *Teeth) string {
	if t == nil {
		return "none"
	}
	return drivePhrase(*t)
}

func shiftWords(rpm []int) string {
	if len(rpm) == 0 {
		return "the quickest"
	}
	words := make([]string, len(rpm))
	for i, v := range rpm {
		words[i] = strconv.Itoa(v)
	}
	return strings.Join(words, ", ")
}

// differing pairs up two lists of facts and keeps those that differ.
func differing(old, now []fact) []Difference {
	out := []Difference{}
	for i := range old {
		if old[i].key != now[i].key {
			out = append(out, Difference{What: old[i].what, Old: old[i].text, New: now[i].text})
		}
	}
	return out
}

// differences lists what differs: first that on which the laps rest, then the
// rest.
func differences(o, n *Sheet) (lapped, all []Difference) {
	oldHead, oldLap := facts(o)
	newHead, newLap := facts(n)
	lapped = differing(oldLap, newLap)
	return lapped, append(slices.Clone(lapped), differing(oldHead, newHead)...)
}

// notComparable says why the lap times may not be subtracted.
func notComparable(lapped []Difference) []string {
	out := []string{}
	for _, d := range lapped {
		out = append(out, fmt.Sprintf("%s: %s against %s", d.What, orNone(d.Old), orNone(d.New)))
	}
	return out
}

// judge words what a reader might overlook.
func (c *Comparison) judge(o, n *Sheet) []string {
	var out []string
	if c.GainS != nil && *c.GainS != 0 && max(*c.GainS, -*c.GainS) <= c.ErrorS {
		out = append(out, fmt.Sprintf("the lap times differ by less than their numerical errors together (%s ms): neither set is proved faster", milliseconds(c.ErrorS)))
	}
	if c.GainS != nil && slices.ContainsFunc(c.Differs, func(d Difference) bool { return d.What == "gearbox file" }) {
		out = append(out, "the two sheets rest on different gearbox files: shift times may differ, the gain is of box and set together")
	}
	if o.Event == n.Event && o.Session == n.Session && o.Revision > 0 && n.Revision > 0 && n.Revision <= o.Revision {
		out = append(out, fmt.Sprintf("the new sheet is revision %d, the old one %d: are they the right way round?", n.Revision, o.Revision))
	}
	return out
}
