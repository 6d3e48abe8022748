package gearbox_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"layshaft/cars/gearbox"
)

// The number of ways to pair 1..2n without k, k+1 together: OEIS A000806,
// absolute values 1, 0, 1, 5, 36, 329; with neighbours allowed: the double
// factorials 1, 3, 15, 105, 945, OEIS A001147.
func TestLayoutsCounts(t *testing.T) {
	for _, c := range []struct {
		gears int
		share bool
		want  int
	}{
		{2, false, 0}, {4, false, 1}, {6, false, 5}, {8, false, 36}, {10, false, 329},
		{2, true, 1}, {4, true, 3}, {6, true, 15}, {8, true, 105}, {10, true, 945},
		{0, false, 0}, {-1, true, 0}, {13, true, 0},
	} {
		t.Run(fmt.Sprint(c.gears, c.share), func(t *testing.T) {
			assert.Len(t, gearbox.Layouts(c.gears, c.share), c.want)
		})
	}
}

// All five layouts for six gears, worked out by hand: 1 goes with 3, 4, 5 or 6
// and the rest must split without neighbours.
func TestLayoutsOfSix(t *testing.T) {
	assert.Equal(t, [][]gearbox.Fork{
		{{1, 3}, {2, 5}, {4, 6}},
		{{1, 4}, {2, 5}, {3, 6}},
		{{1, 4}, {2, 6}, {3, 5}},
		{{1, 5}, {2, 4}, {3, 6}},
		{{1, 6}, {2, 4}, {3, 5}},
	}, gearbox.Layouts(6, false))
}

// Three gears by hand: one fork of 1 and 3, second alone.
func TestLayoutsOfThree(t *testing.T) {
	assert.Equal(t, [][]gearbox.Fork{{{1, 3}, {2}}}, gearbox.Layouts(3, false))
	assert.Equal(t, [][]gearbox.Fork{{{1}, {2, 3}}, {{1, 2}, {3}}, {{1, 3}, {2}}}, gearbox.Layouts(3, true))
}

// With an odd number n the fork with a single gear is as good as one with a
// further gear n+1 on its other side, so that where neighbours may share there
// are as many layouts for n as for n+1.
func TestLayoutsOddEqualsEvenWithReverse(t *testing.T) {
	for n := 1; n <= 9; n += 2 {
		assert.Len(t, gearbox.Layouts(n, true), len(gearbox.Layouts(n+1, true)))
	}
}

func TestLayoutsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 10).Draw(t, "gears")
		share := rapid.Bool().Draw(t, "share")
		seen := map[string]bool{}
		for _, layout := range gearbox.Layouts(n, share) {
			text := fmt.Sprint(layout)
			if seen[text] {
				t.Fatalf("layout %s twice", text)
			}
			seen[text] = true
			served := map[int]int{}
			singles := 0
			for i, f := range layout {
				if i > 0 && layout[i-1][0] >= f[0] {
					t.Fatalf("%s: forks out of order", text)
				}
				if len(f) == 1 {
					singles++
				} else if f[0] >= f[1] || (!share && f[1] == f[0]+1) {
					t.Fatalf("%s: fork %v not allowed", text, f)
				}
				for _, g := range f {
					served[g]++
				}
			}
			if singles != n%2 || len(served) != n {
				t.Fatalf("%s: %d singles, %d gears served", text, singles, len(served))
			}
			for g := 1; g <= n; g++ {
				if served[g] != 1 {
					t.Fatalf("%s: gear %d served %d times", text, g, served[g])
				}
			}
		}
	})
}
