package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"layshaft/cars/gearbox"

	bolt "go.etcd.io/bbolt"
)

// Create makes a new store out of a stock. Pairs of which the stock counts
// several get identities: "17/36 1", "17/36 2". The file appears whole or not at
// all, and none is ever replaced: ErrExists. The entry is the history's first.
func Create(path string, stock *gearbox.Stock, by By) (*Entry, error) {
	if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("%s: %w: choose another name", path, ErrExists)
	}
	temp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return nil, plain(path, err)
	}
	defer func() { _ = os.Remove(temp.Name()) }()
	err = errors.Join(temp.Chmod(0o644), temp.Close())
	if err != nil {
		return nil, plain(path, err)
	}
	entry, err := fill(temp.Name(), path, stock, by)
	if err != nil {
		return nil, err
	}
	// A link, not a rename: it fails where a file appeared meanwhile.
	if err := os.Link(temp.Name(), path); errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s: %w: choose another name", path, ErrExists)
	} else if err != nil {
		if err := os.Rename(temp.Name(), path); err != nil { // file systems without hard links
			return nil, plain(path, err)
		}
	}
	return entry, syncFolder(filepath.Dir(path))
}

// syncFolder puts the new name on the disk. Systems that cannot do it to a
// folder say so; the name then gets there in its own time.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return plain(dir, err)
	}
	_ = f.Sync()
	return f.Close()
}

// fill makes the store at temp, which errors call path.
func fill(temp, path string, stock *gearbox.Stock, by By) (entry *Entry, err error) {
	const remedy = "free some room on the disk; nothing was made"
	db, err := bolt.Open(temp, 0o666, &bolt.Options{Timeout: patience})
	if err != nil {
		return nil, unwritten(path, err, remedy)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var refused error
	defer func() {
		if err != nil && refused == nil {
			err = unwritten(path, err, remedy)
		}
	}()
	work := func(tx *bolt.Tx) error {
		for _, name := range append(recordBuckets(), bucketTexts, bucketHistory) {
			if _, err := tx.CreateBucket([]byte(name)); err != nil {
				return err
			}
		}
		e := &Edit{Snapshot: &Snapshot{builtFrom: map[string]string{}}}
		e.Stock.Name, e.Stock.Title = stock.Name, stock.Title
		if err := e.Import(stock, false); err != nil {
			return err
		}
		if err := e.check(); err != nil {
			return err
		}
		after, err := e.encode()
		if err != nil {
			return err
		}
		entry, err = write(tx, by, nil, after, Entry{Summary: e.summary()})
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		refused = work(tx)
		return refused
	})
	return entry, err
}
