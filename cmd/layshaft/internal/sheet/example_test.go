package sheet_test

import (
	"fmt"
	"os"

	"layshaft/cmd/layshaft/internal/sheet"
)

// A study of the fork rule is the smallest report: build it, then view it.
func Example() {
	r, err := sheet.StudyLayouts(4, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := r.Text(os.Stdout, sheet.TextOptions{Units: sheet.Metric}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// FORK LAYOUTS for 4 gears: neighbours may not share a fork
	// ================================================================================
	//     1   1-3   2-4
	//
	// 1 layout. Each fork serves the gears joined by "-"; with an odd number of gears
	// one fork serves one.
	// A study of the fork rule only: a gearbox can be built in the layouts and stacks
	// that its own file lists, and in no other.
}
