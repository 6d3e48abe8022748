package gearbox

import "math"

// Endurance is what the gears of a slot kind stand, as the team's file states it:
// the load that they bear for Cycles load cycles, and how fast that number falls
// with the load. One of Force and Torque is stated.
type Endurance struct {
	SlotKind string
	Force    float64 // N, tangential at the pitch circle; 0 = Torque is stated
	Torque   float64 // N·m in the layshaft; 0 = Force is stated
	Cycles   float64 // load cycles at that load, > 0
	Exponent float64 // of the load: N = Cycles·(reference/load)^Exponent, >= 1
	Source   string  // where the figures come from, in words
}

// Load is a number of load cycles (or turns of a shaft) at one load.
type Load struct {
	Cycles float64 // >= 0
	Size   float64 // N or N·m, as the reference; what is not above zero does no damage
}

// Miner is the linear damage sum, the sum of n/N over the loads, with
// N = ref.Cycles·(ref.Size/size)^exponent: 1 is the end of life by it. The order
// of the loads does not matter, and no load is too small to count: a fatigue limit
// would lengthen the estimate.
//
// Source: Palmgren, Die Lebensdauer von Kugellagern, VDI-Z 68 (1924); Miner,
// Cumulative Damage in Fatigue, J. Appl. Mech. 12 (1945) A159; for gears ISO
// 6336-6:2006. All from memory.
func Miner(loads []Load, ref Load, exponent float64) float64 {
	sum := 0.0
	for _, l := range loads {
		if l.Size > 0 && l.Cycles > 0 {
			sum += l.Cycles / ref.Cycles * math.Pow(l.Size/ref.Size, exponent)
		}
	}
	return sum
}

// EquivalentLoad is the one load that does the damage of all loads in as many
// cycles, (sum n·F^p / sum n)^(1/p) (ISO 6336-6:2006 Annex A, from memory); 0
// without cycles.
func EquivalentLoad(loads []Load, exponent float64) float64 {
	n, highest := 0.0, 0.0
	for _, l := range loads {
		n += l.Cycles
		highest = max(highest, l.Size)
	}
	if !(n > 0) || !(highest > 0) {
		return 0
	}
	// Against the highest load, so that no power overflows.
	return highest * math.Pow(Miner(loads, Load{Cycles: n, Size: highest}, exponent), 1/exponent)
}

// Endurance is what the gears of a slot kind stand, nil where the file does not
// say.
func (b *Box) Endurance(kind string) *Endurance {
	for i := range b.Endurances {
		if b.Endurances[i].SlotKind == kind {
			return &b.Endurances[i]
		}
	}
	return nil
}

// ToothForce is the tangential force (N) at the pitch circle of a pair whose
// layshaft carries the torque (N·m): torque / r1, r1 = a·z1/(z1+z2) with a the
// centre distance. That is the rolling circle of the two gears on this centre
// distance, with profile shift or without; plain spur gears, no axial force. Of
// the tooth itself (module, profile shift, face width, root) nothing is known here:
// the reference load has it inside.
func (b *Box) ToothForce(torque float64, t Teeth) float64 {
	return torque * float64(t.Driving+t.Driven) / (b.CentreDistance * float64(t.Driving))
}

// Damage is the damage sum of a pair (driving = layshaft teeth) in a slot of a
// kind under loads of the layshaft: turns and torques (N·m). Each turn loads each
// tooth of the layshaft gear once and a tooth of the mainshaft gear
// driving/driven times; the gear with more load cycles counts. known is false
// where the file states no endurance for the kind.
func (b *Box) Damage(kind string, t Teeth, layshaft []Load) (sum float64, known bool) {
	e := b.Endurance(kind)
	if e == nil {
		return 0, false
	}
	perTurn := max(1, float64(t.Driving)/float64(t.Driven))
	ref, perTorque := Load{Cycles: e.Cycles, Size: e.Torque}, 1.0
	if e.Force > 0 {
		ref.Size, perTorque = e.Force, b.ToothForce(1, t)
	}
	loads := make([]Load, len(layshaft))
	for i, l := range layshaft {
		loads[i] = Load{Cycles: l.Cycles * perTurn, Size: l.Size * perTorque}
	}
	return Miner(loads, ref, e.Exponent), true
}

// LayshaftLoads turns loads of the input shaft (turns, N·m) into loads of the
// layshaft: the drop pair, where there is one, lies between the two (BenchCounts).
// Its losses are not taken off.
func (s *Set) LayshaftLoads(input []Load) []Load {
	ratio := 1.0
	if s.Drop != nil {
		ratio = s.Drop.Ratio()
	}
	out := make([]Load, len(input))
	for i, l := range input {
		out[i] = Load{Cycles: l.Cycles / ratio, Size: l.Size * ratio}
	}
	return out
}
