package sheet

import (
	"errors"
	"fmt"
	"io"
)

// DriverGear is one gear as the driver needs it.
type DriverGear struct {
	Gear              int      `json:"gear"`
	ShiftLightRPM     *int     `json:"shift_light_rpm"` // 1/min; nil, with the next three, in top
	SpeedAtUpshiftKmh *float64 `json:"speed_at_upshift_kmh"`
	RPMDrop           *int     `json:"rpm_drop"`
	RPMAfterUpshift   *int     `json:"rpm_after_upshift"`
	DownshiftMaxKmh   *float64 `json:"downshift_speed_max_kmh"` // into this gear; nil in top
}

// DriverCard is what of a ratio sheet the driver takes along. All of it stands on
// the sheet.
type DriverCard struct {
	Schema       int          `json:"schema_version"`
	LapTimeS     float64      `json:"lap_time_s"`
	Gears        []DriverGear `json:"gears"`
	OverRevRPM   int          `json:"over_rev_rpm"` // 1/min, what the speeds for downshifts rest on
	OverRevFrom  string       `json:"over_rev_from"`
	LimiterRPM   int          `json:"limiter_rpm"`
	Upshifts     int          `json:"upshifts_per_lap_count"`
	Downshifts   int          `json:"downshifts_per_lap_count"`
	TopSpeedKmh  float64      `json:"top_speed_kmh"`
	TopSpeedAtM  float64      `json:"top_speed_at_m"`
	TopSpeedGear int          `json:"top_speed_gear"`
	Corners      []Corner     `json:"corners"` // in the order of the lap
	Conditions   Conditions   `json:"conditions"`
	Car          string       `json:"car"`
	Track        string       `json:"track"`
	Set          []string     `json:"set"` // "13/36" by gear, layshaft/mainshaft
	FinalDrive   Teeth        `json:"final_drive"`
	Drop         *Teeth       `json:"drop"`
	Event        string       `json:"event"`
	Session      string       `json:"session"`
	Revision     int          `json:"revision_count"`
	Date         string       `json:"date"`
}

// ErrOldSheet says that a sheet does not hold what a card needs.
var ErrOldSheet = errors.New("the sheet was saved by an earlier version of the program, without corners and speeds for downshifts: make it again")

// DriverCardOf makes the card of a sheet, which tests its sums first. ErrOldSheet for a
// sheet saved by a version that knew no cards.
func DriverCardOf(s *Sheet) (*DriverCard, error) {
	if s.OverRevRPM == 0 || s.Corners == nil {
		return nil, ErrOldSheet
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	c := &DriverCard{
		Schema: SchemaVersion, LapTimeS: s.LapTimeS, OverRevRPM: s.OverRevRPM, OverRevFrom: s.OverRevFrom, LimiterRPM: s.LimiterRPM,
		Upshifts: s.Upshifts, Downshifts: s.Downshifts,
		TopSpeedKmh: s.TopSpeedKmh, TopSpeedAtM: s.TopSpeedAtM, TopSpeedGear: s.TopSpeedGear,
		Corners: s.Corners, Conditions: s.Conditions, Car: s.Car, Track: s.Track, FinalDrive: s.FinalDrive, Drop: s.Drop,
		Event: s.Event, Session: s.Session, Revision: s.Revision, Date: s.Date,
	}
	for i := range s.Gears {
		g := &s.Gears[i]
		c.Set = append(c.Set, fmt.Sprintf("%d/%d", g.LayshaftTeeth, g.MainshaftTeeth))
		c.Gears = append(c.Gears, DriverGear{
			Gear: g.Gear, ShiftLightRPM: g.UpshiftRPM, SpeedAtUpshiftKmh: g.SpeedAtUpshiftKmh,
			RPMDrop: g.RPMDrop, RPMAfterUpshift: g.RPMAfterUpshift, DownshiftMaxKmh: g.DownshiftMaxKmh,
		})
		if top := i == len(s.Gears)-1; top != (g.DownshiftMaxKmh == nil) {
			return nil, fmt.Errorf("gear %d: its speed for the downshift is missing: %w", g.Gear, ErrOldSheet)
		}
	}
	return c, nil
}

// JSON writes the card as one object.
func (c *DriverCard) JSON(w io.Writer) error { return writeJSON(w, c) }
