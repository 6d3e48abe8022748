package sim

import (
	"errors"
	"fmt"
	"math"
	"sync"

	"layshaft/cars"
	"layshaft/tracks"
)

// Settings of a model; nil or zero fields are the defaults.
type Settings struct {
	Refine int // every step of the mesh is cut into 2^Refine; default 0, at most 6

	// ShiftRPM is the driver's own shift rpm by gear (1/min, index 0: from first
	// to second); missing or 0 = the best (8.2). At most the limiter.
	ShiftRPM []float64

	// LimiterTime is the longest that a gear may be held on the limiter (s);
	// 0 = any. A set that cannot keep it is infeasible, and says so.
	LimiterTime float64

	// ShiftOffset is added to the rpm of every shift (1/min), that of (8.2) as well
	// as the driver's own, not above the limiter; 0 = none. Gears are still held
	// where that is quicker; shifts are not weighed (8.7), which would move them
	// back.
	ShiftOffset float64
}

// Model is a car on a track under conditions: everything that does not depend
// on the set, computed once. It is safe for concurrent use; a Solver from it
// is not.
type Model struct {
	car         *cars.Car
	track       *tracks.Track
	cond        Conditions
	refine      int
	settings    Settings
	body        *body
	reference   place
	cells       []cell
	length      float64   // m, sum of the cells
	capClock    []float64 // s along the limit to the start of each cell; len = cells+1
	least       []bool    // the envelope has a least at the end of the cell: an apex
	home        int       // cell at whose start a flying lap begins
	homeOnCap   bool      // that place lies on the limit
	eta         []float64 // mesh efficiency by gear
	shiftTime   []float64 // s, upshift from gear index g
	downTime    float64   // s per downshift
	shiftRPM    []float64 // 1/min, the driver's own by gear; 0 = (8.2)
	limiterMost float64   // s on the limiter in one gear; 0 = any
	shiftOffset float64   // 1/min on every shift speed

	finer func() (*Model, error) // the same on half the step, made once
	open  func() *Model          // the same for a car that comes out of the pits, made once
	line  func() *Model          // the same for a car that begins at the start line, made once
}

// New prepares the set-independent part of the lap: mesh, corner limits,
// braking curves. Errors name the place on the track and the remedy.
func New(car *cars.Car, track *tracks.Track, cond Conditions, s *Settings) (*Model, error) {
	if car.Box == nil {
		return nil, fmt.Errorf("car %s has no gearbox attached", car.Name)
	}
	if err := errors.Join(checkConditions(&cond), checkTow(&cond, track), checkTrack(car, track)); err != nil {
		return nil, err
	}
	if s == nil {
		s = &Settings{}
	}
	refine := s.Refine
	if err := checkSettings(s); err != nil {
		return nil, err
	}
	if refine < 0 || refine > 6 {
		return nil, fmt.Errorf("mesh refinement %d is outside 0 to 6", refine)
	}
	engineMap, err := car.Engine.Map(cond.Map)
	if err != nil {
		return nil, err
	}
	b, err := newBody(car, engineMap, &cond)
	if err != nil {
		return nil, err
	}
	m := &Model{
		car: car, track: track, cond: cond, refine: refine, settings: *s, body: b,
		reference: b.reference(&cond, car.Aero.DragArea, car.Aero.DownforceArea),
		cells:     buildMesh(car, track, &cond, refine),
		eta:       car.Efficiency,
		shiftTime: car.Box.UpshiftTime,
		downTime:  car.Box.DownshiftTime,
		shiftRPM:  s.ShiftRPM, limiterMost: s.LimiterTime, shiftOffset: s.ShiftOffset,
	}
	if len(m.eta) < car.Box.Gears || len(m.shiftTime) < car.Box.Gears-1 {
		return nil, fmt.Errorf("car %s: efficiency or shift times do not cover %d gears", car.Name, car.Box.Gears)
	}
	if err := b.buildEnvelope(m.cells, track.Place); err != nil {
		return nil, fmt.Errorf("track %s: %w", track.Name, err)
	}
	m.index()
	m.open = sync.OnceValue(func() *Model { return m.from(m.outStart().cell) })
	m.line = sync.OnceValue(func() *Model { return m.from(0) })
	m.finer = sync.OnceValues(func() (*Model, error) {
		finer := *s
		finer.Refine++
		return New(car, track, cond, &finer)
	})
	return m, nil
}

// Finer is the same model on a mesh with steps half as long; the same one each
// time.
func (m *Model) Finer() (*Model, error) { return m.finer() }

func checkSettings(s *Settings) error {
	for g, rpm := range s.ShiftRPM {
		if !(rpm >= 0) || math.IsInf(rpm, 1) {
			return fmt.Errorf("shift rpm out of gear %d: %g is not >= 0", g+1, rpm)
		}
	}
	if !(s.LimiterTime >= 0) || math.IsInf(s.LimiterTime, 1) {
		return fmt.Errorf("time on the limiter: %g s is not >= 0", s.LimiterTime)
	}
	if math.IsNaN(s.ShiftOffset) || math.Abs(s.ShiftOffset) > mostOffset {
		return fmt.Errorf("shift offset: %g rpm is not within +-%d", s.ShiftOffset, mostOffset)
	}
	return nil
}

// mostOffset is the greatest shift offset (1/min): beyond it no shift is left
// where it belongs.
const mostOffset = 2000

// from is the model for a car that begins in cell i: from there to the first
// apex the tyres have not held it back, as they would have a car that came out
// of the corner before.
func (m *Model) from(i int) *Model {
	o := *m
	o.cells = append([]cell(nil), m.cells...)
	for range o.cells {
		c := &o.cells[i]
		if m.least[i] {
			// Beyond the apex in its cell the tyres do hold the car back.
			c.offLimit()
			m.body.finishCell(c)
			break
		}
		c.env, c.pulling = c.brake, 0
		m.body.finishCell(c)
		if i++; i == len(o.cells) {
			i = 0
		}
	}
	o.index()
	o.home, o.homeOnCap = m.home, m.homeOnCap
	return &o
}

// offLimit takes the drive limit off a cell with an apex, up to its least node.
// Where a car without it comes there faster, it is off in the whole cell.
func (c *cell) offLimit() {
	low := 0
	for j, u := range c.env {
		if u < c.env[low] {
			low = j
		}
	}
	if c.brake[low] > c.env[low]*(1+1e-6) {
		low = envSub
	}
	copy(c.env[:low], c.brake[:low])
	if low == envSub {
		c.env[low] = c.brake[low]
	}
	c.pulling &^= 1<<low - 1
}

// index fills in the clock along the limit, the next least limit of every
// cell and the home of the lap.
func (m *Model) index() {
	n := len(m.cells)
	m.length = 0
	m.capClock = make([]float64, n+1)
	for i := range m.cells {
		m.capClock[i+1] = m.capClock[i] + m.cells[i].capTime
		m.length += m.cells[i].h
	}
	// An apex is where the envelope has come down and goes up beyond: the end of
	// the cell in which it came down last. The rest of that cell is driven in
	// whatever gear; level ground after it is not.
	m.least = make([]bool, n)
	down := -1 // where the envelope fell last, since it rose
	home, homeU := -1, topU
	for k := range 2 * n {
		i := k % n
		c := &m.cells[i]
		for j := range envSub + 1 {
			here, next := c.env[j], c.env[min(j+1, envSub)]
			if j == envSub {
				next = m.cells[(i+1)%n].env[0]
			}
			const tol = levelShare
			if next > here*(1+tol) {
				if down >= 0 && k >= n && here < topU {
					m.least[down] = true
					m.cells[down].sure = true
					if u := m.cells[down].cap1; u < homeU {
						home, homeU = down, u
					}
				}
				down = -1
			} else if next < here*(1-tol) {
				down = i
			}
		}
	}
	// How many cells ahead any car stays on the envelope.
	for k := 2*n - 1; k >= 0; k-- {
		if c := &m.cells[k%n]; c.sure {
			c.ride = min(m.cells[(k+1)%n].ride+1, n)
		}
	}
	if home >= 0 {
		m.home, m.homeOnCap = (home+1)%n, true
	}
}

// Car, Track and Conditions return what the model was made of.
func (m *Model) Car() *cars.Car         { return m.car }
func (m *Model) Track() *tracks.Track   { return m.track }
func (m *Model) Conditions() Conditions { return m.cond }
func (m *Model) Settings() Settings     { return m.settings }

// RPM is the engine speed (1/min) at v (m/s) with the total ratio given (7.1).
func (m *Model) RPM(v, total float64) float64 {
	d := m.body.newDrive(total, 1)
	return m.body.rpmAt(v, d.perV)
}

// Speed is the road speed (m/s) at an engine speed (1/min) (7.2).
func (m *Model) Speed(rpm, total float64) float64 {
	d := m.body.newDrive(total, 1)
	return m.body.speedAt(rpm, d.perV)
}

// LimiterRPM is the limiter (1/min) of the engine map in use, ShiftRPM the
// engine speed at which a shift comes at the latest.
func (m *Model) LimiterRPM() float64 { return m.body.limiter }

// ShiftRPM is the limiter less the shift margin (1/min).
func (m *Model) ShiftRPM() float64 { return m.body.shiftLimit }

// TractiveEffort is the force (N) of the engine at the contact patch of the
// driven wheels at full throttle in a gear (from 1) at v (m/s).
func (m *Model) TractiveEffort(v float64, gear int, total float64) float64 {
	d := m.body.newDrive(total, m.eta[gear-1])
	f, _ := m.body.engineForce(v, &d)
	return f
}

// RoadLoad is the resistance (N) on a level straight without wind at v (m/s).
func (m *Model) RoadLoad(v float64) float64 {
	l := m.body.at(&m.reference, v)
	return l.resist
}

// CrossSpeed is the road speed (m/s) at which the shift from gear g (from 1)
// with total ratio a to the next with total ratio b begins (8.2).
func (m *Model) CrossSpeed(g int, a, b float64) float64 {
	da, db := m.body.newDrive(a, m.eta[g-1]), m.body.newDrive(b, m.eta[g])
	return math.Sqrt(m.crossSpeed(&da, &db, m.shiftTime[g-1]))
}

// CornerSpeed is the highest speed (m/s) that the place at s (m) allows, +Inf
// where there is no limit (6.8).
func (m *Model) CornerSpeed(s float64) float64 {
	c := m.cellAt(s)
	p := c.at(s - c.s)
	u := m.body.cornerLimit(&p)
	if u >= topU {
		return math.Inf(1)
	}
	return math.Sqrt(u)
}

func (m *Model) cellAt(s float64) *cell { return &m.cells[m.cellIndex(s)] }

// cellIndex finds the cell that holds s (m, 0 to the lap's length).
func (m *Model) cellIndex(s float64) int {
	lo, hi := 0, len(m.cells)
	for hi-lo > 1 {
		mid := (lo + hi) / 2
		if m.cells[mid].s <= s+1e-9 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
