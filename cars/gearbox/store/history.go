package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
)

// By says who changes something, when and why.
type By struct {
	Who  string    // a name; must not be empty
	At   time.Time // kept in UTC, to the second
	What string    // the kind of change, one word: "book"
	Why  string    // may be empty where the change says enough
}

// Change is one record before and after.
type Change struct {
	Table  string          `json:"table"`
	Key    string          `json:"key"`
	Before json.RawMessage `json:"before"` // null = it was not there
	After  json.RawMessage `json:"after"`  // null = removed
}

// Entry is one change of the store.
type Entry struct {
	Number  uint64   `json:"number"` // from 1
	At      string   `json:"at"`     // RFC 3339, UTC
	Who     string   `json:"who"`
	What    string   `json:"what"`
	Why     string   `json:"why"`
	Summary string   `json:"summary"`
	Undoes  uint64   `json:"undoes,omitempty"` // the entry that this one takes back; 0 = none
	Undone  uint64   `json:"-"`                // the entry that takes this one back; 0 = none
	Changes []Change `json:"changes"`
}

// Touches tells whether the entry changed the pair.
func (e *Entry) Touches(pair string) bool {
	return slices.ContainsFunc(e.Changes, func(c Change) bool { return c.Table == bucketPairs && c.Key == pair })
}

// Errors of Undo and Update that a caller can act on.
var (
	ErrNothing = errors.New("nothing to change")
	ErrLater   = errors.New("was changed again since")
)

// isNull tells a record that is not there, also after a way through JSON.
func isNull(raw []byte) bool { return len(raw) == 0 || bytes.Equal(raw, []byte("null")) }

// history reads all entries, the first one first. Errors name the file.
func history(path string, tx *bolt.Tx) ([]Entry, error) {
	b := tx.Bucket([]byte(bucketHistory))
	if b == nil {
		return nil, fmt.Errorf("%s: %w: table %s is missing", path, ErrNotStore, bucketHistory)
	}
	var all []Entry
	err := b.ForEach(func(k, v []byte) error {
		var e Entry
		if err := json.Unmarshal(v, &e); err != nil || len(k) != 8 || binary.BigEndian.Uint64(k) != e.Number {
			return damaged(path, fmt.Sprintf("entry %d of the history cannot be read", len(all)+1))
		}
		for i := range e.Changes {
			c := &e.Changes[i]
			if isNull(c.Before) {
				c.Before = nil
			}
			if isNull(c.After) {
				c.After = nil
			}
		}
		if n := int(e.Undoes); n >= 1 && n <= len(all) {
			all[n-1].Undone = e.Number
		}
		all = append(all, e)
		return nil
	})
	return all, err
}

// History gives all entries, the first one first.
func History(path string) ([]Entry, error) {
	var all []Entry
	err := with(path, false, func(tx *bolt.Tx) error {
		var err error
		all, err = history(path, tx)
		return err
	})
	return all, err
}

// write puts the records that differ into the tables and the entry into the
// history. It returns nil when nothing differs.
func write(tx *bolt.Tx, by By, before, after map[string]map[string][]byte, e Entry) (*Entry, error) {
	if by.Who == "" || by.What == "" {
		return nil, errors.New("store: a change needs a name and a kind")
	}
	for _, bucket := range recordBuckets() {
		b := tx.Bucket([]byte(bucket))
		keys := map[string]bool{}
		for k := range before[bucket] {
			keys[k] = true
		}
		for k := range after[bucket] {
			keys[k] = true
		}
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			old, now := before[bucket][k], after[bucket][k]
			if bytes.Equal(old, now) {
				continue
			}
			e.Changes = append(e.Changes, Change{bucket, k, old, now})
			var err error
			if now == nil {
				err = b.Delete([]byte(k))
			} else {
				err = b.Put([]byte(k), now)
			}
			if err != nil {
				return nil, fmt.Errorf("%s %s: %w", bucket, k, err)
			}
		}
	}
	if len(e.Changes) == 0 {
		return nil, nil
	}
	b := tx.Bucket([]byte(bucketHistory))
	n, err := b.NextSequence()
	if err != nil {
		return nil, err
	}
	e.Number, e.Who, e.What, e.Why = n, by.Who, by.What, by.Why
	e.At = by.At.UTC().Format(time.RFC3339)
	raw, err := json.Marshal(e)
	if err != nil {
		return nil, err
	}
	return &e, b.Put(binary.BigEndian.AppendUint64(nil, n), raw)
}

// Update changes the store in one transaction: all that change does is kept
// with its history and is on the disk when Update returns, or nothing is. An
// error of change leaves the store as it was. The entry is nil when nothing
// differs from before.
func Update(path string, by By, change func(*Edit) error) (*Entry, error) {
	var entry *Entry
	err := with(path, true, func(tx *bolt.Tx) error {
		s, before, err := load(path, tx)
		if err != nil {
			return err
		}
		e := &Edit{Snapshot: s}
		if err := change(e); err != nil {
			return err
		}
		if err := e.check(); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		after, err := s.encode()
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		texts := tx.Bucket([]byte(bucketTexts))
		for sha, text := range e.newTexts {
			if err := texts.Put([]byte(sha), text); err != nil {
				return err
			}
		}
		entry, err = write(tx, by, before, after, Entry{Summary: e.summary()})
		return err
	})
	if err != nil {
		return nil, err
	}
	return entry, nil
}

// Undo takes back one entry as a change of its own; number 0 means the newest
// that is neither taken back nor itself an undo. To take back an undo, name it.
// ErrNothing: there is no such entry, or it is taken back already. ErrLater: a
// record was changed again by a later entry, which has to go first.
func Undo(path string, by By, number uint64) (*Entry, error) {
	var entry *Entry
	err := with(path, true, func(tx *bolt.Tx) error {
		all, err := history(path, tx)
		if err != nil {
			return err
		}
		target, err := pick(all, number)
		if err != nil {
			return err
		}
		_, before, err := load(path, tx)
		if err != nil {
			return err
		}
		after := map[string]map[string][]byte{}
		for bucket, records := range before {
			after[bucket] = maps.Clone(records)
		}
		for _, c := range target.Changes {
			if !bytes.Equal(before[c.Table][c.Key], c.After) {
				return later(all, target, c)
			}
			if c.Before == nil {
				delete(after[c.Table], c.Key)
			} else {
				after[c.Table][c.Key] = c.Before
			}
		}
		if err := checkUndone(before, after); err != nil {
			return fmt.Errorf("entry %d cannot be taken back as things stand now: %w", target.Number, err)
		}
		text := fmt.Sprintf("takes back entry %d (%s: %s)", target.Number, target.What, target.Summary)
		entry, err = write(tx, by, before, after, Entry{Summary: text, Undoes: target.Number})
		return err
	})
	if err != nil {
		return nil, err
	}
	return entry, nil
}

// checkUndone holds records that an undo has put together to the rules of all
// stores. None of the cards may have changed since, and yet a pair that was taken
// out may not go back to where another one is by now; nor may the pairs in a car
// change under the sheet that was booked for them later.
func checkUndone(now, after map[string]map[string][]byte) error {
	was, s := &Snapshot{builtFrom: map[string]string{}}, &Snapshot{builtFrom: map[string]string{}}
	for _, one := range []struct {
		*Snapshot
		records map[string]map[string][]byte
	}{{was, now}, {s, after}} {
		for bucket, all := range one.records {
			for key, raw := range all {
				if err := one.decode(bucket, key, raw); err != nil {
					return err
				}
			}
		}
		one.sort()
	}
	if err := s.check(); err != nil {
		return err
	}
	for _, car := range slices.Sorted(maps.Keys(s.builtFrom)) {
		if s.builtFrom[car] == was.builtFrom[car] && !slices.Equal(s.ids(car), was.ids(car)) {
			return fmt.Errorf("car %s would not hold the pairs of the sheet that it was built from: take back the entry that fitted it first", car)
		}
	}
	return nil
}

// ids are those of the pairs in a car, by gear.
func (s *Snapshot) ids(car string) []string {
	var out []string
	for _, p := range s.Fitted(car) {
		out = append(out, p.ID)
	}
	return out
}

func pick(all []Entry, number uint64) (*Entry, error) {
	if number == 0 {
		for i := len(all) - 1; i >= 1; i-- { // the first one made the store
			if e := &all[i]; e.Undone == 0 && e.Undoes == 0 {
				return e, nil
			}
		}
		return nil, fmt.Errorf("%w: no change is left to take back", ErrNothing)
	}
	if number > uint64(len(all)) {
		return nil, fmt.Errorf("%w: there is no entry %d; the newest is %d", ErrNothing, number, len(all))
	}
	e := &all[number-1]
	switch {
	case number == 1:
		return nil, fmt.Errorf("%w: entry 1 made the store; delete the file instead", ErrNothing)
	case e.Undone > 0:
		return nil, fmt.Errorf("%w: entry %d was taken back by entry %d; to have it again take that one back", ErrNothing, number, e.Undone)
	}
	return e, nil
}

// later names the entry that changed the record after the target.
func later(all []Entry, target *Entry, c Change) error {
	for i := len(all) - 1; i >= 0; i-- {
		e := &all[i]
		if e.Number <= target.Number {
			break
		}
		for _, o := range e.Changes {
			if o.Table == c.Table && o.Key == c.Key {
				return fmt.Errorf("entry %d cannot be taken back: in %s, %s %w by entry %d (%s): take that one back first (--entry %d)",
					target.Number, c.Table, c.Key, ErrLater, e.Number, e.What, e.Number)
			}
		}
	}
	return fmt.Errorf("entry %d cannot be taken back: in %s, %s %w", target.Number, c.Table, c.Key, ErrLater)
}
