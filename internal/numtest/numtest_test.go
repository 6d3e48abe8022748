package numtest_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"layshaft/internal/numtest"
)

// recorder stands in for the test that calls numtest.
type recorder struct {
	testing.TB
	messages []string
}

func (r *recorder) Helper() {}
func (r *recorder) Errorf(format string, args ...any) {
	r.messages = append(r.messages, fmt.Sprintf(format, args...))
}

func TestEqual(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	cases := []struct {
		name                     string
		want, got, absTol, relTo float64
		pass                     bool
	}{
		{"the same", 1.5, 1.5, 0, 0, true},
		{"within absolute", 100, 100.4, 0.5, 0, true},
		{"on the absolute edge", 1, 1.5, 0.5, 0, true}, // 0.5 is exact in binary
		{"outside absolute", 100, 100.6, 0.5, 0, false},
		{"within relative", 1000, 1000.9, 0, 1e-3, true},
		{"outside relative", 1000, 1002, 0, 1e-3, false},
		{"either suffices", 0, 1e-12, 1e-9, 0, true},
		{"relative is no help at zero", 0, 1e-12, 0, 1e-3, false},
		{"negative zero", 0, math.Copysign(0, -1), 0, 0, true},
		{"sign counts", 1, -1, 0.1, 0.1, false},
		{"NaN got", 1, nan, 1e9, 1e9, false},
		{"NaN wanted", nan, 1, 1e9, 1e9, false},
		{"NaN twice", nan, nan, 1e9, 1e9, false},
		{"inf got", 1, inf, 1e9, 1e9, false},
		{"inf wanted", inf, 1, 1e9, 0.5, false},
		{"inf twice", inf, inf, 0, 0, true},
		{"inf of other sign", inf, -inf, 1e9, 1e9, false},
		{"NaN tolerance", 1, 1, nan, 0, false},
		{"NaN relative tolerance", 1, 1, 0, nan, false},
		{"negative tolerance", 1, 1, -1, 0, false},
		{"infinite tolerance", 1, 2, inf, 0, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := &recorder{}
			numtest.Equal(r, "speed, m/s", c.want, c.got, c.absTol, c.relTo)
			if passed := len(r.messages) == 0; passed != c.pass {
				t.Errorf("passed = %v, want %v; messages %q", passed, c.pass, r.messages)
			}
		})
	}
}

func TestEqualTellsAllThatIsNeeded(t *testing.T) {
	r := &recorder{}
	numtest.Equal(r, "lap time, s", 80, 81.25, 0.5, 1e-6)
	got := strings.Join(r.messages, "\n")
	for _, part := range []string{"lap time, s", "want 80", "got 81.25", "difference 1.25", "0.5 absolute", "1e-06 relative"} {
		if !strings.Contains(got, part) {
			t.Errorf("message %q lacks %q", got, part)
		}
	}
}

func TestEqualSaysThatItIsNaN(t *testing.T) {
	r := &recorder{}
	numtest.Equal(r, "force, N", math.NaN(), math.NaN(), 1, 1)
	if got := strings.Join(r.messages, ""); !strings.Contains(got, "force, N: NaN never passes") {
		t.Errorf("message %q", got)
	}
}

func TestEqualSlices(t *testing.T) {
	r := &recorder{}
	numtest.EqualSlices(r, "rpm", []float64{1, 2}, []float64{1}, 0, 0)
	numtest.EqualSlices(r, "rpm", []float64{1, 2}, []float64{1, 2}, 0, 0)
	numtest.EqualSlices(r, "rpm", []float64{1, 2}, []float64{1, math.NaN()}, 9, 9)
	if len(r.messages) != 2 || !strings.Contains(r.messages[1], "rpm[1]") {
		t.Errorf("messages: %q", r.messages)
	}
}

func TestFinite(t *testing.T) {
	r := &recorder{}
	numtest.Finite(r, "force, N", 0, -1, math.MaxFloat64)
	if len(r.messages) != 0 {
		t.Errorf("messages: %q", r.messages)
	}
	numtest.Finite(r, "force, N", math.NaN(), 1, math.Inf(-1))
	if len(r.messages) != 2 {
		t.Errorf("messages: %q", r.messages)
	}
}

func ExampleEqual() {
	var t testing.TB = &recorder{} // in a test: the t that it was given
	numtest.Equal(t, "ratio", 36.0/13, 2.769, 0.0005, 0)
	fmt.Println(len(t.(*recorder).messages), "failures")
	// Output: 0 failures
}
