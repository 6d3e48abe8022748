package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
)

// Edit is a store that is being changed. Its methods check what they are given
// before they change anything; an error of any of them is to be returned by the
// function that was handed to Update, which then keeps nothing.
type Edit struct {
	*Snapshot
	newTexts map[string][]byte
	lines    []string
}

func (e *Edit) say(format string, args ...any) {
	e.lines = append(e.lines, fmt.Sprintf(format, args...))
}

func (e *Edit) summary() string { return strings.Join(e.lines, "; ") }

// Pair finds a pair by its id, or says which is meant.
func (s *Snapshot) Pair(id string) (*gearbox.Pair, error) {
	if p := s.Stock.Pair(id); p != nil {
		return p, nil
	}
	var ids, teeth []string
	for i := range s.Stock.Pairs {
		p := &s.Stock.Pairs[i]
		ids = append(ids, p.ID)
		if fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft) == id {
			teeth = append(teeth, p.ID)
		}
	}
	near, ok := datafile.Nearest(id, ids)
	switch {
	case len(teeth) > 0:
		return nil, fmt.Errorf("%q is not a pair of the store; with these teeth there are: %s", id, strings.Join(teeth, ", "))
	case ok:
		return nil, fmt.Errorf("%q is not a pair of the store: did you mean %s?", id, near)
	}
	if strings.Contains(id, ",") {
		return nil, fmt.Errorf("%q is not a pair of the store: write several pairs apart with blanks, and in quotes an id that has one", id)
	}
	return nil, fmt.Errorf("%q is not a pair of the store (it holds %d): see 'layshaft stock list'", id, len(ids))
}

// pairsOf finds several, all faults at once; each may be named once.
func (e *Edit) pairsOf(ids []string) ([]*gearbox.Pair, error) {
	var out []*gearbox.Pair
	var faults []error
	if len(ids) == 0 {
		return nil, errors.New("no pair is named")
	}
	for i, id := range ids {
		p, err := e.Pair(id)
		switch {
		case err != nil:
			faults = append(faults, err)
		case slices.Contains(ids[:i], id):
			faults = append(faults, fmt.Errorf("%s is named twice", id))
		default:
			out = append(out, p)
		}
	}
	return out, errors.Join(faults...)
}

// check holds what must be true of a store whatever was done to it.
func (s *Snapshot) check() error {
	ids, gears := map[string]bool{}, map[string]string{}
	for i := range s.Stock.Pairs {
		p := &s.Stock.Pairs[i]
		if ids[p.ID] {
			return fmt.Errorf("pair %s stands there twice", p.ID)
		}
		ids[p.ID] = true
		if (p.Car != "") != (p.Gear > 0) || (p.Car != "") != (p.Place == gearbox.PlaceCar) {
			return fmt.Errorf("pair %s: car %q, gear %d and place %q do not agree", p.ID, p.Car, p.Gear, p.Place)
		}
		if p.Car == "" {
			continue
		}
		key := fmt.Sprintf("%s gear %d", p.Car, p.Gear)
		if other := gears[key]; other != "" {
			return fmt.Errorf("pairs %s and %s would both be in car %s", other, p.ID, key)
		}
		gears[key] = p.ID
	}
	return errors.Join(checkDrives("final drive", s.Stock.Finals), checkDrives("drop pair", s.Stock.Drops))
}

// checkDrives: a car has one of a kind, and no more are fitted than there are.
func checkDrives(what string, all []gearbox.Drive) error {
	in := map[string]string{}
	for i := range all {
		d := &all[i]
		if len(d.FittedIn) > d.Count {
			return fmt.Errorf("%s %s: there are %d, and they would be in car %s", what, d.Name, d.Count, strings.Join(d.FittedIn, ", "))
		}
		for _, car := range d.FittedIn {
			if other := in[car]; other != "" {
				return fmt.Errorf("%s %s and %s would both be in car %s", what, other, d.Name, car)
			}
			in[car] = d.Name
		}
	}
	return nil
}

// Import takes over pairs and drives of a stock. Pairs counted more than once
// get identities with a number behind; a pair that the store holds just so is
// passed over. A pair of which the file does not say where it is stays where it
// is. One that it holds with other values is a fault unless replace is
// set, and so is a drive.
func (e *Edit) Import(from *gearbox.Stock, replace bool) error {
	have := map[string]int{}
	for i := range e.Stock.Pairs {
		have[e.Stock.Pairs[i].ID] = i
	}
	added, changed := 0, 0
	var faults []error
	for _, p := range identities(from) {
		i, ok := have[p.ID]
		if ok && p.Place == "" { // the file does not say where it is: it stays where it is
			old := &e.Stock.Pairs[i]
			p.Place, p.Car, p.Gear = old.Place, old.Car, old.Gear
		}
		switch {
		case !ok:
			have[p.ID] = len(e.Stock.Pairs)
			e.Stock.Pairs = append(e.Stock.Pairs, p)
			added++
		case samePair(&e.Stock.Pairs[i], &p):
		case replace:
			was := &e.Stock.Pairs[i]
			for _, car := range []string{was.Car, p.Car} {
				if was.Layshaft != p.Layshaft || was.Mainshaft != p.Mainshaft || was.Car != p.Car || was.Gear != p.Gear {
					delete(e.builtFrom, car) // its sheet does not say what is in the car any more
				}
			}
			e.Stock.Pairs[i] = p
			changed++
		default:
			faults = append(faults, fmt.Errorf("pair %s is in the store with other values; --replace takes those of the file", p.ID))
		}
	}
	drives := func(what string, into *[]gearbox.Drive, all []gearbox.Drive) {
		for _, d := range all {
			if d.Fitted && len(d.FittedIn) == 0 {
				d.FittedIn = []string{gearbox.DefaultCar}
			}
			d.Fitted = false
			i := slices.IndexFunc(*into, func(o gearbox.Drive) bool { return o.Name == d.Name })
			switch {
			case i < 0:
				*into = append(*into, d)
				added++
			case fmt.Sprintf("%+v", (*into)[i]) == fmt.Sprintf("%+v", d):
			case replace:
				(*into)[i] = d
				changed++
			default:
				faults = append(faults, fmt.Errorf("%s %s is in the store with other values; --replace takes those of the file", what, d.Name))
			}
		}
	}
	drives("final drive", &e.Stock.Finals, from.Finals)
	drives("drop pair", &e.Stock.Drops, from.Drops)
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	e.say("%d added, %d changed", added, changed)
	return nil
}

func samePair(a, b *gearbox.Pair) bool {
	return fmt.Sprintf("%+v", pairToRecord(a)) == fmt.Sprintf("%+v", pairToRecord(b))
}

// identities makes one pair of each that a stock counts. None is made of a
// count of 0: what is not there has no identity.
func identities(s *gearbox.Stock) []gearbox.Pair {
	taken := map[string]bool{}
	for i := range s.Pairs {
		taken[s.Pairs[i].ID] = true
	}
	var out []gearbox.Pair
	for i := range s.Pairs {
		p := s.Pairs[i]
		p.NotFree, p.InspectionWhy = "", ""
		if g := slices.Index(s.Fitted, p.ID); g >= 0 && p.Car == "" {
			p.Car, p.Gear, p.Place = gearbox.DefaultCar, g+1, gearbox.PlaceCar
		}
		id, n := p.ID, p.Count
		p.Count = 1
		for k, made := 1, 0; made < n; k++ {
			if n > 1 {
				p.ID = fmt.Sprintf("%s#%d", id, k)
				if taken[p.ID] {
					continue
				}
			}
			if made > 0 && p.Car != "" { // one of them is fitted, the others lie beside
				p.Car, p.Gear, p.Place = "", 0, ""
			}
			taken[p.ID] = true
			out = append(out, p)
			made++
		}
	}
	return out
}
