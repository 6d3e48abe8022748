package gearing

import (
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/sim"
	"layshaft/tracks"
)

func source(t testing.TB, f fs.FS, name string) datafile.Source {
	t.Helper()
	data, err := fs.ReadFile(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return datafile.Source{Name: name, Data: data, Embedded: true}
}

func demoCar(t testing.TB) (*cars.Car, *gearbox.Box) {
	t.Helper()
	car, err := cars.Parse(source(t, cars.Embedded(), "examples/wren.toml"))
	if err != nil {
		t.Fatal(err)
	}
	box, err := gearbox.ParseBox(source(t, gearbox.Embedded(), "boxes/wren-six.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := car.Attach(box); err != nil {
		t.Fatal(err)
	}
	return car, box
}

func stillAir() sim.Conditions {
	return sim.Conditions{AirDensity: 1.2, EngineFactor: 1, TowDrag: 1, TowDownforce: 1, Fuel: 20, Grip: 1}
}

// demoProblem is the embedded demo on one of the embedded circuits.
func demoProblem(t testing.TB, circuit string) *Problem {
	t.Helper()
	car, box := demoCar(t)
	stock, err := gearbox.ParseStock(source(t, gearbox.Embedded(), "stocks/wren.toml"))
	if err != nil {
		t.Fatal(err)
	}
	track, err := tracks.Parse(source(t, tracks.Embedded(), "circuits/"+circuit+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := sim.New(car, track, stillAir(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Problem{Model: m, Box: box, Stock: stock, Limits: Limits{TopHeadroomRPM: -1}}
}

// track strings straights and corners together; it need not close in the
// plane.
type track struct {
	t *tracks.Track
	h float64
}

func (b *track) add(length, k0, k1 float64, corner int) {
	if length <= 0 {
		return
	}
	b.t.Segments = append(b.t.Segments, tracks.Segment{
		Start: b.t.Length, Length: length, K0: k0, K1: k1, Grip: 1, Heading: b.h, Corner: corner,
	})
	b.t.Length += length
	b.h -= 0.5 * (k0 + k1) * length
}

func (b *track) corner(radius, angle, spiral float64) {
	k := math.Copysign(1/radius, angle)
	b.t.Corners = append(b.t.Corners, tracks.Corner{Name: fmt.Sprintf("C%d", len(b.t.Corners)+1), Start: b.t.Length, End: b.t.Length + math.Abs(angle)*radius + spiral})
	n := len(b.t.Corners) - 1
	b.add(spiral, 0, k, n)
	b.add(math.Abs(angle)*radius-spiral, k, k, n)
	b.add(spiral, k, 0, n)
}

// randomTrack is a short circuit of three to five corners, every fourth one a
// wide bowl that is taken flat, some with a no-shift place.
func randomTrack(r *rand.Rand, flat bool) *tracks.Track {
	b := &track{t: &tracks.Track{Name: "random", PitLimit: 60 / 3.6, PitExit: 20}}
	if flat {
		for range 2 {
			b.add(200+100*r.Float64(), 0, 0, -1)
			b.corner(400+50*r.Float64(), math.Pi, 60)
		}
		return b.t
	}
	n := 3 + r.IntN(3)
	for range n {
		b.add(120+400*r.Float64(), 0, 0, -1)
		b.corner(22+60*r.Float64(), 2*math.Pi/float64(n), 5+8*r.Float64())
	}
	b.add(100, 0, 0, -1)
	if r.IntN(3) == 0 {
		s := 60 + 200*r.Float64()
		b.t.NoShift = []tracks.Span{{Name: "no shift", Start: s, End: s + 40}}
	}
	return b.t
}

// bankCorners gives every corner a bank (rad) towards its inside.
func bankCorners(t *tracks.Track, bank float64) {
	for i := range t.Segments {
		s := &t.Segments[i]
		if s.K0 != 0 {
			s.Bank0 = math.Copysign(bank, s.K0)
		}
		if s.K1 != 0 {
			s.Bank1 = math.Copysign(bank, s.K1)
		}
	}
}

// randomProblem is a small problem with every rule in play.
func randomProblem(t testing.TB, seed uint64) *Problem {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	base, wren := demoCar(t)
	gears := 4 + int(seed%3)
	if seed%10 == 9 {
		gears = 7 + int(seed/10%2)
	}
	box := &gearbox.Box{
		Name: "random", Gears: gears, StepMin: 1.08, StepMax: 1.75,
		DownshiftTime: 0.05, NeighboursShare: false, Strip: wren.Strip,
	}
	switch gears {
	case 4:
		box.Clusters = []gearbox.Cluster{{Name: "a", Forks: []gearbox.Fork{{1, 3}, {2, 4}}, Stack: []int{1, 3, 2, 4}}}
	case 5:
		box.Clusters = []gearbox.Cluster{{Name: "a", Forks: []gearbox.Fork{{1, 3}, {2, 4}, {5}}, Stack: []int{1, 3, 2, 4, 5}}}
	case 6:
		box.Clusters = wren.Clusters
	default:
		box.Clusters, box.Strip = boxOf(wren, gears).Clusters, boxOf(wren, gears).Strip
	}
	for i := range gears {
		kind := "loose"
		if i == 0 {
			kind = "first"
		}
		box.Slots = append(box.Slots, gearbox.Slot{Position: i + 1, Kind: kind})
		if i > 0 {
			box.UpshiftTime = append(box.UpshiftTime, 0.04+0.02*r.Float64())
		}
	}
	car := *base
	car.Efficiency = nil
	car.Box = nil
	for range gears {
		car.Efficiency = append(car.Efficiency, 0.95+0.02*r.Float64())
	}
	car.Engine.PullingRPM = 3000
	if seed%7 == 3 {
		car.ShiftInertiaReturn = r.Float64()
	}
	car.Box = box

	stock := &gearbox.Stock{Name: "random", Finals: []gearbox.Drive{
		{Name: "a", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}, Fitted: true, Count: 1},
		{Name: "b", Teeth: gearbox.Teeth{Driving: 12, Driven: 39}, Count: 1},
	}}
	n := 8 + r.IntN(7)
	for i := range n {
		// Layshaft teeth spread so that ratios run from about 2.9 to 0.9.
		lay := 13 + i*14/(n-1)
		p := gearbox.Pair{
			ID: fmt.Sprintf("p%02d", i), Layshaft: lay, Mainshaft: 51 + r.IntN(3) - lay, Count: 1,
			Fits: []string{"loose"},
		}
		if i < 3 {
			p.Fits = []string{"first", "loose"}
		}
		switch r.IntN(12) {
		case 0:
			p.Count = 0
		case 1:
			p.InspectionDue = true
		case 2:
			p.LifeM, p.RunM = 1e6, 2e6
		}
		p.Mark = fmt.Sprintf("%d/%d", p.Layshaft, p.Mainshaft)
		stock.Pairs = append(stock.Pairs, p)
	}
	if r.IntN(2) == 0 {
		// An integral part with two pairs: both or neither.
		stock.Pairs[0].Group, stock.Pairs[3].Group = "part", "part"
	}
	wear := rand.New(rand.NewPCG(seed, 78))
	for i := range stock.Pairs {
		if q := &stock.Pairs[i]; q.LifeM == 0 && wear.IntN(2) == 0 {
			q.LifeM, q.RunM = 1e6, 1e5*float64(wear.IntN(10))
		}
	}
	if seed%4 > 0 {
		for _, i := range wear.Perm(n)[:gears] {
			stock.Fitted = append(stock.Fitted, stock.Pairs[i].ID)
		}
		slices.Sort(stock.Fitted) // falling ratios, perhaps not buildable
	}
	lim := Limits{TopHeadroomRPM: -1}
	if r.IntN(3) == 0 {
		lim.TopHeadroomRPM = 50
	}
	if r.IntN(4) == 0 {
		lim.Finals = []*gearbox.Drive{&stock.Finals[0], &stock.Finals[1]}
	}
	cond := stillAir()
	if r.IntN(3) == 0 {
		cond.WindSpeed, cond.WindFrom = 8*r.Float64(), 6*r.Float64()
	}
	if r.IntN(3) == 0 {
		cond.TowDrag, cond.TowDownforce = 0.8+0.2*r.Float64(), 0.85+0.15*r.Float64()
		cond.TowWhere = []string{tracks.Straights}
	}
	circuit := randomTrack(r, seed%8 == 7)
	if r.IntN(2) == 0 {
		bankCorners(circuit, -0.02+0.1*r.Float64())
	}
	m, err := sim.New(&car, circuit, cond, nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Problem{Model: m, Box: box, Stock: stock, Limits: lim}
}
