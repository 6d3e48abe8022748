package gearbox

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"layshaft/internal/datafile"
)

// Bounds for tooth numbers and counts in files: outside them a number is a
// typing error.
const (
	minTeeth, maxTeeth = 8, 120
	maxCount           = 1000
)

type stockFile struct {
	Name   string      `toml:"name"`
	Title  string      `toml:"title"`
	Fitted []string    `toml:"fitted"`
	Pairs  []pairFile  `toml:"pair"`
	Finals []driveFile `toml:"final_drive"`
	Drops  []driveFile `toml:"drop_pair"`
}

type pairFile struct {
	ID            string   `toml:"id"`
	Layshaft      float64  `toml:"layshaft_teeth"`
	Mainshaft     float64  `toml:"mainshaft_teeth"`
	Mark          string   `toml:"mark"`
	Count         float64  `toml:"pair_count"`
	Fits          []string `toml:"fits"`
	DogSide       string   `toml:"dog_side"`
	Group         string   `toml:"group"`
	RunKm         float64  `toml:"run_km"`
	LifeKm        float64  `toml:"life_km"`
	InspectionDue bool     `toml:"inspection_due"`
	Note          string   `toml:"note"`

	// The pair's card: see record.
	Half           string   `toml:"half"`
	Retired        bool     `toml:"retired"`
	Place          string   `toml:"place"`
	Car            string   `toml:"car"`
	Gear           float64  `toml:"gear"`
	Damage         float64  `toml:"damage_ratio"`
	DamageKm       float64  `toml:"damage_over_km"`
	CrackTested    string   `toml:"crack_tested"`
	CrackTestedKm  float64  `toml:"crack_tested_at_km"`
	CrackEveryDays float64  `toml:"crack_test_every_days"`
	CrackEveryKm   float64  `toml:"crack_test_every_km"`
	LimiterCount   float64  `toml:"limiter_count"`
	LimiterMost    float64  `toml:"limiter_most_count"`
	Causes         []string `toml:"inspection_causes"`
}

type driveFile struct {
	Name    string  `toml:"name"`
	Driving float64 `toml:"driving_teeth"`
	Driven  float64 `toml:"driven_teeth"`
	Count   float64 `toml:"pair_count"`
	Fitted  bool    `toml:"fitted"`

	FittedIn []string `toml:"fitted_in"`
}

// ParseStock reads a stock file. The error lists every fault with its place; a
// stock is returned only when there is none. A mark that is not written is
// made of the two tooth numbers, layshaft first.
func ParseStock(src datafile.Source) (*Stock, error) {
	var f stockFile
	d, err := datafile.Decode(src, &f)
	if err != nil {
		return nil, err
	}
	d.Need("name")
	needText(d, "name", f.Name)
	s := &Stock{Name: f.Name, Title: f.Title, Fitted: f.Fitted}
	if len(f.Pairs) == 0 {
		d.Fault("pair", "the stock is empty; write at least one [[pair]] with id, layshaft_teeth, mainshaft_teeth, pair_count and fits")
	}
	if len(f.Finals) == 0 {
		d.Fault("final_drive", "no final drive; write at least one [[final_drive]] with name, driving_teeth, driven_teeth and pair_count")
	}
	ids := map[string]int{}
	for i := range f.Pairs {
		key := fmt.Sprintf("pair[%d]", i+1)
		p := convertPair(d, key, &f.Pairs[i])
		if first, ok := ids[p.ID]; ok && p.ID != "" {
			d.Fault(key+".id", "%q is the id of pair[%d] too; ids must differ", p.ID, first)
		} else {
			ids[p.ID] = i + 1
		}
		s.Pairs = append(s.Pairs, p)
	}
	s.Finals = convertDrives(d, "final_drive", f.Finals)
	s.Drops = convertDrives(d, "drop_pair", f.Drops)
	checkFitted(d, s)
	if err := d.Err(); err != nil {
		return nil, err
	}
	s.Warnings = stockToothSums(s.Pairs)
	return s, nil
}

func convertPair(d *datafile.Doc, key string, f *pairFile) Pair {
	d.Need(key+".id", key+".pair_count", key+".fits")
	p := Pair{
		ID: f.ID, Mark: f.Mark, Fits: f.Fits, DogSide: f.DogSide, Group: f.Group, Note: f.Note,
		RunM: f.RunKm * metresPerKm, LifeM: f.LifeKm * metresPerKm, InspectionDue: f.InspectionDue,
	}
	needText(d, key+".id", f.ID)
	refuseDate(d, key+".id", f.ID)
	for _, one := range [][2]string{{"id", f.ID}, {"mark", f.Mark}, {"group", f.Group}, {"car", f.Car}} {
		if err := PlainName("the text", one[1]); err != nil {
			d.Fault(key+"."+one[0], "%s", err)
		}
	}
	layOK := p.teeth(d, key, f)
	p.Count, _ = d.Whole(key+".pair_count", f.Count, 0, maxCount)
	if d.Has(key+".fits") && len(f.Fits) == 0 {
		d.Fault(key+".fits", "is empty; name the kinds of slot that the pair fits")
	}
	for i, kind := range f.Fits {
		if strings.TrimSpace(kind) == "" {
			d.Fault(key+".fits", "kind %d is empty", i+1)
		}
	}
	if d.Has(key + ".dog_side") {
		d.OneOf(key+".dog_side", f.DogSide, Inner, Outer, Both)
	}
	needText(d, key+".group", f.Group)
	d.NonNegative(key+".run_km", f.RunKm)
	d.Positive(key+".life_km", f.LifeKm)
	if p.swapped() {
		d.Fault(key+".id", "%q names the teeth the other way round: layshaft_teeth is %d and mainshaft_teeth %d; are they swapped?", p.ID, p.Layshaft, p.Mainshaft)
	}
	if p.Mark == "" {
		p.Mark = p.teethText()
	} else if !refuseDate(d, key+".mark", p.Mark) && layOK && p.Half == "" && !p.markAgrees() {
		d.Fault(key+".mark", "%q does not agree with layshaft_teeth %d and mainshaft_teeth %d; read the gears again", p.Mark, p.Layshaft, p.Mainshaft)
	}
	p.record(d, key, f)
	return p
}

// teeth reads both tooth numbers, of a loose gear the one that it has, and
// reports whether they are good.
func (p *Pair) teeth(d *datafile.Doc, key string, f *pairFile) bool {
	if d.Has(key+".half") && d.OneOf(key+".half", f.Half, LayshaftHalf, MainshaftHalf) {
		p.Half = f.Half
	}
	ok := true
	read := func(name, other string, v float64) int {
		if p.Half == other {
			if d.Has(key + name) {
				d.Fault(key+name, "stands in a loose %s gear; leave it out, or leave half out for a pair", other)
			}
			return 0
		}
		d.Need(key + name)
		n, good := d.Whole(key+name, v, minTeeth, maxTeeth)
		ok = ok && good
		return n
	}
	p.Layshaft = read(".layshaft_teeth", MainshaftHalf, f.Layshaft)
	p.Mainshaft = read(".mainshaft_teeth", LayshaftHalf, f.Mainshaft)
	return ok
}

// teethText is "16/35", of a loose gear "16/-" or "-/35".
func (p *Pair) teethText() string {
	switch p.Half {
	case LayshaftHalf:
		return fmt.Sprintf("%d/-", p.Layshaft)
	case MainshaftHalf:
		return fmt.Sprintf("-/%d", p.Mainshaft)
	}
	return fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
}

// markAgrees is false for a mark made of two numbers that are not the pair's.
// Either order is accepted, since shops differ; a mark of another make-up is the
// team's own affair.
func (p *Pair) markAgrees() bool {
	parts := strings.FieldsFunc(p.Mark, func(r rune) bool { return r == '/' || r == '-' || r == ':' || r == ' ' })
	if len(parts) != 2 {
		return true
	}
	a, errA := strconv.Atoi(parts[0])
	b, errB := strconv.Atoi(parts[1])
	if errA != nil || errB != nil {
		return true
	}
	return (a == p.Layshaft && b == p.Mainshaft) || (a == p.Mainshaft && b == p.Layshaft)
}

func convertDrives(d *datafile.Doc, table string, files []driveFile) []Drive {
	var out []Drive
	names := map[string]int{}
	fittedAt := 0
	for i, f := range files {
		key := fmt.Sprintf("%s[%d]", table, i+1)
		d.Need(key+".name", key+".driving_teeth", key+".driven_teeth", key+".pair_count")
		needText(d, key+".name", f.Name)
		refuseDate(d, key+".name", f.Name)
		if first, ok := names[f.Name]; ok && f.Name != "" {
			d.Fault(key+".name", "%q is the name of %s[%d] too; names must differ", f.Name, table, first)
		} else {
			names[f.Name] = i + 1
		}
		dr := Drive{Name: f.Name, Fitted: f.Fitted, FittedIn: f.FittedIn}
		dr.Driving, _ = d.Whole(key+".driving_teeth", f.Driving, minTeeth, maxTeeth)
		dr.Driven, _ = d.Whole(key+".driven_teeth", f.Driven, minTeeth, maxTeeth)
		dr.Count, _ = d.Whole(key+".pair_count", f.Count, 0, maxCount)
		if f.Fitted {
			if fittedAt > 0 {
				d.Fault(key+".fitted", "%s[%d] is fitted already; only one can be", table, fittedAt)
			} else {
				fittedAt = i + 1
			}
			if dr.Count == 0 && d.Has(key+".pair_count") {
				d.Fault(key+".pair_count", "is 0, but it is fitted; count the one in the car too")
			}
		}
		out = append(out, dr)
	}
	return out
}

// checkFitted checks the fitted set: known ids, each once, in the car and so
// counted, ratios falling from first gear up.
func checkFitted(d *datafile.Doc, s *Stock) {
	if n := len(s.Fitted); d.Has("fitted") && (n < minGears || n > maxGears) {
		d.Fault("fitted", "holds %d pairs; write one id for each gear (%d to %d), first gear first, or leave the key out", n, minGears, maxGears)
	}
	var before *Pair
	for i, id := range s.Fitted {
		key := fmt.Sprintf("fitted[%d]", i+1)
		p := s.Pair(id)
		switch {
		case p == nil:
			d.Fault(key, "%q is not the id of a pair in this stock", id)
		case slices.Contains(s.Fitted[:i], id):
			d.Fault(key, "%q is fitted twice", id)
		case p.Count == 0:
			d.Fault(key, "%q has pair_count 0; count the one in the car too", id)
		case p.Car != "" && (p.Car != DefaultCar || p.Gear != i+1):
			d.Fault(key, "%q is fitted in car %s as gear %d by its own card; correct one of the two", id, p.Car, p.Gear)
		case before != nil && before.Layshaft > 0 && p.Layshaft > 0 && p.Ratio() >= before.Ratio():
			d.Fault(key, "%q has ratio %.3f, not below %.3f of the gear before; write first gear first", id, p.Ratio(), before.Ratio())
		}
		if p != nil {
			before = p
		}
	}
}
