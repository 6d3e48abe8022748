package gearbox_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
)

// mocked is a set with one invented pair for every gear; a mark on the id tells
// the changed ones from the old.
func mocked(b *gearbox.Box, c *gearbox.Cluster, changed ...int) *gearbox.Set {
	set := &gearbox.Set{Cluster: c, Final: &gearbox.Drive{Name: "A", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}}}
	for g := 1; g <= b.Gears; g++ {
		p := &gearbox.Pair{ID: fmt.Sprint("old ", g), Layshaft: 12 + g, Mainshaft: 40 - g, Mark: fmt.Sprint("m", g)}
		if slices.Contains(changed, g) {
			p = &gearbox.Pair{ID: fmt.Sprint("new ", g), Layshaft: 13 + g, Mainshaft: 40 - g, Mark: fmt.Sprint("n", g)}
		}
		set.Pairs = append(set.Pairs, p)
	}
	return set
}

// subsets lists every choice of gears 1 to n, the empty one too.
func subsets(n int) [][]int {
	out := make([][]int, 1<<n)
	for bits := range out {
		for g := 1; g <= n; g++ {
			if bits&(1<<(g-1)) != 0 {
				out[bits] = append(out[bits], g)
			}
		}
	}
	return out
}

// words writes a step short: shaft, part, gears.
func words(s *gearbox.PlacedStep) string {
	text := map[string]string{gearbox.OnLayshaft: "lay ", gearbox.OnMainshaft: "main ", gearbox.OnBoth: ""}[s.Shaft] + s.Part
	for _, g := range s.Gears {
		text += " " + gearbox.GearName(g.Gear)
	}
	return text
}

func allWords(steps []gearbox.PlacedStep) []string {
	var out []string
	for i := range steps {
		out = append(out, words(&steps[i]))
	}
	return out
}

// By hand, from the table of wren-six and its stack 1, 3, 2, 5, 4, 6 outward
// from the housing: last on is first off, so the shaft ends come off, then
// sixth; fourth stands behind sixth, with the ring and hub of fork 4-6 between
// them on the mainshaft; second behind fifth, with the snap ring left on since
// it lies deeper; first is cut on the layshaft, which comes out last of all on
// its side, and the washer and needle bearing of first stay on the mainshaft.
func TestRebuildByHand(t *testing.T) {
	b := box(t, "wren-six")
	c := &b.Clusters[0]
	ends := []string{
		"lay split pin", "main split pin", "lay lock nut", "lay lock ring", "main lock nut", "main lock ring",
		"lay bearing", "main bearing", "main snap ring", "main washer",
	}
	sixth := []string{"lay gear 6", "main gear 6"}
	toFourth := []string{"main needle bearing", "main dog ring 4 6", "main hub 4 6", "main gear 4"}
	toSecond := []string{
		"lay spacer", "main spacer", "lay gear 5", "main gear 5", "main needle bearing", "main dog ring 2 5",
		"main hub 2 5", "main gear 2",
	}
	for _, k := range []struct {
		changed []int
		want    []string
		fresh   int // parts that must be new
	}{
		{nil, nil, 0},
		{[]int{6}, slices.Concat(ends, sixth), 5},
		{[]int{4, 6}, slices.Concat(ends, sixth, toFourth, []string{"lay gear 4"}), 5},
		{[]int{4}, slices.Concat(ends, sixth, toFourth, []string{"lay gear 4"}), 5},
		{[]int{2}, slices.Concat(ends, sixth, toFourth[:4], []string{"main needle bearing", "lay gear 4"}, toSecond, []string{"lay gear 2"}), 5},
		{[]int{1}, slices.Concat(ends, sixth, toFourth[:4], []string{"main needle bearing", "lay gear 4"}, toSecond,
			[]string{"main needle bearing", "lay gear 2", "lay spacer", "main snap ring", "main spacer", "lay gear 3", "main gear 3",
				"main needle bearing", "main dog ring 1 3", "main hub 1 3", "main gear 1", "lay layshaft 1"}), 6},
	} {
		t.Run(fmt.Sprint(k.changed), func(t *testing.T) {
			p := b.Rebuild(mocked(b, c), mocked(b, c, k.changed...))
			assert.Equal(t, k.changed, p.Changed)
			assert.Equal(t, k.want, allWords(p.Off))
			assert.Len(t, p.MustBeNew(), k.fresh)
			assert.Len(t, p.OldPairs, len(k.changed))
			assert.Len(t, p.NewPairs, len(k.changed))
			assert.Empty(t, p.Moves)
		})
	}
}

// withoutSteps is the box as a file without a steps table gives it.
func withoutSteps(b *gearbox.Box) *gearbox.Box {
	plain := *b
	plain.Steps = nil
	return &plain
}

// Every subset of gears, on both embedded boxes, with and without their steps
// tables, and on random boxes.
func TestRebuildAgreesWithComesOff(t *testing.T) {
	for _, name := range []string{"wren-six", "plover-five"} {
		b := box(t, name)
		for i := range b.Clusters {
			for _, changed := range subsets(b.Gears) {
				agree(t, b, &b.Clusters[i], changed, true)
				agree(t, withoutSteps(b), &b.Clusters[i], changed, true)
			}
		}
	}
	rnd := rand.New(rand.NewPCG(7, 11))
	for range 100 {
		b := randomBox(rnd)
		for _, changed := range subsets(b.Gears) {
			agree(t, b, &b.Clusters[0], changed, false)
		}
	}
}

// randomBox has random forks, stack, dog sides, cut gears, carrier and end.
func randomBox(rnd *rand.Rand) *gearbox.Box {
	n := 4 + rnd.IntN(4)
	layouts := gearbox.Layouts(n, true)
	forks := slices.Clone(layouts[rnd.IntN(len(layouts))])
	rnd.Shuffle(len(forks), func(i, j int) { forks[i], forks[j] = forks[j], forks[i] })
	b := &gearbox.Box{Name: "random", Gears: n, NeighboursShare: true}
	c := gearbox.Cluster{Name: "only", Forks: forks}
	var ends []int // positions after which no ring slides
	for _, f := range forks {
		g := slices.Clone(f)
		rnd.Shuffle(len(g), func(i, j int) { g[i], g[j] = g[j], g[i] })
		c.Stack = append(c.Stack, g...)
		ends = append(ends, len(c.Stack))
	}
	b.Clusters = []gearbox.Cluster{c}
	for i := range n {
		s := gearbox.Slot{Position: i + 1, Kind: "k", CutOn: rnd.IntN(6) == 0}
		if f, _ := c.Fork(c.Stack[i]); len(f) == 1 {
			s.DogSide = []string{"", gearbox.Inner, gearbox.Outer}[rnd.IntN(3)]
		}
		b.Slots = append(b.Slots, s)
		b.Strip.Depth = append(b.Strip.Depth, float64(60*i))
	}
	b.Strip.LastOnFirstOff = []string{gearbox.OpensOuter, gearbox.OpensHousing}[rnd.IntN(2)]
	if len(ends) > 1 && rnd.IntN(2) == 0 {
		b.Strip.CarrierAfter = ends[rnd.IntN(len(ends)-1)]
	}
	b.Strip.Opening, b.Strip.PerPair = 100, 10
	return b
}

// agree holds a plan against Box.ComesOff, Box.Minutes and the laws of the bench.
func agree(t *testing.T, b *gearbox.Box, c *gearbox.Cluster, changed []int, exact bool) {
	t.Helper()
	name := fmt.Sprintf("%s %s %v: %v", b.Name, c.Name, c.Stack, changed)
	from, to := mocked(b, c), mocked(b, c, changed...)
	p := b.Rebuild(from, to)
	numtest.Equal(t, name+": bench time", b.Minutes(c, changed), p.Time, 0, 0)
	wantLay, wantMain, carrier := longest(t, b, c, changed)
	gotLay, gotMain := shaftWords(c, p.Off, gearbox.OnLayshaft), shaftWords(c, p.Off, gearbox.OnMainshaft)
	gotCarrier := slices.ContainsFunc(p.Off, func(s gearbox.PlacedStep) bool { return s.Part == gearbox.CarrierStep })
	require.Equal(t, carrier, gotCarrier, name)
	if exact || !carrier {
		require.Equal(t, wantLay, gotLay, name)
		require.Equal(t, wantMain, gotMain, name)
	} else { // the carrier bears both shafts: what went on after it, on either, is in its way
		require.True(t, len(gotLay) >= len(wantLay) && len(gotMain) >= len(wantMain), name)
		require.Equal(t, wantLay, gotLay[:len(wantLay)], name)
		require.Equal(t, wantMain, gotMain[:len(wantMain)], name)
	}
	laws(t, name, b, from, to, p)
}

// laws: on each shaft what comes off is a head of the reversed build order,
// the deepest of it is needed, and what stays with what goes on is the whole
// build order of the new set.
func laws(t *testing.T, name string, b *gearbox.Box, from, to *gearbox.Set, p *gearbox.RebuildPlan) {
	t.Helper()
	before, after := b.BuildOrder(from), b.BuildOrder(to)
	off := map[int]bool{}
	for i, s := range p.Off {
		off[s.Number] = true
		require.True(t, i == 0 || s.Number < p.Off[i-1].Number, "%s: removal order", name)
		require.Equal(t, before[s.Number-1], s, name)
	}
	carrierOff := false
	for i := range before {
		carrierOff = carrierOff || off[i+1] && before[i].Part == gearbox.CarrierStep
	}
	for _, shaft := range []string{gearbox.OnLayshaft, gearbox.OnMainshaft} {
		var flags []bool
		deepest := -1
		for i := range before {
			if before[i].Shaft != shaft && before[i].Shaft != gearbox.OnBoth {
				continue
			}
			flags = append(flags, off[i+1])
			if off[i+1] && deepest < 0 {
				deepest = i
			}
		}
		first := slices.Index(flags, true)
		require.True(t, first < 0 || !slices.Contains(flags[first:], false), "%s: %s is no head of the reversed order", name, shaft)
		// Past a gear cut on it the layshaft comes out for the sake of another gear.
		if deepest >= 0 && !carrierOff && before[deepest].Part != gearbox.LayshaftStep {
			require.True(t, p.Changes(&before[deepest]), "%s: %s comes off for nothing", name, words(&before[deepest]))
		}
	}
	var whole []gearbox.PlacedStep
	for i := range before {
		if !off[i+1] {
			whole = append(whole, before[i])
		}
	}
	whole = append(whole, p.On...)
	slices.SortStableFunc(whole, func(a, b gearbox.PlacedStep) int { return a.Number - b.Number })
	require.Equal(t, after, whole, name)
	require.True(t, slices.IsSortedFunc(p.On, func(a, b gearbox.PlacedStep) int { return a.Number - b.Number }), name)
}

// longest lists the parts that ComesOff names for the gears, by shaft: what one
// gear needs is the head of what a deeper one needs.
func longest(t *testing.T, b *gearbox.Box, c *gearbox.Cluster, gears []int) (lay, main []string, carrier bool) {
	t.Helper()
	take := func(best []string, parts []gearbox.Part) []string {
		var out []string
		for _, p := range parts {
			switch p.Kind {
			case gearbox.CarrierPart:
				carrier = true
			case gearbox.LayshaftPart:
				out = append(out, "layshaft")
			default:
				out = append(out, p.String())
			}
		}
		if len(out) > len(best) {
			return out
		}
		return best
	}
	for _, g := range gears {
		off, err := b.ComesOff(c, g)
		require.NoError(t, err)
		lay, main = take(lay, off.Layshaft), take(main, off.Mainshaft)
	}
	return lay, main, carrier
}

// shaftWords writes the parts that ComesOff knows, in its words.
func shaftWords(c *gearbox.Cluster, steps []gearbox.PlacedStep, shaft string) []string {
	var out []string
	for _, s := range steps {
		if s.Shaft != shaft {
			continue
		}
		switch s.Part {
		case gearbox.GearStep:
			out = append(out, "gear "+gearbox.GearName(s.Gears[0].Gear))
		case gearbox.RingStep:
			out = append(out, "dog ring "+c.Forks[s.Fork-1].String())
		case gearbox.LayshaftStep:
			out = append(out, "layshaft")
		}
	}
	return out
}

// Other cluster: everything comes off; a pair that changes its gear stays in
// the gearbox; other drives are told and have no minutes.
func TestRebuildOtherCluster(t *testing.T) {
	b := box(t, "plover-five")
	from, to := mocked(b, &b.Clusters[0]), mocked(b, &b.Clusters[1], 4)
	p := b.Rebuild(from, to)
	assert.True(t, p.Whole)
	assert.Equal(t, []int{4}, p.Changed)
	assert.Len(t, p.Off, len(b.Steps))
	assert.Equal(t, b.BuildOrder(to), p.On)
	numtest.Equal(t, "all of it", (10+22+5*2+8)*60.0, p.Time, 1e-9, 0) // the file's minutes
	assert.False(t, p.Final || p.Drop)

	to = mocked(b, &b.Clusters[0])
	to.Pairs[2], to.Pairs[4] = from.Pairs[4], from.Pairs[2]
	to.Final = &gearbox.Drive{Name: "B", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}}
	to.Drop = &gearbox.Drive{Name: "one", Teeth: gearbox.Teeth{Driving: 20, Driven: 21}}
	p = b.Rebuild(from, to)
	assert.Equal(t, []int{3, 5}, p.Changed)
	assert.Equal(t, []gearbox.Moved{{Pair: from.Pairs[4], From: 5, To: 3}, {Pair: from.Pairs[2], From: 3, To: 5}}, p.Moves)
	assert.Empty(t, p.OldPairs)
	assert.Empty(t, p.NewPairs)
	assert.True(t, p.Final && p.Drop)
	numtest.Equal(t, "drives take no minutes of ours", b.Minutes(&b.Clusters[0], []int{3, 5}), p.Time, 0, 0)
}

// What the builder reads: teeth of the shaft, mark, dog side, fork, quoted note.
func TestBuildOrder(t *testing.T) {
	b := box(t, "plover-five")
	set := mocked(b, &b.Clusters[1]) // 3, 5, 4, 2, 1, R
	seen := map[string]gearbox.PlacedStep{}
	for i, s := range b.BuildOrder(set) {
		assert.Equal(t, i+1, s.Number)
		seen[words(&s)] = s
	}
	third := seen["main gear 3"]
	assert.Equal(t, []int{1}, third.Positions)
	assert.Equal(t, []gearbox.PlacedGear{{Gear: 3, Pair: set.Pairs[2], Teeth: 37, DogSide: gearbox.Outer}}, third.Gears)
	assert.Equal(t, 1, third.Fork)
	assert.Equal(t, gearbox.Inner, third.MarksFace)
	assert.Equal(t, []gearbox.PlacedGear{{Gear: 3, Pair: set.Pairs[2], Teeth: 15}}, seen["lay gear 3"].Gears)
	shaft := seen["lay layshaft 2 1 R"]
	assert.Equal(t, []gearbox.PlacedGear{
		{Gear: 2, Pair: set.Pairs[1], Teeth: 14}, {Gear: 1, Pair: set.Pairs[0], Teeth: 13}, {Gear: gearbox.Reverse},
	}, shaft.Gears)
	assert.Equal(t, 3, seen["main dog ring 1 R"].Fork)
	assert.Equal(t, "layshaft nut", seen["lay lock nut"].Note.What)
	assert.True(t, seen["lay split pin"].MustBeNew)
	assert.False(t, seen["lay spacer"].MustBeNew)
}
