package store

import (
	"testing"

	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"

	"github.com/stretchr/testify/require"
)

// refused runs a change that must fail with all the words, and keep nothing.
func refused(t *testing.T, path string, change func(*Edit) error, words ...string) {
	t.Helper()
	before := read(t, path)
	_, err := Update(path, by("x"), change)
	require.Error(t, err)
	for _, w := range words {
		require.ErrorContains(t, err, w)
	}
	require.Equal(t, before, read(t, path))
}

func fitting(ids ...string) *Fitting {
	return &Fitting{Use: gearbox.Use{Car: "1", Day: 20000}, Pairs: ids, Final: "12/37"}
}

func TestFit(t *testing.T) {
	path := made(t, 14)
	six := []string{"P0001", "P0002", "P0003", "P0004", "P0005", "P0008"}
	update(t, path, "fit", func(e *Edit) error {
		f := fitting(six...)
		f.Text = []byte(`{"saved": "sheet"}`)
		f.Issued = &Issued{Track: "Saltmere", Event: "R3", Revision: 1, SHA256: "aa"}
		return e.Fit(f)
	})
	out, in := pairOf(t, path, "P0006"), pairOf(t, path, "P0008")
	require.Equal(t, []any{"", 0, "box"}, []any{out.Car, out.Gear, out.Place})
	require.Equal(t, []any{"1", 6, "car"}, []any{in.Car, in.Gear, in.Place})
	s := read(t, path)
	require.Equal(t, six, s.Stock.FittedIn("1"))
	require.JSONEq(t, `{"saved": "sheet"}`, string(s.BuiltFrom("1")))
	require.Len(t, s.Sheets, 1)

	// A second car takes other pairs and another final drive; not those of the first.
	two := fitting("P0007", "P0009", "P0010", "P0011", "P0012", "P0008")
	two.Use.Car, two.Final = "2", "12/38"
	refused(t, path, func(e *Edit) error { return e.Fit(two) }, "gear 6: pair P0008 may not be fitted: fitted in car 1 as gear 6")
	two.Pairs[5] = "P0006"
	two.Final = "12/37"
	refused(t, path, func(e *Edit) error { return e.Fit(two) }, "final drive 12/37: there are 1, and they are in car 1")
	two.Final = "12/38"
	update(t, path, "fit", func(e *Edit) error { return e.Fit(two) })
	require.Equal(t, []string{"1", "2"}, read(t, path).Cars())
	require.Equal(t, six, read(t, path).Stock.FittedIn("1"))

	// Pairs are found all at once, teeth are held against the card, due ones refused.
	f := fitting("P0001", "P0099", "P0003", "P0003", "P0005", "P0008")
	refused(t, path, func(e *Edit) error { return e.Fit(f) }, `"P0099" is not a pair`, "P0003 is named twice")
	f = fitting(six...)
	for _, id := range six {
		p := pairOf(t, path, id)
		f.Teeth = append(f.Teeth, gearbox.Teeth{Driving: p.Layshaft, Driven: p.Mainshaft})
	}
	f.Teeth[2].Driven++
	refused(t, path, func(e *Edit) error { return e.Fit(f) }, "gear 3: pair P0003 has 15/36 teeth in the store, 15/37 on the sheet")
	update(t, path, "book", func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 1000, OverRevs: 1, OverRPM: 9650, Day: 20000})
	})
	refused(t, path, func(e *Edit) error { return e.Fit(fitting(six...)) }, "gear 1: pair P0001 may not be fitted: over-rev to 9650 rpm on 2024-10-04")
	waived := fitting(six...)
	waived.Use.Waived = map[string]string{}
	for _, id := range six {
		waived.Use.Waived[id] = "allowed by Ben: looked at"
	}
	update(t, path, "fit", func(e *Edit) error { return e.Fit(waived) })
}

func TestBook(t *testing.T) {
	path := made(t, 14)
	refused(t, path, func(e *Edit) error { return e.Book(&Run{Car: "7", Distance: 5}) }, `nothing is fitted in car "7": there are pairs in car 1`)
	refused(t, path, func(e *Edit) error { return e.Book(&Run{Car: "1"}) }, "0 m is not a distance")
	refused(t, path, func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 5, Pairs: []string{"P0001", "P0002"}})
	}, "not the one in car 1", "'stock fit' the sheet first")
	before := read(t, path)
	update(t, path, "book", func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 81_040.4, Laps: 20, Damage: []float64{0, 0.001, 0, 0, 0, 0.0005}, Limiter: 7, Day: 20000})
	})
	after := read(t, path)
	for i, p := range before.Stock.Pairs {
		q := after.Stock.Pairs[i]
		if p.Car == "" {
			require.Equal(t, p, q, "a pair that is not in the car has run")
			continue
		}
		require.Equal(t, p.RunM+81_040, q.RunM)
		require.Equal(t, 7, q.LimiterCount)
	}
	numtest.Equal(t, "damage", 0.02, pairOf(t, path, "P0002").Damage, 1e-15, 0)
	numtest.Equal(t, "damage", 0.01, pairOf(t, path, "P0006").Damage, 1e-15, 0)
	require.Zero(t, pairOf(t, path, "P0001").Damage)
}

func TestInspectRetireMove(t *testing.T) {
	path := made(t, 14)
	update(t, path, "book", func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 5000, OverRevs: 2, OverRPM: 9700, Limiter: 3, Day: 20000})
	})
	use := gearbox.Use{Day: 20000, Car: "1"}
	p := pairOf(t, path, "P0001")
	state, why := use.State(&p)
	require.Equal(t, []string{gearbox.StateDue, "2 over-revs to 9700 rpm on 2024-10-04"}, []string{state, why})
	update(t, path, "inspect", func(e *Edit) error { return e.Inspect([]string{"P0001"}, 20001, true) })
	p = pairOf(t, path, "P0001")
	state, _ = use.State(&p)
	require.Equal(t, gearbox.StateFitted, state)
	require.Equal(t, gearbox.CrackTest{On: 20001, AtM: 105_000}, p.Crack)
	require.Zero(t, p.LimiterCount)

	refused(t, path, func(e *Edit) error { return e.Inspect([]string{"P0001"}, 20000, true) }, "before the last crack test, 2024-10-05")
	refused(t, path, func(e *Edit) error { return e.Inspect([]string{"P0002"}, 20001, false) }, "P0002 is fitted in car 1 as gear 2: take it out first")
	refused(t, path, func(e *Edit) error { return e.Move([]string{"P0002"}, "shop") }, "P0002 is fitted in car 1")
	refused(t, path, func(e *Edit) error { return e.Move([]string{"P0009"}, "attic") }, `"attic" is not a place`)
	update(t, path, "inspect", func(e *Edit) error { return e.Inspect([]string{"P0009"}, 20001, false) })
	p = pairOf(t, path, "P0009")
	require.True(t, p.Retired)
	refused(t, path, func(e *Edit) error { return e.Retire([]string{"P0009"}) }, "retired already")
	refused(t, path, func(e *Edit) error { return e.Inspect([]string{"P0009"}, 20002, true) }, "P0009 is retired")
	f := fitting("P0001", "P0002", "P0003", "P0004", "P0005", "P0009")
	refused(t, path, func(e *Edit) error { return e.Fit(f) }, "gear 6: pair P0009 may not be fitted: retired")
	update(t, path, "move", func(e *Edit) error { return e.Move([]string{"P0010"}, "box") })
	require.Equal(t, "box", pairOf(t, path, "P0010").Place)
	refused(t, path, func(e *Edit) error { return e.Unfit("2", false) }, `nothing is fitted in car "2"`)
	update(t, path, "unfit", func(e *Edit) error { return e.Unfit("1", true) })
	for _, d := range read(t, path).Stock.Finals {
		require.Empty(t, d.FittedIn)
	}
}

func TestMate(t *testing.T) {
	path := made(t, 8)
	half := func(id, which string, lay, main int, run float64) gearbox.Pair {
		return gearbox.Pair{ID: id, Half: which, Layshaft: lay, Mainshaft: main, Fits: []string{"wide", which}, RunM: run, LifeM: 4e6 - run, Place: "box"}
	}
	update(t, path, "add", func(e *Edit) error {
		for _, p := range []gearbox.Pair{half("L", "layshaft", 16, 0, 1e6), half("M", "mainshaft", 0, 35, 2e6)} {
			if err := e.Add(p); err != nil {
				return err
			}
		}
		return nil
	})
	refused(t, path, func(e *Edit) error { return e.Mate("M", "L", gearbox.Pair{ID: "N"}) }, "M is not a loose layshaft gear", "L is not a loose mainshaft gear")
	refused(t, path, func(e *Edit) error { return e.Mate("L", "M", gearbox.Pair{ID: "P0001"}) }, "P0001 is in the store already")
	update(t, path, "mate", func(e *Edit) error { return e.Mate("L", "M", gearbox.Pair{ID: "N"}) })
	n := pairOf(t, path, "N")
	require.Equal(t, []any{16, 35, "16/35", "", 2e6, 2e6}, []any{n.Layshaft, n.Mainshaft, n.Mark, n.Half, n.RunM, n.LifeM})
	require.Equal(t, []string{"wide"}, n.Fits)
	_, err := read(t, path).Pair("L")
	require.Error(t, err, "the loose gear is gone")
	_, err = Undo(path, by("undo"), 0)
	require.NoError(t, err)
	require.Equal(t, 16, pairOf(t, path, "L").Layshaft)
	require.NoError(t, Check(path))
}

func TestIssue(t *testing.T) {
	path := made(t, 8)
	one := Issued{Track: "Saltmere", Event: "R3", Session: "race", Revision: 1, SHA256: "aa"}
	two := one
	two.Revision, two.SHA256 = 2, "bb"
	update(t, path, "issue", func(e *Edit) error { return e.Issue(one) })
	require.Nil(t, read(t, path).Replaced(&one))
	update(t, path, "issue", func(e *Edit) error { return e.Issue(two) })
	require.Equal(t, 2, read(t, path).Replaced(&one).Revision)
	require.Nil(t, read(t, path).Replaced(&two))
	other := one
	other.Session = "practice"
	require.Nil(t, read(t, path).Replaced(&other), "another session has numbers of its own")
	other = one
	other.Car = "2"
	require.Nil(t, read(t, path).Replaced(&other), "so has another car")
	changed := two
	changed.SHA256 = "cc"
	refused(t, path, func(e *Edit) error { return e.Issue(changed) }, "was issued before, with another content")
	late := one
	late.Revision, late.Session = 0, "x"
	refused(t, path, func(e *Edit) error { return e.Issue(late) }, "without a revision")
	entry, err := Update(path, by("issue"), func(e *Edit) error { return e.Issue(two) })
	require.NoError(t, err)
	require.Nil(t, entry, "the same sheet again")
}

func TestImport(t *testing.T) {
	path := made(t, 8)
	more := fixture(10)
	more.Pairs[9].Count = 2
	update(t, path, "import", func(e *Edit) error { return e.Import(more, false) })
	s := read(t, path)
	require.Len(t, s.Stock.Pairs, 11)
	for _, id := range []string{"P0009", "P0010#1", "P0010#2"} {
		_, err := s.Pair(id)
		require.NoError(t, err)
	}
	entry, err := Update(path, by("import"), func(e *Edit) error { return e.Import(fixture(8), false) })
	require.NoError(t, err)
	require.Nil(t, entry, "what it holds just so is passed over")
	update(t, path, "book", func(e *Edit) error { return e.Book(&Run{Car: "1", Distance: 5000}) })
	refused(t, path, func(e *Edit) error { return e.Import(fixture(8), false) }, "pair P0001 is in the store with other values", "pair P0006")
	update(t, path, "import", func(e *Edit) error { return e.Import(fixture(8), true) })
	require.Equal(t, 100_000.0, pairOf(t, path, "P0001").RunM)
}
