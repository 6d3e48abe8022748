package cars

import "math"

// Capacity returns the longitudinal and the lateral force (N) that the two
// tyres of an axle can each give alone when the axle carries load (N), with
// both grip coefficients multiplied by grip.
//
// The coefficient falls with the load n of one tyre by the linear law
//
//	mu(n) = mu0·(1 - k·(n/n0 - 1))
//
// with mu0 at the reference load n0 and k = LoadSensitivity; the axle's two
// tyres share its load evenly (lateral load transfer is left out). Source of
// the law: W. F. Milliken, D. L. Milliken, Race Car Vehicle Dynamics, SAE
// 1995, ch. 2 (load sensitivity), as a straight line through its data; from
// memory. mu(n)·n peaks at n = n0·(1+k)/(2k); beyond, where the straight line
// says nothing about a real tyre, the force is held at the peak, so that more
// load never means less grip. Zero for load <= 0 and for NaN.
func (t *Tyre) Capacity(load, grip float64) (x, y float64) {
	if !(load > 0) {
		return 0, 0
	}
	k := t.LoadSensitivity
	n := 0.5 * load / t.RefLoad // of one tyre, in reference loads
	if 2*k*n > 1+k {
		n = (1 + k) / (2 * k)
	}
	f := 2 * t.RefLoad * n * (1 + k - k*n) * grip
	return t.MuX * f, t.MuY * f
}

// LoadForLateral is the inverse of Capacity sideways: the least axle load (N)
// at which the axle can give a lateral force fy (N). It is 0 for fy <= 0 and
// +Inf where no load is enough.
func (t *Tyre) LoadForLateral(fy, grip float64) float64 {
	if !(fy > 0) {
		return 0
	}
	mu := t.MuY * grip
	if !(mu > 0) {
		return math.Inf(1)
	}
	k := t.LoadSensitivity
	q := 0.5 * fy / (mu * t.RefLoad) // n·(1+k-k·n) = q, n in reference loads
	disc := (1+k)*(1+k) - 4*k*q
	if disc < 0 {
		return math.Inf(1)
	}
	// The smaller root, written without cancellation; q itself for k = 0.
	n := 2 * q / (1 + k + math.Sqrt(disc))
	return 2 * n * t.RefLoad
}

// Radius is the rolling radius (m) of the driven wheels at v (m/s): it grows
// with the square of the speed as the wheel's spin stretches the tyre.
func (c *Car) Radius(v float64) float64 { return c.TyreRadius + c.TyreGrowth*v*v }
