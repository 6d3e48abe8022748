package tracks

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
	"layshaft/internal/numtest"
)

// invariants are what every accepted track keeps.
func invariants(t testing.TB, tr *Track) {
	t.Helper()
	require.NotEmpty(t, tr.Segments)
	var sum float64
	for i := range tr.Segments {
		g := &tr.Segments[i]
		for _, v := range []float64{g.Start, g.Length, g.K0, g.K1, g.Bank0, g.Bank1, g.Grade, g.Grip, g.Heading, g.X, g.Y, g.Z} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "segment %d: %+v", i, *g)
		}
		require.Positive(t, g.Length)
		require.Positive(t, g.Grip)
		numtest.Equal(t, "segments are contiguous", sum, g.Start, 1e-9, 1e-12)
		sum += g.Length
		require.True(t, g.Corner >= -1 && g.Corner < len(tr.Corners))
		require.Equal(t, g.Corner < 0, g.K0 == 0 && g.K1 == 0, "straights and only straights have no curvature")
	}
	numtest.Equal(t, "sum of the lengths", tr.Length, sum, 1e-9, 1e-12)
	numtest.Equal(t, "a full turn", 2*math.Pi, math.Abs(tr.Turned), 0.09, 0) // close_deg is at most 5
	require.LessOrEqual(t, math.Hypot(tr.GapX, tr.GapY), 20.0)
	require.True(t, tr.PitExit >= 0 && tr.PitExit < tr.Length)
	require.Positive(t, tr.PitLimit)
	for _, c := range tr.Corners {
		require.True(t, c.Start >= 0 && c.End > c.Start && c.End <= tr.Length+1e-9, "%+v", c)
		require.Positive(t, c.Radius)
	}
	for _, n := range tr.NoShift {
		require.True(t, n.Start >= 0 && n.End >= 0 && n.Start <= tr.Length && n.End <= tr.Length+1e-9 && n.Start != n.End, "%+v", n)
	}
}

func TestInvariantsOfCircuits(t *testing.T) {
	for _, name := range names() {
		invariants(t, circuit(t, name))
	}
}

// FuzzParse: whatever is read, there is no panic, and what is accepted keeps
// the invariants and answers everywhere.
func FuzzParse(f *testing.F) {
	for _, name := range names() {
		src, err := datafile.Read(name, Embedded(), CircuitDir, ".toml")
		require.NoError(f, err)
		f.Add(src.Data)
	}
	bad, err := filepath.Glob("testdata/bad/*.toml")
	require.NoError(f, err)
	for _, name := range bad {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(square()))
	f.Add([]byte(ring()))
	f.Fuzz(func(t *testing.T, data []byte) {
		tr, err := Parse(datafile.NewSource("my.toml", data))
		if err != nil {
			require.Nil(t, tr)
			require.NotEmpty(t, err.Error())
			return
		}
		invariants(t, tr)
		for i := range 10 {
			s := tr.Length * float64(i) / 7
			p := tr.At(s)
			require.False(t, math.IsNaN(p.X+p.Y+p.Z+p.Heading+p.Curvature+p.Bank), "%+v", p)
			require.NotEmpty(t, tr.Place(s))
		}
		numtest.Equal(t, "length, shifted", tr.Length, tr.Shifted(tr.Length/3).Length, 0, 1e-9)
	})
}
