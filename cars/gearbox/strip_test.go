package gearbox_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
)

func box(t testing.TB, name string) *gearbox.Box {
	t.Helper()
	src, err := datafile.Read(name, gearbox.Embedded(), gearbox.BoxDir, ".toml")
	require.NoError(t, err)
	b, err := gearbox.ParseBox(src)
	require.NoError(t, err)
	return b
}

func stock(t testing.TB, name string) *gearbox.Stock {
	t.Helper()
	src, err := datafile.Read(name, gearbox.Embedded(), gearbox.StockDir, ".toml")
	require.NoError(t, err)
	s, err := gearbox.ParseStock(src)
	require.NoError(t, err)
	return s
}

// Layout 1-3, 2-5, 4-6 with stack 1, 3, 2, 5, 4, 6: sixth comes off alone
// (common practice). The rest follows from last on, first off.
func TestComesOff(t *testing.T) {
	wren, plover := box(t, "wren-six"), box(t, "plover-five")
	for _, c := range []struct {
		name      string
		box       *gearbox.Box
		gear      int
		layshaft  string
		mainshaft string
		depth     int
		strip     bool
		gears     []int
	}{
		{"sixth alone", wren, 6, "[gear 6]", "[gear 6]", 1, false, []int{6}},
		{"fourth is next, behind the ring of 4-6", wren, 4,
			"[gear 6 gear 4]", "[gear 6 dog ring 4-6 gear 4]", 2, true, []int{6, 4}},
		{"second", wren, 2, "[gear 6 gear 4 gear 5 gear 2]",
			"[gear 6 dog ring 4-6 gear 4 gear 5 dog ring 2-5 gear 2]", 4, true, []int{6, 4, 5, 2}},
		{"third", wren, 3, "[gear 6 gear 4 gear 5 gear 2 gear 3]",
			"[gear 6 dog ring 4-6 gear 4 gear 5 dog ring 2-5 gear 2 gear 3]", 5, true, []int{6, 4, 5, 2, 3}},
		{"first takes the layshaft out", wren, 1, "[gear 6 gear 4 gear 5 gear 2 gear 3 layshaft with gear 1]",
			"[gear 6 dog ring 4-6 gear 4 gear 5 dog ring 2-5 gear 2 gear 3 dog ring 1-3 gear 1]", 6, true, []int{6, 4, 5, 2, 3, 1}},
		{"opens at the housing: fifth alone", plover, 5, "[gear 5]", "[gear 5]", 1, false, []int{5}},
		{"opens at the housing: third", plover, 3, "[gear 5 gear 3]", "[gear 5 dog ring 3-5 gear 3]", 2, true, []int{5, 3}},
		{"second is cut on: the layshaft past the carrier", plover, 2,
			"[gear 5 gear 3 gear 4 bearing carrier layshaft with gear 2-1-R]",
			"[gear 5 dog ring 3-5 gear 3 gear 4 dog ring 2-4 gear 2]", 6, true, []int{5, 3, 4, 1, -1, 2}},
		{"first lies beyond the carrier", plover, 1,
			"[gear 5 gear 3 gear 4 bearing carrier layshaft with gear 2-1-R]",
			"[gear 5 dog ring 3-5 gear 3 gear 4 dog ring 2-4 gear 2 bearing carrier gear 1]", 6, true, []int{5, 3, 4, 2, -1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			off, err := c.box.ComesOff(&c.box.Clusters[0], c.gear)
			require.NoError(t, err)
			assert.Equal(t, c.layshaft, fmt.Sprint(off.Layshaft))
			assert.Equal(t, c.mainshaft, fmt.Sprint(off.Mainshaft))
			assert.Equal(t, c.depth, off.Depth)
			assert.Equal(t, c.strip, off.Strip)
			assert.Equal(t, c.gears, off.Gears())
		})
	}
	_, err := wren.ComesOff(&wren.Clusters[0], 7)
	require.ErrorContains(t, err, "gear 7 is not in its stack")
}

// What leaves the box with the carrier is said.
func TestCarrierTakesGearsBeyondIt(t *testing.T) {
	b := box(t, "plover-five")
	off, err := b.ComesOff(&b.Clusters[0], 1)
	require.NoError(t, err)
	for _, p := range off.Mainshaft {
		if p.Kind == gearbox.CarrierPart {
			assert.Equal(t, []int{1, gearbox.Reverse}, p.Gears)
			return
		}
	}
	t.Fatal("no carrier in the list")
}

// An outer-opening box with a carrier: the gears beyond it come off before it.
func TestCarrierOfOuterBox(t *testing.T) {
	b := box(t, "wren-six")
	b.Strip.CarrierAfter = 4
	off, err := b.ComesOff(&b.Clusters[0], 5)
	require.NoError(t, err)
	assert.Equal(t, "[gear 6 gear 4 bearing carrier gear 5]", fmt.Sprint(off.Layshaft))
	off, err = b.ComesOff(&b.Clusters[0], 4)
	require.NoError(t, err)
	assert.Equal(t, "[gear 6 gear 4]", fmt.Sprint(off.Layshaft), "the carrier stays for gears outside it")
}

// Opening 6, layers 2 4 6 8 10 14, per pair 1.5, closing 5 min by the file: the
// deepest layer is a maximum, not a sum (common practice).
func TestMinutes(t *testing.T) {
	b := box(t, "wren-six")
	c := &b.Clusters[0]
	for _, k := range []struct {
		name  string
		gears []int
		want  float64 // min
	}{
		{"nothing", nil, 0},
		{"sixth", []int{6}, 6 + 2 + 1.5 + 5},
		{"fourth and sixth share the layers", []int{6, 4}, 6 + 4 + 3 + 5},
		{"twice the same counts once", []int{4, 6, 4}, 6 + 4 + 3 + 5},
		{"all", []int{1, 2, 3, 4, 5, 6}, 6 + 14 + 9 + 5},
	} {
		t.Run(k.name, func(t *testing.T) {
			numtest.Equal(t, "bench time in s", k.want*60, b.Minutes(c, k.gears), 1e-9, 0) // sums of a few decimals
		})
	}
	assert.Panics(t, func() { b.Minutes(c, []int{9}) })
}

// One turn by hand: 33/20 turns = 1 turn and 234 degrees; 38/13 x 37/12 =
// 1406/156 turns = 9 turns and 2/156 of 360 = 4.6154 degrees. With one wheel
// held the carrier of an open differential turns half as far (carrier speed =
// mean of both wheels): 4 turns and half a turn and 2.3077 degrees.
func TestBenchCounts(t *testing.T) {
	set := &gearbox.Set{
		Pairs: []*gearbox.Pair{{Layshaft: 13, Mainshaft: 38}, {Layshaft: 20, Mainshaft: 33}},
		Final: &gearbox.Drive{Teeth: gearbox.Teeth{Driving: 12, Driven: 37}},
	}
	counts := set.BenchCounts()
	require.Len(t, counts, 2)
	check := func(what string, turns int, degrees float64, got gearbox.Turn) {
		t.Helper()
		assert.Equal(t, turns, got.Turns, what)
		numtest.Equal(t, what, degrees, got.Degrees, 1e-9, 0) // rounding of one product
	}
	check("bench 2", 1, 234, counts[1].Bench)
	check("both wheels 1", 9, 360*2.0/156, counts[0].BothWheels)
	check("one wheel 1", 4, 180+180*2.0/156, counts[0].OneWheel)
	set.Drop = &gearbox.Drive{Teeth: gearbox.Teeth{Driving: 20, Driven: 30}}
	check("bench 2 with drop", 2, 360*0.475, set.BenchCounts()[1].Bench)
}

func TestWheelTurnEdges(t *testing.T) {
	for _, c := range []struct {
		name           string
		total          float64
		turns          int
		degrees        float64
		roundT, roundD int
	}{
		{"whole", 9, 9, 0, 9, 0},
		{"a hair below whole", 9 - 1e-12, 9, 0, 9, 0},
		{"359.7 degrees carry", 8 + 359.7/360, 8, 359.7, 9, 0},
		{"less than a turn", 0.25, 0, 90, 0, 90},
		{"none", 0, 0, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := gearbox.WheelTurn(c.total)
			assert.Equal(t, c.turns, got.Turns)
			numtest.Equal(t, "degrees", c.degrees, got.Degrees, 1e-8, 0)
			turns, degrees := got.Rounded()
			assert.Equal(t, [2]int{c.roundT, c.roundD}, [2]int{turns, degrees})
		})
	}
}
