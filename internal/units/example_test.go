package units_test

import (
	"fmt"

	"layshaft/internal/units"
)

func Example() {
	speed := 250 * units.FromKmh // m/s, at the door
	fmt.Printf("%.2f m/s is %.0f km/h or %.1f mile/h\n", speed, speed*units.ToKmh, speed*units.ToMph)
	// Output: 69.44 m/s is 250 km/h or 155.3 mile/h
}
