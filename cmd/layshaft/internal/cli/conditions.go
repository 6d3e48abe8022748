package cli

import (
	"errors"
	"fmt"

	"layshaft/cars"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/units"
	"layshaft/sim"
	"layshaft/sim/air"
	"layshaft/tracks"

	"github.com/spf13/cobra"
)

// weather holds the flags on air, wind, tow and the car's state.
type weather struct {
	airTempC, stationHpa, seaLevelHpa, humidityPct number
	windKmh, windFromDeg                           number
	towDrag, towDownforce                          number
	towWhere                                       placeList
	fuelKg, grip                                   number
	engineMap                                      string
	driver
}

func (w *weather) flags(c *cobra.Command) {
	w.airTempC = number{lo: -40, hi: 60, unit: "°C"}
	w.stationHpa = number{lo: 500, hi: 1100, unit: "hPa"}
	w.seaLevelHpa = number{lo: 870, hi: 1090, unit: "hPa"}
	w.humidityPct = number{lo: 0, hi: 100, unit: "%"}
	w.windKmh = number{lo: 0, hi: 150, unit: "km/h"}
	w.windFromDeg = number{lo: 0, hi: 360, unit: "degrees clockwise from true north"}
	w.towDrag = number{value: 1, lo: 0.3, hi: 1.5}
	w.towDownforce = number{value: 1, lo: 0.1, hi: 1.5}
	w.towWhere = placeList{names: []string{tracks.Straights}}
	w.fuelKg = number{lo: 0, hi: 500, unit: "kg"}
	w.grip = number{value: 1, lo: 0.1, hi: 3}
	f := c.Flags()
	f.Var(&w.airTempC, "air-temp-c", "air temperature in °C; default ISO 2533 at the track's altitude")
	f.Var(&w.stationHpa, "station-pressure-hpa", "absolute pressure at the circuit in hPa; default ISO 2533 at its altitude")
	f.Var(&w.seaLevelHpa, "sea-level-pressure-hpa", "pressure reduced to sea level in hPa, taken to the track's altitude")
	f.Var(&w.humidityPct, "humidity-pct", "relative humidity in %; default 0, dry air")
	f.Var(&w.windKmh, "wind-kmh", "wind speed in km/h; default calm")
	f.Var(&w.windFromDeg, "wind-from-deg", "where the wind comes from, in degrees clockwise from true north")
	f.Var(&w.towDrag, "tow-drag-ratio", "drag in a tow / drag alone")
	f.Var(&w.towDownforce, "tow-downforce-ratio", "downforce in a tow / downforce alone")
	f.Var(&w.towWhere, "tow-where", "where the tow acts: everywhere, straights, or places of the track by name: T5, Heron, after T5, with commas between")
	f.Var(&w.fuelKg, "fuel-kg", "fuel in kg; default that of the car file")
	f.Var(&w.grip, "grip", "factor on the tyres' grip: 1 dry, less in the wet")
	f.Var(&textValue{&w.engineMap, "MAP"}, "map", "engine `MAP` of the car file; default its first")
	w.driver.flags(c)
}

// asked tells whether the user stated any condition.
func (w *weather) asked() bool {
	for _, n := range []*number{&w.airTempC, &w.stationHpa, &w.seaLevelHpa, &w.humidityPct, &w.windKmh,
		&w.windFromDeg, &w.towDrag, &w.towDownforce, &w.fuelKg, &w.grip} {
		if n.given {
			return true
		}
	}
	return w.engineMap != "" || w.driver.asked()
}

// resolve turns the flags into the conditions of a lap, in SI, with where they
// come from and what is doubtful about them.
func (w *weather) resolve(car *cars.Car, track *tracks.Track) (sheet.Weather, []string, error) {
	if w.windFromDeg.given != w.windKmh.given {
		return sheet.Weather{}, nil, badInput("--wind-kmh and --wind-from-deg go together: a wind has a speed and a place that it comes from")
	}
	engineMap, err := car.Engine.Map(w.engineMap)
	if err != nil {
		return sheet.Weather{}, nil, badInput("--map %s: %s", w.engineMap, err)
	}
	settings, err := w.settings(car, engineMap)
	if err != nil {
		return sheet.Weather{}, nil, err
	}
	for _, name := range w.towWhere.names {
		if err := track.CheckPlace(name); err != nil {
			return sheet.Weather{}, nil, badInput("--tow-where: %s", err)
		}
	}
	state, warnings, err := air.Resolve(air.Given{
		Temperature:      w.airTempC.si(1, units.ZeroC),
		StationPressure:  w.stationHpa.si(units.HPa, 0),
		SeaLevelPressure: w.seaLevelHpa.si(units.HPa, 0),
		Humidity:         w.humidityPct.si(0.01, 0),
		Altitude:         &track.Altitude,
	})
	if err != nil {
		return sheet.Weather{}, nil, asInput(err)
	}
	factor, source, warning, err := engineFactor(car, state)
	if err != nil {
		return sheet.Weather{}, nil, asInput(err)
	}
	if warning != "" {
		warnings = append(warnings, warning)
	}
	fuel := car.Fuel
	if w.fuelKg.given {
		fuel = w.fuelKg.value
	}
	return sheet.Weather{
		Used: sim.Conditions{
			AirDensity:   state.Density(),
			EngineFactor: factor,
			WindSpeed:    w.windKmh.value * units.FromKmh,
			WindFrom:     w.windFromDeg.value * units.FromDeg,
			TowDrag:      w.towDrag.value,
			TowDownforce: w.towDownforce.value,
			TowWhere:     w.towWhere.names,
			Fuel:         fuel,
			Grip:         w.grip.value,
			Map:          w.engineMap,
		},
		Given: sheet.GivenAir{
			AirTempC:            w.airTempC.pointer(),
			StationPressureHpa:  w.stationHpa.pointer(),
			SeaLevelPressureHpa: w.seaLevelHpa.pointer(),
			HumidityPct:         w.humidityPct.pointer(),
		},
		Settings:     settings,
		AirSource:    w.airSource(state, track.Altitude),
		EngineSource: source,
	}, warnings, nil
}

// airSource says in words how the density was found.
func (w *weather) airSource(s air.State, altitude float64) string {
	from := func(given bool) string {
		if given {
			return "given"
		}
		return "ISO 2533"
	}
	pressure := from(w.stationHpa.given)
	if w.seaLevelHpa.given && !w.stationHpa.given {
		pressure = "from the sea-level pressure"
	}
	if !w.airTempC.given && pressure == "ISO 2533" && !w.humidityPct.given {
		return fmt.Sprintf("ISO 2533 at %.0f m: %.1f °C, %.1f hPa, dry", altitude, s.Temperature-units.ZeroC, s.Pressure/units.HPa)
	}
	return fmt.Sprintf("CIPM-2007 at %.0f m: %.1f °C (%s), %.1f hPa (%s), humidity %.0f %%", altitude,
		s.Temperature-units.ZeroC, from(w.airTempC.given), s.Pressure/units.HPa, pressure, 100*s.Humidity)
}

// engineFactor is the factor on the torque curve in this air, with the name
// of the standard or the reason why there is none.
func engineFactor(car *cars.Car, s air.State) (factor float64, source, warning string, err error) {
	if car.Engine.Boosted {
		return 1, "none: pressure-charged and held to its boost", "", nil
	}
	rule, err := air.CorrectionByName(car.Engine.ReferencePower)
	if err != nil {
		return 0, "", "", err
	}
	if rule == air.None {
		return 1, "none: the car file states a torque that is not corrected to a standard",
			"the engine's torque is not corrected for the air: the car file names no standard", nil
	}
	factor, warning, err = rule.Factor(s)
	if err != nil {
		return 0, "", "", errors.Join(errors.New("the engine's power cannot be corrected for this air"), err)
	}
	return factor, "naturally aspirated: corrected by " + rule.String(), warning, nil
}

// si gives the value in SI: value·scale + offset; nil when it was not given.
func (n *number) si(scale, offset float64) *float64 {
	if !n.given {
		return nil
	}
	v := n.value*scale + offset
	return &v
}

// pointer gives the value in the flag's own unit; nil when it was not given.
func (n *number) pointer() *float64 { return n.si(1, 0) }
