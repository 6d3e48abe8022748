package sim

import (
	"errors"
	"fmt"
	"math"

	"layshaft/cars"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// makePlace evaluates equations (2.1) to (4.3) x (m) into a segment.
func makePlace(car *cars.Car, seg *tracks.Segment, x float64, cond *Conditions) place {
	f := x / seg.Length
	k := seg.K0 + (seg.K1-seg.K0)*f
	bank := seg.Bank0 + (seg.Bank1-seg.Bank0)*f
	heading := seg.Heading - (seg.K0*x + 0.5*(seg.K1-seg.K0)*f*x) // (2.2)
	kv := seg.VerticalCurvature
	sb, cb := math.Sincos(bank)
	sg, cg := math.Sincos(seg.GradeAt(x))
	towD, towL := 1.0, 1.0
	if cond.towed(seg) {
		towD, towL = cond.TowDrag, cond.TowDownforce
	}
	const g = units.Gravity
	return place{
		gn: g * cg * cb, kn: k*sb + kv*cb,
		gy: -g * cg * sb, ky: k*cb - kv*sb,
		gx:   g * sg,
		wind: cond.WindSpeed * math.Cos(cond.WindFrom-heading),
		drag: 0.5 * cond.AirDensity * car.Aero.DragArea * towD,
		lift: 0.5 * cond.AirDensity * car.Aero.DownforceArea * towL,
		grip: seg.Grip * cond.Grip,
	}
}

// towed tells whether the tow acts on the segment.
func (c *Conditions) towed(seg *tracks.Segment) bool {
	for _, name := range c.TowWhere {
		if seg.Named(name) {
			return true
		}
	}
	return len(c.TowWhere) == 0
}

// liftSpeed is the square of the least speed (m²/s²) at which an axle's load
// (4.4), (4.5) comes down to zero at the place, longitudinal transfer apart;
// +Inf where none does: no crest, or downforce that outgrows it. 0 where an
// axle has no load at rest (a wind under a car that the air lifts).
func (b *body) liftSpeed(p *place) float64 {
	axle := func(share, aero float64) float64 {
		// N = share·m·(gn + kn·v²) + aero·lift·(v + wind)², in powers of v.
		air := aero * p.lift
		return leastRoot(
			share*b.mass*p.kn+air,
			2*air*p.wind,
			share*b.mass*p.gn+air*p.wind*p.wind)
	}
	v := min(axle(b.front, b.aeroF), axle(b.rear, b.aeroR))
	return v * v
}

// leastRoot is the least v >= 0 at which a·v² + b·v + c comes down to zero,
// +Inf if it never does, 0 if c is not above zero.
func leastRoot(a, b, c float64) float64 {
	if c <= 0 {
		return 0
	}
	disc := b*b - 4*a*c
	if disc < 0 {
		return math.Inf(1)
	}
	// Both roots without cancellation: q/a and c/q.
	q := -0.5 * (b + math.Copysign(math.Sqrt(disc), b))
	least := math.Inf(1)
	for _, v := range []float64{q / a, c / q} {
		if v > 0 && v < least { // also refuses the NaN of 0/0
			least = v
		}
	}
	return least
}

// checkConditions lists everything that is no weather, no tow, no load.
func checkConditions(c *Conditions) error {
	var faults []error
	positive := func(what string, v float64, want string) {
		if !(v > 0) || math.IsInf(v, 1) {
			faults = append(faults, fmt.Errorf("%s: %g is not > 0; give %s", what, v, want))
		}
	}
	positive("air density", c.AirDensity, "kg/m³, about 1.2 at sea level")
	positive("engine factor", c.EngineFactor, "the factor on the torque curve, 1 for none")
	positive("tow drag ratio", c.TowDrag, "drag in the tow / drag alone, 1 for no tow")
	positive("tow downforce ratio", c.TowDownforce, "downforce in the tow / downforce alone, 1 for no tow")
	positive("grip factor", c.Grip, "the factor on the tyres' grip, 1 for none")
	if !(c.Fuel >= 0) || math.IsInf(c.Fuel, 1) {
		faults = append(faults, fmt.Errorf("fuel: %g kg is not >= 0; give the kg on board, 0 for an empty tank", c.Fuel))
	}
	if !(math.Abs(c.WindSpeed) < 100) || math.IsNaN(c.WindFrom) || math.IsInf(c.WindFrom, 0) {
		faults = append(faults, fmt.Errorf("wind: %g m/s from %g rad is no wind; give less than 100 m/s and where it comes from", c.WindSpeed, c.WindFrom))
	}
	return errors.Join(faults...)
}

// checkTow lists the places of the tow that the track does not have.
func checkTow(c *Conditions, t *tracks.Track) error {
	var faults []error
	for _, name := range c.TowWhere {
		if err := t.CheckPlace(name); err != nil {
			faults = append(faults, fmt.Errorf("tow: %w", err))
		}
	}
	return errors.Join(faults...)
}

// steepest (rad) is 45 degrees, beyond which no car stands on its wheels.
const steepest = 45 * units.FromDeg

// checkTrack lists what this car cannot drive, each with its place. A track
// from a file has most of it checked before; one made in code has not.
func checkTrack(car *cars.Car, t *tracks.Track) error {
	var faults []error
	fault := func(i int, format string, args ...any) {
		faults = append(faults, fmt.Errorf("track %s, segment %d (%s): %s", t.Name, i+1, whereIs(t, i), fmt.Sprintf(format, args...)))
	}
	if len(t.Segments) == 0 {
		return fmt.Errorf("track %s has no segments; give at least one", t.Name)
	}
	tight := -1 // the corner last refused
	for i := range t.Segments {
		g := &t.Segments[i]
		if bad := notFinite(g); bad != "" {
			fault(i, "%s is not a finite number", bad)
			continue
		}
		if !(g.Length > 0) {
			fault(i, "its length of %g m is not > 0; give it a length or take it out", g.Length)
			continue
		}
		if !(g.Grip > 0) {
			fault(i, "its grip factor %g is not > 0; 1 is nominal", g.Grip)
		}
		if a, e := g.Grade, g.GradeAt(g.Length); max(math.Abs(a), math.Abs(e)) > steepest {
			worst := a
			if math.Abs(e) > math.Abs(a) {
				worst = e
			}
			fault(i, "a grade of %.1f degrees is steeper than 45; give rise over run, uphill positive", worst*units.ToDeg)
		}
		k := max(math.Abs(g.K0), math.Abs(g.K1))
		if k*0.5*car.Wheelbase > 1 && (g.Corner < 0 || g.Corner != tight) {
			tight = g.Corner
			fault(i, "a radius of %.2f m is less than half the wheelbase of car %s (%.2f m), and no steering turns so far; correct the radius or the wheelbase",
				1/k, car.Name, car.Wheelbase)
		}
	}
	return errors.Join(faults...)
}

// notFinite names the first number of the segment that is none.
func notFinite(g *tracks.Segment) string {
	for _, n := range []struct {
		what string
		v    float64
	}{
		{"start", g.Start}, {"length", g.Length}, {"curvature", g.K0}, {"curvature", g.K1},
		{"bank", g.Bank0}, {"bank", g.Bank1}, {"grade", g.Grade}, {"vertical curvature", g.VerticalCurvature},
		{"grip factor", g.Grip}, {"heading", g.Heading},
	} {
		if math.IsNaN(n.v) || math.IsInf(n.v, 0) {
			return "its " + n.what
		}
	}
	return ""
}

// whereIs names segment i for people, also on a track too faulty for
// tracks.Track.Place.
func whereIs(t *tracks.Track, i int) string {
	g := &t.Segments[i]
	if g.Corner >= 0 && g.Corner < len(t.Corners) {
		return t.Label(g.Corner)
	}
	return fmt.Sprintf("straight at %.0f m", g.Start)
}
