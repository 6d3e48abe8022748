package store

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"layshaft/cars/gearbox"
	"layshaft/internal/datafile"

	"github.com/stretchr/testify/require"
)

// by is who changes the stores of the tests.
func by(what string) By {
	return By{Who: "Ada", What: what, Why: "test", At: time.Date(2026, 3, 7, 9, 0, 0, 0, time.UTC)}
}

func source(name string, data []byte) datafile.Source { return datafile.NewSource(name, data) }

// fixture is a stock of n pairs, the first six fitted in car 1.
func fixture(n int) *gearbox.Stock {
	s := &gearbox.Stock{Name: "fixture", Title: "Fixture, invented"}
	for i := range n {
		lay, main := 13+i%12, 38-i%12
		p := gearbox.Pair{
			ID: fmt.Sprintf("P%04d", i+1), Layshaft: lay, Mainshaft: main, Mark: fmt.Sprintf("%d/%d", lay, main),
			Count: 1, Fits: []string{"wide", "narrow"}, RunM: float64(100_000 + 1000*i), LifeM: 4_000_000, Place: gearbox.PlaceShop,
		}
		if i < 6 {
			p.Car, p.Gear, p.Place = gearbox.DefaultCar, i+1, gearbox.PlaceCar
		}
		s.Pairs = append(s.Pairs, p)
	}
	s.Finals = []gearbox.Drive{{Name: "12/37", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}, Count: 1, Fitted: true},
		{Name: "12/38", Teeth: gearbox.Teeth{Driving: 12, Driven: 38}, Count: 2}}
	return s
}

// made is a new store of n pairs.
func made(t testing.TB, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "team"+Ext)
	_, err := Create(path, fixture(n), by("new"))
	require.NoError(t, err)
	return path
}

func update(t testing.TB, path, what string, change func(*Edit) error) *Entry {
	t.Helper()
	e, err := Update(path, by(what), change)
	require.NoError(t, err)
	require.NoError(t, Check(path))
	return e
}

func read(t testing.TB, path string) *Snapshot {
	t.Helper()
	s, err := Read(path)
	require.NoError(t, err)
	return s
}

func pairOf(t testing.TB, path, id string) gearbox.Pair {
	t.Helper()
	p, err := read(t, path).Pair(id)
	require.NoError(t, err)
	return *p
}
