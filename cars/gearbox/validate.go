package gearbox

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Validate holds the pair against the rules of a stock file and gives every
// fault: what passes can be written as a file and read back. A mark that is
// empty is set from the teeth; distances are rounded to the metre.
func (p *Pair) Validate() error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	text := func(what, v string) {
		if err := PlainName(what, v); err != nil {
			faults = append(faults, err)
		}
	}
	if p.ID == "" {
		fault("the id is empty: give the serial, or the team's own number")
	}
	text("id", p.ID)
	if strings.IndexAny(p.ID, "=+-@") == 0 {
		fault("id %q begins like a formula: a spreadsheet would calculate it; put a letter before it", p.ID)
	}
	if dateLike.MatchString(p.ID) {
		fault("id %q looks like a date that a spreadsheet made of tooth numbers; if it is a serial, put a letter before it", p.ID)
	}
	text("mark", p.Mark)
	text("group", p.Group)
	text("car", p.Car)
	if p.Half != "" && p.Half != LayshaftHalf && p.Half != MainshaftHalf {
		fault("half is %q: write %s or %s, or leave it out for a pair", p.Half, LayshaftHalf, MainshaftHalf)
	}
	teeth := func(what string, n int, other string) {
		switch {
		case p.Half == other && n != 0:
			fault("%s stands in a loose %s gear: leave it out", what, other)
		case p.Half != other && (n < minTeeth || n > maxTeeth):
			fault("%s is %d: give a whole number from %d to %d", what, n, minTeeth, maxTeeth)
		}
	}
	teeth("layshaft_teeth", p.Layshaft, MainshaftHalf)
	teeth("mainshaft_teeth", p.Mainshaft, LayshaftHalf)
	if len(p.Fits) == 0 {
		fault("fits is empty: name the kinds of slot that the pair fits, as the gearbox file does")
	}
	for _, kind := range p.Fits {
		if strings.TrimSpace(kind) == "" {
			fault("fits has an empty kind of slot")
		}
	}
	if p.DogSide != "" && !slices.Contains([]string{Inner, Outer, Both}, p.DogSide) {
		fault("dog_side is %q: write %s, %s or %s", p.DogSide, Inner, Outer, Both)
	}
	if p.Place != "" && !slices.Contains([]string{PlaceBox, PlaceShop, PlaceCar}, p.Place) {
		fault("place is %q: write %s or %s", p.Place, PlaceBox, PlaceShop)
	}
	faults = append(faults, p.validNumbers()...)
	if p.swapped() {
		fault("id %q names the teeth the other way round: layshaft_teeth is %d and mainshaft_teeth %d; are the columns swapped?", p.ID, p.Layshaft, p.Mainshaft)
	}
	if len(faults) == 0 && p.Half == "" && !p.markAgrees() {
		fault("mark %q does not agree with the teeth %d/%d: read the gears again", p.Mark, p.Layshaft, p.Mainshaft)
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	if p.Mark == "" {
		p.Mark = p.teethText()
	}
	return nil
}

// swapped tells whether the id begins with the pair's teeth in the wrong order,
// mainshaft/layshaft: one of the two is a slip, and a ratio upside down.
func (p *Pair) swapped() bool {
	word := p.ID
	if i := strings.IndexAny(word, " #"); i >= 0 { // "16/35 b", "16/35#2"
		word = word[:i]
	}
	return p.Half == "" && p.Layshaft != p.Mainshaft && word == fmt.Sprintf("%d/%d", p.Mainshaft, p.Layshaft)
}

// maxName is how many characters a name may have: more is a slip, such as a
// whole cell of remarks in the column of ids.
const maxName = 60

// PlainName refuses a name, what it is in words, that cannot be told from another
// one on paper: blanks at its ends, characters that do not print or have no
// width, more than maxName of them. The empty name passes.
func PlainName(what, v string) error {
	switch n := utf8.RuneCountInString(v); {
	case n > maxName:
		return fmt.Errorf("%s %q… has %d characters: at most %d", what, string([]rune(v)[:20]), n, maxName)
	case strings.TrimSpace(v) != v:
		return fmt.Errorf("%s %q begins or ends with a blank", what, v)
	case strings.ContainsFunc(v, func(r rune) bool { return !unicode.IsPrint(r) || r == utf8.RuneError }):
		return fmt.Errorf("%s %q holds a character that cannot be printed", what, v)
	}
	return nil
}

// validNumbers holds distances, counts and the place in the car against their
// ranges.
func (p *Pair) validNumbers() []error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	for _, d := range []struct {
		what string
		m    *float64
	}{{"run_km", &p.RunM}, {"life_km", &p.LifeM}, {"damage_over_km", &p.DamageM}, {"crack_tested_at_km", &p.Crack.AtM}, {"crack_test_every_km", &p.Crack.EveryM}} {
		if !(*d.m >= 0 && *d.m <= MaxRunM) {
			fault("%s is %g: give a distance from 0 to %g km", d.what, *d.m/metresPerKm, MaxRunM/metresPerKm)
		}
		*d.m = wholeMetres(*d.m)
	}
	if p.Crack.AtM > p.RunM {
		fault("crack_tested_at_km %g is more than run_km %g", p.Crack.AtM/metresPerKm, p.RunM/metresPerKm)
	}
	if !(p.Damage >= 0 && p.Damage <= maxDamage) {
		fault("damage_ratio is %g: give a number from 0 to %d", p.Damage, maxDamage)
	}
	for _, n := range []struct {
		what    string
		n, most int
	}{{"limiter_count", p.LimiterCount, maxEvents}, {"limiter_most_count", p.LimiterMost, maxEvents}, {"crack_test_every_days", p.Crack.Days, maxDays}, {"gear", p.Gear, maxGears}} {
		if n.n < 0 || n.n > n.most {
			fault("%s is %d: give a whole number from 0 to %d", n.what, n.n, n.most)
		}
	}
	inCar := p.Car != ""
	switch {
	case inCar != (p.Gear > 0), inCar != (p.Place == PlaceCar):
		fault("car %q, gear %d and place %q do not agree: a fitted pair has all three", p.Car, p.Gear, p.Place)
	case inCar && p.Half != "":
		fault("a loose gear without its mate cannot be fitted")
	case inCar && p.Retired:
		fault("a retired pair cannot be fitted")
	}
	return faults
}

// MaxRunM is a distance that no pair runs, m.
const MaxRunM = 1e9
