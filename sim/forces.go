package sim

import (
	"math"

	"layshaft/cars"
	"layshaft/internal/units"
)

// place holds what a point of the track and the weather do to the car, per
// unit mass where mass factors out. All of it is independent of the speed.
type place struct {
	gn, kn float64 // road-normal load / m = gn + kn·v²        (m/s², 1/m)  (4.1)
	gy, ky float64 // lateral demand / m = gy + ky·v²           (m/s², 1/m)  (4.2)
	gx     float64 // grade force / m                           (m/s²)       (4.3)
	wind   float64 // head component of the wind                (m/s)        (3.1)
	drag   float64 // ½·rho·CdA, tow included                   (kg/m)       (3.2)
	lift   float64 // ½·rho·ClA, tow included                   (kg/m)       (3.3)
	grip   float64 // factor on grip
}

// through returns the place at a fraction f of the way from a to e, on the
// parabola through the three places, m half way.
func through(a, m, e *place, f float64) place {
	wa, wm, we := (1-f)*(1-2*f), 4*f*(1-f), f*(2*f-1)
	return place{
		gn: wa*a.gn + wm*m.gn + we*e.gn, kn: wa*a.kn + wm*m.kn + we*e.kn,
		gy: wa*a.gy + wm*m.gy + we*e.gy, ky: wa*a.ky + wm*m.ky + we*e.ky,
		gx: wa*a.gx + wm*m.gx + we*e.gx, wind: wa*a.wind + wm*m.wind + we*e.wind,
		drag: wa*a.drag + wm*m.drag + we*e.drag,
		lift: wa*a.lift + wm*m.lift + we*e.lift,
		grip: wa*a.grip + wm*m.grip + we*e.grip,
	}
}

// body is the car reduced to the numbers that the equations use, with the
// fuel of the run on board.
type body struct {
	mass           float64 // kg
	front, rear    float64 // shares of static load
	aeroF, aeroR   float64 // shares of downforce
	hl             float64 // CG height / wheelbase
	roll0, roll1   float64 // rolling resistance coefficients
	roll2          float64
	cf, cr         float64 // 1/rad, cornering stiffness per unit load
	tyreF, tyreR   cars.Tyre
	rearDriven     bool
	r0, growth     float64 // m, m/(m/s)²
	wheelInertia   float64 // kg·m²
	engineInertia  float64 // kg·m²
	slip           float64 // 1 + drive slip
	boxDrag        float64 // N·m
	engineFactor   float64
	curve          *cars.Curve
	limiter        float64 // 1/min
	shiftLimit     float64 // 1/min, limiter less margin
	pulling        float64 // 1/min
	overRev        float64 // 1/min
	inertiaReturn  float64
	rpmLow, rpmTop float64 // 1/min, ends of the torque table

	// A rear axle gives at least surePull x its load, up to peakRear (N).
	surePull, peakRear float64
}

func newBody(car *cars.Car, m *cars.EngineMap, cond *Conditions) (*body, error) {
	curve, err := m.Curve()
	if err != nil {
		return nil, err
	}
	b := &body{
		mass:  car.Mass + cond.Fuel,
		front: car.FrontShare, rear: 1 - car.FrontShare,
		aeroF: car.Aero.FrontShare, aeroR: 1 - car.Aero.FrontShare,
		hl:    car.CGHeight / car.Wheelbase,
		roll0: car.RollingCoef, roll1: car.RollingCoefV, roll2: car.RollingCoefVV,
		cf: car.Front.Stiffness, cr: car.Rear.Stiffness,
		tyreF: car.Front, tyreR: car.Rear,
		rearDriven: car.RearDriven,
		r0:         car.TyreRadius, growth: car.TyreGrowth,
		wheelInertia: car.WheelInertia, engineInertia: car.Engine.Inertia,
		slip: 1 + car.DriveSlip, boxDrag: car.BoxDrag,
		engineFactor: cond.EngineFactor, curve: curve,
		limiter:       m.LimiterRPM,
		shiftLimit:    m.LimiterRPM - car.Engine.ShiftMarginRPM,
		pulling:       car.Engine.PullingRPM,
		overRev:       car.Engine.OverRevRPM,
		inertiaReturn: car.ShiftInertiaReturn,
		rpmLow:        m.RPM[0], rpmTop: m.RPM[len(m.RPM)-1],
	}
	k := b.tyreR.LoadSensitivity
	b.surePull, b.peakRear = b.tyreR.MuX, math.Inf(1)
	if k > 0 {
		// Where mu·n peaks, mu has come down to mu0·(1+k)/2.
		b.surePull, b.peakRear = b.tyreR.MuX*(1+k)/2, b.tyreR.RefLoad*(1+k)/k
	}
	if b.overRev == 0 {
		b.overRev = b.limiter
	}
	return b, nil
}

// loads are the forces at a place and a speed that do not depend on the gear.
type loads struct {
	fy     float64 // N, lateral demand, absolute value
	nf, nr float64 // N, axle loads without longitudinal transfer
	resist float64 // N, everything that holds the car back at full throttle
}

// at evaluates equations (3.2) to (5.3) of MODEL.md at speed v (m/s).
func (b *body) at(p *place, v float64) loads {
	u := v * v
	w := v + p.wind
	lift := p.lift * w * w          // (3.3)
	nm := b.mass * (p.gn + p.kn*u)  // (4.1)
	fy := b.mass * (p.gy + p.ky*u)  // (4.2)
	nf := nm*b.front + lift*b.aeroF // (4.4)
	nr := nm*b.rear + lift*b.aeroR  // (4.5)
	res := p.drag*w*math.Abs(w) +   // (3.2)
		(nf+nr)*(b.roll0+b.roll1*v+b.roll2*u) + // (5.1)
		b.mass*p.gx // (4.3)
	if fy != 0 {
		fy = math.Abs(fy)
		ff, fr := fy*b.front, fy*b.rear
		// (5.2): each axle pays Fy²/(c·N); an axle off the ground pays
		// nothing here, the corner limit forbids the state.
		if nf > 0 {
			res += ff * ff / (b.cf * nf)
		}
		if nr > 0 {
			res += fr * fr / (b.cr * nr)
		}
	}
	return loads{fy: fy, nf: nf, nr: nr, resist: res}
}

// driveCapacity is the greatest longitudinal force (N) that the driven axle
// can put down when it carries n (N) of load and a lateral force fy (N), and
// whether the axle holds the lateral force at all (6.2).
func driveCapacity(t *cars.Tyre, n, fy, grip float64) (float64, bool) {
	cx, cy := t.Capacity(n, grip)
	if fy == 0 {
		return cx, true
	}
	if fy >= cy {
		return 0, false
	}
	q := fy / cy
	return cx * math.Sqrt(1-q*q), true
}

// driveLimit is the greatest drive force (N) at the contact patch: the driven
// axle's friction ellipse with the load that the drive itself moves to the
// rear, the front axle's hold on its share of the lateral force, and a front
// axle that stays on the ground. See (6.2) to (6.5).
func (b *body) driveLimit(p *place, l *loads) float64 {
	if !b.rearDriven {
		// Drive unloads the driven axle: X = g(nf - X·hl), g not falling;
		// the map is a contraction from above.
		return solveTransfer(&b.tyreF, l.nf, -b.hl, l.fy*b.front, p.grip)
	}
	x := solveTransfer(&b.tyreR, l.nr, b.hl, l.fy*b.rear, p.grip)
	if b.hl > 0 {
		least := 0.0 // N, least front load that still holds the lateral force
		if l.fy != 0 {
			least = b.tyreF.LoadForLateral(l.fy*b.front, p.grip)
		}
		if m := (l.nf - least) / b.hl; x > m { // (6.4), (6.5)
			x = max(m, 0)
		}
	}
	return x
}

// solveTransfer is the greatest X that solves X = g(n + X·hl) (6.3), 0 where
// none does. g is a circle's arc over a concave capacity and so concave: from
// the right of its greatest root Newton's rule comes down to it and never
// passes it. Near the lateral limit g is steep, since the drive's own load
// transfer is what holds the axle; there is a root even where the axle without
// drive would slide, until the two ends of what it can put down meet.
func solveTransfer(t *cars.Tyre, n, hl, fy, grip float64) float64 {
	if hl == 0 {
		g, _ := driveCapacity(t, n, fy, grip)
		return g
	}
	mux, muy := t.MuX*grip, t.MuY*grip
	// The capacity lies below its tangent at no load, and below its peak.
	x := math.Inf(1)
	k := t.LoadSensitivity
	if c := mux * (1 + k); hl < 0 {
		x = max(c*n, 0)
	} else if c*hl < 1 {
		x = max(c*n/(1-c*hl), 0)
	}
	if k > 0 {
		x = min(x, mux*t.RefLoad*(1+k)*(1+k)/(2*k))
	} else if math.IsInf(x, 1) {
		return x // the more it drives the more it can: only the front ends that
	}
	for range 40 {
		load := n + x*hl
		if load <= 0 {
			if hl > 0 {
				return 0
			}
			x = n / -hl * (1 - 1e-12) // the drive takes all load off the axle
			if load = n + x*hl; load <= 0 {
				return 0
			}
		}
		q := 0.5 * load / t.RefLoad
		f, df := load*(1+k-k*q), 1+k-2*k*q // N at mu = 1, and its slope
		if df < 0 {
			f, df = t.RefLoad*(1+k)*(1+k)/(2*k), 0
		}
		// In terms of x² the arc is smooth up to its foot: h = Cx²(1 - (fy/Cy)²) - x².
		side := fy * mux / muy
		h := mux*mux*f*f - side*side - x*x
		slope := 2 * (mux*mux*f*df*hl - x)
		if slope >= 0 {
			return 0 // h has no root to the left but on its rising side
		}
		step := h / slope
		x -= step
		if x <= 0 {
			return 0
		}
		if math.Abs(step) <= 1e-10*x {
			return x
		}
	}
	return x
}

// brakeLimit is the greatest braking force (N) of both axles together under
// lateral demand, with the load that braking moves to the front; the share
// between the axles is taken as ideal (6.6). Not in the inner loop.
func (b *body) brakeLimit(p *place, l *loads) float64 {
	total := func(x float64) float64 {
		f, okF := driveCapacity(&b.tyreF, max(l.nf+x*b.hl, 0), l.fy*b.front, p.grip)
		r, okR := driveCapacity(&b.tyreR, max(l.nr-x*b.hl, 0), l.fy*b.rear, p.grip)
		if !okF || !okR {
			// One axle is past its lateral limit with this much braking.
			return 0
		}
		return f + r
	}
	lo, hi := 0.0, total(0)
	if hi == 0 {
		return 0
	}
	// total(x) - x falls from total(0) > 0 with a slope near -1: the transfer
	// moves load between axles of falling mu, so total(x) is about total(0).
	// False position on the spare force reaches rounding in a few turns; where
	// an axle lets go the spare force jumps and bisection finds the place.
	fl, fh := hi, total(hi)-hi
	for fh > 0 {
		lo, fl = hi, fh
		hi *= 1.2
		fh = total(hi) - hi
	}
	if fh == 0 {
		return hi
	}
	for i := range 80 {
		mid := 0.5 * (lo + hi)
		if i%4 != 3 {
			if x := (lo*fh - hi*fl) / (fh - fl); x > lo && x < hi {
				mid = x
			}
		}
		f := total(mid) - mid
		if f >= 0 {
			lo, fl = mid, f
		} else {
			hi, fh = mid, f
		}
		if math.Abs(f) <= 1e-12*mid {
			return mid
		}
		if hi-lo < 1e-10*hi {
			break
		}
	}
	return lo
}

// steadyOK says whether the car can hold v at the place: both axles within
// their ellipses while the driven one supplies what resists (6.7). margin is
// the least spare fraction of an axle, negative when it slides.
func (b *body) steadyMargin(p *place, v float64) float64 {
	l := b.at(p, v)
	if l.nf <= 0 || l.nr <= 0 {
		return -1
	}
	x := max(l.resist, 0)
	nf, nr := l.nf-x*b.hl, l.nr+x*b.hl
	driven, other := &b.tyreR, &b.tyreF
	nd, no := nr, nf
	fd, fo := l.fy*b.rear, l.fy*b.front
	if !b.rearDriven {
		driven, other = other, driven
		nd, no = no, nd
		fd, fo = fo, fd
	}
	if nd <= 0 || no <= 0 {
		return -1
	}
	cx, cy := driven.Capacity(nd, p.grip)
	_, cyo := other.Capacity(no, p.grip)
	md := 1 - math.Hypot(x/cx, fd/cy)
	mo := 1 - fo/cyo
	// x alone beyond the tyre is no corner limit: the engine or the tyre
	// limits the speed then. Only lateral demand makes a limit.
	if fd == 0 && fo == 0 {
		return 1
	}
	return min(md, mo)
}

// airSpeedPlace is a level straight in still air, the reference of the
// shift-light speeds (8.1).
func (b *body) reference(cond *Conditions, dragArea, downArea float64) place {
	return place{
		gn:   units.Gravity,
		drag: 0.5 * cond.AirDensity * dragArea,
		lift: 0.5 * cond.AirDensity * downArea,
		grip: 1,
	}
}
