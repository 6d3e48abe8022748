package store

import (
	"errors"
	"fmt"
	"strings"

	"layshaft/cars/gearbox"
)

// Add puts a new pair into the store.
func (e *Edit) Add(p gearbox.Pair) error {
	if strings.TrimSpace(p.ID) == "" {
		return errors.New("a pair needs an id: its serial, or the team's own number")
	}
	if e.Stock.Pair(p.ID) != nil {
		return fmt.Errorf("pair %s is in the store already: choose another id, or 'stock amend' it", p.ID)
	}
	p.Count = 1
	e.Stock.Pairs = append(e.Stock.Pairs, p)
	e.say("%s added: %s", p.ID, teeth(&p))
	return nil
}

func teeth(p *gearbox.Pair) string {
	switch p.Half {
	case gearbox.LayshaftHalf:
		return fmt.Sprintf("loose layshaft gear, %d teeth", p.Layshaft)
	case gearbox.MainshaftHalf:
		return fmt.Sprintf("loose mainshaft gear, %d teeth", p.Mainshaft)
	}
	return fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
}

// Amend corrects a pair's card; change gets a copy. Its id stays.
func (e *Edit) Amend(id string, change func(*gearbox.Pair) error) error {
	p, err := e.Pair(id)
	if err != nil {
		return err
	}
	c := *p
	if err := change(&c); err != nil {
		return err
	}
	if p.Car != "" && (c.Layshaft != p.Layshaft || c.Mainshaft != p.Mainshaft) {
		return fmt.Errorf("%s is fitted in car %s as gear %d with %s teeth: take it out ('stock unfit') before its card says %s, since the sheet that the car was built from would be wrong",
			p.ID, p.Car, p.Gear, teeth(p), teeth(&c))
	}
	c.ID, c.Count = p.ID, 1
	*p = c
	e.say("%s amended", id)
	return nil
}

// Mate makes a pair out of two loose gears, which leave the store: it has run as
// far as the one that has run further, and may run as far as the one that may
// run less. Whether the maker lets them run together is not the program's to say.
func (e *Edit) Mate(layshaft, mainshaft string, p gearbox.Pair) error {
	both, err := e.pairsOf([]string{layshaft, mainshaft})
	if err != nil {
		return err
	}
	lay, main := both[0], both[1]
	var faults []error
	if lay.Half != gearbox.LayshaftHalf {
		faults = append(faults, fmt.Errorf("%s is not a loose layshaft gear", lay.ID))
	}
	if main.Half != gearbox.MainshaftHalf {
		faults = append(faults, fmt.Errorf("%s is not a loose mainshaft gear", main.ID))
	}
	for _, half := range both {
		if half.Retired {
			faults = append(faults, fmt.Errorf("%s is retired", half.ID))
		}
	}
	if e.Stock.Pair(p.ID) != nil {
		faults = append(faults, fmt.Errorf("pair %s is in the store already: choose another id", p.ID))
	}
	fits := common(lay.Fits, main.Fits)
	if len(fits) == 0 {
		faults = append(faults, fmt.Errorf("there is no slot that both fit: %s fits %s, %s fits %s",
			lay.ID, strings.Join(lay.Fits, ", "), main.ID, strings.Join(main.Fits, ", ")))
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	// The card starts as that of the gear which has run further: its crack test
	// is the one that falls due first or, where the other's does, is asked anew.
	worse, other := *lay, *main
	if main.RunM > lay.RunM {
		worse, other = *main, *lay
	}
	made := worse
	made.ID, made.Half, made.Count = p.ID, "", 1
	made.Layshaft, made.Mainshaft = lay.Layshaft, main.Mainshaft
	made.Mark = p.Mark
	if made.Mark == "" {
		made.Mark = fmt.Sprintf("%d/%d", made.Layshaft, made.Mainshaft)
	}
	made.Fits = fits
	if made.DogSide == "" {
		made.DogSide = other.DogSide
	}
	made.Damage, made.DamageM = max(lay.Damage, main.Damage), min(lay.DamageM, main.DamageM)
	made.LimiterCount = max(lay.LimiterCount, main.LimiterCount)
	if made.LifeM == 0 || (other.LifeM > 0 && other.LifeM < made.LifeM) {
		made.LifeM = other.LifeM
	}
	made.InspectionDue = lay.InspectionDue || main.InspectionDue
	made.Causes = append(append([]string(nil), lay.Causes...), main.Causes...)
	if other.Crack != worse.Crack {
		made.Causes = append(made.Causes, "made of two gears with crack tests of their own: test them together")
	}
	made.Crack.Days = int(shorter(float64(lay.Crack.Days), float64(main.Crack.Days)))
	made.Crack.EveryM = shorter(lay.Crack.EveryM, main.Crack.EveryM)
	made.LimiterMost = int(shorter(float64(lay.LimiterMost), float64(main.LimiterMost)))
	made.Note = strings.TrimSpace(fmt.Sprintf("made of %s and %s. %s", lay.ID, main.ID, p.Note))
	if err := made.Validate(); err != nil {
		return err
	}
	gone := map[string]bool{lay.ID: true, main.ID: true}
	kept := e.Stock.Pairs[:0]
	for _, q := range e.Stock.Pairs {
		if !gone[q.ID] {
			kept = append(kept, q)
		}
	}
	e.Stock.Pairs = append(kept, made)
	e.say("%s made of %s and %s: %s", made.ID, layshaft, mainshaft, teeth(&made))
	return nil
}

// shorter is the tighter of two intervals, of which 0 means none.
func shorter(a, b float64) float64 {
	if a == 0 || (b > 0 && b < a) {
		return b
	}
	return a
}

func common(a, b []string) []string {
	var out []string
	for _, x := range a {
		for _, y := range b {
			if x == y {
				out = append(out, x)
			}
		}
	}
	return out
}

// Inspect books an inspection with a crack test. What passed is good for
// another interval, its causes and limiter count are cleared; what failed is
// retired, which a fitted pair cannot be.
func (e *Edit) Inspect(ids []string, day gearbox.Day, passed bool) error {
	pairs, err := e.pairsOf(ids)
	if err != nil {
		return err
	}
	var faults []error
	for _, p := range pairs {
		switch {
		case day == 0:
			faults = append(faults, errors.New("an inspection needs its day"))
		case p.Retired:
			faults = append(faults, fmt.Errorf("%s is retired", p.ID))
		case passed && day < p.Crack.On:
			faults = append(faults, fmt.Errorf("%s: the day %s is before the last crack test, %s", p.ID, day, p.Crack.On))
		}
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	if !passed {
		e.say("failed the inspection of %s", day)
		return e.Retire(ids)
	}
	for _, p := range pairs {
		p.Crack.On, p.Crack.AtM = day, p.RunM
		p.InspectionDue, p.Causes, p.LimiterCount = false, nil, 0
	}
	e.say("%s passed the inspection of %s", strings.Join(ids, ", "), day)
	return nil
}

// Retire takes pairs out of use for good. A fitted pair has to come out first.
func (e *Edit) Retire(ids []string) error {
	pairs, err := e.pairsOf(ids)
	if err != nil {
		return err
	}
	var faults []error
	for _, p := range pairs {
		switch {
		case p.Retired:
			faults = append(faults, fmt.Errorf("%s is retired already", p.ID))
		case p.Car != "":
			faults = append(faults, fmt.Errorf("%s is fitted in car %s as gear %d: take it out first ('stock fit' another set, or 'stock unfit')", p.ID, p.Car, p.Gear))
		}
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	for _, p := range pairs {
		p.Retired = true
	}
	e.say("%s retired", strings.Join(ids, ", "))
	return nil
}

// Move says where pairs are now: PlaceBox or PlaceShop.
func (e *Edit) Move(ids []string, place string) error {
	pairs, err := e.pairsOf(ids)
	if err != nil {
		return err
	}
	if place != gearbox.PlaceBox && place != gearbox.PlaceShop {
		return fmt.Errorf("%q is not a place: %s or %s", place, gearbox.PlaceBox, gearbox.PlaceShop)
	}
	var faults []error
	for _, p := range pairs {
		if p.Car != "" {
			faults = append(faults, fmt.Errorf("%s is fitted in car %s as gear %d: take it out with 'stock fit' or 'stock unfit'", p.ID, p.Car, p.Gear))
		}
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	for _, p := range pairs {
		p.Place = place
	}
	e.say("%s to the %s", strings.Join(ids, ", "), place)
	return nil
}
