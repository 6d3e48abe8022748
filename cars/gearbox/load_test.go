package gearbox_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"
)

// Every fixture names in "# want:" lines what its error must hold.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.toml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			data, err := os.ReadFile(name)
			require.NoError(t, err)
			src := datafile.Source{Name: filepath.Base(name), Data: data}
			if strings.HasPrefix(src.Name, "box_") {
				var b *gearbox.Box
				b, err = gearbox.ParseBox(src)
				assert.Nil(t, b)
			} else {
				var s *gearbox.Stock
				s, err = gearbox.ParseStock(src)
				assert.Nil(t, s)
			}
			require.Error(t, err)
			t.Log(err)
			wants := 0
			for line := range strings.Lines(string(data)) {
				if want, ok := strings.CutPrefix(strings.TrimSpace(line), "# want: "); ok {
					wants++
					assert.ErrorContains(t, err, want)
				}
			}
			require.Positive(t, wants)
			assert.ErrorContains(t, err, src.Name)
		})
	}
}

func TestEmbeddedBoxes(t *testing.T) {
	wren := box(t, "wren-six")
	assert.Equal(t, "wren-six", wren.Name)
	assert.Len(t, wren.UpshiftTime, 5)
	assert.Equal(t, []int{1, 3, 2, 5, 4, 6}, wren.Clusters[0].Stack)
	assert.Equal(t, []gearbox.Fork{{1, 3}, {2, 5}, {4, 6}}, wren.Clusters[0].Forks)
	assert.False(t, wren.NeutralBetween)
	plover := box(t, "plover-five")
	assert.True(t, plover.NeutralBetween)
	assert.Len(t, plover.Clusters, 2)
	assert.Equal(t, 4, plover.Strip.CarrierAfter)
	assert.Len(t, plover.MakerNotes, 1)
	assert.NotNil(t, plover.Cluster("third at the housing"))
	assert.Nil(t, plover.Cluster("none such"))
}

func TestEveryEmbeddedFileLoads(t *testing.T) {
	for _, name := range datafile.Names(gearbox.Embedded(), gearbox.BoxDir, ".toml") {
		checkBox(t, box(t, name))
	}
	for _, name := range datafile.Names(gearbox.Embedded(), gearbox.StockDir, ".toml") {
		checkStock(t, stock(t, name))
	}
}

func FuzzParseBox(f *testing.F) {
	seed(f, gearbox.BoxDir, "box_")
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := gearbox.ParseBox(datafile.Source{Name: "fuzz.toml", Data: data})
		if err == nil {
			checkBox(t, b)
		} else if b != nil {
			t.Fatal("a box beside an error")
		}
	})
}

func FuzzParseStock(f *testing.F) {
	seed(f, gearbox.StockDir, "stock_")
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := gearbox.ParseStock(datafile.Source{Name: "fuzz.toml", Data: data})
		if err == nil {
			checkStock(t, s)
		} else if s != nil {
			t.Fatal("a stock beside an error")
		}
	})
}

func seed(f *testing.F, dir, prefix string) {
	for _, name := range datafile.Names(gearbox.Embedded(), dir, ".toml") {
		src, err := datafile.Read(name, gearbox.Embedded(), dir, ".toml")
		require.NoError(f, err)
		f.Add(src.Data)
	}
	files, err := filepath.Glob("testdata/bad/" + prefix + "*.toml")
	require.NoError(f, err)
	for _, name := range files {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(data)
	}
}

// checkBox holds what every accepted box must satisfy.
func checkBox(t *testing.T, b *gearbox.Box) {
	t.Helper()
	require.NotEmpty(t, b.Name)
	require.True(t, b.Gears >= 4 && b.Gears <= 8)
	require.Len(t, b.UpshiftTime, b.Gears-1)
	require.Len(t, b.Strip.Depth, len(b.Slots))
	require.NotEmpty(t, b.Clusters)
	require.True(t, b.StepMin > 1 && b.StepMax >= b.StepMin)
	for _, times := range [][]float64{b.UpshiftTime, b.Strip.Depth, {b.DownshiftTime, b.Strip.Opening, b.Strip.PerPair, b.Strip.Closing}} {
		for _, v := range times {
			require.True(t, v >= 0 && v < 1e300, "time %g", v)
		}
	}
	for _, e := range b.Endurances {
		require.True(t, (e.Force > 0) != (e.Torque > 0) && e.Cycles > 0 && e.Exponent >= 1)
		require.True(t, e.Force == 0 || b.CentreDistance > 0)
		require.Equal(t, e, *b.Endurance(e.SlotKind))
	}
	for i := range b.Clusters {
		c := &b.Clusters[i]
		require.Len(t, c.Stack, len(b.Slots))
		for _, f := range c.Forks {
			require.True(t, len(f) == 1 || len(f) == 2)
		}
		for g := 1; g <= b.Gears; g++ {
			_, fork := c.Fork(g)
			require.Positive(t, fork, "gear %d has a fork", g)
			require.NotNil(t, b.Slot(c, g))
			off, err := b.ComesOff(c, g)
			require.NoError(t, err)
			gears := off.Gears()
			require.Equal(t, g, gears[len(gears)-1], "the changed gear is last")
			require.True(t, off.Depth >= 1 && off.Depth <= len(b.Slots))
			require.GreaterOrEqual(t, b.Minutes(c, []int{g}), 0.0)
			from, to := mocked(b, c), mocked(b, c, g)
			plan := b.Rebuild(from, to)
			laws(t, b.Name, b, from, to, plan)
		}
	}
}

// checkStock holds what every accepted stock must satisfy.
func checkStock(t *testing.T, s *gearbox.Stock) {
	t.Helper()
	require.NotEmpty(t, s.Name)
	require.NotEmpty(t, s.Pairs)
	require.NotEmpty(t, s.Finals)
	seen := map[string]bool{}
	for i := range s.Pairs {
		p := &s.Pairs[i]
		require.False(t, seen[p.ID], "id %q twice", p.ID)
		seen[p.ID] = true
		require.NotEmpty(t, p.ID)
		require.NotEmpty(t, p.Mark)
		require.NotEmpty(t, p.Fits)
		require.True(t, p.Ratio() > 0.05 && p.Ratio() < 20)
		require.True(t, p.Count >= 0 && p.RunM >= 0 && p.LifeM >= 0)
	}
	for _, id := range s.Fitted {
		require.NotNil(t, s.Pair(id))
	}
	for _, d := range append(s.Finals[:len(s.Finals):len(s.Finals)], s.Drops...) {
		require.True(t, d.Ratio() > 0.05 && d.Ratio() < 20)
	}
}
