package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"layshaft/cars/gearbox"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
)

// Taking pairs out changes their cards only; by the time that is taken back,
// other pairs may stand in their slots.
func TestUndoPutsNoPairWhereAnotherIs(t *testing.T) {
	path := made(t, 12)
	out := update(t, path, "unfit", func(e *Edit) error { return e.Unfit("1", false) })
	update(t, path, "fit", func(e *Edit) error {
		return e.Fit(&Fitting{Use: gearbox.Use{Car: "1"}, Pairs: []string{"P0007", "P0008", "P0009", "P0010", "P0011", "P0012"}})
	})
	_, err := Undo(path, by("undo"), out.Number)
	require.ErrorContains(t, err, "entry 2 cannot be taken back as things stand now: pairs ")
	require.ErrorContains(t, err, "would both be in car 1 gear 1")
	require.NoError(t, Check(path))
	require.Len(t, read(t, path).Fitted("1"), 6)
}

// Found by TestRandomUse: a sheet booked for pairs that were in the car already
// changes no card, and so did not stand in the way.
func TestUndoTakesNoPairFromUnderItsSheet(t *testing.T) {
	path := made(t, 12)
	f := &Fitting{Use: gearbox.Use{Car: "1"}, Pairs: []string{"P0007", "P0008", "P0009", "P0010", "P0011", "P0012"}}
	put := update(t, path, "fit", func(e *Edit) error { return e.Fit(f) })
	f.Text = []byte("sheet")
	noted := update(t, path, "fit", func(e *Edit) error { return e.Fit(f) })
	_, err := Undo(path, by("undo"), put.Number)
	require.ErrorContains(t, err, "car 1 would not hold the pairs of the sheet that it was built from")
	_, err = Undo(path, by("undo"), noted.Number)
	require.NoError(t, err)
	_, err = Undo(path, by("undo"), put.Number)
	require.NoError(t, err)
	require.Equal(t, "P0001", read(t, path).Fitted("1")[0].ID)
}

func TestACarHasOneFinalDrive(t *testing.T) {
	more := &gearbox.Stock{Finals: []gearbox.Drive{{Name: "9/31", Teeth: gearbox.Teeth{Driving: 9, Driven: 31}, Count: 1, FittedIn: []string{"1"}}}}
	path := made(t, 6)
	_, err := Update(path, by("import"), func(e *Edit) error { return e.Import(more, false) })
	require.ErrorContains(t, err, "final drive 12/37 and 9/31 would both be in car 1")
	more.Finals[0].FittedIn = []string{"2", "3"}
	_, err = Update(path, by("import"), func(e *Edit) error { return e.Import(more, false) })
	require.ErrorContains(t, err, "final drive 9/31: there are 1, and they would be in car 2, 3")
	_, err = Create(filepath.Join(t.TempDir(), "x.store"), more, by("new"))
	require.ErrorContains(t, err, "there are 1")
}

func TestNoPairRunsForEver(t *testing.T) {
	path := made(t, 6)
	run := func(e *Edit) error { return e.Book(&Run{Car: "1", Distance: gearbox.MaxRunM - 1e6}) }
	update(t, path, "book", run)
	_, err := Update(path, by("book"), run)
	require.ErrorContains(t, err, "is the distance of 999000.0 km right?")
}

// Two gears that run together are tested as often as the one that asks for more.
func TestMateKeepsTheTighterIntervals(t *testing.T) {
	path := made(t, 6)
	lay := gearbox.Pair{ID: "L", Half: gearbox.LayshaftHalf, Layshaft: 16, Fits: []string{"wide"}, RunM: 9000, LimiterMost: 20,
		Crack: gearbox.CrackTest{On: 5, AtM: 9000, Days: 90, EveryM: 300_000}}
	main := gearbox.Pair{ID: "M", Half: gearbox.MainshaftHalf, Mainshaft: 35, Fits: []string{"wide"}, LimiterMost: 4,
		Crack: gearbox.CrackTest{On: 5, Days: 30}}
	update(t, path, "add", func(e *Edit) error { return errors.Join(e.Add(lay), e.Add(main)) })
	update(t, path, "mate", func(e *Edit) error { return e.Mate("L", "M", gearbox.Pair{ID: "LM"}) })
	p := pairOf(t, path, "LM")
	require.Equal(t, gearbox.CrackTest{On: 5, AtM: 9000, Days: 30, EveryM: 300_000}, p.Crack)
	require.Equal(t, 4, p.LimiterMost)
}

// database makes a file of the same library with one record in a table.
func database(t *testing.T, tables []string, table, key, value string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "other"+Ext)
	db, err := bolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error {
		for _, name := range tables {
			b, err := tx.CreateBucket([]byte(name))
			if err != nil {
				return err
			}
			if name == table {
				if err := b.Put([]byte(key), []byte(value)); err != nil {
					return err
				}
			}
		}
		return nil
	}))
	require.NoError(t, db.Close())
	return path
}

func TestRecordsOfOthers(t *testing.T) {
	all := append(recordBuckets(), bucketTexts, bucketHistory)
	for _, c := range []struct {
		tables            []string
		table, key, value string
		want              error
		says              string
	}{
		{[]string{"names"}, "names", "a", "b", ErrNotStore, "is not a pair store: table"},
		{all, bucketMeta, metaKey, `{"format_count": 9}`, errFormat, "format 9, this one reads 1"},
		{all, bucketPairs, "P1", `{"layshaft_teeth": "x"}`, ErrDamaged, `the record of pairs "P1" cannot be read`},
		{all, bucketPairs, "P1", `{"crack_tested": "never"}`, ErrDamaged, `the record of pairs "P1" cannot be read`},
	} {
		path := database(t, c.tables, c.table, c.key, c.value)
		_, err := Read(path)
		require.ErrorIs(t, err, c.want)
		require.ErrorContains(t, err, path+": ")
		require.ErrorContains(t, err, c.says)
		require.NotContains(t, err.Error(), "json")
		_, err = Update(path, by("unfit"), func(e *Edit) error { return e.Unfit("1", false) })
		require.ErrorIs(t, err, c.want)
		require.Error(t, Check(path))
	}
	path := database(t, all, bucketHistory, "x", `{}`)
	_, err := History(path)
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, "entry 1 of the history cannot be read")
}

// The words of the library for a disk without room, as seen under `ulimit -f`.
func TestNoRoomInPlainWords(t *testing.T) {
	for _, err := range []error{
		errors.New("file resize error: truncate ./team.store.2747.part: file too large"),
		&fs.PathError{Op: "write", Path: "team.store", Err: errors.New("file too large")},
	} {
		require.EqualError(t, unwritten("team.store", err, "free some room"),
			"team.store: could not be written (file too large): free some room")
	}
	require.ErrorIs(t, unwritten("x", os.ErrInvalid, ""), ErrWrite)
}
