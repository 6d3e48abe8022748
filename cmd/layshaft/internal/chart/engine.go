package chart

import (
	"fmt"
	"math"

	"errors"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"layshaft/cars"
	"layshaft/internal/units"
)

// Engine is torque and power at full throttle over engine speed, with the points
// that were measured.
type Engine struct {
	Frame
	Engine *cars.Engine
	Map    string  // engine map; "" = the first
	Factor float64 // on the torque, for the air; 1 = as measured
}

var _ Figure = (*Engine)(nil)

func (e *Engine) about() string {
	return "Torque and power at full throttle over engine speed, with pulling rpm, shift light and limiter."
}

func (e *Engine) check() error {
	if e.Engine == nil || !(e.Factor > 0) {
		return errors.New("chart: no engine to draw")
	}
	_, err := e.curve()
	return err
}

func (e *Engine) curve() (*cars.Curve, error) {
	m, err := e.Engine.Map(e.Map)
	if err != nil {
		return nil, err
	}
	return m.Curve()
}

func (e *Engine) key() []keyItem {
	return append([]keyItem{
		lineKey(climbLine(), "curve that the lap uses"),
		{func(c draw.Canvas, l vg.Point) {
			circle(c, vg.Point{X: l.X + keySample/2, Y: l.Y}, 2, paper(), lineStyle(0.8, ink()))
		}, "point of the car file, with the factor for the air"},
		{func(c draw.Canvas, l vg.Point) {
			circle(c, vg.Point{X: l.X + keySample/2, Y: l.Y}, 4, nil, lineStyle(1.2, ink()))
		}, "greatest value"},
	}, bandKey()...)
}

func (e *Engine) paint(c draw.Canvas) {
	u := e.scale()
	m, _ := e.Engine.Map(e.Map)
	k, _ := e.curve()
	lo, hi := k.Range()
	const pieces = 400
	var torque, power, asTorque, asPower []point
	for i := range pieces + 1 {
		n := lo + (hi-lo)*float64(i)/pieces
		t := k.At(n) * e.Factor
		torque = append(torque, point{n, t * u.torque})
		power = append(power, point{n, t * n * units.FromRPM * u.power})
	}
	for i, n := range m.RPM {
		t := m.Torque[i] * e.Factor
		asTorque = append(asTorque, point{n, t * u.torque})
		asPower = append(asPower, point{n, t * n * units.FromRPM * u.power})
	}
	nt, pt := k.PeakTorque()
	np, pp := k.PeakPower()
	upper := e.panel("torque, "+u.torqueUnit, torque, asTorque, m, point{nt, pt * e.Factor * u.torque},
		fmt.Sprintf("%.1f %s at %s rpm", pt*e.Factor*u.torque, u.torqueUnit, grouped(int(math.Round(nt)))))
	lower := e.panel("power, "+u.powerUnit, power, asPower, m, point{np, pp * e.Factor * u.power},
		fmt.Sprintf("%.1f %s at %s rpm", pp*e.Factor*u.power, u.powerUnit, grouped(int(math.Round(np)))))
	upper.X.Tick.Marker = steps{major: 1000, minor: 2, bare: true}
	lower.X.Tick.Marker = steps{major: 1000, minor: 2}
	lower.X.Label.Text = "engine speed, rpm"
	rows := split(c, (c.Max.Y-c.Min.Y)/2, 0)
	left := max(upper.DataCanvas(rows[0]).Min.X, lower.DataCanvas(rows[1]).Min.X)
	for i, p := range []*plot.Plot{upper, lower} {
		rows[i].Min.X += left - p.DataCanvas(rows[i]).Min.X
		rows[i].Max.X -= 8 // the last figure of the axis stands half outside of it
		drawPanel(rows[i], p)
	}
}

// panel is one quantity over engine speed.
func (e *Engine) panel(name string, line, measured []point, m *cars.EngineMap, peak point, text string) *plot.Plot {
	p := newPanel(name)
	top := 0.0
	for _, q := range line {
		top = max(top, q.y)
	}
	for _, q := range measured {
		top = max(top, q.y)
	}
	p.Y.Min = 0
	p.Y.Tick.Marker = stepsFor(top*1.12, 6)
	p.Y.Max = 1.12 * top
	p.X.Min = math.Floor(m.RPM[0]/500) * 500
	p.X.Max = math.Ceil(m.RPM[len(m.RPM)-1]/500) * 500
	p.Add(&stripe{lo: e.Engine.PullingRPM, hi: m.LimiterRPM - e.Engine.ShiftMarginRPM, up: true}, grid{})
	p.Add(&level{at: m.LimiterRPM, up: true, style: limitLine()})
	p.Add(&curve{line, climbLine()}, &dots{measured}, &ring{peak}, &note{at: peak, dy: 6, xAlign: -0.5, text: text})
	return p
}

// dots marks points.
type dots struct{ points []point }

// Plot draws them.
func (d *dots) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, q := range d.points {
		circle(c, vg.Point{X: x(q.x), Y: y(q.y)}, 2, paper(), lineStyle(0.8, ink()))
	}
}
