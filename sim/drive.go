package sim

import (
	"math"
)

// drive is one gear made ready for the inner loop, or the ideal drive.
type drive struct {
	ratio   float64 // engine turns per wheel turn
	eta     float64 // mesh efficiency
	perV    float64 // rpm·m per (m/s): rpm = v·perV/radius
	inertia float64 // kg·m² at the wheels: wheels + engine·ratio²
	uLimit  float64 // (m/s)², square of the speed at the limiter
	uShift  float64 // (m/s)², square of the speed at the limiter less the margin
	ideal   *Ideal  // not nil: the best of many gears at every speed
	uLow    float64 // (m/s)², square of the speed at the first point of the torque table
	below   bool    // it turns slower than the table all through the step, which ends where it no longer does
	off     bool    // no drive: the engine turns faster than the limiter
	slips   bool    // the clutch slips while the engine would turn slower than hold (first gear, away from the pits or a standstill)
	hold    float64 // 1/min, engine speed that the slipping clutch holds
	slipped bool    // it slips all through the step, which ends where the clutch closes
}

func (b *body) newDrive(total, eta float64) drive {
	d := drive{
		ratio: total, eta: eta,
		perV:    total * b.slip * 30 / math.Pi,
		inertia: b.wheelInertia + b.engineInertia*total*total,
		hold:    b.rpmLow,
	}
	v := b.speedAt(b.limiter, d.perV)
	d.uLimit = v * v
	v = b.speedAt(b.shiftLimit, d.perV)
	d.uShift = v * v
	v = b.speedAt(b.rpmLow, d.perV)
	d.uLow = v * v
	return d
}

// speedAt inverts rpm = v·perV/(r0 + growth·v²) for the lower root (7.2).
// Where the growing tyre outruns the engine speed (no root) it returns the
// speed at which rpm is greatest.
func (b *body) speedAt(rpm, perV float64) float64 {
	disc := perV*perV - 4*b.growth*b.r0*rpm*rpm
	if disc <= 0 {
		return math.Sqrt(b.r0 / b.growth)
	}
	return 2 * rpm * b.r0 / (perV + math.Sqrt(disc))
}

// rpmAt is the engine speed (1/min) at v (m/s), with growth and slip (7.1).
func (b *body) rpmAt(v, perV float64) float64 {
	return v * perV / (b.r0 + b.growth*v*v)
}

// engineForce is the force (N) that one gear brings to the wheels at full
// throttle and the equivalent mass (kg) of all that turns (7.3), (7.4).
func (b *body) engineForce(v float64, d *drive) (force, turning float64) {
	u := v * v
	r := b.r0 + b.growth*u
	rpm := v * d.perV / r
	inertia := d.inertia
	if d.slips && (d.slipped || rpm < d.hold*(1-1e-9)) {
		rpm = d.hold // (7.6), (7.8)
		inertia = b.wheelInertia
	}
	if d.below {
		rpm = min(rpm, b.rpmLow*(1-1e-9))
	}
	if rpm > b.rpmTop {
		rpm = b.rpmTop // only inside a step that will be cut at the limiter
	}
	torque := b.curve.At(rpm)*b.engineFactor - b.boxDrag
	force = torque * d.ratio * d.eta / r
	turning = inertia * (1 - 2*b.growth*u/r) / (r * r)
	return force, turning
}

// accel is the acceleration (m/s²) at full throttle at a place and speed² u,
// and whether the tyres and not the engine set it (7.5).
func (b *body) accel(p *place, u float64, d *drive) (a float64, gripLimited bool) {
	v := math.Sqrt(u)
	l := b.at(p, v)
	switch {
	case d.off:
		return b.coastAccel(p, v), false
	case d.ideal != nil:
		a = d.ideal.accel(b, v, l.resist)
	default:
		f, m := b.engineForce(v, d)
		a = (f - l.resist) / (b.mass + m)
	}
	contact := l.resist + b.mass*a
	// Load transfer only helps a driven rear axle, so without it the limit is
	// a lower one: most evaluations end here.
	if b.rearDriven && contact*b.hl <= 0.7*l.nf {
		if l.fy == 0 && contact <= b.surePull*p.grip*min(l.nr, b.peakRear) {
			return a, false
		}
		if cx, _ := driveCapacity(&b.tyreR, l.nr, l.fy*b.rear, p.grip); contact <= cx {
			if l.fy == 0 {
				return a, false
			}
			nf := l.nf - max(contact, 0)*b.hl
			if _, cy := b.tyreF.Capacity(nf, p.grip); l.fy*b.front <= cy {
				return a, false
			}
		}
	}
	lim := b.driveLimit(p, &l)
	if contact > lim {
		return (lim - l.resist) / b.mass, true
	}
	return a, false
}

// pullOnly is the acceleration (m/s²) that the engine would give at a place and
// speed², whatever the tyres say (7.5).
func (b *body) pullOnly(p *place, u float64, d *drive) float64 {
	v := math.Sqrt(u)
	l := b.at(p, v)
	if d.ideal != nil {
		return d.ideal.accel(b, v, l.resist)
	}
	f, m := b.engineForce(v, d)
	return (f - l.resist) / (b.mass + m)
}

// coastAccel is the acceleration (m/s²) while no gear drives; the wheels turn
// on (9.1).
func (b *body) coastAccel(p *place, v float64) float64 { return b.coastPushed(p, v, 0) }

// coastPushed is the same with a power (W) that the engine's spin gives back
// (9.2).
func (b *body) coastPushed(p *place, v, power float64) float64 {
	l := b.at(p, v)
	r := b.r0 + b.growth*v*v
	turning := b.wheelInertia * (1 - 2*b.growth*v*v/r) / (r * r)
	return (power/v - l.resist) / (b.mass + turning)
}
