package gearbox

import (
	"fmt"
	"slices"

	"layshaft/internal/datafile"
)

// damageFile is one [[damage]] of a gearbox file: what the gears of a slot kind
// stand. Optional, as is all that speaks of it.
type damageFile struct {
	SlotKind string  `toml:"slot_kind"`
	Force    float64 `toml:"tooth_force_n"`
	Torque   float64 `toml:"layshaft_torque_nm"`
	Cycles   float64 `toml:"cycles_count"`
	Exponent float64 `toml:"exponent_coef"`
	Source   string  `toml:"source"`
}

const metresPerMilli = 1e-3 // exact

// damages checks the centre distance and every [[damage]]. The bounds are wide
// enough for any gearbox and too narrow for a wrong unit.
func (b *Box) damages(d *datafile.Doc, f *boxFile) {
	d.Between("centre_distance_mm", f.CentreDistance, 20, 500)
	b.CentreDistance = f.CentreDistance * metresPerMilli
	for i, e := range f.Damages {
		key := fmt.Sprintf("damage[%d]", i+1)
		d.Need(key+".slot_kind", key+".cycles_count", key+".exponent_coef", key+".source")
		needText(d, key+".slot_kind", e.SlotKind)
		needText(d, key+".source", e.Source)
		if d.Has(key+".slot_kind") && e.SlotKind != "" {
			switch {
			case !slices.ContainsFunc(f.Slots, func(s slotFile) bool { return s.Kind == e.SlotKind }):
				d.Fault(key+".slot_kind", "no [[slot]] is of kind %q", e.SlotKind)
			case b.Endurance(e.SlotKind) != nil:
				d.Fault(key+".slot_kind", "%q is stated by an earlier [[damage]]; state each kind once", e.SlotKind)
			}
		}
		force, torque := d.Has(key+".tooth_force_n"), d.Has(key+".layshaft_torque_nm")
		switch {
		case force && torque:
			d.Fault(key+".layshaft_torque_nm", "stands beside tooth_force_n; state one of the two")
		case !force && !torque:
			d.Fault(key+".tooth_force_n", "is missing; state tooth_force_n, or layshaft_torque_nm, that the gears stand for cycles_count")
		case force && !d.Has("centre_distance_mm"):
			d.Fault(key+".tooth_force_n", "needs centre_distance_mm, from which the radius of the pitch circle follows; add it, or state layshaft_torque_nm")
		}
		d.Between(key+".tooth_force_n", e.Force, 10, 1e6)
		d.Between(key+".layshaft_torque_nm", e.Torque, 1, 1e5)
		d.Between(key+".cycles_count", e.Cycles, 1e2, 1e12)
		d.Between(key+".exponent_coef", e.Exponent, 1, 30)
		b.Endurances = append(b.Endurances, Endurance(e))
	}
}
