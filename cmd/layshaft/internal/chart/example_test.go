package chart_test

import (
	"bytes"
	"fmt"

	"layshaft/cmd/layshaft/internal/chart"
	"layshaft/sim"
	"layshaft/tracks"
)

// A figure is written as a whole file of the format asked for.
func Example() {
	figure := chart.Lap{
		Frame: chart.Frame{Title: "Two samples"},
		Track: &tracks.Track{Length: 100},
		Lap: &sim.Lap{TimeInGear: []float64{1, 1}, Samples: []sim.Sample{
			{S: 0, V: 20, Gear: 1, Phase: sim.Driving},
			{S: 100, T: 4, V: 30, Gear: 1, Phase: sim.Driving},
		}},
	}
	var file bytes.Buffer
	if err := chart.Write(&file, &figure, chart.PNG); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%q\n", file.Bytes()[1:4])
	// Output: "PNG"
}
