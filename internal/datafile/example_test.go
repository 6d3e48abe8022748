package datafile_test

import (
	"fmt"

	"layshaft/internal/datafile"
)

func Example() {
	src := datafile.NewSource("my.toml", []byte("[engine]\ntorque_nm = [200, 215, -5]\nidle = 900\n"))
	var file struct {
		Engine struct {
			TorqueNm []float64 `toml:"torque_nm"`
			IdleRPM  float64   `toml:"idle_rpm"`
			Inertia  float64   `toml:"inertia_kgm2"`
		} `toml:"engine"`
	}
	d, err := datafile.Decode(src, &file)
	if err != nil { // no TOML, or values of the wrong kind
		fmt.Println(err)
		return
	}
	d.Need("engine.torque_nm", "engine.idle_rpm", "engine.inertia_kgm2")
	d.Positive("engine.inertia_kgm2", file.Engine.Inertia)
	for i, torque := range file.Engine.TorqueNm {
		d.Positive(fmt.Sprintf("engine.torque_nm[%d]", i+1), torque)
	}
	fmt.Println(d.Err())
	// Output:
	// my.toml:1: engine.inertia_kgm2: is missing (a number)
	// my.toml:2: engine.torque_nm[3]: -5 is not > 0
	// my.toml:3: engine.idle: is not a known key; did you mean "idle_rpm"?
}
