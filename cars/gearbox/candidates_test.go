package gearbox_test

import (
	"errors"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
)

func TestStockRules(t *testing.T) {
	for _, c := range []struct {
		name string
		pair gearbox.Pair
		want string // "" = may run
	}{
		{"good", gearbox.Pair{Count: 1, RunM: 3.9e6, LifeM: 4e6}, ""},
		{"no limit of life given", gearbox.Pair{Count: 1, RunM: 9e9}, ""},
		{"at the end of its life", gearbox.Pair{Count: 1, RunM: 4e6, LifeM: 4e6}, "out of life: has run 4000 km of 4000 km"},
		{"none", gearbox.Pair{}, "none in the stock"},
		{"due", gearbox.Pair{Count: 2, InspectionDue: true}, "due for inspection"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := gearbox.StockRules(&c.pair)
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
		})
	}
	err := gearbox.StockRules(&gearbox.Pair{InspectionDue: true})
	require.ErrorContains(t, err, "none in the stock")
	require.ErrorContains(t, err, "inspection", "all reasons at once")
}

func TestSlotAdmits(t *testing.T) {
	slot := gearbox.Slot{Position: 3, Kind: "wide", DogSide: gearbox.Outer}
	for _, c := range []struct {
		name, side string
		fits       []string
		want       string
	}{
		{"fits", gearbox.Outer, []string{"narrow", "wide"}, ""},
		{"dogs on both sides", gearbox.Both, []string{"wide"}, ""},
		{"side does not matter", "", []string{"wide"}, ""},
		{"wrong side", gearbox.Inner, []string{"wide"}, "dogs on the inner side, stack position 3 is engaged on the outer side"},
		{"wrong kind", "", []string{"narrow"}, "fits slot kind narrow, stack position 3 is wide"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := slot.Admits(&gearbox.Pair{Fits: c.fits, DogSide: c.side})
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
		})
	}
}

// A ring lies between the two gears of its fork.
func TestDogSideFromForks(t *testing.T) {
	b := box(t, "wren-six")
	c := &b.Clusters[0]
	for gear, want := range map[int]string{1: "outer", 3: "inner", 2: "outer", 5: "inner", 4: "outer", 6: "inner"} {
		assert.Equal(t, want, c.DogSide(gear), "gear %d", gear)
		b.Slots[c.Position(gear)-1].DogSide = ""
		assert.Equal(t, want, b.Slot(c, gear).DogSide, "gear %d, slot silent", gear)
	}
	assert.Nil(t, b.Slot(c, gearbox.Reverse))
}

func TestCandidatesOrderAndRefusals(t *testing.T) {
	b, s := box(t, "wren-six"), stock(t, "wren")
	c := &b.Clusters[0]
	for gear := 1; gear <= 6; gear++ {
		fit, refused := gearbox.Candidates(b, c, s, gear, nil)
		assert.Equal(t, len(s.Pairs), len(fit)+len(refused), "gear %d: every pair is listed once", gear)
		for i := 1; i < len(fit); i++ {
			p, q := fit[i-1], fit[i]
			falls := p.Mainshaft*q.Layshaft > q.Mainshaft*p.Layshaft
			same := p.Mainshaft*q.Layshaft == q.Mainshaft*p.Layshaft
			assert.True(t, falls || (same && p.ID < q.ID), "gear %d: %s before %s", gear, p.ID, q.ID)
		}
		for _, r := range refused {
			assert.NotEmpty(t, r.Error())
		}
	}
	fit, refused := gearbox.Candidates(b, c, s, 7, nil)
	assert.Empty(t, fit)
	assert.Empty(t, refused)
}

func TestCandidatesAllowedReplacesStockRules(t *testing.T) {
	b, s := box(t, "wren-six"), stock(t, "wren")
	c := &b.Clusters[0]
	usual, _ := gearbox.Candidates(b, c, s, 4, nil)
	all, _ := gearbox.Candidates(b, c, s, 4, func(*gearbox.Pair) error { return nil })
	assert.Greater(t, len(all), len(usual))
	none, refused := gearbox.Candidates(b, c, s, 4, func(*gearbox.Pair) error { return errors.New("not today") })
	assert.Empty(t, none)
	require.ErrorContains(t, refused[len(refused)-1], "not today")
}

// The demonstration stock is what its head comment says.
func TestDemoStock(t *testing.T) {
	b, s := box(t, "wren-six"), stock(t, "wren")
	c := &b.Clusters[0]
	var usable, out, none, due int
	for i := range s.Pairs {
		p := &s.Pairs[i]
		switch {
		case gearbox.StockRules(p) == nil:
			usable++
		case p.Count == 0:
			none++
		case p.InspectionDue:
			due++
		default:
			out++
		}
	}
	assert.Equal(t, [4]int{74, 6, 4, 3}, [4]int{usable, out, none, due}, "usable, out of life, none, due")
	for gear := 1; gear <= 6; gear++ {
		fit, _ := gearbox.Candidates(b, c, s, gear, nil)
		t.Logf("gear %d: %d candidates, %.3f to %.3f", gear, len(fit), fit[0].Ratio(), fit[len(fit)-1].Ratio())
		if gear == 1 {
			assert.Len(t, fit, 8)
		} else {
			assert.GreaterOrEqual(t, len(fit), 25, "gear %d", gear)
		}
		assert.Contains(t, fit, s.Pair(s.Fitted[gear-1]), "gear %d: the fitted pair may run", gear)
	}
	assert.NotNil(t, s.FittedFinal())
	assert.Nil(t, s.FittedDrop())
	require.Len(t, s.Warnings, 2, "one line for sum 49, one for 55")
	assert.Contains(t, s.Warnings[0], "tooth sum 49, most of the stock has 52 (within 2)")
	assert.Contains(t, s.Warnings[1], "18/37")
}

// Chains of strictly falling ratios with every step in the box's range, top
// gear between 0.95 and 1.10: counted by dynamic programming over the gears,
// steps compared as fractions. The search is meant for more than 10 million.
func TestDemoStockSpansTenMillionSets(t *testing.T) {
	b, s := box(t, "wren-six"), stock(t, "wren")
	chains, tops := countChains(b, s, func(p *gearbox.Pair) bool { return p.Ratio() >= 0.95 && p.Ratio() <= 1.10 })
	t.Logf("%s chains, %d top gears, times %d final drives", chains, tops, len(s.Finals))
	assert.Positive(t, chains.Cmp(big.NewInt(10_000_000)))
	all, _ := countChains(b, s, func(*gearbox.Pair) bool { return true })
	t.Logf("%s chains with any top gear", all)
	assert.Positive(t, all.Cmp(chains))
}

func countChains(b *gearbox.Box, s *gearbox.Stock, top func(*gearbox.Pair) bool) (*big.Int, int) {
	c := &b.Clusters[0]
	ways := map[*gearbox.Pair]*big.Int{}
	first, _ := gearbox.Candidates(b, c, s, 1, nil)
	for _, p := range first {
		ways[p] = big.NewInt(1)
	}
	tops := 0
	for gear := 2; gear <= b.Gears; gear++ {
		fit, _ := gearbox.Candidates(b, c, s, gear, nil)
		next := map[*gearbox.Pair]*big.Int{}
		for _, q := range fit {
			if gear == b.Gears && !top(q) {
				continue
			}
			sum := new(big.Int)
			for p, n := range ways {
				step := float64(p.Mainshaft*q.Layshaft) / float64(p.Layshaft*q.Mainshaft)
				if step >= b.StepMin && step <= b.StepMax {
					sum.Add(sum, n)
				}
			}
			next[q] = sum
		}
		ways = next
		tops = len(next)
	}
	total := new(big.Int)
	for _, n := range ways {
		total.Add(total, n)
	}
	return total, tops
}

func TestWarnings(t *testing.T) {
	b := &gearbox.Box{ToothSum: 52, ToothSumSpread: 2}
	set := &gearbox.Set{Pairs: []*gearbox.Pair{
		{ID: "13/38", Layshaft: 13, Mainshaft: 38, Count: 1},
		{ID: "18/37", Layshaft: 18, Mainshaft: 37, Count: 2},
		{ID: "20/33", Layshaft: 20, Mainshaft: 33, Count: 2},
	}}
	assert.Equal(t, []string{
		"no second pair like it in the stock: 13/38 (gear 1)",
		"gear 2: pair 18/37: tooth sum 55, usual is 52 (within 2): check the numbers on the gears",
	}, gearbox.SetWarnings(b, set))
	b.ToothSum = 0
	assert.Len(t, gearbox.SetWarnings(b, set), 1, "a box that states no sum warns of none")
}
