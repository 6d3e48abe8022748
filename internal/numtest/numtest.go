package numtest

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// Equal fails the test, without stopping it, unless got is within absTol of
// want, or within relTol times the greater magnitude of the two. NaN never
// passes. An infinity equals only the infinity of the same sign. -0 equals 0.
func Equal(t testing.TB, what string, want, got, absTol, relTol float64) {
	t.Helper()
	if !validTol(absTol) || !validTol(relTol) {
		t.Errorf("%s: the tolerance is no tolerance: absolute %g, relative %g; it must be finite and >= 0", what, absTol, relTol)
		return
	}
	// The library refuses NaN too; this says so, and does not depend on it.
	if math.IsNaN(want) || math.IsNaN(got) {
		t.Errorf("%s: NaN never passes: want %v, got %v", what, want, got)
		return
	}
	if scalar.EqualWithinAbsOrRel(want, got, absTol, relTol) {
		return
	}
	t.Errorf("%s: want %.10g, got %.10g, difference %.3g, tolerance %g absolute or %g relative",
		what, want, got, got-want, absTol, relTol)
}

// EqualSlices compares element by element, and the lengths.
func EqualSlices(t testing.TB, what string, want, got []float64, absTol, relTol float64) {
	t.Helper()
	if len(want) != len(got) {
		t.Errorf("%s: want %d values, got %d", what, len(want), len(got))
		return
	}
	for i := range want {
		Equal(t, fmt.Sprintf("%s[%d]", what, i), want[i], got[i], absTol, relTol)
	}
}

// Finite fails the test for each value that is NaN or infinite.
func Finite(t testing.TB, what string, values ...float64) {
	t.Helper()
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%s: value %d is %v, want a finite number", what, i, v)
		}
	}
}

func validTol(tol float64) bool { return tol >= 0 && !math.IsInf(tol, 1) }
