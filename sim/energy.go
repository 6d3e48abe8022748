package sim

import "math"

// Energy is where the energy of a lap came from and went, in J, integrated
// along the lap's own pieces (section 14 of MODEL.md). Sources and losses are
// positive as named; Grade, Kinetic and Spin are what was gained over the lap,
// nothing on a flying lap but for the climb of a track that does not close.
//
// Torque measured at the wheels, or in a sweep, has losses and inertia inside
// it; their lines are zero then.
type Energy struct {
	Engine float64 // work of the torque at the crank, as throttled (14.2)
	Blips  float64 // given by the engine to spin itself up for a lower gear (14.6)

	BoxDrag   float64 // the box's drag torque
	Mesh      float64 // gear meshes and what else the efficiency stands for
	Slip      float64 // driven wheels turning faster than they roll
	Clutch    float64 // slipping clutch of an out lap
	Drag      float64 // air
	Rolling   float64 // rolling resistance
	Cornering float64 // tyres at their slip angles
	Brakes    float64 // brakes, and a closed throttle in a gear
	ShiftLoss float64 // engine's spin taken away at upshifts, less what came back
	Grade     float64 // lifting the car
	Kinetic   float64 // of the car's motion
	Spin      float64 // of wheels and engine

	Returned float64 // part of the engine's spin that came back at upshifts (9.2), for information
	Climb    float64 // part of Grade on the way up, for information
}

// EnergyLine is one line of the account.
type EnergyLine struct {
	Name   string
	Energy float64 // J, sources positive
}

// Lines is the account in order, sources positive, the rest negative. The sum
// is the Residual.
func (e *Energy) Lines() []EnergyLine {
	return []EnergyLine{
		{"engine work at the crank", e.Engine},
		{"engine spun up at downshifts", e.Blips},
		{"box drag", -e.BoxDrag},
		{"gear meshes", -e.Mesh},
		{"drive slip", -e.Slip},
		{"clutch slip", -e.Clutch},
		{"air drag", -e.Drag},
		{"rolling", -e.Rolling},
		{"cornering", -e.Cornering},
		{"brakes", -e.Brakes},
		{"engine spin lost at upshifts", -e.ShiftLoss},
		{"grade", -e.Grade},
		{"kinetic energy", -e.Kinetic},
		{"spin of wheels and engine", -e.Spin},
	}
}

// Residual is what the account leaves over (J): the error of the lap's steps
// and of the quadrature. Nothing in the account is computed from the rest.
func (e *Energy) Residual() float64 {
	sum := 0.0
	for _, l := range e.Lines() {
		sum += l.Energy
	}
	return sum
}

// account integrates the energy along a path.
type account struct {
	m      *Model
	drives []drive
	pause  []float64 // s, upshift time by gear index
	Energy
	engine float64 // J, spin of the engine when it was last in gear
	gear   int8
	open   bool // no gear has driven since
}

// energyOf adds up the energy of the pieces of a trip. flying laps close: the
// engine goes back to the spin with which it began.
func (k *Solver) energyOf(m *Model, flying bool) Energy {
	a := account{m: m, drives: k.drives, pause: m.shiftTime[k.first:]}
	if len(k.path) == 0 {
		return a.Energy
	}
	first, last := &k.path[0], &k.path[len(k.path)-1]
	a.gear, a.engine = first.gear, a.engineSpin(first.u0, first.gear)
	begin, shifted := a.engine, 0.0
	for i := range k.path {
		p := &k.path[i]
		if a.loose(p) {
			a.open = true
		} else {
			a.join(p.gear, a.engineSpin(p.u0, p.gear))
		}
		if p.phase == Shifting {
			if i == 0 || k.path[i-1].phase != Shifting || k.path[i-1].gear != p.gear {
				shifted = p.u0
			}
			a.givenBack(p, shifted)
		}
		a.piece(p)
		if !a.open {
			a.engine = a.engineSpin(p.u1, p.gear)
		}
	}
	if flying {
		a.open = true
		a.join(first.gear, begin)
	}
	a.Kinetic = 0.5 * m.body.mass * (last.u1 - first.u0)
	a.Spin = a.engine - begin + a.wheelSpin(last.u1) - a.wheelSpin(first.u0)
	return a.Energy
}

// loose says whether the engine does not turn with the wheels in a piece: the
// pause of a shift, and above the limiter (7.7).
func (a *account) loose(p *piece) bool {
	return p.phase == Shifting || a.off(p)
}

func (a *account) off(p *piece) bool {
	return p.phase == Driving && !p.along && p.u0 > a.drives[p.gear].uLimit*(1+1e-9)
}

// join puts the engine into gear at its new spin (J) (14.6).
func (a *account) join(gear int8, spin float64) {
	if a.open || gear != a.gear {
		if spin < a.engine {
			a.ShiftLoss += a.engine - spin
		} else {
			a.Blips += spin - a.engine
		}
		a.engine = spin
	}
	a.gear, a.open = gear, false
}

// wheelSpin and engineSpin are ½ J (v/r)² (14.4), at v² = u. A slipping clutch
// holds the engine at the speed at which it will close.
func (a *account) wheelSpin(u float64) float64 {
	b := a.m.body
	r := b.r0 + b.growth*u
	return 0.5 * b.wheelInertia * u / (r * r)
}

func (a *account) engineSpin(u float64, gear int8) float64 {
	b, d := a.m.body, &a.drives[gear]
	v := math.Sqrt(u)
	w := v * d.ratio / (b.r0 + b.growth*u)
	if a.slips(v, d) {
		w = d.hold * math.Pi / 30 / b.slip
	}
	return 0.5 * b.engineInertia * w * w
}

// givenBack books the spin returned in the shift (9.2) to which a piece of pause
// belongs, which began at v² = u. On the envelope the car takes none.
func (a *account) givenBack(p *piece, u float64) {
	if p.to <= p.gear || p.along {
		return
	}
	ret := a.m.returned(math.Sqrt(u), a.drives[p.gear].perV, a.drives[p.to].perV)
	back := ret * (p.t1 - p.t0) / a.pause[p.gear]
	a.Returned += back
	a.ShiftLoss -= back
}

// piece integrates one piece, panel by panel: a panel lies in one cell and, on
// the envelope, between two of its even nodes.
func (a *account) piece(p *piece) {
	const panels = 2
	if p.along {
		c := &a.m.cells[p.cell]
		part := 2 * c.h / envSub
		x0 := a.into(c, p.s0)
		x1 := min(x0+p.s1-p.s0, c.h)
		for x := x0; x < x1-1e-12; {
			end := min((math.Floor(x/part+1e-9)+1)*part, x1)
			a.panel(x, end, func(y, w float64) { a.onEnvelope(p, c, y, w) })
			x = end
		}
		return
	}
	i := int(p.cell)
	x := a.into(&a.m.cells[i], p.s0)
	from := p.s0
	for from < p.s1-1e-12 {
		c := &a.m.cells[i]
		to := min(p.s1, from+c.h-x)
		book := func(s, w float64) {
			at := c.at(min(x+s-from, c.h))
			a.below(p, &at, p.uAt(s), w)
		}
		for n := range panels {
			lo, hi := float64(n)/panels, float64(n+1)/panels
			if h := to - from; p.u0 >= 0.9*p.u1 {
				a.panel(from+h*lo, from+h*hi, book)
			} else {
				// Near a standstill the clutch's heat goes by 1/v: over the
				// root of the way.
				a.panel(lo, hi, func(y, w float64) { book(from+h*y*y, 2*h*y*w) })
			}
		}
		from, x = to, 0
		if i++; i == len(a.m.cells) {
			i = 0
		}
	}
}

// into is how far s (m, unwrapped) lies in a cell.
func (a *account) into(c *cell, s float64) float64 {
	x := a.m.wrap(s) - c.s
	if x > 0.5*a.m.length { // wrapped to the other end by rounding
		x -= a.m.length
	}
	return min(max(x, 0), c.h)
}

// panel integrates from x0 to x1 by Gauss and Legendre's three points.
func (a *account) panel(x0, x1 float64, book func(x, w float64)) {
	const at, w0, w1 = 0.7745966692414834, 8.0 / 9, 5.0 / 9
	mid, half := 0.5*(x0+x1), 0.5*(x1-x0)
	book(mid-at*half, w1*half)
	book(mid, w0*half)
	book(mid+at*half, w1*half)
}

// below books w metres of a piece that does not follow the envelope, at v² = u.
func (a *account) below(p *piece, at *place, u, w float64) {
	b, d := a.m.body, &a.drives[p.gear]
	v := math.Sqrt(u)
	resist := a.resist(at, v, w)
	switch {
	case a.loose(p):
	case p.phase == Limiting:
		a.throttled(d, v, resist, w) // held at its speed
	default:
		acc, grip := b.accel(at, u, d)
		force, turning := b.engineForce(v, d)
		if !grip {
			a.drive(d, v, force, w)
			break
		}
		a.throttled(d, v, resist+(b.mass+turning)*acc, w)
	}
}

// onEnvelope books w metres of a piece that follows the envelope, x into its
// cell: the engine gives what the speed needs, the brakes take what it has too
// much (14.3).
func (a *account) onEnvelope(p *piece, c *cell, x, w float64) {
	b, d := a.m.body, &a.drives[p.gear]
	u := c.capAt(x)
	v, at := math.Sqrt(u), c.at(x)
	j, _ := c.span(x)
	acc, resist := 0.5*c.capSlope(j, x), a.resist(&at, v, w)
	if p.phase == Shifting {
		r := b.r0 + b.growth*u
		a.Brakes -= w * (resist + (b.mass+b.wheelInertia*(1-2*b.growth*u/r)/(r*r))*acc)
		return
	}
	_, turning := b.engineForce(v, d)
	a.throttled(d, v, resist+(b.mass+turning)*acc, w)
}

// throttled books w metres with a force (N) at the wheels, from engine or
// brakes.
func (a *account) throttled(d *drive, v, force, w float64) {
	if force < 0 {
		a.Brakes -= w * force
		return
	}
	a.drive(d, v, force, w)
}

// drive books w metres of a force (N) that the engine brings to the wheels
// (14.2): back through slip, mesh, box drag and clutch to the crank.
func (a *account) drive(d *drive, v, force, w float64) {
	b := a.m.body
	r := b.r0 + b.growth*v*v
	input := d.ratio * b.slip / r // rad per metre at the input shaft of the box
	torque := force*r/(d.ratio*d.eta) + b.boxDrag
	box, wheels := b.boxDrag*input, force*b.slip
	engine := torque * input
	if a.slips(v, d) {
		engine = torque * d.hold * math.Pi / 30 / v
		a.Clutch += w * (engine - torque*input)
	}
	a.Engine += w * engine
	a.BoxDrag += w * box
	a.Mesh += w * (torque*input - box - wheels)
	a.Slip += w * (wheels - force)
}

// resist books what holds the car back over w metres at v (m/s), (3.2) to
// (5.3), and returns the force (N).
func (a *account) resist(p *place, v, w float64) float64 {
	b := a.m.body
	u, air := v*v, v+p.wind
	lift := p.lift * air * air
	nm := b.mass * (p.gn + p.kn*u)
	drag := p.drag * air * math.Abs(air)
	rolling := (nm + lift*(b.aeroF+b.aeroR)) * (b.roll0 + b.roll1*v + b.roll2*u)
	grade := b.mass * p.gx
	cornering := 0.0
	fy := b.mass * (p.gy + p.ky*u)
	for _, axle := range [2]struct{ share, load, stiffness float64 }{
		{b.front, nm*b.front + lift*b.aeroF, b.cf}, {b.rear, nm*b.rear + lift*b.aeroR, b.cr},
	} {
		if f := fy * axle.share; f != 0 && axle.load > 0 {
			cornering += f * f / (axle.stiffness * axle.load)
		}
	}
	a.Drag += w * drag
	a.Rolling += w * rolling
	a.Grade += w * grade
	a.Climb += w * max(grade, 0)
	a.Cornering += w * cornering
	return drag + rolling + grade + cornering
}

// slips says whether the clutch slips at v (m/s) (7.6), (7.8).
func (a *account) slips(v float64, d *drive) bool {
	return d.slips && a.m.body.rpmAt(v, d.perV) < d.hold*(1-1e-9)
}
