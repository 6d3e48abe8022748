package cli

import (
	"fmt"
	"slices"
	"strings"

	"layshaft/cars/gearbox"

	"github.com/spf13/pflag"
)

// boughtList are pairs that the stock does not hold, such as 23/27 or 23/27:narrow.
type boughtList struct{ list []bought }

// bought is one of them.
type bought struct {
	lay, main int
	kind      string // of the slot that it is made for; "" = every loose one of the box
	word      string
}

var _ pflag.Value = (*boughtList)(nil)

// mostTeeth is the most teeth that a stock file may give a gear.
const mostTeeth = 120

// Set adds pairs to the list; whether the box has such a slot is checked later.
func (l *boughtList) Set(s string) error {
	for _, word := range strings.Split(s, ",") {
		word = strings.TrimSpace(word)
		teeth, kind, some := strings.Cut(word, ":")
		b := bought{kind: kind, word: word}
		var ok bool
		if b.lay, b.main, ok = teethOf(teeth); !ok || max(b.lay, b.main) > mostTeeth || (some && kind == "") {
			return fmt.Errorf("%q is not a pair: write layshaft/mainshaft teeth, such as 23/27, or 23/27:KIND for one kind of slot", word)
		}
		for _, other := range l.list {
			if other.lay == b.lay && other.main == b.main {
				return fmt.Errorf("%d/%d stands twice: name each pair once", b.lay, b.main)
			}
		}
		l.list = append(l.list, b)
	}
	return nil
}

func (l *boughtList) String() string {
	if l == nil {
		return ""
	}
	words := make([]string, len(l.list))
	for i, b := range l.list {
		words[i] = b.word
	}
	return strings.Join(words, ",")
}

// Type is the placeholder in the help.
func (l *boughtList) Type() string { return "PAIRS" }

// boughtID is the id of a pair that is not there; it says so wherever it stands.
func boughtID(lay, main int) string { return fmt.Sprintf("NOT IN STOCK %d/%d", lay, main) }

// extend is the stock with the pairs that might be bought, and their ids. The stock
// itself stays as it is.
func (l *boughtList) extend(f *files) (*gearbox.Stock, []string, error) {
	if len(l.list) == 0 {
		return f.stock, nil, nil
	}
	var loose, cut []string
	for _, s := range f.box.Slots {
		into := &loose
		if s.CutOn {
			into = &cut
		}
		if !slices.Contains(*into, s.Kind) {
			*into = append(*into, s.Kind)
		}
	}
	more := *f.stock
	more.Pairs = slices.Clone(f.stock.Pairs)
	var ids []string
	for _, b := range l.list {
		fits := loose
		if b.kind != "" {
			switch {
			case slices.Contains(cut, b.kind):
				return nil, nil, badInput("--if-bought %s: a gear in a %s slot is cut in one piece with the layshaft and comes as a shaft, not as a pair: loose kinds of this box are %s", b.word, b.kind, strings.Join(loose, ", "))
			case !slices.Contains(loose, b.kind):
				return nil, nil, badInput("--if-bought %s: %q is not a kind of slot of the gearbox file %s%s", b.word, b.kind, f.boxName(), meant(b.kind, loose))
			}
			fits = []string{b.kind}
		}
		for i := range f.stock.Pairs {
			q := &f.stock.Pairs[i]
			if q.Layshaft == b.lay && q.Mainshaft == b.main && gearbox.StockRules(q) == nil && !slices.ContainsFunc(fits, func(k string) bool { return !slices.Contains(q.Fits, k) }) {
				return nil, nil, badInput("--if-bought %s: the stock holds it (pair %s, fits %s) and it may be used: leave it out", b.word, q.ID, strings.Join(q.Fits, ", "))
			}
		}
		id := boughtID(b.lay, b.main)
		if f.stock.Pair(id) != nil {
			return nil, nil, badInput("--if-bought %s: the stock has a pair of the id %q, which means a pair that is not there: rename it", b.word, id)
		}
		ids = append(ids, id)
		more.Pairs = append(more.Pairs, gearbox.Pair{ID: id, Layshaft: b.lay, Mainshaft: b.main, Mark: "none", Count: 1, Fits: slices.Clone(fits), Note: "not in stock"})
	}
	return &more, ids, nil
}
