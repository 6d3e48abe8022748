package gearbox

import (
	"strconv"
	"strings"
)

// GearName is how a gear number is written for people: "1" to "8", and "R"
// for Reverse.
func GearName(gear int) string {
	if gear == Reverse {
		return "R"
	}
	return strconv.Itoa(gear)
}

// String writes a fork as its gears, "2-5", "R-1", or "5" for a single one.
func (f Fork) String() string {
	names := make([]string, len(f))
	for i, g := range f {
		names[i] = GearName(g)
	}
	return strings.Join(names, "-")
}

// Serves reports whether the fork moves the ring of the gear.
func (f Fork) Serves(gear int) bool {
	for _, g := range f {
		if g == gear {
			return true
		}
	}
	return false
}

// joinsNeighbours reports whether the fork serves two consecutive forward
// gears. Reverse is the neighbour of none: it is not shifted through at speed.
func (f Fork) joinsNeighbours() bool {
	return len(f) == 2 && f[0] > 0 && f[1] > 0 && (f[0]-f[1] == 1 || f[1]-f[0] == 1)
}

// maxLayoutGears bounds Layouts: at 12 gears there are 3,655 layouts without
// and 10,395 with neighbours sharing; a box has at most eight.
const maxLayoutGears = 12

// Layouts lists every way to let forks serve the forward gears 1 to gears, two
// gears to a fork. Unless neighboursShare, no fork serves k and k+1.
//
// With an odd number exactly one fork serves a single gear, any gear, and it
// stands as a fork of one: the empty side is where a box may put reverse.
//
// Order: in a fork the lower gear first, in a layout the forks by their lower
// gear, and the layouts as numbers are ordered, read fork by fork, where a
// single gear comes before a pair. gears below 1 or above 12 gives nil.
//
// Counts for even numbers: without sharing 0, 1, 5, 36, 329 for 2, 4, 6, 8,
// 10 gears (OEIS A000806, absolute values), with sharing 1, 3, 15, 105, 945
// (OEIS A001147).
func Layouts(gears int, neighboursShare bool) [][]Fork {
	if gears < 1 || gears > maxLayoutGears {
		return nil
	}
	served := make([]bool, gears+1)
	var out [][]Fork
	var build func(forks []Fork, singleLeft bool)
	build = func(forks []Fork, singleLeft bool) {
		low := 1
		for low <= gears && served[low] {
			low++
		}
		if low > gears {
			layout := make([]Fork, len(forks))
			for i, f := range forks {
				layout[i] = append(Fork(nil), f...)
			}
			out = append(out, layout)
			return
		}
		served[low] = true
		if singleLeft {
			build(append(forks, Fork{low}), false)
		}
		for high := low + 1; high <= gears; high++ {
			if served[high] || (high == low+1 && !neighboursShare) {
				continue
			}
			served[high] = true
			build(append(forks, Fork{low, high}), singleLeft)
			served[high] = false
		}
		served[low] = false
	}
	build(nil, gears%2 == 1)
	return out
}
