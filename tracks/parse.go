package tracks

import (
	"fmt"
	"math"
	"path"
	"strings"

	"layshaft/internal/datafile"
	"layshaft/internal/units"
)

// Tolerances of closure where the file gives none.
const (
	defaultClose       = 1.0                 // m
	defaultCloseAngle  = 0.1 * units.FromDeg // rad
	defaultCloseHeight = 1.0                 // m
)

// Parse reads a track file: strictly, and with every fault of the file in one
// error (see package datafile). Values that no circuit has (a radius of 0, a
// bank of 60°) are refused, since they are nearly always a wrong unit or a
// wrong sign. Closure is checked once the segments themselves are sound.
func Parse(src datafile.Source) (*Track, error) {
	var f file
	d, err := datafile.Decode(src, &f)
	if err != nil {
		return nil, err
	}
	t := &Track{
		Name:     strings.TrimSuffix(path.Base(src.Name), ".toml"),
		Title:    f.Title,
		Heading:  f.HeadingDeg * units.FromDeg,
		Altitude: f.AltitudeM,
		PitLimit: f.PitLimitKmh * units.FromKmh,
		PitExit:  f.PitExitM,
	}
	r := rules{d}
	parseHead(r, &f)
	pieces, sound := parseSegments(r, f.Segment)
	if sound {
		b := build(t, pieces)
		r.need("pit_exit_m", f.PitExitM, f.PitExitM < t.Length,
			"is beyond the lap of %s m; measure it from the start line in the direction of travel", short(t.Length))
		b.checkClosure(r, &f)
	}
	parseNoShift(r, &f, t, sound)
	places := parsePlaces(r, &f, t, sound)
	if err := d.Err(); err != nil {
		return nil, err
	}
	return t.named(places), nil
}

// rules states what is wrong together with what to do about it.
type rules struct{ *datafile.Doc }

// need faults a key that was written and whose value v does not hold. The
// message begins with the value.
func (r rules) need(key string, v float64, holds bool, format string, args ...any) bool {
	if holds && !math.IsNaN(v) && !math.IsInf(v, 0) {
		return true
	}
	if r.Has(key) {
		r.Fault(key, "%s %s", short(v), fmt.Sprintf(format, args...))
	}
	return false
}

// within faults a value outside lo to hi (both allowed).
func (r rules) within(key string, v, lo, hi float64, remedy string) bool {
	return r.need(key, v, v >= lo && v <= hi, "is not between %s and %s; %s", short(lo), short(hi), remedy)
}

// short writes a number the way a person would, to the micrometre.
func short(v float64) string {
	if math.Abs(v) >= 1e9 { // would be a row of digits
		return fmt.Sprintf("%g", v)
	}
	s := fmt.Sprintf("%.6f", v)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	switch s {
	case "-0", "":
		return "0"
	}
	return s
}

// parseHead checks what stands before the segments.
func parseHead(r rules, f *file) {
	r.Need("title", "heading_deg", "altitude_m", "pit_limit_kmh", "pit_exit_m")
	if r.Has("title") && strings.TrimSpace(f.Title) == "" {
		r.Fault("title", "is empty; give the name of the circuit")
	}
	r.within("heading_deg", f.HeadingDeg, 0, 360, "give the direction of travel at the start line, clockwise from true north")
	r.within("altitude_m", f.AltitudeM, -430, 5000, "give metres above sea level")
	r.within("pit_limit_kmh", f.PitLimitKmh, 10, 400, "give the speed limit of the pit lane in km/h")
	r.within("pit_exit_m", f.PitExitM, 0, maxLength, "give metres from the start line to where the limit ends")
	r.within("close_m", f.CloseM, 1e-6, 20, "give the gap that is allowed, in metres, or leave it out")
	r.within("close_deg", f.CloseDeg, 1e-6, 5, "give the error of the turned angle that is allowed, in degrees, or leave it out")
	r.within("close_height_m", f.CloseHeightM, 1e-6, 50, "give the error of height over a lap that is allowed, in metres, or leave it out")
}

// parseNoShift places the spans. placed tells whether t has its segments.
func parseNoShift(r rules, f *file, t *Track, placed bool) {
	for i, n := range f.NoShift {
		key := fmt.Sprintf("no_shift[%d]", i+1)
		from, to := key+".from_m", key+".to_m"
		span := Span{Name: n.Name, Start: n.FromM, End: n.ToM}
		if r.Has(key + ".corner") {
			if r.Has(from) || r.Has(to) {
				r.Fault(key, "has a corner and also from_m or to_m; keep one of the two ways")
				continue
			}
			corner, ok := findCorner(r, f, key+".corner", n.Corner)
			if !ok || !placed {
				continue
			}
			span.Start, span.End = t.Corners[corner].Start, t.Corners[corner].End
			if span.Name == "" {
				span.Name = n.Corner
			}
			t.NoShift = append(t.NoShift, span)
			continue
		}
		if !r.Has(from) && !r.Has(to) {
			r.Fault(key, "says no place; give corner, or from_m and to_m")
			continue
		}
		if !r.Need(from, to) || !placed {
			continue
		}
		const remedy = "measure it from the start line; a span over the line has from_m > to_m"
		ok := r.within(from, n.FromM, 0, t.Length, remedy)
		ok = r.within(to, n.ToM, 0, t.Length, remedy) && ok
		if ok && n.FromM == n.ToM {
			r.Fault(to, "%s is also where the span begins; a span has a length", short(n.ToM))
			continue
		}
		if span.Name == "" {
			span.Name = fmt.Sprintf("%.0f to %.0f m", n.FromM, n.ToM)
		}
		t.NoShift = append(t.NoShift, span)
	}
}

// findCorner returns the number (from 0) of the corner with a name.
func findCorner(r rules, f *file, key, name string) (int, bool) {
	var names []string
	for _, s := range f.Segment {
		if s.Kind != "corner" {
			continue
		}
		if s.Name == name && name != "" {
			return len(names), true
		}
		names = append(names, s.Name)
	}
	msg := fmt.Sprintf("%q is no corner of this track", name)
	if near, ok := datafile.Nearest(name, names); ok {
		msg += fmt.Sprintf("; did you mean %q?", near)
	} else {
		msg += "; write the name as it stands in its segment"
	}
	r.Fault(key, "%s", msg)
	return 0, false
}
