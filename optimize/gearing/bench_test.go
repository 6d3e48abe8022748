package gearing

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"testing"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// BenchmarkProve is a whole search with its proof, both stages, model and tables
// included: 20, 40 and 60 pairs of the demo stock, spread evenly over its ratios,
// and 80, 120 and 160 synthetic ones; six gears, and four and eight for 60 pairs.
// Run it with -benchtime 1x.
func BenchmarkProve(b *testing.B) {
	for _, circuit := range []string{"harrowdale", "quayside", "saltmere"} {
		for _, n := range []int{20, 40, 60, 80, 120, 160} {
			b.Run(fmt.Sprintf("%s/pairs=%d", circuit, n), func(b *testing.B) { prove(b, circuit, n, 6) })
		}
		for _, gears := range []int{4, 8} {
			b.Run(fmt.Sprintf("%s/pairs=60/gears=%d", circuit, gears), func(b *testing.B) { prove(b, circuit, 60, gears) })
		}
	}
}

func prove(b *testing.B, circuit string, pairs, gears int) {
	p := demoProblem(b, circuit)
	stock := *p.Stock
	if pairs > 60 {
		stock.Pairs = syntheticPairs(pairs)
	} else {
		stock.Pairs = somePairs(stock.Pairs, pairs)
	}
	p.Stock = &stock
	if gears != 6 {
		car := *p.Model.Car()
		p.Box = boxOf(p.Box, gears)
		car.Box, car.Efficiency = p.Box, nil
		for range gears {
			car.Efficiency = append(car.Efficiency, 0.96)
		}
		m, err := sim.New(&car, p.Model.Track(), stillAir(), nil)
		if err != nil {
			b.Fatal(err)
		}
		p.Model = m
	}
	var a *Answer
	for b.Loop() {
		var err error
		if a, err = Search(context.Background(), p, nil); err != nil {
			b.Fatal(err)
		}
	}
	if a.Status != optimize.Proved {
		b.Logf("%s after %d gears of %d pairs: %s", a.Status, gears, pairs, a.Infeasible)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/proof")
	b.ReportMetric(1e3*a.Gap, "ms-gap")
	b.ReportMetric(float64(a.Stats.Nodes), "nodes")
	b.ReportMetric(float64(a.Stats.Laps), "laps")
}

// firstsShare is one first gear in so many pairs.
const firstsShare = 10

// somePairs are n pairs spread evenly over the usable ones, a tenth of them for
// the first slot.
func somePairs(all []gearbox.Pair, n int) []gearbox.Pair {
	var firsts, others []gearbox.Pair
	for _, q := range all {
		switch {
		case q.Count < 1 || q.InspectionDue || q.LifeM > 0 && q.RunM >= q.LifeM:
		case slices.Contains(q.Fits, "shaft-first"):
			firsts = append(firsts, q)
		default:
			others = append(others, q)
		}
	}
	k := max(2, n/firstsShare)
	return append(evenly(firsts, k), evenly(others, n-k)...)
}

func evenly(list []gearbox.Pair, n int) []gearbox.Pair {
	sort.SliceStable(list, func(i, j int) bool { return list[i].Ratio() > list[j].Ratio() })
	if n >= len(list) {
		return list
	}
	var out []gearbox.Pair
	for k := range n {
		out = append(out, list[k*(len(list)-1)/(n-1)])
	}
	return out
}

// syntheticPairs are n pairs that no stock has: every two numbers of teeth on the
// box's centre distance, one pair for each ratio, spread evenly.
func syntheticPairs(n int) []gearbox.Pair {
	var firsts, others []gearbox.Pair
	seen := map[float64]bool{}
	for sum := 48; sum <= 56; sum++ {
		for lay := 12; lay <= 31; lay++ {
			q := gearbox.Pair{
				ID: fmt.Sprintf("%d/%d", lay, sum-lay), Layshaft: lay, Mainshaft: sum - lay, Count: 1,
				Fits: []string{"wide", "narrow"},
			}
			q.Mark = q.ID
			switch r := q.Ratio(); {
			case seen[r] || r < 0.8 || r > 3.4:
			case r > 2.5:
				seen[r], q.Fits = true, []string{"shaft-first"}
				firsts = append(firsts, q)
			default:
				seen[r] = true
				others = append(others, q)
			}
		}
	}
	k := n / firstsShare
	return append(evenly(firsts, k), evenly(others, n-k)...)
}

// boxOf is the demo box with another number of gears.
func boxOf(wren *gearbox.Box, gears int) *gearbox.Box {
	box := *wren
	box.Gears, box.Slots, box.UpshiftTime = gears, nil, nil
	c := gearbox.Cluster{Name: "of the benchmark"}
	for i := range gears {
		kind := "wide"
		switch {
		case i == 0:
			kind = "shaft-first"
		case i > 2:
			kind = "narrow"
		}
		box.Slots = append(box.Slots, gearbox.Slot{Position: i + 1, Kind: kind})
		if i > 0 {
			box.UpshiftTime = append(box.UpshiftTime, wren.UpshiftTime[0])
		}
		c.Stack = append(c.Stack, i+1)
		if i%4 < 2 {
			c.Forks = append(c.Forks, gearbox.Fork{i + 1, i + 3})
		}
	}
	box.Clusters = []gearbox.Cluster{c}
	box.Strip.Depth = slices.Clone(wren.Strip.Depth)
	for len(box.Strip.Depth) < gears {
		box.Strip.Depth = append(box.Strip.Depth, box.Strip.Depth[len(box.Strip.Depth)-1])
	}
	return &box
}
