package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
)

// Fitting is a set that goes into a car.
type Fitting struct {
	Use    gearbox.Use     // the car, the day, what a named person allowed
	Pairs  []string        // ids by gear, first gear first
	Teeth  []gearbox.Teeth // as the ratio sheet says, by gear; must be the store's
	Final  string          // name of the final drive; "" = it stays
	Drop   string          // name of the drop pair; "" = it stays, or there is none
	Text   []byte          // the saved ratio sheet; may be nil
	Issued *Issued         // nil = the sheet has no number
}

// Fit books a set as fitted. What was in the car before and does not stay goes
// into the box. Each pair must be free for the use.
func (e *Edit) Fit(f *Fitting) error {
	if f.Use.Car == "" {
		return errors.New("a set is fitted into a car: name it")
	}
	if err := CarName(f.Use.Car); err != nil {
		return err
	}
	if f.Issued != nil {
		if later := e.Replaced(f.Issued); later != nil {
			return fmt.Errorf("the sheet is SUPERSEDED by %s: fit that one", later.Name())
		}
	}
	pairs, err := e.pairsOf(f.Pairs)
	if err != nil {
		return err
	}
	var faults []error
	for i, p := range pairs {
		if len(f.Teeth) == len(pairs) && (f.Teeth[i].Driving != p.Layshaft || f.Teeth[i].Driven != p.Mainshaft) {
			faults = append(faults, fmt.Errorf("gear %d: pair %s has %s teeth in the store, %d/%d on the sheet", i+1, p.ID, teeth(p), f.Teeth[i].Driving, f.Teeth[i].Driven))
		}
		_, waived := f.Use.Waived[p.ID]
		for _, h := range f.Use.Hindrances(p) {
			if !waived || !h.Waivable() {
				faults = append(faults, fmt.Errorf("gear %d: pair %s may not be fitted: %s", i+1, p.ID, h.Text))
			}
		}
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	var out, in []string
	for _, p := range e.Fitted(f.Use.Car) {
		if !slices.Contains(f.Pairs, p.ID) {
			p.Place = gearbox.PlaceBox
			out = append(out, p.ID)
		}
		p.Car, p.Gear = "", 0
	}
	for i, p := range pairs {
		if p.Place != gearbox.PlaceCar {
			in = append(in, p.ID)
		}
		p.Car, p.Gear, p.Place = f.Use.Car, i+1, gearbox.PlaceCar
	}
	for _, d := range []struct {
		what, name string
		all        []gearbox.Drive
	}{{"final drive", f.Final, e.Stock.Finals}, {"drop pair", f.Drop, e.Stock.Drops}} {
		if err := fitDrive(d.what, d.name, d.all, f.Use.Car); err != nil {
			return err
		}
	}
	if len(in)+len(out) == 0 {
		e.say("car %s: the set that is in it", f.Use.Car)
	} else {
		e.say("car %s: in %s; out %s", f.Use.Car, orNothing(in), orNothing(out))
	}
	if f.Text == nil {
		delete(e.builtFrom, f.Use.Car)
		return nil
	}
	sum := sha256.Sum256(f.Text)
	e.builtFrom[f.Use.Car] = hex.EncodeToString(sum[:])
	if e.newTexts == nil {
		e.newTexts = map[string][]byte{}
	}
	e.newTexts[e.builtFrom[f.Use.Car]] = f.Text
	if f.Issued != nil {
		return e.Issue(*f.Issued)
	}
	return nil
}

// CarName refuses a car's name that could not be read back from a table, where bars
// stand between cars, or could not be read on paper.
func CarName(car string) error {
	if strings.ContainsAny(car, "|;") {
		return fmt.Errorf("car %q: a bar or semicolon cannot stand in its name", car)
	}
	return gearbox.PlainName("car", car)
}

func orNothing(ids []string) string {
	if len(ids) == 0 {
		return "nothing"
	}
	return strings.Join(ids, ", ")
}

func fitDrive(what, name string, all []gearbox.Drive, car string) error {
	if name == "" {
		return nil
	}
	i := slices.IndexFunc(all, func(d gearbox.Drive) bool { return d.Name == name })
	if i < 0 {
		return fmt.Errorf("%s %s is not in the store", what, name)
	}
	if !slices.Contains(all[i].FittedIn, car) && len(all[i].FittedIn) >= all[i].Count {
		return fmt.Errorf("%s %s: there are %d, and they are in car %s: fit a sheet with another one there first", what, name, all[i].Count, strings.Join(all[i].FittedIn, ", "))
	}
	for j := range all {
		all[j].FittedIn = slices.DeleteFunc(slices.Clone(all[j].FittedIn), func(c string) bool { return c == car })
	}
	all[i].FittedIn = append(all[i].FittedIn, car)
	slices.Sort(all[i].FittedIn)
	return nil
}

// Unfit takes all pairs out of a car, into the box; with drives its final drive
// and drop pair too.
func (e *Edit) Unfit(car string, drives bool) error {
	fitted := e.Fitted(car)
	freed := drives && (freeDrives(e.Stock.Finals, car)+freeDrives(e.Stock.Drops, car)) > 0
	if len(fitted) == 0 && !freed {
		return fmt.Errorf("nothing is fitted in car %q%s", car, e.carsText())
	}
	var ids []string
	for _, p := range fitted {
		p.Car, p.Gear, p.Place = "", 0, gearbox.PlaceBox
		ids = append(ids, p.ID)
	}
	delete(e.builtFrom, car)
	e.say("car %s: out %s", car, orNothing(ids))
	if freed {
		e.say("its final drive and drop pair too")
	}
	return nil
}

// freeDrives takes the car off the drives that are in it, and counts them.
func freeDrives(all []gearbox.Drive, car string) int {
	n := 0
	for i := range all {
		if at := slices.Index(all[i].FittedIn, car); at >= 0 {
			all[i].FittedIn = slices.Delete(slices.Clone(all[i].FittedIn), at, at+1)
			n++
		}
	}
	return n
}

func (s *Snapshot) carsText() string {
	if cars := s.Cars(); len(cars) > 0 {
		return ": there are pairs in car " + strings.Join(cars, ", ")
	}
	return ""
}

// Run is what a car has done with the set that is in it.
type Run struct {
	Car      string
	Distance float64   // m, > 0
	Laps     float64   // of the ratio sheet's lap; for the damage estimate; 0 = none booked
	Damage   []float64 // by gear, share of life in one lap, below 0 = not known; nil = none is
	Pairs    []string  // ids by gear that are believed to be fitted; nil = whatever is
	Limiter  int       // times on the limiter, from the logger
	OverRevs int       // from the logger
	OverRPM  float64   // 1/min, the highest; 0 = not said
	Day      gearbox.Day
}

// Book adds a run to every pair in the car, drives aside. An over-rev is a cause
// for inspection of all of them: which gear it was felt in, no count tells.
func (e *Edit) Book(r *Run) error {
	fitted := e.Fitted(r.Car)
	switch {
	case len(fitted) == 0:
		return fmt.Errorf("nothing is fitted in car %q%s", r.Car, e.carsText())
	case !(r.Distance > 0) || math.IsInf(r.Distance, 0):
		return fmt.Errorf("%g m is not a distance", r.Distance)
	case r.Limiter < 0 || r.OverRevs < 0:
		return errors.New("a count is below 0")
	}
	var ids []string
	for _, p := range fitted {
		ids = append(ids, p.ID)
	}
	if r.Pairs != nil && !slices.Equal(ids, r.Pairs) {
		return fmt.Errorf("the sheet's set is not the one in car %s: fitted are %s, the sheet has %s: 'stock fit' the sheet first, or book without it",
			r.Car, strings.Join(ids, ", "), strings.Join(r.Pairs, ", "))
	}
	m := math.Round(r.Distance)
	for _, p := range fitted {
		if p.RunM+m > gearbox.MaxRunM {
			return fmt.Errorf("%s would have run %.0f km: is the distance of %.1f km right?", p.ID, (p.RunM+m)/1000, m/1000)
		}
	}
	for i, p := range fitted {
		p.RunM += m
		p.LimiterCount += r.Limiter
		if len(r.Damage) == len(fitted) && r.Damage[i] >= 0 {
			p.Damage += r.Damage[i] * r.Laps
			p.DamageM += m
		}
		if r.OverRevs > 0 {
			p.Causes = append(p.Causes, r.overRev())
		}
	}
	text := fmt.Sprintf("car %s: %.1f km on %s", r.Car, m/1000, strings.Join(ids, ", "))
	if r.Limiter > 0 {
		text += fmt.Sprintf("; %d times on the limiter", r.Limiter)
	}
	if r.OverRevs > 0 {
		text += "; " + r.overRev()
	}
	e.say("%s", text)
	return nil
}

func (r *Run) overRev() string {
	text := "over-rev"
	if r.OverRevs > 1 {
		text = fmt.Sprintf("%d over-revs", r.OverRevs)
	}
	if r.OverRPM > 0 {
		text += fmt.Sprintf(" to %.0f rpm", r.OverRPM)
	}
	if r.Day > 0 {
		text += " on " + r.Day.String()
	}
	return text
}

// maxRevision is more than an event has; a greater one would block all later.
const maxRevision = 9999

// Issue notes an issued ratio sheet. Its number can be given once; the same
// sheet may be noted again.
func (e *Edit) Issue(s Issued) error {
	if s.Revision > maxRevision {
		return fmt.Errorf("revision %d is no number that a sheet has: at most %d", s.Revision, maxRevision)
	}
	if s.Revision < 1 {
		return errors.New("a sheet without a revision is not issued: make it with --revision N, counted from 1")
	}
	if known := e.Known(&s); known != nil {
		if known.SHA256 == s.SHA256 {
			return nil
		}
		return fmt.Errorf("revision %d of this sheet (%s) was issued before, with another content: give the new one the next number", s.Revision, s.words())
	}
	if later := e.Replaced(&s); later != nil {
		return fmt.Errorf("revision %d of this sheet (%s) was issued before: number %d comes too late", later.Revision, s.words(), s.Revision)
	}
	e.Sheets = append(e.Sheets, s)
	e.say("sheet issued: %s, revision %d", s.words(), s.Revision)
	return nil
}

func (s *Issued) words() string {
	var out []string
	for _, w := range []string{s.Track, s.Event, s.Session} {
		if w != "" {
			out = append(out, w)
		}
	}
	return "car " + s.Car + ", " + strings.Join(out, ", ")
}
