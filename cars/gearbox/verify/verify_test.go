package verify_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/internal/datafile"
)

// load parses the demonstration afresh, so that a case may spoil it.
func load(t *testing.T, boxName, stockName string) (*gearbox.Box, *gearbox.Stock, *gearbox.Set) {
	t.Helper()
	bs, err := datafile.Read(boxName, gearbox.Embedded(), gearbox.BoxDir, ".toml")
	require.NoError(t, err)
	b, err := gearbox.ParseBox(bs)
	require.NoError(t, err)
	ss, err := datafile.Read(stockName, gearbox.Embedded(), gearbox.StockDir, ".toml")
	require.NoError(t, err)
	s, err := gearbox.ParseStock(ss)
	require.NoError(t, err)
	set := &gearbox.Set{Cluster: &b.Clusters[0], Final: s.FittedFinal(), Drop: s.FittedDrop()}
	for _, id := range s.Fitted {
		set.Pairs = append(set.Pairs, s.Pair(id))
	}
	return b, s, set
}

func TestFittedSetsPass(t *testing.T) {
	for _, c := range [][2]string{{"wren-six", "wren"}, {"plover-five", "plover"}} {
		b, s, set := load(t, c[0], c[1])
		assert.Empty(t, verify.Verify(b, s, set, verify.Limits{}), c[0])
	}
}

// Every rule is broken once; each breach must be named.
func TestBreaches(t *testing.T) {
	type args struct {
		b   *gearbox.Box
		s   *gearbox.Stock
		set *gearbox.Set
		l   verify.Limits
	}
	for _, c := range []struct {
		name  string
		spoil func(a *args)
		want  string
	}{
		{"too few pairs", func(a *args) { a.set.Pairs = a.set.Pairs[:5] }, "holds 5 pairs, the box has 6 gears"},
		{"no pair", func(a *args) { a.set.Pairs[2] = nil }, "gear 3: no pair"},
		{"not in stock", func(a *args) {
			p := *a.set.Pairs[5]
			p.ID = "99/99"
			a.set.Pairs[5] = &p
		}, "gear 6: pair 99/99 is not in stock"},
		{"other teeth than in stock", func(a *args) {
			p := *a.set.Pairs[5]
			p.Mainshaft++
			a.set.Pairs[5] = &p
		}, "in the set, 26/27 in the stock"},
		{"count 0", func(a *args) { a.set.Pairs[3].Count = 0 }, "gear 4: pair 22/30: 1 needed, 0 in the stock"},
		{"same pair twice", func(a *args) { a.set.Pairs[3] = a.set.Pairs[4]; a.set.Pairs[4].Count = 1 }, "2 needed, 1 in the stock"},
		{"out of life", func(a *args) { a.set.Pairs[3].RunM = a.set.Pairs[3].LifeM }, "gear 4: pair 22/30 is out of life"},
		{"due", func(a *args) { a.set.Pairs[3].InspectionDue = true }, "gear 4: pair 22/30 is due for inspection"},
		{"no cluster", func(a *args) { a.set.Cluster = nil }, "names no cluster"},
		{"cluster not listed", func(a *args) {
			a.set.Cluster = &gearbox.Cluster{Name: "standard", Forks: a.b.Clusters[0].Forks, Stack: []int{1, 3, 2, 5, 6, 4}}
		}, "is not listed"},
		{"neighbours on one fork", func(a *args) {
			a.b.Clusters[0].Forks = []gearbox.Fork{{1, 2}, {3, 5}, {4, 6}}
		}, "gears 1 and 2 share a fork"},
		{"fork of three", func(a *args) {
			a.b.Clusters[0].Forks = []gearbox.Fork{{1, 3, 5}, {2}, {4, 6}}
		}, "serves 3 gears"},
		{"gear without a fork", func(a *args) { a.b.Clusters[0].Forks = a.b.Clusters[0].Forks[:2] }, "gear 4 is served by 0 forks"},
		{"gear with two forks", func(a *args) {
			a.b.Clusters[0].Forks = append(a.b.Clusters[0].Forks, gearbox.Fork{6})
		}, "gear 6 is served by 2 forks"},
		{"fork across the stack", func(a *args) {
			a.b.Clusters[0].Stack = []int{1, 2, 3, 5, 4, 6}
		}, "do not stand side by side"},
		{"slot kind", func(a *args) { a.set.Pairs[3].Fits = []string{"wide"} }, "position 5 is a narrow slot"},
		{"dog side", func(a *args) { a.set.Pairs[3].DogSide = "inner" }, "the ring stands on the outer side"},
		{"slot made for the other side", func(a *args) { a.b.Slots[4].DogSide = "inner" }, "slot 5 is made for inner"},
		{"ratios do not fall", func(a *args) { a.set.Pairs[3], a.set.Pairs[4] = a.set.Pairs[4], a.set.Pairs[3] }, "is not below"},
		{"equal ratios", func(a *args) { // 20/33 of two batches
			a.b.StepMin = 1
			a.set.Pairs[3] = a.s.Pair("20/33 b")
			a.set.Pairs[3].DogSide = "both"
		}, "gears 3 and 4: ratio 33/20 is not below 33/20"},
		{"step below the box's", func(a *args) { a.b.StepMin = 1.13 }, "gears 5 and 6: step 1.1235 is below 1.13"},
		{"step above the box's", func(a *args) { a.b.StepMax = 1.37 }, "gears 1 and 2: step 1.3803 is above 1.37"},
		{"step below the engineer's", func(a *args) { a.l.StepMin = 1.13 }, "is below 1.13"},
		{"step above the engineer's", func(a *args) { a.l.StepMax = 1.37 }, "is above 1.37"},
		{"integral group torn", func(a *args) {
			a.s.Pair("24/27").Group = "layshaft C"
		}, "is cut on layshaft C together with"},
		{"no final drive", func(a *args) { a.set.Final = nil }, "no final drive"},
		{"final drive not in stock", func(a *args) {
			a.set.Final = &gearbox.Drive{Name: "9/99", Teeth: gearbox.Teeth{Driving: 9, Driven: 99}}
		}, "final drive 9/99 is not in stock"},
		{"final drive of other teeth", func(a *args) {
			a.set.Final = &gearbox.Drive{Name: "12/37", Teeth: gearbox.Teeth{Driving: 12, Driven: 36}}
		}, "has 12/36 teeth in the set, 12/37 in the stock"},
		{"final drive lost", func(a *args) { a.set.Final.Count = 0 }, "final drive 12/37: none in the stock"},
		{"final drive fixed", func(a *args) { a.b.FinalFixed = true; a.set.Final = &a.s.Finals[0] }, "is not the fitted one"},
		{"drop pair missing", func(a *args) {
			a.s.Drops = []gearbox.Drive{{Name: "27/27", Teeth: gearbox.Teeth{Driving: 27, Driven: 27}, Count: 1}}
		}, "the box needs one"},
		{"drop pair that the stock has not", func(a *args) {
			a.set.Drop = &gearbox.Drive{Name: "27/27", Teeth: gearbox.Teeth{Driving: 27, Driven: 27}, Count: 1}
		}, "drop pair 27/27 is not in stock"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := &args{}
			a.b, a.s, a.set = load(t, "wren-six", "wren")
			require.Empty(t, verify.Verify(a.b, a.s, a.set, a.l))
			c.spoil(a)
			faults := verify.Verify(a.b, a.s, a.set, a.l)
			require.NotEmpty(t, faults)
			assert.Contains(t, fmt.Sprint(faults), c.want)
		})
	}
}

func TestWaiverIsByPairAndOnlyForLifeAndInspection(t *testing.T) {
	b, s, set := load(t, "wren-six", "wren")
	set.Pairs[3].InspectionDue = true
	set.Pairs[3].RunM = 2 * set.Pairs[3].LifeM
	require.Len(t, verify.Verify(b, s, set, verify.Limits{}), 2)
	waiver := verify.Limits{Waived: map[string]string{"22/30": "chief mechanic: crack test done this morning"}}
	require.Empty(t, verify.Verify(b, s, set, waiver))
	set.Pairs[3].Count = 0
	require.Len(t, verify.Verify(b, s, set, waiver), 1)
}

func TestIntegralGroupOfTwo(t *testing.T) {
	b, s, set := load(t, "plover-five", "plover")
	set.Pairs[1] = s.Pair("Q2") // first of layshaft P with second of layshaft Q
	assert.Contains(t, fmt.Sprint(verify.Verify(b, s, set, verify.Limits{})), "layshaft Q together with Q1")
}
