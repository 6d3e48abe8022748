package tracks

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// calls are the stretches, as runs of starts and ends (m), that bear a name.
func calls(tr *Track, name string) [][2]float64 {
	var out [][2]float64
	for i := range tr.Segments {
		g := &tr.Segments[i]
		if !g.Named(name) {
			continue
		}
		if n := len(out); n > 0 && out[n-1][1] == g.Start {
			out[n-1][1] = g.End()
		} else {
			out = append(out, [2]float64{g.Start, g.End()})
		}
	}
	return out
}

func TestNames(t *testing.T) {
	text := edited(t, stadium, "length_m = 300.0", "length_m = 300.0\nname = \"Back\"") +
		"[[place]]\nname = \"wall\"\nfrom_m = 90.0\nto_m = 120.0\n" +
		"[[place]]\nname = \"line\"\nfrom_m = 900.0\nto_m = 100.0\n"
	tr := parse(t, text)
	near, far := tr.Corners[0], tr.Corners[1]
	end := tr.Length
	for name, want := range map[string][][2]float64{
		"T1":       {{near.Start, near.End}},
		"Near":     {{near.Start, near.End}},
		"Back":     {{near.End, far.Start}},
		"after T1": {{near.End, far.Start}},
		"after T2": {{0, near.Start}, {far.End, end}},
		"wall":     {{90, 120}},
		"line":     {{0, 100}, {900, end}},
		Straights:  {{0, near.Start}, {near.End, far.Start}, {far.End, end}},
		Everywhere: {{0, end}},
		"Nowhere":  nil,
	} {
		assert.Equal(t, want, calls(tr, name), name)
	}
	assert.Equal(t, []string{"after T2", "line", "wall", "T1", "Near", "after T1", "Back", "T2", "Far"}, tr.PlaceNames())
	invariants(t, tr)
	// Names stay on the ground.
	assert.True(t, tr.Shifted(95).Segments[0].Named("wall"))
	assert.True(t, tr.Mirrored().SplitStraight(300).Segments[4].Named("Back"))
}

func TestCheckPlace(t *testing.T) {
	tr := circuit(t, "harrowdale")
	for _, name := range []string{"Rookery", "T2", "after T14", "straights", "everywhere"} {
		require.NoError(t, tr.CheckPlace(name))
	}
	err := tr.CheckPlace("Rokery")
	require.ErrorContains(t, err, `"Rokery" is no place of track harrowdale: did you mean "Rookery"? known are everywhere, straights, after T14, T1, Lambfold, after T1`)
	require.ErrorContains(t, tr.CheckPlace("T15"), "known are")
}

// A spiral is part of its corner, and places that overlap keep apart.
func TestNamesOfPieces(t *testing.T) {
	text := square() +
		"[[place]]\nname = \"a\"\nfrom_m = 10.0\nto_m = 90.0\n" +
		"[[place]]\nname = \"b\"\nfrom_m = 20.0\nto_m = 80.0\n" +
		"[[place]]\nname = \"c\"\nfrom_m = 20.0\nto_m = 60.0\n" +
		"[[place]]\nname = \"d\"\nfrom_m = 20.0\nto_m = 50.0\n" +
		"[[place]]\nname = \"e\"\nfrom_m = 40.0\nto_m = 60.0\n"
	tr := parse(t, text)
	for name, want := range map[string][2]float64{
		"a": {10, 90}, "b": {20, 80}, "c": {20, 60}, "d": {20, 50}, "e": {40, 60},
		"North": {100, tr.Corners[0].End},
	} {
		assert.Equal(t, [][2]float64{want}, calls(tr, name), name)
	}
	assert.Equal(t, [2]float64{tr.Corners[0].End, tr.Corners[1].Start}, calls(tr, Straights)[1])
}
