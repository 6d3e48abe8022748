package sim

import (
	"fmt"
	"testing"

	"layshaft/tracks"
)

func TestZZRecompute(t *testing.T) {
	car := demoCar(t)
	f := 37.0 / 12
	tot := []float64{38.0 / 13 * f, 36.0 / 17 * f, 33.0 / 20 * f, 30.0 / 22 * f, 28.0 / 24 * f, 27.0 / 26 * f}
	c := stillAir(20)
	c.AirDensity = 1.2
	for _, n := range []string{"saltmere", "harrowdale", "quayside"} {
		tr, err := tracks.Parse(source(t, tracks.Embedded(), "circuits/"+n+".toml"))
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []int{0, 1, 3} {
			m, err := New(car, tr, c, &Settings{Refine: r})
			if err != nil {
				t.Fatal(err)
			}
			k := m.NewSolver()
			fmt.Printf("%s refine %d lap %.5f out %.5f\n", n, r, k.LapTime(tot), k.OutTime(tot))
			if r == 3 {
				l := m.Lap(tot)
				fmt.Println(l.TopSpeed, l.Infeasible, l.Warnings)
				for _, s := range l.Shifts {
					fmt.Printf("(%d>%d, %.2f, %.3f) ", s.From, s.To, s.S, s.V)
				}
				fmt.Println()
				for _, s := range l.ThrottleOns {
					fmt.Printf("on (%.2f, %.3f, g%d) ", s.S, s.V, s.Gear)
				}
				fmt.Println()
				o := m.OutLap(tot)
				for _, s := range o.Shifts {
					fmt.Printf("(%d>%d, %.2f, %.3f) ", s.From, s.To, s.S, s.V)
				}
				fmt.Println()
			}
		}
	}
}
