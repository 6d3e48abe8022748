package datafile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Need faults each key that is absent and returns true if none is. A key whose
// misspelling was reported already is not reported again; nor are the keys of a
// table or list that is itself absent or faulty.
func (d *Doc) Need(keys ...string) bool {
	all := true
	for _, key := range keys {
		if d.Has(key) {
			continue
		}
		all = false
		if d.meant[key] {
			continue
		}
		msg := "is missing"
		if what := wanted(d.schema, key); what != "" {
			msg += " (" + what + ")"
		}
		d.Fault(key, "%s", msg)
	}
	return all
}

// Positive faults a value that is not finite and > 0. Like all the checks
// below it reports nothing if the key is absent, and returns whether the value
// holds.
func (d *Doc) Positive(key string, v float64) bool {
	return d.check(key, v > 0, v, "> 0")
}

// NonNegative faults a value that is not finite and >= 0.
func (d *Doc) NonNegative(key string, v float64) bool {
	return d.check(key, v >= 0, v, ">= 0")
}

// Between faults a value outside the closed range lo to hi.
func (d *Doc) Between(key string, v, lo, hi float64) bool {
	return d.check(key, v >= lo && v <= hi, v, "between "+number(lo)+" and "+number(hi))
}

func (d *Doc) check(key string, holds bool, v float64, want string) bool {
	if holds && !math.IsInf(v, 0) {
		return !d.spoilt(key)
	}
	if d.Has(key) {
		d.Fault(key, "%s is not %s", number(v), want)
	}
	return false
}

// Increasing faults a list that is not finite and strictly increasing: the
// first element that is not greater than the one before it, with the number of
// further ones. Lists of less than two elements increase.
func (d *Doc) Increasing(key string, v []float64) bool {
	first, more := -1, 0
	for i, x := range v {
		bad := math.IsNaN(x) || math.IsInf(x, 0) || i > 0 && !(x > v[i-1])
		switch {
		case bad && first < 0:
			first = i
		case bad:
			more++
		}
	}
	if first < 0 {
		return !d.spoilt(key)
	}
	if !d.Has(key) {
		return false
	}
	msg := number(v[first]) + " is not a finite number"
	if first > 0 {
		msg = fmt.Sprintf("%s is not > %s, the value before it; sort the list and merge equal values",
			number(v[first]), number(v[first-1]))
	}
	if more > 0 {
		msg += fmt.Sprintf(" (and so at %d more places)", more)
	}
	d.Fault(itemKey(key, first+1), "%s", msg)
	return false
}

// OneOf faults a text that is not one of those allowed, with the nearest.
func (d *Doc) OneOf(key, v string, allowed ...string) bool {
	if slices.Contains(allowed, v) {
		return !d.spoilt(key)
	}
	if !d.Has(key) {
		return false
	}
	quoted := make([]string, len(allowed))
	for i, a := range allowed {
		quoted[i] = strconv.Quote(a)
	}
	msg := fmt.Sprintf("%s is not one of %s", short(v), strings.Join(quoted, ", "))
	if near, ok := Nearest(v, allowed); ok {
		msg += fmt.Sprintf("; did you mean %q?", near)
	}
	d.Fault(key, "%s", msg)
	return false
}

// Whole returns v as an int, and faults one that is not whole or outside the
// closed range lo to hi. The result is 0, false unless v holds.
func (d *Doc) Whole(key string, v float64, lo, hi int) (int, bool) {
	if v != math.Trunc(v) || math.IsInf(v, 0) {
		if d.Has(key) {
			d.Fault(key, "%s is not a whole number", number(v))
		}
		return 0, false
	}
	if v < float64(lo) || v > float64(hi) {
		if d.Has(key) {
			d.Fault(key, "%s is not a whole number between %d and %d", number(v), lo, hi)
		}
		return 0, false
	}
	return int(v), !d.spoilt(key)
}

// number writes a value the way a person would have typed it.
func number(v float64) string {
	switch {
	case math.IsNaN(v):
		return "nan"
	case math.IsInf(v, 1):
		return "inf"
	case math.IsInf(v, -1):
		return "-inf"
	case v == 0:
		return "0"
	case math.Abs(v) >= 1e-4 && math.Abs(v) < 1e15:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
