package sheet

import (
	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/optimize/gearing"
	"layshaft/sim"
	"layshaft/tracks"
)

// InputFile is one file that the numbers rest on.
type InputFile struct {
	Role     string // what it is: "car", "track", "stock", "gearbox"
	Name     string // base name, as shown to people
	SHA256   string // hex, of the bytes as read
	Embedded bool   // it came inside the program
}

// GivenAir is the weather as the engineer stated it; nil = not stated.
type GivenAir struct {
	AirTempC            *float64 // °C
	StationPressureHpa  *float64 // hPa, absolute, at the circuit
	SeaLevelPressureHpa *float64 // hPa, reduced to sea level
	HumidityPct         *float64 // %, relative
}

// Weather holds the conditions as used and where they come from.
type Weather struct {
	Used         sim.Conditions
	Given        GivenAir
	AirSource    string       // how the density was found: "ISO 2533 at 120 m"
	Settings     sim.Settings // the driver's own shift rpm, the bound on time on the limiter
	EngineSource string       // how the engine factor was found: the standard's name, or why there is none
}

// TopGearCase is the chosen set's lap in one wind, tow or fuel case.
type TopGearCase struct {
	Case string   // "alone", "tow", "headwind 15 km/h", "tailwind 15 km/h", "light fuel"
	Lap  *sim.Lap // of the sheet's own set
}

// AlternateSet holds the pairs to have ready for one gear each, in one
// condition.
type AlternateSet struct {
	Condition string // "as on this sheet", "in a tow", ...
	List      []gearing.Alternate
}

// Input is all that a ratio sheet is made of. Pointers are only read.
type Input struct {
	Car    *cars.Car
	Track  *tracks.Track
	Stock  *gearbox.Stock
	Box    *gearbox.Box
	Answer *gearing.Answer   // with a set and a lap; else Build returns ErrNoSet or ErrCannotDrive
	Limits gearing.Limits    // as searched; its step range is what the last check holds the set against
	Waived map[string]string // pair id -> who allowed it out of life or uninspected, and why; printed

	Speed      func(rpm, total float64) float64 // m/s at an engine speed (1/min) and a total ratio: sim.Model.Speed
	LimiterRPM float64                          // 1/min, of the engine map in use

	Sensitivity *sim.Sensitivity // of the lap; nil = not computed
	Loss        LossInput        // of the lap
	Duties      []sim.Duty       // by gear, of the lap: sim.Model.Duties; nil = no kilometres and no damage

	Weather    Weather
	TopGear    []TopGearCase
	Alternates []AlternateSet

	Files    []InputFile
	Event    string   // what the sheet is for; may be empty
	InCar    string   // which of the team's cars; "" = no pair store knows
	PairsFor string   // for what use the pairs were judged, in words; may be empty
	Session  string   // part of the event; may be empty
	Revision int      // from 1; 0 = not issued under a number
	IssuedBy string   // who answers for the sheet; may be empty
	Date     string   // as given by the user; may be empty: the sheet knows no clock
	Warnings []string // those of loading and of the command; Build adds the answer's, the lap's and the set's
}
