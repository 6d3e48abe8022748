package gearing

import (
	"math"
	"testing"

	"layshaft/internal/numtest"
)

// layout is a handbook's way to lay out the ratios between first and top gear.
type layout struct {
	name   string
	ratios func(first, top float64, gears int) []float64 // first gear first; first > top > 0, gears >= 2
}

// layouts are those from which the hand method starts.
func layouts() []layout {
	out := []layout{{"geometric", geometric}}
	for _, c := range []struct {
		name string
		phi2 float64
	}{{"progressive 1.05", 1.05}, {"progressive 1.10", 1.10}} {
		out = append(out, layout{c.name, func(first, top float64, gears int) []float64 {
			return progressive(first, top, gears, c.phi2)
		}})
	}
	return append(out, layout{"harmonic", harmonic})
}

// geometric has the same step everywhere, phi = (first/top)^(1/(z-1)), so that
// the engine drops by the same speed at every upshift. Definition: W. Liu, Hybrid
// Electric Vehicle System Modeling and Control, eq. 10.20 to 10.23.
func geometric(first, top float64, gears int) []float64 {
	phi := math.Pow(first/top, 1/float64(gears-1))
	out := make([]float64, gears)
	for n := range out {
		out[n] = first * math.Pow(phi, -float64(n))
	}
	return out
}

// progressive has steps that shrink by the factor phi2 from gear to gear:
// i(n) = top·phi1^(z-n)·phi2^((z-n)(z-n-1)/2), phi1 being the step into top.
// Naunheimer et al., Automotive Transmissions, 2nd edition, section 4.3 (from
// memory). phi2 = 1 is the geometric layout.
func progressive(first, top float64, gears int, phi2 float64) []float64 {
	z := float64(gears)
	phi1 := math.Pow(first/top/math.Pow(phi2, 0.5*(z-1)*(z-2)), 1/(z-1))
	out := make([]float64, gears)
	for n := range out {
		k := z - float64(n+1) // steps up to top
		out[n] = top * math.Pow(phi1, k) * math.Pow(phi2, 0.5*k*(k-1))
	}
	return out
}

// harmonic lets the road speed at one engine speed, which goes with 1/ratio, rise
// by the same amount from gear to gear. Definition: Liu, as above.
func harmonic(first, top float64, gears int) []float64 {
	out := make([]float64, gears)
	for n := range out {
		x := float64(n) / float64(gears-1)
		out[n] = 1 / ((1-x)/first + x/top)
	}
	return out
}

// layoutDigits is half of the last digit of the tables, which give six.
const layoutDigits = 6e-6

// TestLayouts holds the layouts to figures worked out by another hand from the
// definitions, and to what follows from them.
func TestLayouts(t *testing.T) {
	const first, top, gears = 3.6, 0.8, 6
	for _, c := range []struct {
		name string
		got  []float64
		want []float64
	}{
		// Definition seen in Liu, figures recomputed.
		{"geometric", geometric(first, top, gears), []float64{3.6, 2.66477, 1.97250, 1.46007, 1.08077, 0.8}},
		// Formula of Naunheimer et al. from memory, figures recomputed.
		{"progressive 1.05", progressive(first, top, gears, 1.05), []float64{3.6, 2.41703, 1.70392, 1.26127, 0.980288, 0.8}},
		{"progressive 1.10", progressive(first, top, gears, 1.10), []float64{3.6, 2.20229, 1.48197, 1.09698, 0.893197, 0.8}},
		// Definition seen in Liu, figures recomputed.
		{"harmonic", harmonic(first, top, gears), []float64{3.6, 2.11765, 1.5, 1.16129, 0.947368, 0.8}},
		// Algebra: without progression the steps are the same.
		{"progressive 1.00", progressive(first, top, gears, 1), geometric(first, top, gears)},
	} {
		numtest.EqualSlices(t, c.name, c.want, c.got, layoutDigits, 0)
	}
	steps := func(ratios []float64) (out []float64) {
		for n := range len(ratios) - 1 {
			out = append(out, ratios[n]/ratios[n+1])
		}
		return out
	}
	numtest.EqualSlices(t, "steps of progressive 1.05", []float64{1.48943, 1.41851, 1.35096, 1.28663, 1.22536},
		steps(progressive(first, top, gears, 1.05)), layoutDigits, 0)
	// Algebra, for other numbers of gears too: 1e-12 is rounding.
	for z := 4; z <= 8; z++ {
		for _, phi2 := range []float64{1.05, 1.10} {
			s, all := steps(progressive(first, top, z, phi2)), 1.0
			for n, step := range s {
				all *= step
				if n > 0 {
					numtest.Equal(t, "step over the next", phi2, s[n-1]/step, 0, 1e-12)
				}
			}
			numtest.Equal(t, "product of steps", first/top, all, 0, 1e-12)
			if (z-1)%2 == 1 {
				// With an odd number of steps the middle one is the geometric one.
				numtest.Equal(t, "middle step", steps(geometric(first, top, z))[0], s[(z-1)/2], 0, 1e-12)
			}
		}
		h := harmonic(first, top, z)
		for n := range z - 2 {
			numtest.Equal(t, "rise of road speed", 1/h[1]-1/h[0], 1/h[n+2]-1/h[n+1], 1e-12, 0)
		}
	}
}
