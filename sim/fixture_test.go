package sim

import (
	"io/fs"
	"math"
	"testing"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// demoCar is the embedded demo car with its gearbox attached.
func demoCar(t testing.TB) *cars.Car {
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
	return car
}

func source(t testing.TB, f fs.FS, name string) datafile.Source {
	t.Helper()
	data, err := fs.ReadFile(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return datafile.Source{Name: name, Data: data, Embedded: true}
}

// demoRatios are total ratios close to the fitted set of the demo stock.
func demoRatios() []float64 { return []float64{8.99, 6.51, 5.15, 4.28, 3.69, 3.26} }

// stillAir is the standard atmosphere at sea level, no wind, nothing scaled.
func stillAir(fuel float64) Conditions {
	return Conditions{AirDensity: 1.225, EngineFactor: 1, TowDrag: 1, TowDownforce: 1, Fuel: fuel, Grip: 1}
}

// builder strings segments together from a heading.
type builder struct {
	t *tracks.Track
	s float64
	h float64
}

func newTrack() *builder {
	return &builder{t: &tracks.Track{Name: "fixture", PitLimit: 80 * units.FromKmh, PitExit: 10}}
}

func (b *builder) add(length, k0, k1, bank0, bank1, grade float64, corner int) {
	if length <= 0 {
		return
	}
	b.t.Segments = append(b.t.Segments, tracks.Segment{
		Start: b.s, Length: length, K0: k0, K1: k1, Bank0: bank0, Bank1: bank1,
		Grade: grade, Grip: 1, Heading: b.h, Corner: corner,
	})
	b.s += length
	b.h -= 0.5 * (k0 + k1) * length
	b.t.Length = b.s
}

func (b *builder) straight(length float64) *builder {
	b.add(length, 0, 0, 0, 0, 0, -1)
	return b
}

// corner turns by angle (rad, left positive) at a radius, with spirals in and
// out and a bank that helps.
func (b *builder) corner(radius, angle, spiral, bank float64) *builder {
	k := math.Copysign(1/radius, angle)
	bank = math.Copysign(bank, angle)
	if bank == 0 {
		bank = 0
	}
	n := len(b.t.Corners)
	b.t.Corners = append(b.t.Corners, tracks.Corner{Name: "corner", Start: b.s})
	b.add(spiral, 0, k, 0, bank, 0, n)
	b.add(math.Abs(angle)*radius-spiral, k, k, bank, bank, 0, n)
	b.add(spiral, k, 0, bank, 0, 0, n)
	b.t.Corners[n].End = b.s
	return b
}

// embedded is one of the embedded circuits.
func embedded(t testing.TB, name string) *tracks.Track {
	t.Helper()
	tr, err := tracks.Parse(source(t, tracks.Embedded(), tracks.CircuitDir+"/"+name+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func circuits() []string { return []string{"harrowdale", "quayside", "saltmere"} }
