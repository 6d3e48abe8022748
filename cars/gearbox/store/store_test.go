package store

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"layshaft/cars/gearbox"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
)

func TestCreateNeverReplaces(t *testing.T) {
	path := made(t, 8)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = Create(path, fixture(3), by("new"))
	require.ErrorIs(t, err, ErrExists)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
	files, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Len(t, files, 1, "an unfinished file was left behind")
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		return path
	}
	whole, err := os.ReadFile(made(t, 40))
	require.NoError(t, err)
	spoilt := slices.Clone(whole)
	for i := 4096 * 2; i < len(spoilt); i++ {
		spoilt[i] ^= 0x5A
	}
	for name, c := range map[string]struct {
		path string
		want error
		text string
	}{
		"missing": {filepath.Join(dir, "none.store"), nil, "there is no such file"},
		"folder":  {dir, nil, "is a folder"},
		"empty":   {write("empty.store", nil), ErrNotStore, "is not a pair store"},
		"text":    {write("text.store", []byte("name = \"wren\"\n# a stock file, renamed\n")), ErrNotStore, "is not a pair store"},
		"cut":     {write("cut.store", whole[:len(whole)/8]), ErrDamaged, "is damaged"},
		"spoilt":  {write("spoilt.store", spoilt), ErrDamaged, "is damaged"},
	} {
		t.Run(name, func(t *testing.T) {
			before, err := os.ReadFile(c.path)
			for i, try := range []func(string) error{
				func(path string) error { _, err := Read(path); return err },
				func(path string) error { _, err := History(path); return err },
				Check,
				func(path string) error {
					_, err := Update(path, by("x"), func(*Edit) error { return nil })
					return err
				},
				func(path string) error { _, err := Undo(path, by("x"), 0); return err },
			} {
				path := c.path
				if err == nil { // a damaged file stays locked: one for each try
					path = write(fmt.Sprintf("%s %d.store", name, i), before)
				}
				got := try(path)
				require.ErrorContains(t, got, c.text)
				require.ErrorContains(t, got, path)
				if c.want != nil {
					require.ErrorIs(t, got, c.want)
				}
				after, _ := os.ReadFile(path)
				require.Equal(t, string(before), string(after), "a file that is no store was written to")
			}
		})
	}
}

// TestRandomDamage turns bytes of a store over. Whatever comes of it, no call
// panics, and Check does not call a store whole whose records differ.
func TestRandomDamage(t *testing.T) {
	path := made(t, 40)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	good := read(t, path)
	noticed := 0
	for at := 0; at < len(whole); at += 97 {
		bad := slices.Clone(whole)
		bad[at] ^= 0xFF
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		if Check(path) != nil {
			noticed++
			continue
		}
		s, err := Read(path)
		if err == nil {
			require.Equal(t, good.Stock.Pairs, s.Stock.Pairs, "byte %d: other pairs, and Check says that all is well", at)
		}
	}
	require.Positive(t, noticed)
}

func TestFailedChangeKeepsNothing(t *testing.T) {
	path := made(t, 8)
	_, err := Update(path, by("x"), func(e *Edit) error {
		e.Stock.Pairs[0].RunM += 5
		return e.Retire([]string{"P0008", "nobody"})
	})
	require.ErrorContains(t, err, `"nobody" is not a pair`)
	all, err := History(path)
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.False(t, pairOf(t, path, "P0008").Retired)

	entry, err := Update(path, by("x"), func(*Edit) error { return nil })
	require.NoError(t, err)
	require.Nil(t, entry, "nothing differs, so that there is no entry")

	_, err = Update(path, By{What: "x"}, func(e *Edit) error { return e.Retire([]string{"P0008"}) })
	require.ErrorContains(t, err, "needs a name")
}

func TestCheckSeesWhatTheHistoryDoesNotKnow(t *testing.T) {
	path := made(t, 8)
	tamper := func(change func(tx *bolt.Tx) error) {
		db, err := bolt.Open(path, 0o600, nil)
		require.NoError(t, err)
		require.NoError(t, db.Update(change))
		require.NoError(t, db.Close())
	}
	require.NoError(t, Check(path))
	tamper(func(tx *bolt.Tx) error { return tx.Bucket([]byte(bucketPairs)).Delete([]byte("P0003")) })
	require.ErrorContains(t, Check(path), "P0003 is gone")
	tamper(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(bucketPairs)).Put([]byte("P0003"), []byte(`{"layshaft_teeth":15,"mainshaft_teeth":36,"mark":"15/36","fits":["wide"],"run_m":0}`))
	})
	require.ErrorContains(t, Check(path), "P0003 is not what its history says")
	tamper(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(bucketHistory)).Delete(binary.BigEndian.AppendUint64(nil, 1))
	})
	require.ErrorIs(t, Check(path), ErrDamaged)
}

// TestUndo: any sequence of changes taken back one after the other leads back to
// the start; what was built upon cannot be taken back first.
func TestUndo(t *testing.T) {
	path := made(t, 12)
	start := read(t, path).Stock
	book := func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 4000, OverRevs: 1, OverRPM: 9650, Limiter: 3, Day: 20000})
	}
	n1 := update(t, path, "book", book).Number
	update(t, path, "retire", func(e *Edit) error { return e.Retire([]string{"P0009", "P0010"}) })
	update(t, path, "inspect", func(e *Edit) error { return e.Inspect([]string{"P0001"}, 20001, true) })
	update(t, path, "unfit", func(e *Edit) error { return e.Unfit("1", false) })
	_, err := Undo(path, by("undo"), n1)
	require.ErrorIs(t, err, ErrLater)
	require.ErrorContains(t, err, "unfit")

	for range 4 {
		e, err := Undo(path, by("undo"), 0)
		require.NoError(t, err)
		require.NotZero(t, e.Undoes)
		require.NoError(t, Check(path))
	}
	require.Equal(t, start, read(t, path).Stock)
	_, err = Undo(path, by("undo"), 0)
	require.ErrorIs(t, err, ErrNothing)
	_, err = Undo(path, by("undo"), n1)
	require.ErrorIs(t, err, ErrNothing)
	require.ErrorContains(t, err, "was taken back by entry 9")

	redo, err := Undo(path, by("undo"), 9)
	require.NoError(t, err)
	require.EqualValues(t, 9, redo.Undoes)
	require.Equal(t, 104_000.0, pairOf(t, path, "P0001").RunM)
}

func TestExportsReadBack(t *testing.T) {
	path := made(t, 12)
	update(t, path, "book", func(e *Edit) error {
		return e.Book(&Run{Car: "1", Distance: 81040.4, OverRevs: 2, OverRPM: 9650, Day: 20000})
	})
	update(t, path, "retire", func(e *Edit) error { return e.Retire([]string{"P0009"}) })
	update(t, path, "add", func(e *Edit) error {
		return e.Add(gearbox.Pair{ID: "half \"A\" µ°", Half: gearbox.LayshaftHalf, Layshaft: 16, Mark: "16", Fits: []string{"wide slot"}, Place: "box",
			Crack: gearbox.CrackTest{On: 20000, Days: 90, EveryM: 500_000}, Note: "tab \\ back"})
	})
	before := read(t, path)
	text := before.Stock
	text.Fitted = text.FittedIn("1")
	for name, again := range map[string]func() (*gearbox.Stock, error){
		"toml": func() (*gearbox.Stock, error) { return gearbox.ParseStock(source("x.toml", text.TOML())) },
		"csv": func() (*gearbox.Stock, error) {
			s, _, err := gearbox.ParseTable(source("x.csv", text.Table()), nil)
			return s, err
		},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := again()
			require.NoError(t, err)
			other := filepath.Join(t.TempDir(), "again"+Ext)
			_, err = Create(other, s, by("new"))
			require.NoError(t, err)
			require.Equal(t, before.Stock.Pairs, read(t, other).Stock.Pairs)
			require.Equal(t, before.Stock.Finals, read(t, other).Stock.Finals)
		})
	}
}
