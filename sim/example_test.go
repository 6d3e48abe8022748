package sim_test

import (
	"fmt"
	"io/fs"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
	"layshaft/sim"
	"layshaft/tracks"
)

func embedded(f fs.FS, name string) datafile.Source {
	data, err := fs.ReadFile(f, name)
	if err != nil {
		panic(err)
	}
	return datafile.Source{Name: name, Data: data, Embedded: true}
}

// A lap of the invented demo car on the invented banked oval: flat out, in top
// gear all round.
func Example() {
	car, err := cars.Parse(embedded(cars.Embedded(), "examples/wren.toml"))
	if err != nil {
		panic(err)
	}
	box, err := gearbox.ParseBox(embedded(gearbox.Embedded(), "boxes/wren-six.toml"))
	if err != nil {
		panic(err)
	}
	if err := car.Attach(box); err != nil {
		panic(err)
	}
	track, err := tracks.Parse(embedded(tracks.Embedded(), "circuits/saltmere.toml"))
	if err != nil {
		panic(err)
	}
	model, err := sim.New(car, track, sim.Conditions{
		AirDensity: 1.2, EngineFactor: 1, TowDrag: 1, TowDownforce: 1, Fuel: 20, Grip: 1,
	}, nil)
	if err != nil {
		panic(err)
	}
	lap := model.Lap([]float64{9.01, 6.53, 5.09, 4.20, 3.60, 3.34})
	fmt.Printf("%.2f s, %d shifts, top gear used: %v\n", lap.Time, len(lap.Shifts), lap.Used(6))
	// Output: 31.26 s, 0 shifts, top gear used: true
}
