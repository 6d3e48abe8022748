package cli

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"

	"github.com/stretchr/testify/require"
)

// BenchmarkStock runs the commands of the pair store on a thousand pairs: from the
// words on the command line to the answer, to the disk where they change something.
// The start of the process comes on top, some hundredths of a second.
func BenchmarkStock(b *testing.B) {
	b.Setenv(whoEnv, "Ada")
	s := &gearbox.Stock{Name: "thousand", Finals: []gearbox.Drive{{Name: "12/37", Teeth: gearbox.Teeth{Driving: 12, Driven: 37}, Count: 1, Fitted: true}}}
	for i := range 1000 {
		lay := 13 + i%15
		p := gearbox.Pair{
			ID: fmt.Sprintf("P%04d", i+1), Layshaft: lay, Mainshaft: 51 - lay + i%3, Count: 1, Fits: []string{"wide", "narrow"},
			RunM: float64(2500 * i), LifeM: 4e6, Crack: gearbox.CrackTest{On: 20000, Days: 3000}, Place: gearbox.PlaceShop,
		}
		if i < 6 {
			p.Car, p.Gear, p.Place = gearbox.DefaultCar, i+1, gearbox.PlaceCar
		}
		require.NoError(b, p.Validate())
		s.Pairs = append(s.Pairs, p)
	}
	path := filepath.Join(b.TempDir(), "team.store")
	_, err := store.Create(path, s, store.By{Who: "Ada", What: "new"})
	require.NoError(b, err)
	n := 0
	for _, line := range []string{
		"list", "list --format json", "chart", "book --km 1", "inspect P0100 --passed", "move P0200 --to box",
		"add NEW --layshaft-teeth 16 --mainshaft-teeth 35 --fits wide", "amend P0300 --why bench --note NEW",
		"retire NEW --why bench", "history", "check", "export", "export --format csv", "sheets",
	} {
		b.Run(strings.ReplaceAll(line, " ", "_"), func(b *testing.B) {
			for b.Loop() {
				n++
				one := strings.ReplaceAll(line, "NEW", fmt.Sprintf("N%d", n))
				if strings.HasPrefix(line, "retire") {
					one = strings.ReplaceAll(line, "NEW", fmt.Sprintf("P%04d", 401+n%500))
				}
				words := append(append([]string{"stock"}, strings.Fields(one)...), "--stock", path)
				code, _, errs := run(words...)
				if code != 0 && !strings.HasPrefix(line, "retire") {
					b.Fatal(errs)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/command")
		})
	}
}
