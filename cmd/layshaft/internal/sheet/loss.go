package sheet

import (
	"fmt"
	"math"
	"sort"
	"strconv"

	"layshaft/sim"
)

// LossInput is where a lap loses time against the ideal car.
type LossInput struct {
	Account *sim.LossAccount // nil = there is none
	Choices int              // pairs in gears that the ideal car is made of
	Why     string           // why there is no account
}

// Loss is the account in JSON; times in s are positive where time is lost. The
// gears and the places each add up to the loss, and it to lap less ideal lap, to
// the last digit.
type Loss struct {
	IdealCar      string      `json:"ideal_car"`
	IdealChoices  int         `json:"ideal_choices_count"` // pairs, each in every gear that it may serve
	IdealLapTimeS float64     `json:"ideal_lap_time_s"`
	TotalLossS    float64     `json:"total_loss_s"`
	Gears         []LossGear  `json:"gears"`
	Places        []LossPlace `json:"places"` // in the order of the lap
}

// LossParts is how a loss was made (s).
type LossParts struct {
	PullingLossS float64 `json:"pulling_loss_s"` // at full throttle
	LimiterLossS float64 `json:"limiter_loss_s"` // held on the limiter
	ShiftLossS   float64 `json:"shift_loss_s"`   // in the pauses of shifts out of the gear
	LimitLossS   float64 `json:"limit_loss_s"`   // braking and in corners: rounding
	LossS        float64 `json:"loss_s"`         // sum of the four
}

// LossGear is what is lost in one gear.
type LossGear struct {
	Gear int `json:"gear"`
	LossParts
}

// LossPlace is what is lost at one corner or straight.
type LossPlace struct {
	Place string  `json:"place"`
	FromM float64 `json:"from_m"`
	ToM   float64 `json:"to_m"` // less than from_m over the start line
	LossParts
	Gear *int `json:"gear"` // that loses most there; nil where nothing is lost
}

// noLossOfRun is why a run has no account.
const noLossOfRun = "no loss account of a run: its laps are driven with other fuel"

// idealCar says what the ideal car is.
const idealCar = "at every speed the best of all pairs that may stand in a set, each in any gear that it may serve, and no time lost in shifts"

// lossOf is nil without an account. lap is the lap's time (s), as rounded.
func lossOf(in LossInput, lap float64) *Loss {
	a := in.Account
	if a == nil {
		return nil
	}
	l := &Loss{
		IdealCar: idealCar, IdealChoices: in.Choices, IdealLapTimeS: roundTo(a.Ideal, timeDecimals),
		Gears: []LossGear{}, Places: []LossPlace{},
	}
	l.TotalLossS = roundTo(lap-l.IdealLapTimeS, timeDecimals)
	parts := make([]LossParts, len(a.Gears)+len(a.Places))
	var cells []float64
	for _, g := range a.Gears {
		cells = append(cells, g.Pulling, g.Limiter, g.Shift, g.Limit)
	}
	share(parts[:len(a.Gears)], cells, l.TotalLossS)
	for i := range a.Gears {
		l.Gears = append(l.Gears, LossGear{i + 1, parts[i]})
	}
	cells = cells[:0]
	for _, p := range a.Places {
		var sum sim.GearLoss
		for _, g := range p.Gears {
			sum.Pulling += g.Pulling
			sum.Limiter += g.Limiter
			sum.Shift += g.Shift
			sum.Limit += g.Limit
		}
		cells = append(cells, sum.Pulling, sum.Limiter, sum.Shift, sum.Limit)
	}
	share(parts[len(a.Gears):], cells, l.TotalLossS)
	for i, p := range a.Places {
		one := LossPlace{Place: p.Place, FromM: roundTo(p.From, distDecimals), ToM: roundTo(p.To, distDecimals), LossParts: parts[len(a.Gears)+i]}
		if one.LossS > 0 {
			worst := 0
			for g := range p.Gears {
				if p.Gears[g].Total() > p.Gears[worst].Total() {
					worst = g
				}
			}
			worst++
			one.Gear = &worst
		}
		l.Places = append(l.Places, one)
	}
	return l
}

// share rounds four cells (s) for each part so that they add up to the total.
func share(parts []LossParts, cells []float64, total float64) {
	c := apportion(cells, total, timeDecimals)
	for i := range parts {
		p := c[4*i : 4*i+4]
		parts[i] = LossParts{p[0], p[1], p[2], p[3], roundTo(p[0]+p[1]+p[2]+p[3], timeDecimals)}
	}
}

// apportion rounds numbers to so many decimals such that they add up to a total
// that has been rounded before: down, and then up again those that lost most, the
// first of equals. Each is off by less than one in the last place.
func apportion(x []float64, total float64, decimals int) []float64 {
	p := math.Pow10(decimals)
	order, whole, rest := make([]int, len(x)), make([]float64, len(x)), make([]float64, len(x))
	left := math.Round(total * p)
	for i, v := range x {
		// A part in a thousand of the last place is rounding of the sum's own.
		whole[i] = math.Floor(v*p + 1e-3)
		rest[i] = v*p - whole[i]
		left -= whole[i]
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return rest[order[a]] > rest[order[b]] })
	for n := 0; left > 0 && n < len(order); n++ {
		whole[order[n]]++
		left--
	}
	for n := len(order) - 1; left < 0 && n >= 0; n-- {
		whole[order[n]]--
		left++
	}
	for i := range whole {
		whole[i] = whole[i]/p + 0
	}
	return whole
}

// checkLoss tests that the account adds up as shown.
func (c *sums) checkLoss(l *Loss, lap float64) {
	if l == nil {
		return
	}
	// Rounding of floats alone.
	same := func(what string, want, got float64) {
		if !(math.Abs(want-got) <= 1e-9) {
			c.fault("loss: %s is %s s, want %s s", what, fixed(got, timeDecimals), fixed(want, timeDecimals))
		}
	}
	same("lap less ideal lap", lap-l.IdealLapTimeS, l.TotalLossS)
	gears, places := 0.0, 0.0
	part := func(what string, p LossParts) float64 {
		same(what, p.PullingLossS+p.LimiterLossS+p.ShiftLossS+p.LimitLossS, p.LossS)
		return p.LossS
	}
	for _, g := range l.Gears {
		gears += part(fmt.Sprintf("gear %d", g.Gear), g.LossParts)
	}
	for _, p := range l.Places {
		places += part(p.Place, p.LossParts)
	}
	same("sum over the gears", l.TotalLossS, gears)
	same("sum over the places", l.TotalLossS, places)
}

// worstPlaces is the number of places that the text shows.
const worstPlaces = 5

// textLoss is the section on where the time goes. lap is the lap's time (s).
func textLoss(p *page, d display, l *Loss, lap float64, why string) {
	p.heading("WHERE THE TIME GOES: this set against the ideal car")
	if l == nil {
		if why == "" {
			why = "not computed"
		}
		p.para("None: " + why + ".")
		return
	}
	lost := roundTo(roundTo(lap, timeText)-roundTo(l.IdealLapTimeS, timeText), timeText)
	p.para(fmt.Sprintf("lap %s s - ideal lap %s s = %s s lost", seconds(lap), seconds(l.IdealLapTimeS), seconds(lost)))
	p.blank()
	l.textLossGears(p, lost)
	p.blank()
	l.textLossPlaces(p, d, lost)
	p.blank()
	p.para(fmt.Sprintf("The ideal car has %s; it had %d to choose from, this set's own among them. A loss stands where it is made: what a weak pull out of a corner costs down to the next braking point stands at the corner's exit. Shifts stand with the gear that they leave.",
		l.IdealCar, l.IdealChoices))
}

// printed are the four cells of each part as they are printed: to 1 ms, adding up
// to the loss.
func printed(parts []LossParts, lost float64) (cells [][4]float64, limit bool) {
	var x []float64
	for _, q := range parts {
		x = append(x, q.PullingLossS, q.LimiterLossS, q.ShiftLossS, q.LimitLossS)
	}
	x = apportion(x, lost, timeText)
	for i := range parts {
		cells = append(cells, [4]float64(x[4*i:4*i+4]))
		limit = limit || cells[i][3] != 0
	}
	return cells, limit
}

func (l *Loss) textLossGears(p *page, lost float64) {
	var parts []LossParts
	for _, g := range l.Gears {
		parts = append(parts, g.LossParts)
	}
	cells, limit := printed(parts, lost)
	cols := []column{{head: "gear"}, {head: "pulling|s", right: true}, {head: "on limiter|s", right: true}, {head: "in shifts|s", right: true}}
	if limit {
		cols = append(cols, column{head: "on the limit|s", right: true})
	}
	cols = append(cols, column{head: "all|s", right: true})
	var rows [][]string
	var sum [4]float64
	line := func(name string, c [4]float64) {
		row := []string{name, seconds(c[0]), seconds(c[1]), seconds(c[2])}
		if limit {
			row = append(row, seconds(c[3]))
		}
		rows = append(rows, append(row, seconds(c[0]+c[1]+c[2]+c[3])))
	}
	for i, g := range l.Gears {
		line(strconv.Itoa(g.Gear), cells[i])
		for k := range sum {
			sum[k] += cells[i][k]
		}
	}
	line("all", sum)
	p.table(cols, rows)
}

func (l *Loss) textLossPlaces(p *page, d display, lost float64) {
	var parts []LossParts
	order := make([]int, len(l.Places))
	for i := range l.Places {
		parts, order[i] = append(parts, l.Places[i].LossParts), i
	}
	cells, _ := printed(parts, lost)
	all := func(i int) float64 { return cells[i][0] + cells[i][1] + cells[i][2] + cells[i][3] }
	sort.SliceStable(order, func(a, b int) bool { return l.Places[order[a]].LossS > l.Places[order[b]].LossS })
	cols := []column{
		{head: "where most is lost", flex: true}, {head: "from|" + d.distUnit(), right: true}, {head: "to|" + d.distUnit(), right: true},
		{head: "all|s", right: true}, {head: "in shifts|s", right: true}, {head: "gear|to blame", right: true},
	}
	var rows [][]string
	rest, restShift, shown := 0.0, 0.0, 0
	for n, i := range order {
		q := &l.Places[i]
		if n >= worstPlaces || q.Gear == nil {
			rest += all(i)
			restShift += cells[i][2]
			continue
		}
		shown++
		rows = append(rows, []string{q.Place, d.dist(q.FromM), d.dist(q.ToM), seconds(all(i)), seconds(cells[i][2]), strconv.Itoa(*q.Gear)})
	}
	if n := len(order) - shown; n > 0 {
		rows = append(rows, []string{"all other places", "", "", seconds(rest), seconds(restShift), ""})
	}
	p.table(cols, rows)
}
