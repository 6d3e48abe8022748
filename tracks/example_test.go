package tracks_test

import (
	"fmt"
	"math"

	"layshaft/internal/datafile"
	"layshaft/tracks"
)

func Example() {
	src, err := datafile.Read("saltmere", tracks.Embedded(), tracks.CircuitDir, ".toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	track, err := tracks.Parse(src)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %.0f m, %d corners\n", track.Title, track.Length, len(track.Corners))
	p := track.At(300)
	fmt.Printf("%s: radius %.0f m to the left, banked %.0f°\n", track.Place(300), 1/p.Curvature, p.Bank*180/math.Pi)
	fmt.Printf("closes within a millimetre: %t\n", math.Hypot(track.GapX, track.GapY) < 0.001)
	// Output:
	// Saltmere Oval (invented): 2412 m, 4 corners
	// T1 Saltpan: radius 190 m to the left, banked 15°
	// closes within a millimetre: true
}
