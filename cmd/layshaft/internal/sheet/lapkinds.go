package sheet

import (
	"fmt"
	"math"
	"strconv"

	"layshaft/internal/units"
	"layshaft/sim"
)

// kindRun is the kind of a report on more than one lap.
const kindRun = "run"

// fuelDecimals is how finely fuel is told (kg; lb in US text).
const fuelDecimals = 3

// LapOfRun is one lap of the report; a report on one lap has one.
type LapOfRun struct {
	Kind            string   `json:"kind"` // flying, out, start, restart
	LapTimeS        float64  `json:"lap_time_s"`
	NumericalErrorS float64  `json:"numerical_error_s"`
	TopSpeedKmh     float64  `json:"top_speed_kmh"`
	FuelOnBoardKg   float64  `json:"fuel_on_board_kg"` // when it begins, and all through it
	FuelBurntKg     *float64 `json:"fuel_burnt_kg"`    // nil where the car file does not state its consumption
	ClutchHeatKj    float64  `json:"clutch_heat_kj"`
	Shown           bool     `json:"shown"` // gears, shifts and trace are of this lap
}

// run fills in the laps of the report and what they add up to, and returns the
// lap that the report shows: of a run, the quickest.
func (r *LapReport) run(in LapInput) *sim.Lap {
	r.Laps = []LapOfRun{}
	laps := []sim.StintLap{{Lap: in.Lap, Fuel: in.Weather.Used.Fuel}}
	if in.Stint != nil {
		r.Kind, laps = kindRun, in.Stint.Laps
	} else {
		r.Kind = in.Lap.Kind.String()
		laps[0].Kind, laps[0].Burnt = in.Lap.Kind, in.FuelConsumption*in.Lap.EngineWork
	}
	best := 0
	for i, l := range laps {
		if l.Lap.Time < laps[best].Lap.Time {
			best = i
		}
	}
	known := in.Stint != nil || in.FuelConsumption > 0
	burnt := 0.0
	for i, l := range laps {
		one := LapOfRun{
			Kind: l.Kind.String(), LapTimeS: roundTo(l.Lap.Time, timeDecimals), NumericalErrorS: ceilTo(l.Lap.NumericalError, timeDecimals),
			TopSpeedKmh: roundTo(l.Lap.TopSpeed*units.ToKmh, speedDecimals), FuelOnBoardKg: roundTo(l.Fuel, fuelDecimals),
			ClutchHeatKj: roundTo(l.Lap.ClutchHeat/1000, 3), Shown: i == best,
		}
		r.RunTimeS += l.Lap.Time
		r.RunNumericalErrorS += l.Lap.NumericalError
		burnt += l.Burnt
		if known {
			kg := roundTo(l.Burnt, fuelDecimals)
			one.FuelBurntKg = &kg
		}
		r.Laps = append(r.Laps, one)
	}
	if known {
		total, left := roundTo(burnt, fuelDecimals), roundTo(laps[0].Fuel-burnt, fuelDecimals)
		r.FuelBurntKg, r.FuelLeftKg = &total, &left
	}
	r.AverageLapTimeS = roundTo(r.RunTimeS/float64(len(laps)), timeDecimals)
	r.RunTimeS, r.RunNumericalErrorS = roundTo(r.RunTimeS, timeDecimals), ceilTo(r.RunNumericalErrorS, timeDecimals)
	return laps[best].Lap
}

// checkLaps tests that the laps add up to the run.
func (r *LapReport) checkLaps(c *sums) {
	sum, shown := 0.0, 0
	for i, l := range r.Laps {
		c.finite(fmt.Sprintf("lap %d", i+1), l.LapTimeS)
		sum += l.LapTimeS
		if l.Shown {
			shown++
			if l.LapTimeS != r.LapTimeS {
				c.fault("lap %d of %s s is shown as one of %s s", i+1, fixed(l.LapTimeS, timeDecimals), fixed(r.LapTimeS, timeDecimals))
			}
		}
	}
	if shown != 1 {
		c.fault("%d laps are shown, want one", shown)
	}
	// Every lap is rounded to 1e-6 s, and so is their sum.
	if !(math.Abs(sum-r.RunTimeS) <= 1e-6*float64(len(r.Laps)+1)) {
		c.fault("the laps add up to %s s, the run takes %s s", fixed(sum, timeDecimals), fixed(r.RunTimeS, timeDecimals))
	}
	if n := float64(len(r.Laps)); !(math.Abs(r.AverageLapTimeS*n-r.RunTimeS) <= 1e-6*(n+1)) {
		c.fault("an average of %s s over %d laps is not %s s", fixed(r.AverageLapTimeS, timeDecimals), len(r.Laps), fixed(r.RunTimeS, timeDecimals))
	}
}

// kindPhrase says how the lap begins.
func (r *LapReport) kindPhrase(d display) string {
	switch r.Kind {
	case sim.Out.String():
		return "out lap, from the pit exit at the pit-lane limit"
	case sim.Start.String():
		return "standing start on the start line"
	case sim.Restart.String():
		return "restart on the start line at " + d.speedWithUnit(r.StartSpeedKmh)
	case kindRun:
		return fmt.Sprintf("run of %s, the first: %s", plural(len(r.Laps), "lap"), r.Laps[0].Kind)
	}
	return "flying lap"
}

// textFuel says what the clutch and the engine took on one lap.
func (r *LapReport) textFuel(p *page, d display) {
	if heat := r.Laps[0].ClutchHeatKj; heat > 0 {
		p.label("clutch", fixed(heat, 0)+" kJ of heat while it slips")
	}
	if r.FuelBurntKg != nil {
		p.label("fuel burnt", d.fuel(*r.FuelBurntKg)+" "+d.massUnit())
	}
}

// textRun lists the laps of a run.
func (r *LapReport) textRun(p *page, d display) {
	p.heading("RUN")
	cols := []column{
		{head: "|lap", right: true}, {head: "|kind"}, {head: "time|s", right: true}, {head: "top|" + d.speedUnit(), right: true},
		{head: "fuel on board|" + d.massUnit(), right: true}, {head: "burnt|" + d.massUnit(), right: true}, {head: ""},
	}
	var rows [][]string
	shown := 0
	for i, l := range r.Laps {
		mark, burnt := "", "-"
		if l.Shown {
			mark, shown = "<- quickest, shown below", i+1
		}
		if l.FuelBurntKg != nil {
			burnt = d.fuel(*l.FuelBurntKg)
		}
		rows = append(rows, []string{
			strconv.Itoa(i + 1), l.Kind, seconds(l.LapTimeS), d.speed(l.TopSpeedKmh), d.fuel(l.FuelOnBoardKg), burnt, mark,
		})
	}
	p.table(cols, rows)
	p.blank()
	p.label("all laps", fmt.Sprintf("%s s (%s), numerical error below %s ms", seconds(r.RunTimeS), clock(r.RunTimeS), milliseconds(r.RunNumericalErrorS)))
	p.label("average", seconds(r.AverageLapTimeS)+" s")
	if r.FuelBurntKg != nil && r.FuelLeftKg != nil {
		p.label("fuel", fmt.Sprintf("%s %s burnt, %s left", d.fuel(*r.FuelBurntKg), d.massUnit(), d.fuel(*r.FuelLeftKg)))
	}
	p.heading(fmt.Sprintf("LAP %d OF THE RUN", shown))
}

func (d display) massUnit() string {
	if d.us {
		return "lb"
	}
	return "kg"
}

// fuel writes a mass to 1 g, or a thousandth of a pound, without its unit.
func (d display) fuel(kg float64) string {
	if d.us {
		return fixed(kg*units.ToPound, fuelDecimals)
	}
	return fixed(kg, fuelDecimals)
}
