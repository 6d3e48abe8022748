package gearbox_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
)

// 3000 cycles at a load whose life is 100,000 cycles use 3 % of the life
// (Rexnord, engineering article "What is Miner's Rule"); whatever the exponent.
func TestMinerPublished(t *testing.T) {
	at := []gearbox.Load{{Cycles: 3000, Size: 250}}
	for _, p := range []float64{1, 3, 8.738} {
		numtest.Equal(t, "damage", 0.03, gearbox.Miner(at, gearbox.Load{Cycles: 100000, Size: 250}, p), 0, 1e-14)
	}
	// Twice the load at exponent 3: an eighth of the life.
	numtest.Equal(t, "damage", 0.03*8, gearbox.Miner(at, gearbox.Load{Cycles: 100000, Size: 125}, 3), 0, 1e-14)
}

// The example of three torques, (100, 1e6), (200, 5e5), (300, 1e5), with the
// exponents of ISO 6336-6:2006 Annex A: case-hardened in pitting 6.610, in bending
// 8.738 (formula and exponents from memory; the figures were computed apart from
// this program).
func TestEquivalentLoadPublished(t *testing.T) {
	loads := []gearbox.Load{{Cycles: 1e6, Size: 100}, {Cycles: 5e5, Size: 200}, {Cycles: 1e5, Size: 300}}
	for p, want := range map[float64]float64{3: 168.833, 6.610: 206.378, 8.738: 221.851} {
		got := gearbox.EquivalentLoad(loads, p)
		numtest.Equal(t, "equivalent torque (N·m)", want, got, 0, 1e-5)
		// By definition it does the damage of all three.
		ref := gearbox.Load{Cycles: 3e6, Size: 260}
		numtest.Equal(t, "damage", gearbox.Miner(loads, ref, p), gearbox.Miner([]gearbox.Load{{Cycles: 1.6e6, Size: got}}, ref, p), 0, 1e-12)
	}
	numtest.Equal(t, "no cycles", 0, gearbox.EquivalentLoad(nil, 3), 0, 0)
	numtest.Equal(t, "no load", 0, gearbox.EquivalentLoad([]gearbox.Load{{Cycles: 3}}, 3), 0, 0)
}

// A plain mean of the loads underestimates: the power mean is never below it
// (Rexnord, the same article: 3000 cycles by the mean against 4749, ratio 0.632),
// and it rises with the exponent to the highest load.
func TestEquivalentLoadIsAPowerMean(t *testing.T) {
	loads := []gearbox.Load{{Cycles: 5, Size: 90}, {Cycles: 2, Size: 250}, {Cycles: 3, Size: 140}}
	before := 137.0 // N·m, the plain mean
	numtest.Equal(t, "exponent 1", before, gearbox.EquivalentLoad(loads, 1), 0, 1e-12)
	for _, p := range []float64{1.5, 3, 6.61, 8.738, 17.035} {
		got := gearbox.EquivalentLoad(loads, p)
		assert.Greater(t, got, before)
		assert.Less(t, got, 250.0)
		before = got
	}
	turned := slices.Clone(loads)
	slices.Reverse(turned)
	numtest.Equal(t, "any order", gearbox.EquivalentLoad(loads, 6.61), gearbox.EquivalentLoad(turned, 6.61), 0, 1e-13)
	// The other flank and a gear that does not turn do no damage.
	numtest.Equal(t, "coast", 0, gearbox.Miner([]gearbox.Load{{Cycles: 9, Size: -300}, {Size: 300}}, gearbox.Load{Cycles: 1, Size: 1}, 3), 0, 0)
}

// By hand: 80 mm centre distance and 20/30 teeth give r1 = 32 mm; 320 N·m in the
// layshaft are 10 kN at the tooth. A million turns at half of what the gears stand
// for 2 million cycles, exponent 4: 1e6/2e6 · (1/2)^4 = 1/32.
func TestDamageByHand(t *testing.T) {
	b := &gearbox.Box{CentreDistance: 0.080, Endurances: []gearbox.Endurance{
		{SlotKind: "narrow", Force: 20000, Cycles: 2e6, Exponent: 4},
		{SlotKind: "wide", Torque: 640, Cycles: 2e6, Exponent: 4},
	}}
	pair := gearbox.Teeth{Driving: 20, Driven: 30}
	numtest.Equal(t, "tooth force (N)", 10000, b.ToothForce(320, pair), 0, 1e-14)
	loads := []gearbox.Load{{Cycles: 1e6, Size: 320}}
	for _, kind := range []string{"narrow", "wide"} {
		got, known := b.Damage(kind, pair, loads)
		require.True(t, known)
		numtest.Equal(t, kind, 1.0/32, got, 0, 1e-14)
	}
	// A taller pair than 1:1: the mainshaft gear comes round more often, 3 times
	// for 2. r1 = 48 mm: a tooth force lower by 2/3.
	tall := gearbox.Teeth{Driving: 30, Driven: 20}
	got, _ := b.Damage("narrow", tall, loads)
	numtest.Equal(t, "mainshaft gear", 1.0/32*1.5*math.Pow(2.0/3, 4), got, 0, 1e-14)
	_, known := b.Damage("shaft-first", pair, loads)
	require.False(t, known)

	// A drop pair 20/30 slows the layshaft and raises its torque: work is kept.
	set := gearbox.Set{Drop: &gearbox.Drive{Teeth: pair}}
	slow := set.LayshaftLoads(loads)
	numtest.Equal(t, "turns", 1e6/1.5, slow[0].Cycles, 0, 1e-14)
	numtest.Equal(t, "torque (N·m)", 480, slow[0].Size, 0, 1e-14)
	require.Equal(t, loads, (&gearbox.Set{}).LayshaftLoads(loads))
}

// The embedded boxes state an endurance for every slot that a forward gear may
// stand in.
func TestEmbeddedEndurance(t *testing.T) {
	for _, name := range []string{"wren-six", "plover-five"} {
		b := box(t, name)
		for i := range b.Clusters {
			for g := 1; g <= b.Gears; g++ {
				kind := b.Slot(&b.Clusters[i], g).Kind
				e := b.Endurance(kind)
				require.NotNil(t, e, kind)
				require.NotEmpty(t, e.Source)
				require.NotEqual(t, e.Force > 0, e.Torque > 0)
			}
		}
	}
	numtest.Equal(t, "centre distance (m)", 0.080, box(t, "wren-six").CentreDistance, 0, 1e-15)
}
