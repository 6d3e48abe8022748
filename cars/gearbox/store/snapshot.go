package store

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"layshaft/cars/gearbox"
)

// Snapshot is all that a store holds at one moment.
type Snapshot struct {
	Stock  gearbox.Stock // pairs with identities, Count 1 each, by falling ratio, then id
	Sheets []Issued      // by track, event, session, revision

	builtFrom map[string]string // car -> SHA-256 of the sheet that it was built from
	texts     map[string][]byte // saved sheets by SHA-256; only those of builtFrom are read
}

// Cars lists the cars in which something is fitted, sorted.
func (s *Snapshot) Cars() []string {
	var out []string
	for i := range s.Stock.Pairs {
		if c := s.Stock.Pairs[i].Car; c != "" && !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	slices.Sort(out)
	return out
}

// Fitted lists the pairs in a car by gear.
func (s *Snapshot) Fitted(car string) []*gearbox.Pair {
	var out []*gearbox.Pair
	for i := range s.Stock.Pairs {
		if p := &s.Stock.Pairs[i]; p.Car == car && car != "" {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b *gearbox.Pair) int { return a.Gear - b.Gear })
	return out
}

// BuiltFrom is the saved ratio sheet that the car was built from, as it was
// read; nil when it was not built from one.
func (s *Snapshot) BuiltFrom(car string) []byte { return s.texts[s.builtFrom[car]] }

// Digest is the SHA-256 (hex) of the stock as text: what an answer that was
// made from it rests on.
func (s *Snapshot) Digest() string {
	sum := sha256.Sum256(s.Stock.TOML())
	return hex.EncodeToString(sum[:])
}

// Replaced is the latest revision of the same sheet that is later than the one
// given; nil when there is none.
func (s *Snapshot) Replaced(one *Issued) *Issued {
	var latest *Issued
	for i := range s.Sheets {
		o := &s.Sheets[i]
		if o.same(one) && o.Revision > one.Revision && (latest == nil || o.Revision > latest.Revision) {
			latest = o
		}
	}
	return latest
}

// Known is the issued sheet of the same number; nil when there is none.
func (s *Snapshot) Known(one *Issued) *Issued {
	for i := range s.Sheets {
		if s.Sheets[i].key() == one.key() {
			return &s.Sheets[i]
		}
	}
	return nil
}
