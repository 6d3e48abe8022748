package sheet

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
)

// Check is the sheet's test of its own sums. It runs at the end of Build and
// again before any view writes a byte, so that a sheet that was read back or
// changed by hand is caught too. It works on exact fractions of the tooth
// numbers and shares no arithmetic with the code that filled the sheet.
func (s *Sheet) Check() error {
	c := &sums{}
	if len(s.Gears) == 0 {
		c.fault("no gears")
	}
	for i := range s.Gears {
		c.gear(s, i)
	}
	c.stack(s)
	c.buildOrder(s)
	c.topGear(s)
	c.checkLoss(s.Loss, s.LapTimeS)
	c.life(s)
	c.driving(s)
	c.finite("lap time", s.LapTimeS)
	c.finite("numerical error", s.NumericalErrorS)
	c.finite("top speed", s.TopSpeedKmh)
	return c.err()
}

// sums collects what does not add up.
type sums struct{ faults []error }

func (c *sums) fault(format string, args ...any) {
	c.faults = append(c.faults, fmt.Errorf(format, args...))
}

func (c *sums) err() error {
	if len(c.faults) == 0 {
		return nil
	}
	return fmt.Errorf("the sums do not add up:\n%w", errors.Join(c.faults...))
}

func (c *sums) finite(what string, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
		c.fault("%s is %g", what, v)
	}
}

// exactRatio is driven / driving, nil when a gear has no teeth.
func exactRatio(driven, driving int) *big.Rat {
	if driven < 1 || driving < 1 {
		return nil
	}
	return big.NewRat(int64(driven), int64(driving))
}

// overall is pair × final drive × drop pair, nil when any has no teeth.
func (s *Sheet) overall(g *Gear) *big.Rat {
	r := exactRatio(g.MainshaftTeeth, g.LayshaftTeeth)
	f := exactRatio(s.FinalDrive.DrivenTeeth, s.FinalDrive.DrivingTeeth)
	if r == nil || f == nil {
		return nil
	}
	r.Mul(r, f)
	if s.Drop != nil {
		d := exactRatio(s.Drop.DrivenTeeth, s.Drop.DrivingTeeth)
		if d == nil {
			return nil
		}
		r.Mul(r, d)
	}
	return r
}

// quotientSlack is relative: a few units in the last place of a float64.
const quotientSlack = 1e-14

func (c *sums) quotient(gear int, what string, got float64, want *big.Rat) {
	w, _ := want.Float64()
	if !(math.Abs(got-w) <= quotientSlack*w) {
		c.fault("gear %d: %s is %g, the teeth give %s", gear, what, got, want.FloatString(6))
	}
}

func (c *sums) gear(s *Sheet, i int) {
	g := &s.Gears[i]
	if g.Gear != i+1 {
		c.fault("line %d of the gear table is gear %d", i+1, g.Gear)
	}
	total := s.overall(g)
	if total == nil {
		c.fault("gear %d: a gear, final drive or drop pair without teeth", g.Gear)
		return
	}
	c.quotient(g.Gear, "ratio", g.Ratio, exactRatio(g.MainshaftTeeth, g.LayshaftTeeth))
	c.quotient(g.Gear, "overall ratio", g.OverallRatio, total)
	c.finite(fmt.Sprintf("gear %d: speed at the limiter", g.Gear), g.SpeedAtLimiterKmh)
	if i == len(s.Gears)-1 {
		if g.StepRatio != nil || g.UpshiftRPM != nil || g.RPMAfterUpshift != nil || g.RPMDrop != nil || g.SpeedAtUpshiftKmh != nil {
			c.fault("gear %d is the top gear, yet it has an upshift", g.Gear)
		}
		return
	}
	if g.StepRatio == nil || g.UpshiftRPM == nil || g.RPMAfterUpshift == nil || g.RPMDrop == nil || g.SpeedAtUpshiftKmh == nil {
		c.fault("gear %d: a number of its upshift is missing", g.Gear)
		return
	}
	next := exactRatio(s.Gears[i+1].MainshaftTeeth, s.Gears[i+1].LayshaftTeeth)
	if next == nil {
		return // the next line says so
	}
	step := new(big.Rat).Quo(exactRatio(g.MainshaftTeeth, g.LayshaftTeeth), next)
	c.quotient(g.Gear, "step", *g.StepRatio, step)
	if step.Cmp(big.NewRat(1, 1)) <= 0 {
		c.fault("gear %d: the next gear is not taller", g.Gear)
	}
	up, after, drop := *g.UpshiftRPM, *g.RPMAfterUpshift, *g.RPMDrop
	if after+drop != up {
		c.fault("gear %d: rpm after %d + drop %d is %d, not the upshift rpm %d", g.Gear, after, drop, after+drop, up)
	}
	// After the shift the road speed is the same: |after × step - up| is at most
	// half an rpm of the next gear.
	miss := new(big.Rat).Mul(big.NewRat(int64(after), 1), step)
	miss.Sub(miss, big.NewRat(int64(up), 1))
	miss.Abs(miss)
	if half := new(big.Rat).Mul(big.NewRat(1, 2), step); miss.Cmp(half) > 0 {
		c.fault("gear %d: %d rpm over a step of %s gives not %d rpm", g.Gear, up, step.FloatString(4), after)
	}
	if up > s.LimiterRPM {
		c.fault("gear %d: upshift at %d rpm, above the limiter at %d rpm", g.Gear, up, s.LimiterRPM)
	}
	if !(*g.SpeedAtUpshiftKmh <= g.SpeedAtLimiterKmh) {
		c.fault("gear %d: speed at the upshift %g km/h, at the limiter %g km/h", g.Gear, *g.SpeedAtUpshiftKmh, g.SpeedAtLimiterKmh)
	}
	if !(g.SpeedAtLimiterKmh < s.Gears[i+1].SpeedAtLimiterKmh) {
		c.fault("gear %d: %g km/h at the limiter, the next gear %g km/h", g.Gear, g.SpeedAtLimiterKmh, s.Gears[i+1].SpeedAtLimiterKmh)
	}
}

// stack: every gear stands once in the stack and is served by one fork, as its
// line says.
func (c *sums) stack(s *Sheet) {
	for i := range s.Gears {
		g := &s.Gears[i]
		if g.StackPosition < 1 || g.StackPosition > len(s.Stack) || s.Stack[g.StackPosition-1] != g.Gear {
			c.fault("gear %d: stack position %d, the stack is %v", g.Gear, g.StackPosition, s.Stack)
		}
		if g.Fork < 1 || g.Fork > len(s.Forks) || !slices.Contains(s.Forks[g.Fork-1], g.Gear) {
			c.fault("gear %d: fork %d, the forks are %v", g.Gear, g.Fork, s.Forks)
		}
		if n := len(g.Strip.ComesOff); n == 0 || !slices.Contains(g.Strip.ComesOff, g.Gear) {
			c.fault("gear %d: the gear itself is not among what comes off for it (%v)", g.Gear, g.Strip.ComesOff)
		}
	}
}

func (c *sums) topGear(s *Sheet) {
	for _, t := range s.TopGear {
		if t.EngineRPM+t.HeadroomRPM != s.LimiterRPM {
			c.fault("top-gear table, %s: rpm %d + headroom %d is not the limiter at %d", t.Case, t.EngineRPM, t.HeadroomRPM, s.LimiterRPM)
		}
	}
}

// proofRead reads the rendered cells of the gear table as a mechanic with a
// calculator would: teeth give the ratio as printed, overall = ratio × final
// drive (× drop pair), rpm after + drop = upshift rpm, all from the characters
// themselves.
func (s *Sheet) proofRead(rows [][]string) error {
	c := &sums{}
	if len(rows) != len(s.Gears) {
		c.fault("%d lines are printed for %d gears", len(rows), len(s.Gears))
		return c.err()
	}
	for i, r := range rows {
		main, lay := c.number(r[colMain]), c.number(r[colLay])
		printed := Gear{LayshaftTeeth: lay, MainshaftTeeth: main}
		total := s.overall(&printed)
		if total == nil {
			c.fault("line %d of the printed gear table: no teeth", i+1)
			continue
		}
		c.printed(i, "ratio", r[colRatio], exactRatio(main, lay))
		c.printed(i, "overall", r[colOverall], total)
		if i == len(rows)-1 {
			continue
		}
		if next := exactRatio(c.number(rows[i+1][colMain]), c.number(rows[i+1][colLay])); next != nil {
			c.printed(i, "step", r[colStep], new(big.Rat).Quo(exactRatio(main, lay), next))
		}
		up, after, drop := c.number(r[colUp]), c.number(r[colAfter]), c.number(r[colDrop])
		if after+drop != up {
			c.fault("line %d of the printed gear table: %d + %d is not %d", i+1, after, drop, up)
		}
	}
	return c.err()
}

func (c *sums) number(cell string) int {
	n, err := strconv.Atoi(cell)
	if err != nil {
		c.fault("the printed gear table holds %q in place of a whole number", cell)
	}
	return n
}

// printed compares a cell with the fraction; FloatString rounds halves away
// from zero, as rounding.go promises.
func (c *sums) printed(i int, what, cell string, want *big.Rat) {
	if w := want.FloatString(ratioDecimals); cell != w {
		c.fault("line %d of the printed gear table: %s is printed as %s, the teeth give %s", i+1, what, cell, w)
	}
}
