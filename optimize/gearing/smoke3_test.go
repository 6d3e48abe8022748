package gearing

import (
	"fmt"
	"layshaft/sim"
	"math"
	"os"
	"testing"
)

func TestZones(t *testing.T) {
	for _, n := range []string{"quayside"} {
		p := demo(t, n)
		var st *Settings
		pl, _ := p.plan(st.withDefaults())
		f := pl.frames[0]
		acc := newAccount(f, pl.zones, pl.ideal, 2)
		s := acc.startingSet(f, p.Stock)
		acc.calibrate(s.idx, 2)
		w := newWalk(acc)
		for g := 0; g < f.n; g++ {
			p := -1
			if g > 0 {
				p = s.idx[g-1]
			}
			w.enter(g, p, s.idx[g])
			w.drive(g, s.idx[g], math.Inf(1))
		}
		lap := p.Model.Lap(f.totals(s.idx, nil))
		at := func(x float64) float64 {
			L := p.Model.Track().Length
			x = math.Mod(x, L)
			for i := range lap.Samples {
				if lap.Samples[i].S >= x-1e-6 {
					a := lap.Samples[i]
					return a.T - (a.S-x)/a.V
				}
			}
			return lap.Time
		}
		for z, za := range acc.zones {
			st := w.stack[f.n-1].zones[z]
			best := st.held
			for l := range st.labels {
				best = math.Min(best, p.Model.Held(st.run[l], math.Inf(1)))
			}
			d := at(za.z.End) - at(za.z.Start.Distance())
			if d < 0 {
				d += lap.Time
			}
			fmt.Printf("z%d walk %.4f lap %.4f ideal %.4f labels %d held %.3f\n", z, best, d, za.z.Ideal, st.labels, st.held)
		}
		if os.Getenv("V") == "" {
			continue
		}
		var prev sim.Sample
		for _, x := range lap.Samples {
			if x.Phase != prev.Phase || x.Gear != prev.Gear {
				fmt.Printf("%.1f %.3f v%.2f g%d %.0f ph%d lim %.2f\n", x.S, x.T, x.V, x.Gear, x.RPM, x.Phase, x.Limit)
			}
			prev = x
		}
		w2 := newWalk(acc)
		for g := 0; g < f.n; g++ {
			pp := -1
			if g > 0 {
				pp = s.idx[g-1]
			}
			w2.enter(g, pp, s.idx[g])
			w2.drive(g, s.idx[g], math.Inf(1))
			s2 := &w2.stack[g].zones[11]
			fmt.Printf("g%d started %v held %.4f\n", g+1, s2.started, s2.held)
			for l := range s2.labels {
				c := math.Inf(1)
				if g+1 < f.n {
					c = f.cross[g][s.idx[g]][s.idx[g+1]]
				}
				fmt.Printf("   lab s%.2f v%.3f t%.4f start %v final? held %.4f cross v %.2f\n", s2.from[l].Distance(), math.Sqrt(s2.from[l].SpeedSq()), s2.from[l].Clock(), s2.atStart[l], p.Model.Held(s2.run[l], c), math.Sqrt(c))
			}
		}
	}
}
