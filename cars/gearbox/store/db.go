package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// Ext is the extension by which a store is known on the command line.
const Ext = ".store"

// patience is how long one waits for another process that has the store open.
// A change takes some hundredths of a second; five seconds mean that something
// hangs.
const patience = 5 * time.Second

// Errors that a caller can act on; the errors returned wrap them and name the
// file.
var (
	ErrLocked   = errors.New("another program has it open")
	ErrNotStore = errors.New("is not a pair store")
	ErrDamaged  = errors.New("is damaged")
	ErrExists   = errors.New("exists already")
	ErrWrite    = errors.New("could not be written")
)

// The first two pages of a bbolt file are its metas, of which the valid one with
// the higher transaction counts (bbolt, internal/common/meta.go). After a page
// header of 16 bytes each holds, in the machine's byte order: magic, version,
// page size (4 bytes each), flags (4), root bucket (16), free list (8), and the
// number of pages in use (8).
const (
	boltMagic  = 0xED0CDAED
	metaAt     = 16
	pageSizeAt = metaAt + 8
	pagesAt    = metaAt + 40
	metaEnd    = metaAt + 64
)

// check looks at the file before the database library does, which would turn an
// empty file into a database, and dies where one was cut short.
func check(path string) error {
	st, err := os.Stat(path) // before it is opened: opening a pipe waits for ever
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no such file: make a store with 'layshaft stock new %s'", path, path)
	case err != nil:
		return plain(path, err)
	case st.IsDir():
		return fmt.Errorf("%s: is a folder; name a file in it", path)
	case !st.Mode().IsRegular():
		return fmt.Errorf("%s: %w: it is not a plain file", path, ErrNotStore)
	}
	f, err := os.Open(path)
	if err != nil {
		return plain(path, err)
	}
	defer func() { _ = f.Close() }()
	meta := make([]byte, metaEnd)
	if _, err := io.ReadFull(f, meta); err != nil {
		return fmt.Errorf("%s: %w (too short)", path, ErrNotStore)
	}
	var order binary.ByteOrder = binary.LittleEndian
	if order.Uint32(meta[metaAt:]) != boltMagic {
		order = binary.BigEndian
	}
	if order.Uint32(meta[metaAt:]) != boltMagic {
		return fmt.Errorf("%s: %w", path, ErrNotStore)
	}
	size := int64(order.Uint32(meta[pageSizeAt:]))
	pages := order.Uint64(meta[pagesAt:])
	if second := make([]byte, metaEnd); size > 0 {
		if _, err := f.ReadAt(second, size); err == nil && order.Uint32(second[metaAt:]) == boltMagic {
			pages = max(pages, order.Uint64(second[pagesAt:]))
		}
	}
	if size <= 0 || pages > uint64(st.Size()/size) {
		return damaged(path, fmt.Sprintf("%d bytes are fewer than its %d pages: it was cut short", st.Size(), pages))
	}
	return nil
}

// plain is an error of the operating system without the call's name.
func plain(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("%s: %w", path, err)
}

// open opens a store that is there. Only one process can have it open for
// writing; readers share it.
func open(path string, readOnly bool) (*bolt.DB, error) {
	if err := check(path); err != nil {
		return nil, err
	}
	opened := func(name string, flag int, mode fs.FileMode) (*os.File, error) {
		return os.OpenFile(name, flag&^os.O_CREATE, mode) // never make one here
	}
	db, err := bolt.Open(path, 0o666, &bolt.Options{Timeout: patience, ReadOnly: readOnly, OpenFile: opened,
		PreLoadFreelist: true}) // else tx.Check reads it in a goroutine of its own, where a fault is fatal
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("%s: %w and did not let go of it for %.0f s: try again when it is done", path, ErrLocked, patience.Seconds())
	case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrChecksum), errors.Is(err, bolterrors.ErrVersionMismatch):
		return nil, damaged(path, err)
	case err != nil:
		return nil, plain(path, err)
	}
	return db, nil
}

func damaged(path string, cause any) error {
	return fmt.Errorf("%s: %w (%v): keep the file, and go on from your last copy or export of it", path, ErrDamaged, cause)
}

// with opens the store, works in one transaction and closes it. Damaged pages
// make the library panic, a file that was cut short is a memory fault: both
// become ErrDamaged, and the file stays locked until the process ends.
func with(path string, write bool, work func(*bolt.Tx) error) (err error) {
	before := debug.SetPanicOnFault(true)
	defer debug.SetPanicOnFault(before)
	defer func() {
		r := recover()
		if r == nil {
			return
		}
		_, fault := r.(runtime.Error)
		_, text := r.(string)
		_, other := r.(error)
		if !fault && !text && !other {
			panic(r)
		}
		err = damaged(path, "its pages do not fit together")
	}()
	db, err := open(path, !write)
	if err != nil {
		return err
	}
	if !write {
		return errors.Join(db.View(work), db.Close())
	}
	var refused error
	err = db.Update(func(tx *bolt.Tx) error {
		refused = work(tx)
		return refused
	})
	if err != nil && refused == nil {
		err = unwritten(path, err, "free some room on the disk; 'layshaft stock history' tells whether the change was kept")
	}
	return errors.Join(err, db.Close())
}

// unwritten is a disk that is full or failing.
func unwritten(path string, err error, remedy string) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	why := err.Error()[strings.LastIndex(err.Error(), ": ")+1:] // the library puts calls and file names before it
	return fmt.Errorf("%s: %w (%s): %s", path, ErrWrite, strings.TrimSpace(why), remedy)
}

// load reads every record, as it stands and as a snapshot. Errors name the file.
func load(path string, tx *bolt.Tx) (*Snapshot, map[string]map[string][]byte, error) {
	s := &Snapshot{builtFrom: map[string]string{}, texts: map[string][]byte{}}
	raw := map[string]map[string][]byte{}
	for _, name := range recordBuckets() {
		b := tx.Bucket([]byte(name))
		if b == nil {
			return nil, nil, fmt.Errorf("%s: %w: table %s is missing", path, ErrNotStore, name)
		}
		raw[name] = map[string][]byte{}
		err := b.ForEach(func(k, v []byte) error {
			raw[name][string(k)] = bytes.Clone(v) // v is good only as long as the transaction
			switch err := s.decode(name, string(k), v); {
			case errors.Is(err, errFormat):
				return fmt.Errorf("%s: %w", path, err)
			case err != nil: // in the decoder's words it helps nobody
				return damaged(path, fmt.Sprintf("the record of %s %q cannot be read", name, k))
			}
			return nil
		})
		if err != nil {
			return nil, nil, err
		}
	}
	texts := tx.Bucket([]byte(bucketTexts))
	for _, sha := range s.builtFrom {
		if texts != nil {
			s.texts[sha] = bytes.Clone(texts.Get([]byte(sha)))
		}
	}
	s.sort()
	return s, raw, nil
}

// Read gives all that the store holds now.
func Read(path string) (*Snapshot, error) {
	var s *Snapshot
	err := with(path, false, func(tx *bolt.Tx) error {
		var err error
		s, _, err = load(path, tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return s, nil
}

// Check tells whether the file is whole: its pages (by the database's own test),
// its records, that no slot of a car holds two pairs, and that what the history
// says last of each record is what stands there.
func Check(path string) error {
	return with(path, false, func(tx *bolt.Tx) error {
		// First by our own reading, where a fault can be caught.
		s, raw, err := load(path, tx)
		if err != nil {
			return err
		}
		last, err := lastWords(path, tx)
		if err != nil {
			return err
		}
		if err := s.check(); err != nil {
			return damaged(path, err)
		}
		var fault error
		for err := range tx.Check() { // to its end: it works in the background
			if fault == nil {
				fault = damaged(path, err)
			}
		}
		if fault != nil {
			return fault
		}
		for bucket, records := range raw {
			for key, v := range records {
				if !bytes.Equal(last[bucket][key], v) {
					return damaged(path, fmt.Sprintf("%s %s is not what its history says", bucket, key))
				}
				delete(last[bucket], key)
			}
			for key, v := range last[bucket] {
				if v != nil {
					return damaged(path, fmt.Sprintf("%s %s is gone without an entry of the history", bucket, key))
				}
			}
		}
		return nil
	})
}

// lastWords is what the history says last of each record; nil = removed.
func lastWords(path string, tx *bolt.Tx) (map[string]map[string][]byte, error) {
	last := map[string]map[string][]byte{}
	all, err := history(path, tx)
	for i := range all {
		for _, c := range all[i].Changes {
			if last[c.Table] == nil {
				last[c.Table] = map[string][]byte{}
			}
			last[c.Table][c.Key] = c.After
		}
	}
	return last, err
}
