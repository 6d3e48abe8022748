package chart

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"
)

// Effort is the force at the driven wheels over road speed, gear by gear, with
// the road load and the best that any pair of the stock could do.
type Effort struct {
	Frame
	Set
	LowRPM float64 // 1/min, where the torque table begins
	Ideal  []Choice
}

// Choice is one gear that the ideal car may use.
type Choice struct {
	Gear  int     // that it stands in, from 1: the meshes of gears differ
	Total float64 // engine turns per wheel turn
}

var _ Figure = (*Effort)(nil)

func (e *Effort) about() string {
	return "Tractive effort in every gear and road load over road speed; where they cross, the car does not gain speed any more."
}

func (e *Effort) check() error {
	if err := e.Set.check(); err != nil {
		return err
	}
	if !(e.LowRPM > 0) || e.LowRPM >= e.Model.LimiterRPM() {
		return errors.New("chart: the torque table begins at or above the limiter")
	}
	return nil
}

func loadLine() draw.LineStyle  { return lineStyle(1.3, warn(), 6, 2.5) }
func idealLine() draw.LineStyle { return lineStyle(0.9, ink(), 1.5, 1.8) }

func (e *Effort) key() []keyItem {
	items := []keyItem{lineKey(climbLine(), "effort in a gear, at full throttle, to the limiter"), lineKey(loadLine(), "road load: level, no wind")}
	if len(e.Ideal) > 0 {
		items = append(items, lineKey(idealLine(), "ideal car: at each speed the best pair of the stock"))
	}
	return items
}

// reach is the range of speed (m/s) in which a total ratio pulls. Its ends lie a
// little inside: below the torque table there is no torque, and at the limiter
// the throttle is shut.
func (e *Effort) reach(total float64) (lo, hi float64) {
	return e.Model.Speed(e.LowRPM, total) * (1 + 1e-9), e.Model.Speed(e.Model.LimiterRPM(), total) * (1 - 1e-9)
}

// effort is force (N) over speed (m/s) in gear g (from 1) with a total ratio.
func (e *Effort) effort(g int, total float64) []point {
	const pieces = 60
	lo, hi := e.reach(total)
	out := make([]point, 0, pieces+1)
	for i := range pieces + 1 {
		v := lo + (hi-lo)*float64(i)/pieces
		out = append(out, point{v, e.Model.TractiveEffort(v, g, total)})
	}
	return out
}

// envelope is the best of all choices over speed.
func (e *Effort) envelope(to float64) []point {
	const pieces = 300
	var out []point
	for i := range pieces + 1 {
		v := to * float64(i) / pieces
		best := 0.0
		for _, k := range e.Ideal {
			if rpm := e.Model.RPM(v, k.Total); rpm >= e.LowRPM && rpm < e.Model.LimiterRPM() {
				best = max(best, e.Model.TractiveEffort(v, k.Gear, k.Total))
			}
		}
		if best > 0 {
			out = append(out, point{v, best})
		}
	}
	return out
}

// balance is the greatest speed (m/s) at which a gear holds the car against the
// road load, and that gear; limited when the gear could do more but for the
// limiter. g = 0 when there is none.
func (e *Effort) balance() (v float64, g int, limited bool) {
	for i, total := range e.Total {
		lo, hi := e.reach(total)
		spare := func(v float64) float64 { return e.Model.TractiveEffort(v, i+1, total) - e.Model.RoadLoad(v) }
		at, atLimiter := hi, spare(hi) >= 0
		if !atLimiter {
			// Downwards to the first speed with force to spare, then halving.
			const pieces = 400
			at = 0
			for k := pieces - 1; k >= 0; k-- {
				if x := lo + (hi-lo)*float64(k)/pieces; spare(x) >= 0 {
					a, b := x, x+(hi-lo)/pieces
					for range 50 {
						if m := (a + b) / 2; spare(m) >= 0 {
							a = m
						} else {
							b = m
						}
					}
					at = a
					break
				}
			}
		}
		if at > v {
			v, g, limited = at, i+1, atLimiter
		}
	}
	return v, g, limited
}

func (e *Effort) paint(c draw.Canvas) {
	u := e.scale()
	p := newPanel("force at the driven wheels, " + u.forceUnit)
	p.X.Label.Text = "road speed, " + u.speedUnit
	top := e.Model.Speed(e.Model.LimiterRPM(), e.Total[len(e.Total)-1])
	p.X.Min, p.X.Max = 0, math.Ceil(1.03*top*u.speed/u.speedMajor)*u.speedMajor
	p.X.Tick.Marker = steps{major: u.speedMajor, minor: 5}
	most := 0.0
	curves := make([][]point, len(e.Total))
	for i, total := range e.Total {
		curves[i] = scaled(e.effort(i+1, total), u.speed, u.force)
		for _, q := range curves[i] {
			most = max(most, q.y)
		}
	}
	p.Y.Min, p.Y.Max = 0, 1.08*most
	p.Y.Tick.Marker = stepsFor(p.Y.Max, 8)
	p.Add(grid{})
	if len(e.Ideal) > 0 {
		p.Add(&curve{scaled(e.envelope(p.X.Max/u.speed), u.speed, u.force), idealLine()})
	}
	var load []point
	for i := range 101 {
		v := p.X.Max / u.speed * float64(i) / 100
		load = append(load, point{v * u.speed, e.Model.RoadLoad(v) * u.force})
	}
	p.Add(&curve{load, loadLine()})
	for i := range curves {
		p.Add(&curve{curves[i], climbLine()})
	}
	for i, k := range curves {
		peak := k[0]
		for _, q := range k {
			if q.y > peak.y {
				peak = q
			}
		}
		p.Add(&note{at: peak, dy: 3.5, xAlign: -0.5, text: strconv.Itoa(i + 1), bold: true})
	}
	e.markTop(p, u)
	drawPanel(c, p)
}

// markTop rings the place where the forces are equal.
func (e *Effort) markTop(p *plot.Plot, u scale) {
	v, g, limited := e.balance()
	if g == 0 {
		return
	}
	at := point{v * u.speed, e.Model.TractiveEffort(v, g, e.Total[g-1]) * u.force}
	text := fmt.Sprintf("%.1f %s in gear %d, %s rpm: no force left", at.x, u.speedUnit, g,
		grouped(int(math.Round(e.Model.RPM(v, e.Total[g-1])))))
	if limited {
		text = fmt.Sprintf("%.1f %s in gear %d: the limiter, before the forces are equal", at.x, u.speedUnit, g)
	}
	drop := &curve{[]point{{at.x, 0}, at}, lineStyle(0.6, ink(), 3, 2)}
	p.Add(drop, &ring{at}, &note{at: point{at.x, 0}, dy: 8, xAlign: -0.5, text: text})
}
