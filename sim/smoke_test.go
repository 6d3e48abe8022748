package sim

import (
	"fmt"
	"testing"
)

func TestSmoke(t *testing.T) {
	car := demoCar(t)
	for _, tr := range []struct {
		n string
		f func() *Model
	}{{"club", func() *Model {
		m, err := New(car, club(), stillAir(20), nil)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}}, {"bowl", func() *Model {
		m, err := New(car, bowl(), stillAir(20), nil)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}}} {
		m := tr.f()
		l := m.Lap(demoRatios())
		fmt.Println(tr.n, len(m.cells), l.Time, l.NumericalError, l.TopSpeed*3.6, l.Infeasible, l.TimeInGear, l.LimiterTime, l.Periodic)
		for _, s := range l.Shifts {
			fmt.Printf("%.1f %d>%d %.0f>%.0f %.1f\n", s.S, s.From, s.To, s.RPMBefore, s.RPMAfter, s.V*3.6)
		}
		for _, s := range l.ThrottleOns {
			fmt.Printf("on %.1f g%d %.0f %.1f\n", s.S, s.Gear, s.RPM, s.V*3.6)
		}
		o := m.OutLap(demoRatios())
		fmt.Println("out", o.Time, o.NumericalError, o.Infeasible)
		for r := 0; r <= 4; r++ {
			mm, _ := New(car, m.track, stillAir(20), &Settings{Refine: r})
			k := mm.NewSolver()
			fmt.Println(r, k.LapTime(demoRatios()), k.OutTime(demoRatios()))
		}
	}
}
func BenchmarkFlyingLap(b *testing.B) {
	car := demoCar(b)
	m, err := New(car, club(), stillAir(20), nil)
	if err != nil {
		b.Fatal(err)
	}
	k := m.NewSolver()
	r := demoRatios()
	b.ReportAllocs()
	for b.Loop() {
		k.LapTime(r)
	}
}
