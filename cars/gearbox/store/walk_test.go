package store

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"layshaft/cars/gearbox"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// walk is a store that is used at random, by everything that people can do, right
// and wrong. rapid calls each exported method as a step, and Check after each.
type walk struct {
	path    string
	entries int
	mayFall bool // kilometres: an undo, a correction or an import put them back
	run     map[string]float64
}

const walkPairs = 14

func (w *walk) id(t *rapid.T) string {
	return rapid.SampledFrom([]string{"P0001", "P0002", "P0003", "P0004", "P0007", "P0008", "P0013", "L1", "L2", "M1", "A1", "A2"}).Draw(t, "id")
}

func car(t *rapid.T) string {
	return rapid.SampledFrom([]string{"1", "1", "1", "Car 2"}).Draw(t, "car")
}

// edit does one change, which may be refused: then nothing may have changed.
// What was done is taken back now and then, which must give the state before,
// and done again by taking that back.
func (w *walk) edit(t *rapid.T, what string, change func(*Edit) error) {
	before := w.state(t)
	entry, err := Update(w.path, by(what), change)
	if err != nil || entry == nil {
		require.Equal(t, before, w.state(t), "a refused change has changed something")
		return
	}
	w.entries++
	require.EqualValues(t, w.entries, entry.Number)
	if rapid.IntRange(0, 3).Draw(t, "there and back") > 0 {
		return
	}
	after := w.state(t)
	back, err := Undo(w.path, by("undo"), 0)
	require.NoError(t, err)
	require.Equal(t, entry.Number, back.Undoes)
	require.Equal(t, before, w.state(t), "the undo does not give the state before")
	_, err = Undo(w.path, by("undo"), back.Number)
	require.NoError(t, err)
	require.Equal(t, after, w.state(t), "the undo of the undo does not give the state after")
	w.entries += 2
}

// state is all records, as text.
func (w *walk) state(t *rapid.T) map[string]string {
	s, err := Read(w.path)
	require.NoError(t, err)
	raw, err := s.encode()
	require.NoError(t, err)
	out := map[string]string{}
	for bucket, records := range raw {
		for key, v := range records {
			out[bucket+" "+key] = string(v)
		}
	}
	return out
}

func (w *walk) Add(t *rapid.T) {
	p := gearbox.Pair{ID: w.id(t), Layshaft: 16, Mainshaft: 35, Fits: []string{"wide"}}
	switch p.ID[0] {
	case 'L':
		p.Half, p.Mainshaft = gearbox.LayshaftHalf, 0
	case 'M':
		p.Half, p.Layshaft = gearbox.MainshaftHalf, 0
	}
	w.edit(t, "add", func(e *Edit) error { return e.Add(p) })
}

func (w *walk) Mate(t *rapid.T) {
	w.mayFall = true // a pair may leave the store and its id come back
	lay, main, as := w.id(t), w.id(t), w.id(t)
	w.edit(t, "mate", func(e *Edit) error { return e.Mate(lay, main, gearbox.Pair{ID: as}) })
}

func (w *walk) Amend(t *rapid.T) {
	w.mayFall = true
	id, km, teeth := w.id(t), rapid.IntRange(0, 9).Draw(t, "km"), rapid.IntRange(13, 15).Draw(t, "teeth")
	w.edit(t, "amend", func(e *Edit) error {
		return e.Amend(id, func(p *gearbox.Pair) error {
			p.RunM, p.Crack.AtM = float64(1000*km), 0
			if p.Half == "" {
				p.Layshaft, p.Mark = teeth, ""
			}
			return p.Validate()
		})
	})
}

func (w *walk) Fit(t *rapid.T) {
	from := rapid.SampledFrom([]int{1, 1, 3, 7, 7, walkPairs - 5}).Draw(t, "first pair")
	f := &Fitting{Use: gearbox.Use{Car: car(t), Waived: map[string]string{}}, Final: rapid.SampledFrom([]string{"", "", "12/37", "12/38"}).Draw(t, "final")}
	for i := range 6 {
		id := fmt.Sprintf("P%04d", from+i)
		f.Pairs = append(f.Pairs, id)
		f.Use.Waived[id] = "what was booked before must not end the walk"
	}
	if rapid.Bool().Draw(t, "with a sheet") {
		f.Text = fmt.Append(nil, f.Pairs) // tells what it was made for
	}
	w.edit(t, "fit", func(e *Edit) error { return e.Fit(f) })
}

func (w *walk) Unfit(t *rapid.T) {
	from, drives := car(t), rapid.Bool().Draw(t, "drives")
	w.edit(t, "unfit", func(e *Edit) error { return e.Unfit(from, drives) })
}

func (w *walk) Book(t *rapid.T) {
	r := &Run{
		Car: car(t), OverRevs: rapid.IntRange(-1, 1).Draw(t, "over-revs"), Limiter: rapid.IntRange(0, 2).Draw(t, "limiter"),
		Distance: rapid.SampledFrom([]float64{0, 0.4, 83_456.7, 9e8, 9e8, math.NaN()}).Draw(t, "m"),
	}
	w.edit(t, "book", func(e *Edit) error { return e.Book(r) })
}

func (w *walk) Inspect(t *rapid.T) {
	ids, day, passed := []string{w.id(t), w.id(t)}, gearbox.Day(rapid.IntRange(0, 3).Draw(t, "day")), rapid.Bool().Draw(t, "passed")
	w.edit(t, "inspect", func(e *Edit) error { return e.Inspect(ids, day, passed) })
}

func (w *walk) Retire(t *rapid.T) {
	id := w.id(t)
	w.edit(t, "retire", func(e *Edit) error { return e.Retire([]string{id}) })
}

func (w *walk) Move(t *rapid.T) {
	id, to := w.id(t), rapid.SampledFrom([]string{gearbox.PlaceBox, gearbox.PlaceShop, gearbox.PlaceCar}).Draw(t, "to")
	w.edit(t, "move", func(e *Edit) error { return e.Move([]string{id}, to) })
}

func (w *walk) Import(t *rapid.T) {
	w.mayFall = true
	from := fixture(rapid.IntRange(1, walkPairs).Draw(t, "pairs")) // has the first six in car 1
	if rapid.Bool().Draw(t, "without places") {
		for i := range from.Pairs {
			from.Pairs[i].Place, from.Pairs[i].Car, from.Pairs[i].Gear = "", "", 0
		}
	}
	replace := rapid.Bool().Draw(t, "replace")
	w.edit(t, "import", func(e *Edit) error { return e.Import(from, replace) })
}

// Issue notes a sheet, now and then one whose number was given before.
func (w *walk) Issue(t *rapid.T) {
	s := Issued{Track: "T", Revision: rapid.IntRange(0, 3).Draw(t, "revision"), SHA256: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "sha")}
	w.edit(t, "issue", func(e *Edit) error { return e.Issue(s) })
}

// Undo takes back one of the last entries, whichever can be.
func (w *walk) Undo(t *rapid.T) {
	w.mayFall = true
	for back, tries := rapid.IntRange(0, 6).Draw(t, "entries back"), 0; tries < 4; tries++ {
		before := w.state(t)
		_, err := Undo(w.path, by("undo"), uint64(max(0, w.entries+1-back-tries))) // 0 = the newest
		if err == nil {
			w.entries++
			return
		}
		require.Equal(t, before, w.state(t), "a refused undo has changed something")
	}
}

// Rebuild is what is done between two runs.
func (w *walk) Rebuild(t *rapid.T) {
	w.Unfit(t)
	w.Fit(t)
}

// Check holds what must be true whatever was done, by code that shares nothing
// with the store's own check.
func (w *walk) Check(t *rapid.T) {
	require.NoError(t, Check(w.path))
	s, err := Read(w.path)
	require.NoError(t, err)
	slot, run, finals := map[string]string{}, map[string]float64{}, map[string]string{}
	for _, p := range s.Stock.Pairs {
		q := p
		require.NoError(t, q.Validate(), "a card that no file could hold")
		run[p.ID] = p.RunM
		if was := w.run[p.ID]; !w.mayFall {
			require.GreaterOrEqual(t, p.RunM, was, "%s has lost kilometres", p.ID)
		}
		if p.Car == "" {
			continue
		}
		key := fmt.Sprint(p.Car, " gear ", p.Gear)
		require.Empty(t, slot[key], "%s and %s are both in car %s", slot[key], p.ID, key)
		slot[key] = p.ID
	}
	for _, d := range s.Stock.Finals {
		require.LessOrEqual(t, len(d.FittedIn), d.Count)
		for _, c := range d.FittedIn {
			require.Empty(t, finals[c], "two final drives in car %s", c)
			finals[c] = d.Name
		}
	}
	for c := range s.builtFrom {
		var ids []string
		for _, p := range s.Fitted(c) {
			ids = append(ids, p.ID)
		}
		require.Equal(t, string(s.BuiltFrom(c)), fmt.Sprint(ids), "car %s was not built from its sheet", c)
	}
	w.run, w.mayFall = run, false
}

// TestRandomUse: laws of the store under any order of changes and undos.
func TestRandomUse(t *testing.T) {
	dir := t.TempDir()
	first := filepath.Join(dir, "first"+Ext)
	_, err := Create(first, fixture(walkPairs), by("new"))
	require.NoError(t, err)
	text, err := os.ReadFile(first)
	require.NoError(t, err)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		w := &walk{path: filepath.Join(dir, fmt.Sprintf("%d%s", n, Ext)), entries: 1}
		require.NoError(t, os.WriteFile(w.path, text, 0o600))
		defer func() { _ = os.Remove(w.path) }()
		t.Repeat(rapid.StateMachineActions(w))
	})
}
