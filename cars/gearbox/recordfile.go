package gearbox

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/datafile"
)

// Bounds for counts and intervals: outside them a number is a typing error.
const (
	maxEvents = 1_000_000
	maxDays   = 3650
	maxDamage = 1000
)

// record reads what the pair's card says beside its teeth. A stock file may do
// without; a pair store exports and imports it.
func (p *Pair) record(d *datafile.Doc, key string, f *pairFile) {
	p.RunM, p.LifeM = wholeMetres(p.RunM), wholeMetres(p.LifeM)
	p.Retired, p.Causes, p.Place, p.Car = f.Retired, f.Causes, f.Place, f.Car
	if d.Has(key + ".place") {
		d.OneOf(key+".place", f.Place, PlaceBox, PlaceShop, PlaceCar)
	}
	p.fittedPlace(d, key, f)
	d.NonNegative(key+".damage_ratio", f.Damage)
	d.Between(key+".damage_ratio", f.Damage, 0, maxDamage)
	d.NonNegative(key+".damage_over_km", f.DamageKm)
	p.Damage, p.DamageM = f.Damage, wholeMetres(f.DamageKm*metresPerKm)
	p.crackTest(d, key, f)
	p.LimiterCount, _ = d.Whole(key+".limiter_count", f.LimiterCount, 0, maxEvents)
	p.LimiterMost, _ = d.Whole(key+".limiter_most_count", f.LimiterMost, 0, maxEvents)
	for i, c := range f.Causes {
		needText(d, fmt.Sprintf("%s.inspection_causes[%d]", key, i+1), c)
	}
}

// fittedPlace: car and gear come together, and mean that the pair is in a car.
func (p *Pair) fittedPlace(d *datafile.Doc, key string, f *pairFile) {
	hasCar, hasGear := d.Has(key+".car"), d.Has(key+".gear")
	if hasCar != hasGear {
		d.Fault(key, "car and gear go together: write both for a pair that is fitted, or neither")
		return
	}
	if !hasCar {
		if f.Place == PlaceCar {
			d.Fault(key+".place", "is %q, but car and gear are missing", PlaceCar)
		}
		return
	}
	needText(d, key+".car", f.Car)
	p.Gear, _ = d.Whole(key+".gear", f.Gear, 1, maxGears)
	switch {
	case d.Has(key+".place") && f.Place != PlaceCar:
		d.Fault(key+".place", "is %q, but the pair is fitted in car %q", f.Place, f.Car)
	case p.Half != "":
		d.Fault(key+".car", "a loose gear without its mate cannot be fitted")
	case f.Retired:
		d.Fault(key+".retired", "a retired pair cannot be fitted")
	case p.Count > 1:
		d.Fault(key+".pair_count", "is %d, but one of them is fitted: write it as a pair of its own", p.Count)
	}
	p.Place = PlaceCar
}

func (p *Pair) crackTest(d *datafile.Doc, key string, f *pairFile) {
	days, _ := d.Whole(key+".crack_test_every_days", f.CrackEveryDays, 0, maxDays)
	d.NonNegative(key+".crack_test_every_km", f.CrackEveryKm)
	d.NonNegative(key+".crack_tested_at_km", f.CrackTestedKm)
	p.Crack = CrackTest{Days: days, EveryM: wholeMetres(f.CrackEveryKm * metresPerKm), AtM: wholeMetres(f.CrackTestedKm * metresPerKm)}
	if d.Has(key + ".crack_tested") {
		day, err := ParseDay(strings.TrimSpace(f.CrackTested))
		if err != nil {
			d.Fault(key+".crack_tested", "%s", err)
		}
		p.Crack.On = day
	}
	if p.Crack.AtM > p.RunM {
		d.Fault(key+".crack_tested_at_km", "%g is more than run_km %g", f.CrackTestedKm, p.RunM/metresPerKm)
	}
}

// wholeMetres rounds a distance: kilometres are booked and written to the
// metre, so that a file that is written and read again says the same.
func wholeMetres(m float64) float64 { return math.Round(m) }
