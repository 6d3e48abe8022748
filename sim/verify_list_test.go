package sim

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"layshaft/internal/numtest"
)

var update = flag.Bool("update", false, "rewrite VERIFICATION.md")

// figure is one number of a check: what the source says and what the program
// computed.
type figure struct {
	what      string // with its unit
	want, got float64
}

// check is one row, or a few, of VERIFICATION.md and a test at the same time.
type check struct {
	name   string
	source string
	tol    float64 // relative, or in the figure's unit when abs
	abs    bool
	refine int // every step of the mesh cut into 2^refine
	run    func(t testing.TB, refine int) []figure
}

// checks is the list that TestVerification runs and that VERIFICATION.md shows.
// A new check is a new line here, or in one of the lists that it joins.
func checks() []check {
	var all []check
	for _, part := range [][]check{
		straightChecks(), gearChecks(), brakeChecks(), cornerChecks(), lapChecks(), accuracyChecks(),
	} {
		all = append(all, part...)
	}
	return all
}

// off is the difference of a figure in the terms of the check's tolerance.
func (c *check) off(f figure) float64 {
	d := math.Abs(f.got - f.want)
	if c.abs {
		return d
	}
	return d / math.Max(math.Abs(f.want), math.Abs(f.got))
}

// worst keeps, of many figures of one kind, the one that is furthest off.
type worst struct {
	what string
	f    figure
	off  float64
	n    int
}

func (w *worst) add(want, got float64) {
	d := math.Abs(got-want) / math.Max(math.Abs(want), math.Abs(got))
	if w.n == 0 || d > w.off || math.IsNaN(d) && !math.IsNaN(w.off) {
		w.f, w.off = figure{w.what, want, got}, d
	}
	w.n++
}

// TestVerification holds every check to its tolerance and VERIFICATION.md to
// what was computed; -update rewrites the page.
func TestVerification(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and on one goroutine")
	}
	var rows bytes.Buffer
	list, ran := checks(), 0
	for _, c := range list {
		t.Run(c.name, func(t *testing.T) {
			ran++
			figures := c.run(t, c.refine)
			if len(figures) == 0 {
				t.Fatal("the check compares nothing")
			}
			var plain []figure
			if c.refine > 0 {
				plain = c.run(t, 0)
			}
			for i, f := range figures {
				abs, rel := 0.0, c.tol
				if c.abs {
					abs, rel = c.tol, 0
				}
				numtest.Equal(t, f.what, f.want, f.got, abs, rel)
				asGiven := "the same"
				if c.refine > 0 {
					asGiven = bound(c.off(plain[i]), c.abs)
				}
				fmt.Fprintf(&rows, "| %s: %s | %s | %s | %s | %s | %s | %d | %s |\n",
					c.name, f.what, c.source, digits(f.want), digits(f.got),
					bound(c.off(f), c.abs), tolerance(c.tol, c.abs), 1<<c.refine, asGiven)
			}
		})
	}
	if ran < len(list) || t.Failed() {
		return // part of a page, or a wrong one
	}
	page := strings.Replace(pageHead, "{ROWS}", rows.String(), 1)
	if *update {
		if err := os.WriteFile("VERIFICATION.md", []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	have, err := os.ReadFile("VERIFICATION.md")
	if err != nil {
		t.Fatal(err)
	}
	if string(have) == page {
		return
	}
	got, want := strings.Split(string(have), "\n"), strings.Split(page, "\n")
	i := 0
	for i < len(got)-1 && i < len(want)-1 && got[i] == want[i] {
		i++
	}
	t.Errorf("VERIFICATION.md is out of date from line %d on; if the change is meant, run\n\tgo test ./sim -run TestVerification -update\npage:     %s\ncomputed: %s",
		i+1, got[i], want[i])
}

// digits prints so few digits that every machine agrees on them.
func digits(x float64) string {
	if math.Abs(x) < leastBound {
		return "0"
	}
	return fmt.Sprintf("%.6g", x)
}

// leastBound is the least difference worth telling: below it lie rounding and
// the ends of bisections, which another machine may do otherwise.
const leastBound = 1e-9

// bound is the least of 1, 2 and 5 times a power of ten that is above x with a
// tenth to spare, so that the page does not hang on the last digit of x.
func bound(x float64, abs bool) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return fmt.Sprint(x)
	}
	b, step := leastBound, []float64{2, 2.5, 2}
	for i := 0; b < 1.1*x; i++ {
		b *= step[i%len(step)]
	}
	return "< " + tolerance(b, abs)
}

func tolerance(x float64, abs bool) string {
	s := strings.Replace(fmt.Sprintf("%.0e", x), "e-0", "e-", 1)
	if abs {
		s += " abs."
	}
	return s
}

const pageHead = `# Verification of the lap

Each row compares a number of the program with one from outside it: a formula in closed form, a worked example, a second computation that shares nothing with the solver. Where the model of [MODEL.md](MODEL.md) reduces to a case that has such an answer, the case is driven as a whole lap or stretch by the solver, and the number is read from the lap's samples or times. Where many samples are compared, the row shows the one that is furthest off.

- *Difference* and *tolerance* are relative to the number unless marked "abs.", which is in the unit of the row. A difference is given as an upper bound, not below 1e-9, so that every machine writes the same page.
- *Steps*: into how many each step of the solver's mesh was cut. 1 is the lap as everybody gets it; where that is not good enough for the tolerance, the last column says how good it is. The lap states its own error for these steps.
- "From memory" marks a source that was not opened when the check was written. "Derived" is mathematics from the equations of the model.

The page is written by the checks themselves, from one list, and a test fails when it is out of date:

    go test ./sim -run TestVerification           # checks and page
    go test ./sim -run TestVerification -update   # writes the page anew

A check is added as an element of the list in ` + "`verify_list_test.go`" + ` or of one that it joins.

| check | source | expected | computed | difference | tolerance | steps | difference with 1 |
|---|---|---|---|---|---|---|---|
{ROWS}`
