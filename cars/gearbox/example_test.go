package gearbox_test

import (
	"fmt"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
)

func Example() {
	src, err := datafile.Read("wren-six", gearbox.Embedded(), gearbox.BoxDir, ".toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	box, err := gearbox.ParseBox(src)
	if err != nil {
		fmt.Println(err)
		return
	}
	cluster := &box.Clusters[0]
	for _, gear := range []int{6, 5} {
		off, err := box.ComesOff(cluster, gear)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("gear %d: layshaft %v, mainshaft %v, strip %v, %.1f min\n",
			gear, off.Layshaft, off.Mainshaft, off.Strip, box.Minutes(cluster, []int{gear})/60)
	}
	// Output:
	// gear 6: layshaft [gear 6], mainshaft [gear 6], strip false, 14.5 min
	// gear 5: layshaft [gear 6 gear 4 gear 5], mainshaft [gear 6 dog ring 4-6 gear 4 gear 5], strip true, 18.5 min
}
