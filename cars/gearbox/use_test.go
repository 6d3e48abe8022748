package gearbox

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func mustDay(t testing.TB, text string) Day {
	t.Helper()
	d, err := ParseDay(text)
	require.NoError(t, err)
	return d
}

// Days against the calendar: 2024 was a leap year, 2100 will be none (ISO 8601,
// Gregorian rule); 1970-01-01 plus 20,000 days is 2024-10-04.
func TestDay(t *testing.T) {
	require.Equal(t, "2024-10-04", Day(20000).String())
	require.EqualValues(t, 20000, mustDay(t, "2024-10-04"))
	require.Equal(t, Day(2), mustDay(t, "2024-03-01")-mustDay(t, "2024-02-28"))
	require.Equal(t, Day(1), mustDay(t, "2100-03-01")-mustDay(t, "2100-02-28"))
	require.Empty(t, Day(0).String())
	for _, bad := range []string{"", "2024-02-30", "30.2.2024", "2024-1-1", "1969-12-31", "1970-01-01", "today"} {
		_, err := ParseDay(bad)
		require.Error(t, err, bad)
	}
}

// The last day and the last metre still count: "good for 90 days" is good on the
// ninetieth.
func TestHindrances(t *testing.T) {
	on := mustDay(t, "2026-01-10")
	good := Pair{ID: "A", Layshaft: 16, Mainshaft: 35, Count: 1, Fits: []string{"wide"}, RunM: 900_000, LifeM: 1_000_000,
		Crack: CrackTest{On: on, AtM: 500_000, Days: 90, EveryM: 500_000}}
	for name, c := range map[string]struct {
		use    Use
		change func(*Pair)
		want   string // "" = it may run
		kind   Obstacle
	}{
		"good":                 {Use{Day: on + 90}, nil, "", 0},
		"no day known":         {Use{}, nil, "", 0},
		"a day late":           {Use{Day: on + 91}, nil, "crack test of 2026-01-10 was good for 90 days, until 2026-04-10", Due},
		"to the last metre":    {Use{Day: on, RunM: 100_000}, nil, "", 0},
		"a metre too far":      {Use{Day: on, RunM: 100_001}, nil, "100 km left of 500 km, 100 km planned", Due},
		"life on the way":      {Use{RunM: 100_001}, func(p *Pair) { p.Crack = CrackTest{} }, "life ends on the way: 100 km left of 1000 km", LifeShort},
		"out of life":          {Use{}, func(p *Pair) { p.RunM = 1_000_000 }, "out of life: has run 1000 km of 1000 km", OutOfLife},
		"damage":               {Use{}, func(p *Pair) { p.Damage = 1 }, "damage estimate", LifeShort},
		"damage below 1":       {Use{}, func(p *Pair) { p.Damage = 0.999 }, "", 0},
		"never tested":         {Use{}, func(p *Pair) { p.Crack.On = 0 }, "an interval is given, but no test", Due},
		"run since":            {Use{}, func(p *Pair) { p.Crack.AtM = 400_000 }, "500 km run since", Due},
		"cause":                {Use{}, func(p *Pair) { p.Causes = []string{"over-rev to 9650 rpm"} }, "over-rev to 9650 rpm", Due},
		"limiter":              {Use{}, func(p *Pair) { p.LimiterCount, p.LimiterMost = 40, 40 }, "on the limiter 40 times", Due},
		"limiter below":        {Use{}, func(p *Pair) { p.LimiterCount, p.LimiterMost = 39, 40 }, "", 0},
		"limiter without rule": {Use{}, func(p *Pair) { p.LimiterCount = 4000 }, "", 0},
		"marked":               {Use{}, func(p *Pair) { p.InspectionDue = true }, "marked so in the stock", Due},
		"other car":            {Use{Car: "1"}, func(p *Pair) { p.Car, p.Gear = "2", 3 }, "fitted in car 2 as gear 3", Absent},
		"this car":             {Use{Car: "2"}, func(p *Pair) { p.Car, p.Gear = "2", 3 }, "", 0},
		"shop":                 {Use{Places: []string{PlaceBox}}, func(p *Pair) { p.Place = PlaceShop }, "not at hand: it is in the shop", Absent},
		"box":                  {Use{Places: []string{PlaceBox}}, func(p *Pair) { p.Place = PlaceBox }, "", 0},
		"no place":             {Use{Places: []string{PlaceBox}}, nil, "at a place not known", Absent},
		"retired":              {Use{}, func(p *Pair) { p.Retired = true }, "retired", Absent},
		"half":                 {Use{}, func(p *Pair) { p.Half = LayshaftHalf }, "loose layshaft gear", Absent},
		"none":                 {Use{}, func(p *Pair) { p.Count = 0 }, noneInStock, NoneThere},
	} {
		t.Run(name, func(t *testing.T) {
			p := good
			if c.change != nil {
				c.change(&p)
			}
			got := c.use.Hindrances(&p)
			marked := c.use.mark(&p)
			if c.want == "" {
				require.Empty(t, got)
				require.NoError(t, StockRules(&marked))
				return
			}
			found := false
			for _, h := range got {
				found = found || (h.Kind == c.kind && strings.Contains(h.Text, c.want))
			}
			require.True(t, found, "%+v", got)
			// What a use refuses the rules on the marked pair refuse too, in the same words.
			require.ErrorContains(t, StockRules(&marked), c.want)
			// A named person can allow life and inspection, nothing else.
			c.use.Waived = map[string]string{"A": "allowed by Ada: test"}
			marked = c.use.mark(&p)
			marked.LifeM, marked.InspectionDue = 0, false
			if !(Hindrance{Kind: c.kind}).Waivable() {
				require.Error(t, StockRules(&marked))
			} else {
				require.NoError(t, StockRules(&marked))
			}
		})
	}
}

// TestKinds: of pairs that are alike one stands for all, and it is the one that a
// person would take by the written rule.
func TestKinds(t *testing.T) {
	unit := func(id string, run float64, change func(*Pair)) Pair {
		p := Pair{ID: id, Layshaft: 16, Mainshaft: 35, Mark: "16/35", Count: 1, Fits: []string{"wide"}, RunM: run, LifeM: 4e6}
		if change != nil {
			change(&p)
		}
		return p
	}
	inCar := func(car string, gear int) func(*Pair) {
		return func(p *Pair) { p.Car, p.Gear, p.Place = car, gear, PlaceCar }
	}
	s := &Stock{Pairs: []Pair{
		unit("a", 300, nil), unit("b", 100, nil), unit("c", 3e6, inCar("1", 2)), unit("d", 50, func(p *Pair) { p.Retired = true }),
		unit("e", 10, func(p *Pair) { p.Causes = []string{"over-rev"} }), unit("f", 0, inCar("2", 2)),
		unit("g", 10, func(p *Pair) { p.Fits = []string{"narrow"} }), unit("h", 200, func(p *Pair) { p.Fits = []string{"narrow"} }),
		unit("i", 100, func(p *Pair) { p.Damage = 0.5; p.Fits = []string{"narrow"} }),
	}}
	taken := func(u Use) map[string]int {
		out := map[string]int{}
		k := s.Kinds(u)
		for i := range k.Pairs {
			if p := &k.Pairs[i]; StockRules(p) == nil {
				out[p.ID] = p.Count
			}
		}
		require.Len(t, k.Pairs, len(out)+countBad(k), "pairs that may not run stand apart")
		return out
	}
	require.Equal(t, map[string]int{"c": 3, "g": 3}, taken(Use{Car: "1"}), "the fitted one, and the least used")
	require.Equal(t, map[string]int{"f": 3, "g": 3}, taken(Use{Car: "2"}))
	require.Equal(t, map[string]int{"b": 2, "g": 3}, taken(Use{Car: "3"}))
	require.Equal(t, map[string]int{"a": 3, "i": 3}, taken(Use{Car: "1", Named: []string{"a", "i"}}), "who is named comes first")
	u := Use{Car: "3", Waived: map[string]string{"e": "allowed by Ada: test"}}
	k := s.Kinds(u)
	e := k.Pair("e")
	require.NotNil(t, e, "what somebody allowed is a choice of its own")
	require.True(t, e.InspectionDue)
	require.Empty(t, e.NotFree)
	require.Nil(t, s.Kinds(Use{Car: "1"}).Fitted, "second gear alone is no set")
}

func countBad(s *Stock) int {
	n := 0
	for i := range s.Pairs {
		if StockRules(&s.Pairs[i]) != nil {
			n++
		}
	}
	return n
}

// TestKindsLoseNothing: whatever the stock, every pair that may run is counted
// once, and every one that may not stands there with its reason.
func TestKindsLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &Stock{}
		n := rapid.IntRange(0, 30).Draw(t, "pairs")
		for i := range n {
			p := Pair{
				ID: fmt.Sprintf("p%d", i), Layshaft: rapid.IntRange(14, 16).Draw(t, "lay"), Mainshaft: 35, Count: 1,
				Fits: []string{rapid.SampledFrom([]string{"wide", "narrow"}).Draw(t, "fits")},
				RunM: float64(rapid.IntRange(0, 5).Draw(t, "run")), LifeM: 4, Retired: rapid.IntRange(0, 5).Draw(t, "retired") == 0,
			}
			if rapid.Bool().Draw(t, "fitted") && !p.Retired {
				p.Car, p.Gear = rapid.SampledFrom([]string{"1", "2"}).Draw(t, "car"), 1+i%8
			}
			s.Pairs = append(s.Pairs, p)
		}
		u := Use{Car: "1", RunM: float64(rapid.IntRange(0, 2).Draw(t, "planned"))}
		free := 0
		for i := range s.Pairs {
			if len(u.Hindrances(&s.Pairs[i])) == 0 {
				free++
			}
		}
		k := s.Kinds(u)
		counted, bad := 0, 0
		for i := range k.Pairs {
			if StockRules(&k.Pairs[i]) == nil {
				counted += k.Pairs[i].Count
			} else {
				bad++
			}
		}
		if counted != free || bad != n-free {
			t.Fatalf("%d free and %d not of %d, counted %d and %d", free, n-free, n, counted, bad)
		}
	})
}
