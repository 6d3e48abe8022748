package cars_test

import (
	"fmt"

	"layshaft/cars"
	"layshaft/internal/datafile"
)

func Example() {
	src, err := datafile.Read("wren", cars.Embedded(), cars.ExampleDir, ".toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	car, err := cars.Parse(src)
	if err != nil {
		fmt.Println(err)
		return
	}
	race, err := car.Engine.Map("race")
	if err != nil {
		fmt.Println(err)
		return
	}
	curve, err := race.Curve()
	if err != nil {
		fmt.Println(err)
		return
	}
	rpm, power := curve.PeakPower()
	fmt.Println(car.Title)
	fmt.Printf("%.0f kW near %.0f rpm, limiter %.0f rpm\n", power/1000, rpm, race.LimiterRPM)
	fmt.Printf("%.1f N·m at 7,800 rpm\n", curve.At(7800))
	// Output:
	// Wren, Meridian Formula single-seater (invented)
	// 330 kW near 8328 rpm, limiter 9000 rpm
	// 391.7 N·m at 7,800 rpm
}
