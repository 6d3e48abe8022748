package cli

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cars/gearbox/verify"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

// use are the flags on what pairs are wanted for. A store always judges them; a
// stock file only where they are given or its pairs carry crack tests.
type use struct {
	date    day
	inCar   string
	planned number // km
	atHand  bool

	allowDue  wordList
	allowedBy string
	allowWhy  string
}

func (u *use) flags(c *cobra.Command) {
	u.inCar = gearbox.DefaultCar
	u.planned = number{lo: 0, hi: 100000, unit: "km"}
	f := c.Flags()
	f.Var(&u.date, "date", "day for which inspections are judged, printed on the sheet; year-month-day; with a pair store default today")
	f.Var(&textValue{&u.inCar, "CAR"}, "in-car", "which of the team's cars, by its number or `NAME`: pairs fitted in another one are not free")
	f.Var(&u.planned, "planned-km", "distance that the pairs are to run: life and crack test must last as long")
	f.BoolVar(&u.atHand, "at-hand", false, "only pairs that are in the car or in the box that travels with it, not in the shop")
}

// allowFlags let a named person take a pair that is due. Only where a sheet
// prints who it was.
func (u *use) allowFlags(c *cobra.Command) {
	f := c.Flags()
	f.Var(&u.allowDue, "allow-due", "let these pairs run although out of life or due for inspection; needs --allowed-by and --allow-reason, which are printed")
	f.Var(&textValue{&u.allowedBy, "NAME"}, "allowed-by", "who allows it")
	f.Var(&textValue{&u.allowWhy, "TEXT"}, "allow-reason", "why")
}

// waivers are the pairs that a named person allowed: id -> who and why.
func (u *use) waivers() (map[string]string, error) {
	if len(u.allowDue.words) == 0 {
		if u.allowedBy != "" || u.allowWhy != "" {
			return nil, badInput("--allowed-by and --allow-reason go with --allow-due ID: say which pair")
		}
		return nil, nil
	}
	if u.allowedBy == "" || u.allowWhy == "" {
		return nil, badInput("--allow-due needs --allowed-by NAME and --allow-reason TEXT: a pair that is due runs only on somebody's word")
	}
	out := map[string]string{}
	for _, id := range u.allowDue.words {
		out[id] = fmt.Sprintf("allowed by %s: %s", u.allowedBy, u.allowWhy)
	}
	return out, nil
}

// today is the calendar day here and now.
func today() gearbox.Day { return gearbox.DayOf(time.Now()) }

// wanted turns the flags into a use. For a store, and for a stock file with crack
// tests that are good for so many days, a day that is not given is today, and is
// then printed as if it had been.
func (u *use) wanted(dated bool) (gearbox.Use, error) {
	out := gearbox.Use{Car: u.inCar, RunM: u.planned.value * metresPerKm}
	if err := store.CarName(u.inCar); err != nil {
		return out, badInput("--in-car: %s", err)
	}
	if u.date.value == 0 && dated {
		u.date.value = today()
	}
	out.Day = u.date.value
	if u.atHand {
		out.Places = []string{gearbox.PlaceBox, gearbox.PlaceCar}
	}
	var err error
	out.Waived, err = u.waivers()
	return out, err
}

const metresPerKm = 1000 // exact

// isStore tells a pair store from a stock file by its name.
func isStore(ref string) bool { return strings.HasSuffix(strings.ToLower(ref), store.Ext) }

// loadStore reads a pair store and makes the stock to choose from.
func (f *files) loadStore() error {
	s, err := store.Read(f.stockRef)
	if err != nil {
		return storeFault(err)
	}
	if f.wanted, err = f.use.wanted(true); err != nil {
		return err
	}
	if err := f.holdWaivers(&s.Stock); err != nil {
		return err
	}
	f.nameWanted()
	f.store = s
	f.stock = s.Stock.Kinds(f.wanted)
	f.used = append(f.used, sheet.InputFile{Role: roleStock, Name: baseName(f.stockRef), SHA256: s.Digest()})
	if len(f.stock.Finals) == 0 {
		return badInput("%s: holds no final drive: write one into a table and take it over with 'layshaft stock import FILE.csv --stock %s':\nkind,id,layshaft_teeth,mainshaft_teeth,fits\nfinal_drive,12/37,12,37,", f.stockRef, f.stockRef)
	}
	return nil
}

// holdWaivers drops, with a warning, what was allowed for nothing: a sheet must
// not say of a pair that is in order that it runs on somebody's word, and the
// word must not hold for what befalls the pair later.
func (f *files) holdWaivers(s *gearbox.Stock) error {
	if err := knownWaivers(s, f.wanted.Waived); err != nil {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(f.wanted.Waived)) {
		p := s.Pair(id)
		use := f.wanted
		use.Car = p.Car
		if !slices.ContainsFunc(use.Hindrances(p), gearbox.Hindrance.Waivable) {
			delete(f.wanted.Waived, id)
			f.warnings = append(f.warnings, fmt.Sprintf("--allow-due %s: the pair is neither due nor out of life; there is nothing to allow", id))
		}
	}
	return nil
}

// knownWaivers refuses to allow a pair that is not there: it is mostly a
// misspelt one.
func knownWaivers(s *gearbox.Stock, waived map[string]string) error {
	for id := range waived {
		if s.Pair(id) == nil {
			var ids []string
			for i := range s.Pairs {
				ids = append(ids, s.Pairs[i].ID)
			}
			return badInput("--allow-due: %q is not a pair of the stock%s", id, near(id, ids))
		}
	}
	return nil
}

// allowed is the rule on single pairs with what a named person allowed; nil
// when nothing was.
func allowed(waived map[string]string) func(*gearbox.Pair) error {
	if len(waived) == 0 {
		return nil
	}
	return func(p *gearbox.Pair) error {
		if _, ok := waived[p.ID]; !ok {
			return gearbox.StockRules(p)
		}
		free := *p
		free.LifeM, free.InspectionDue = 0, false
		return gearbox.StockRules(&free)
	}
}

// auditUnits holds the chosen pairs of a store against their cards once more.
func (f *files) auditUnits(set *gearbox.Set) error {
	if f.store == nil {
		return nil
	}
	if faults := verify.Units(f.store.Stock.Pairs, set, f.wanted); len(faults) > 0 {
		return fmt.Errorf("the chosen pairs fail the last check against their cards:\n%w", errors.Join(faults...))
	}
	return nil
}

// pairsFor says for what use the pairs were judged; "" when nothing was asked.
func (f *files) pairsFor() string {
	if f.store == nil && f.date.value == 0 && !f.planned.given {
		return ""
	}
	text := "judged"
	if f.date.value != 0 {
		text += " on " + f.date.String()
	}
	if f.planned.given {
		text += fmt.Sprintf(", for %s km to run", plain(f.planned.value))
	} else {
		text += ", for no distance in particular (--planned-km)"
	}
	if f.store != nil {
		text += ", in car " + f.wanted.Car
		if f.atHand {
			text += ", at hand"
		}
	}
	return text
}

// carName is which of the team's cars a sheet is for; "" without a pair store.
func (f *files) carName() string {
	if f.store == nil {
		return ""
	}
	return f.wanted.Car
}

// nameWanted lets the pairs that --set names stand for those that are like them.
func (f *files) nameWanted() {
	if f.named != nil {
		f.wanted.Named = f.named.words
	}
}
