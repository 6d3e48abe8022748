package csvfile_test

import (
	"fmt"

	"layshaft/internal/csvfile"
)

func Example() {
	t, err := csvfile.Read("pairs.csv", []byte("layshaft_teeth;km\n16;1.180,5\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	km, _, _ := t.Number(&t.Rows[0], "km")
	fmt.Println(km, t.Notes)
	// Output: 1180.5 [the comma is read as the decimal sign]
}
