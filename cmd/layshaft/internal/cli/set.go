package cli

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"

	"github.com/spf13/pflag"
)

// pairList is a set as written on the command line: one word for each gear,
// in gear order, layshaft/mainshaft teeth or a pair's id.
type pairList struct{ words []string }

var _ pflag.Value = (*pairList)(nil)

// Set splits the list; whether the pairs exist is checked against the stock.
func (l *pairList) Set(s string) error {
	var words []string
	for i, w := range strings.Split(s, ",") {
		w = strings.TrimSpace(w)
		if w == "" {
			return fmt.Errorf("place %d of %q is empty: write the pairs in gear order, such as 13/36,16/35,17/31", i+1, s)
		}
		words = append(words, w)
	}
	if len(words) > maxGears {
		return fmt.Errorf("%d pairs are more than the %d gears that a box may have", len(words), maxGears)
	}
	l.words = words
	return nil
}

func (l *pairList) String() string {
	if l == nil {
		return ""
	}
	return strings.Join(l.words, ",")
}

// Type is the placeholder in the help.
func (l *pairList) Type() string { return "PAIRS" }

// teethOf reads layshaft/mainshaft; ok is false for any other word.
func teethOf(word string) (lay, main int, ok bool) {
	a, b, found := strings.Cut(word, "/")
	if !found {
		return 0, 0, false
	}
	lay, errA := strconv.Atoi(a)
	main, errB := strconv.Atoi(b)
	return lay, main, errA == nil && errB == nil && lay > 0 && main > 0
}

// matches lists the pairs that a word may mean: the one with that id, then by
// teeth the one that is in the car, then the others in file order.
func matches(stock *gearbox.Stock, word string) []*gearbox.Pair {
	var exact, fitted, others []*gearbox.Pair
	lay, main, ok := teethOf(word)
	for i := range stock.Pairs {
		p := &stock.Pairs[i]
		switch {
		case p.ID == word:
			exact = append(exact, p)
		case !ok || p.Layshaft != lay || p.Mainshaft != main:
		case slices.Contains(stock.Fitted, p.ID):
			fitted = append(fitted, p)
		default:
			others = append(others, p)
		}
	}
	return slices.Concat(exact, fitted, others)
}

// notInStock says which pair of the stock comes nearest to the one asked for.
func notInStock(stock *gearbox.Stock, word string) error {
	lay, main, ok := teethOf(word)
	if !ok {
		var ids []string
		for i := range stock.Pairs {
			ids = append(ids, stock.Pairs[i].ID)
		}
		return fmt.Errorf("%q is neither layshaft/mainshaft teeth, such as 16/35, nor the id of a pair in the stock%s", word, near(word, ids))
	}
	want := float64(main) / float64(lay)
	var best *gearbox.Pair
	for i := range stock.Pairs {
		p := &stock.Pairs[i]
		if gearbox.StockRules(p) != nil {
			continue
		}
		if best == nil || math.Abs(math.Log(p.Ratio()/want)) < math.Abs(math.Log(best.Ratio()/want)) {
			best = p
		}
	}
	text := fmt.Sprintf("%s (layshaft/mainshaft, ratio %.3f) is not in stock", word, want)
	if best != nil {
		text += fmt.Sprintf(": nearest by ratio is %d/%d (%.3f)", best.Layshaft, best.Mainshaft, best.Ratio())
	}
	if len(matches(stock, fmt.Sprintf("%d/%d", main, lay))) > 0 {
		text += fmt.Sprintf("; %d/%d is: did you swap the shafts?", main, lay)
	}
	return errors.New(text)
}

// near is meant, but silent when nothing is near.
func near(word string, known []string) string {
	if s := meant(word, known); strings.HasPrefix(s, ": did") {
		return s
	}
	return ""
}

// fittedOut warns of fitted pairs that the search leaves out since they may not
// run, pairs with the same reason on one line: a fitted set that drops out of the
// sheet without a word would be taken for a slow one.
func fittedOut(stock *gearbox.Stock) []string {
	var reasons []string
	ids := map[string][]string{}
	for _, id := range stock.Fitted {
		p := stock.Pair(id)
		if p == nil {
			continue
		}
		if err := gearbox.StockRules(p); err != nil {
			why := strings.ReplaceAll(err.Error(), "\n", "; ")
			if ids[why] == nil {
				reasons = append(reasons, why)
			}
			ids[why] = append(ids[why], id)
		}
	}
	for i, why := range reasons {
		reasons[i] = fmt.Sprintf("in the car, but left out of the search: %s: %s", strings.Join(ids[why], ", "), why)
	}
	return reasons
}

// combinations that a set of ambiguous words may have; beyond it the stock
// holds far more twins than any shop.
const maxCombinations = 20000

// buildSet finds the pairs that the words mean and a listed cluster in which
// they can be built; limits are the steps that the set must keep. All faults
// are reported at once.
func buildSet(f *files, words []string, final, drop *gearbox.Drive, limits verify.Limits) (*gearbox.Set, error) {
	if len(words) != f.box.Gears {
		return nil, fmt.Errorf("%d pairs for a box of %d gears (%s): name one for each gear, first gear first", len(words), f.box.Gears, f.box.Name)
	}
	options := make([][]*gearbox.Pair, len(words))
	var faults []error
	for i, w := range words {
		if options[i] = matches(f.stock, w); len(options[i]) == 0 {
			faults = append(faults, fmt.Errorf("gear %d: %w", i+1, notInStock(f.stock, w)))
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	var first []error
	for c := range f.box.Clusters {
		tried := 0
		pick := make([]*gearbox.Pair, len(words))
		var found *gearbox.Set
		var try func(gear int)
		try = func(gear int) {
			if found != nil || tried >= maxCombinations {
				return
			}
			if gear < len(words) {
				for _, p := range options[gear] {
					pick[gear] = p
					try(gear + 1)
				}
				return
			}
			tried++
			set := &gearbox.Set{Cluster: &f.box.Clusters[c], Pairs: append([]*gearbox.Pair(nil), pick...), Final: final, Drop: drop}
			errs := verify.Verify(f.box, f.stock, set, limits)
			if len(errs) == 0 {
				found = set
			} else if first == nil || len(errs) < len(first) {
				first = errs
			}
		}
		try(0)
		if found != nil {
			return found, nil
		}
	}
	if len(first) == 0 {
		return nil, errors.New("the gearbox lists no cluster to build it in")
	}
	return nil, fmt.Errorf("this set cannot be built:\n%w", errors.Join(first...))
}
