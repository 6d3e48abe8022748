package gearing

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"
)

func TestDiag(t *testing.T) {
	names := []string{"harrowdale", "quayside", "saltmere"}
	if s := os.Getenv("T"); s != "" {
		names = []string{s}
	}
	for _, n := range names {
		p := demo(t, n)
		t0 := time.Now()
		var st *Settings
		pl, err := p.plan(st.withDefaults())
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(n, "plan", time.Since(t0), pl.count, len(pl.zones))
		t0 = time.Now()
		f := pl.frames[0]
		var acc *account
		var idx []int
		var score float64
		if n == "saltmere" || os.Getenv("OUT") != "" {
			acc = newOutAccount(f, pl.outs, pl.ideal, 2)
			ring := newRingTable(f, pl.ideal, 2)
			fmt.Println("ring", time.Since(t0))
			t0 = time.Now()
			lap, i0 := ring.best(func([]int) bool { return true })
			fmt.Println(lap, ring.shifted, i0)
			sp := &space{f: f, stock: p.Stock, second: true, lapMost: lap + .001, ring: ring, out: acc}
			k := f.m.NewSolver()
			r := improve(f, i0, func(idx []int) float64 {
				totals := f.totals(idx, nil)
				if k.LapTime(totals) > sp.lapMost {
					return math.Inf(1)
				}
				return k.OutTime(totals)
			})
			idx, score = r.idx, r.score
		} else {
			acc = newAccount(f, pl.zones, pl.ideal, 2)
			s := acc.startingSet(f, p.Stock)
			idx, score = s.idx, s.score
		}
		fmt.Println("start", time.Since(t0), score, acc.ideal, score-acc.ideal, idx)
		t0 = time.Now()
		acc.calibrate(idx, 2)
		best := math.Inf(1)
		for _, v := range acc.root {
			best = math.Min(best, v)
		}
		fmt.Println("budgets", time.Since(t0), "root bound loss", best)
		t0 = time.Now()
		for g := 0; g < f.n; g++ {
			p := -1
			if g > 0 {
				p = idx[g-1]
			}
			j := -1
			if g+1 < f.n {
				j = idx[g+1]
			}
			sum := 0.0
			for _, z := range acc.zones {
				sum += z.triple(f, g, p, idx[g], j)
			}
			fmt.Printf("g%d %.4f ", g+1, sum)
		}
		fmt.Println()
		w := newWalk(acc)
		for g := 0; g < f.n; g++ {
			p := -1
			if g > 0 {
				p = idx[g-1]
			}
			w.enter(g, p, idx[g])
			if g+1 < f.n {
				w.drive(g, idx[g], math.Inf(1))
				b := w.childBound(g, p, idx[g], idx[g+1], 1e9)
				fmt.Printf("prefix%d %.5f of which exact %.5f ", g+1, b, b-acc.togo[g][idx[g]][idx[g+1]])
			} else {
				fmt.Printf("total %.5f\n", w.total(g, idx[g], 1e9))
			}
		}
		for i, z := range acc.zones {
			fmt.Printf("z%d v0 %.1f v1 %.1f sure %.1f ideal %.3f end %.1f start %.1f least\n", i, z.v0, z.v1, z.sure, z.z.Ideal, z.z.End, z.z.Start.Distance())
		}
	}
}
