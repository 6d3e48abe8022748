package sheet

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"layshaft/optimize"
	"layshaft/optimize/gearing"
	"layshaft/tracks"
)

// Text writes the ratio sheet for an 80-column terminal or printer. The sheet
// tests its sums and proof-reads the gear table first; on a failure nothing is
// written.
func (s *Sheet) Text(w io.Writer, opt TextOptions) error {
	d, err := opt.display()
	if err != nil {
		return err
	}
	if err := s.Check(); err != nil {
		return err
	}
	p, err := s.page(d, s.gearCells(d))
	if err != nil {
		return err
	}
	return p.flush(w)
}

// page sets the whole sheet around the rendered gear table, which it
// proof-reads first.
func (s *Sheet) page(d display, rows [][]string) (*page, error) {
	if err := s.proofRead(rows); err != nil {
		return nil, err
	}
	p := &page{}
	s.textHead(p, d)
	s.textGears(p, d, rows)
	s.textBuild(p)
	s.textBuildOrder(p)
	s.textStrips(p)
	s.textCounts(p)
	s.textLife(p)
	textLoss(p, d, s.Loss, s.LapTimeS, s.NoLossReason)
	s.textTopGear(p, d)
	s.textThrottleOns(p, d)
	s.textAlternates(p)
	s.textWarnings(p)
	s.textCautions(p)
	s.textBasis(p)
	s.textSignatures(p)
	return p, nil
}

// JSON writes the ratio sheet as one object; the sheet tests its sums first.
func (s *Sheet) JSON(w io.Writer) error {
	if err := s.Check(); err != nil {
		return err
	}
	return writeJSON(w, s)
}

func (s *Sheet) textHead(p *page, d display) {
	right := ""
	if s.Date != "" {
		right = "date " + s.Date
	}
	p.head("RATIO SHEET", right)
	s.textStanding(p)
	s.textIssue(p, d)
	s.textMakeUp(p)
	textConditions(p, d, s.Conditions)
	p.blank()
	s.textPrediction(p, d)
}

// textStanding says what has become of the sheet.
func (s *Sheet) textStanding(p *page) {
	if s.Superseded != "" {
		p.para("*** SUPERSEDED " + s.Superseded + ". Do not build from this sheet. ***")
	}
	for _, text := range s.Standing {
		p.para("! SINCE IT WAS MADE: " + text)
	}
	if s.Superseded != "" || len(s.Standing) > 0 {
		p.blank()
	}
}

// textIssue is what the sheet is for and who answers for it.
func (s *Sheet) textIssue(p *page, d display) {
	if s.Event != "" {
		p.label("job", s.Event)
	}
	if s.Session != "" {
		p.label("session", s.Session)
	}
	if s.Revision > 0 {
		p.label("revision", strconv.Itoa(s.Revision))
	}
	if s.IssuedBy != "" {
		p.label("issued by", s.IssuedBy)
	}
	if s.InCar != "" {
		p.label("for", "car "+s.InCar)
	}
	p.label("car", s.Car)
	p.label("track", fmt.Sprintf("%s, %s", s.Track, d.distWithUnit(s.TrackLengthM)))
}

// textMakeUp is the box and what turns beside the pairs.
func (s *Sheet) textMakeUp(p *page) {
	p.label("gearbox", fmt.Sprintf("%s, cluster %s", s.Gearbox, s.Cluster))
	p.label("stock", s.Stock)
	p.label("final", drivePhrase(s.FinalDrive))
	if s.Drop != nil {
		p.label("drop pair", drivePhrase(*s.Drop))
	}
}

// textPrediction is what the simulation says of the lap.
func (s *Sheet) textPrediction(p *page, d display) {
	lap := fmt.Sprintf("%s s", seconds(s.LapTimeS))
	if s.LapTimeS >= secondsPerMinute {
		lap += fmt.Sprintf(" (%s)", clock(s.LapTimeS))
	}
	p.label("lap", fmt.Sprintf("%s, numerical error below %s ms", lap, milliseconds(s.NumericalErrorS)))
	if s.OutLapTimeS != nil {
		p.label("out lap", seconds(*s.OutLapTimeS)+" s from the end of the pit-lane limit to the line")
	}
	top := fmt.Sprintf("%s at %s from the line", d.speedWithUnit(s.TopSpeedKmh), d.distWithUnit(s.TopSpeedAtM))
	if s.HeadroomRPM != nil {
		top += fmt.Sprintf("; %d rpm to the limiter in top", *s.HeadroomRPM)
	} else {
		top += "; the lap never engages top"
	}
	p.label("top speed", top)
	p.label("limiter", limiterPhrase(s.LimiterRPM, s.LimiterS))
	p.label("result", s.Search.phrase())
}

func drivePhrase(t Teeth) string {
	f := fraction{int64(t.DrivenTeeth), int64(t.DrivingTeeth)}
	return fmt.Sprintf("%s: %d driving, %d driven teeth, ratio %s", t.Name, t.DrivingTeeth, t.DrivenTeeth, f.text())
}

// phrase is the status line.
func (s Search) phrase() string {
	sets := ""
	if s.SetsInSpace != nil {
		sets = fmt.Sprintf(", %s sets in the space", Grouped(s.SetsInSpace.String()))
	}
	if s.SetsInSpace != nil && *s.SetsInSpace == "1" {
		sets = ", it is the only set in the space"
	}
	switch {
	case s.Status == optimize.Proved && s.GapS != nil:
		return "proved: " + noFaster(*s.GapS) + sets
	case s.Status == optimize.Given:
		return "given: the engineer's own set; nothing was searched" + sets
	case s.GapS != nil && len(s.Stages) > 0 && s.Stages[0].Proved:
		return fmt.Sprintf("%s proved: %s; NOT PROVED%s that no other set with as good a %s is better at what decides next%s",
			s.Stages[0].Name, noFaster(*s.GapS), s.open(), s.Stages[0].Name, sets)
	case s.GapS != nil:
		return fmt.Sprintf("NOT PROVED%s: another buildable set may be faster by up to %s ms%s", s.open(), milliseconds(*s.GapS), sets)
	}
	return "NOT PROVED" + s.open() + ": how much faster another buildable set may be is not known" + sets
}

// open words why the proof is open; it says of a search that nobody stopped that it
// cannot decide the problem however long it runs.
func (s Search) open() string {
	if s.OpenBecause == nil {
		return ""
	}
	switch *s.OpenBecause {
	case gearing.Interrupted:
		return " (the search was interrupted)"
	case gearing.TimeLimit:
		return " (the time limit ended the search)"
	case gearing.BoundFailed:
		return " (the search failed its own check: see the warnings)"
	}
	return " (nobody stopped the search: its bounds are too wide to decide this circuit)"
}

// leastGapS is half of the last digit in which a gap is printed (s): a smaller
// one is none.
const leastGapS = 0.005e-3

// noFaster words a proof: a set may be faster by the gap (s), or none is.
func noFaster(gap float64) string {
	if gap < leastGapS {
		return "no buildable set is faster"
	}
	return fmt.Sprintf("no buildable set is faster by more than %s ms", milliseconds(gap))
}

func textConditions(p *page, d display, c Conditions) {
	air := fmt.Sprintf("%s kg/m3", fixed(c.AirDensityKgm3, 4))
	if c.AirSource != "" {
		air += ", " + c.AirSource
	}
	p.label("air", air)
	var stated []string
	if c.AirTempC != nil {
		stated = append(stated, given(c.AirTempC, "deg C"))
	}
	if c.StationPressureHpa != nil {
		stated = append(stated, given(c.StationPressureHpa, "hPa at the circuit"))
	}
	if c.SeaLevelPressureHpa != nil {
		stated = append(stated, given(c.SeaLevelPressureHpa, "hPa at sea level"))
	}
	if c.HumidityPct != nil {
		stated = append(stated, given(c.HumidityPct, "% humidity"))
	}
	if len(stated) > 0 {
		p.label("as given", strings.Join(stated, ", "))
	}
	engine := fmt.Sprintf("torque x %s", fixed(c.EngineFactorRatio, 4))
	if c.EngineSource != "" {
		engine += ", " + c.EngineSource
	}
	if c.Map != "" {
		engine += ", map " + c.Map
	}
	p.label("engine", engine)
	p.label("state", c.statePhrase(d))
	if asked := c.driverPhrase(); asked != "" {
		p.label("driver", asked)
	}
}

// statePhrase is wind, tow, fuel and grip in a line.
func (c Conditions) statePhrase(d display) string {
	wind := "no wind"
	if c.WindKmh != 0 {
		wind = fmt.Sprintf("wind %s from %s deg", d.speedWithUnit(c.WindKmh), fixed(c.WindFromDeg, 0))
	}
	tow := "no tow"
	if c.TowDragRatio != 1 || c.TowDownforceRatio != 1 {
		where := "at " + strings.ReplaceAll(c.TowWhere, ",", ", ")
		switch c.TowWhere {
		case tracks.Everywhere:
			where = "everywhere"
		case tracks.Straights:
			where = "on straights"
		}
		tow = fmt.Sprintf("tow: drag x %s, downforce x %s %s", fixed(c.TowDragRatio, 3), fixed(c.TowDownforceRatio, 3), where)
	}
	return fmt.Sprintf("%s; %s; fuel %s; grip x %s", wind, tow, d.mass(c.FuelKg), fixed(c.GripRatio, 3))
}
