package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"

	"github.com/spf13/cobra"
)

// source are the flags on a stock that is taken over into a store.
type source struct {
	boxRef    string
	life      number
	crackDays number
	crackKm   number
}

func (o *source) flags(c *cobra.Command) {
	f := c.Flags()
	o.boxRef = defaultBox
	f.Var(&textValue{&o.boxRef, "BOX"}, "gearbox", "embedded gearbox, or a file: says which slots the gears of a table stand in")
	km := number{lo: 0, hi: 1e6, unit: "km"}
	o.life, o.crackKm = km, km
	f.Var(&o.life, "life-km", "life of the pairs that the file gives none")
	f.Var(&o.crackKm, "crack-test-every-km", "interval of the crack test of the pairs that the file gives none")
	o.crackDays = number{lo: 0, hi: 3650, unit: "days", whole: true}
	f.Var(&o.crackDays, "crack-test-every-days", "the same in days")
}

// defaultBox is the embedded car's.
const defaultBox = "wren-six"

// read reads a stock file or a table, and fills in what the flags say.
func (o *source) read(ref string) (*gearbox.Stock, []string, error) {
	var s *gearbox.Stock
	var notes []string
	if isTable(ref) {
		data, err := readLimited(ref, datafile.MaxBytes)
		if err != nil {
			return nil, nil, badInput("%s: %s", ref, plainOS(err))
		}
		box, err := o.box()
		if err != nil {
			return nil, nil, err
		}
		if s, notes, err = gearbox.ParseTable(datafile.NewSource(baseName(ref), data), box); err != nil {
			return nil, nil, asInput(err)
		}
	} else {
		src, err := datafile.Read(ref, gearbox.Embedded(), gearbox.StockDir, fileExt)
		if err != nil {
			return nil, nil, badInput("%s", err)
		}
		if s, err = gearbox.ParseStock(src); err != nil {
			return nil, nil, asInput(err)
		}
		notes = s.Warnings
	}
	var faults []error
	for i := range s.Pairs {
		p := &s.Pairs[i]
		if err := notAhead("the crack test of", p.Crack.On); err != nil {
			faults = append(faults, fmt.Errorf("%s: pair %s: %w", baseName(ref), p.ID, err))
		}
		if p.LifeM == 0 && o.life.given {
			p.LifeM = o.life.value * metresPerKm
		}
		if p.Crack.Days == 0 && p.Crack.EveryM == 0 {
			p.Crack.Days, p.Crack.EveryM = int(o.crackDays.value), o.crackKm.value*metresPerKm
		}
	}
	return s, notes, asInput(errors.Join(faults...))
}

func (o *source) box() (*gearbox.Box, error) {
	src, err := datafile.Read(o.boxRef, gearbox.Embedded(), gearbox.BoxDir, fileExt)
	if err != nil {
		return nil, badInput("--gearbox: %s", err)
	}
	box, err := gearbox.ParseBox(src)
	return box, asInput(err)
}

func (a *app) stockNew() *cobra.Command {
	var o struct {
		change
		source
	}
	from := defaultStock
	c := &cobra.Command{
		Use:   "new STORE",
		Short: "Make a pair store out of a stock file or a table",
		Long: `Makes a pair store, one file that ends in ` + store.Ext + `: every pair with its identity,
kilometres, crack test and place; every change with its history. --from takes an
embedded stock, a stock file (.toml) or a table (.csv) with the columns
layshaft_teeth and mainshaft_teeth. Pairs counted more than once get numbers:
"17/36#1".

Keep a copy: 'layshaft stock export' writes a text that people can read and put
under version control.`,
		Example: "  layshaft stock new team.store --from wren --who Ada",
		Args:    oneArg("the new file, such as team" + store.Ext),
		RunE: func(c *cobra.Command, args []string) error {
			path := args[0]
			if err := o.output.check(); err != nil {
				return err
			}
			if !isStore(path) {
				return badInput("%s: let the name end in %s, so that it is known for what it is", path, store.Ext)
			}
			by, err := o.by("new", false)
			if err != nil {
				return err
			}
			stock, notes, err := o.read(from)
			if err != nil {
				return err
			}
			a.warn(&o.show, notes...)
			entry, err := store.Create(path, stock, by)
			if err != nil {
				return storeFault(err)
			}
			return o.receipt(c, path, entry)
		},
	}
	f := c.Flags()
	f.Var(&textValue{&from, "STOCK"}, "from", "embedded stock, stock file or table; default "+defaultStock)
	f.Var(&textValue{&o.who, "NAME"}, "who", "who does it, for the history; default the environment's "+whoEnv)
	f.Var(&textValue{&o.why, "TEXT"}, "why", "why, for the history")
	o.source.flags(c)
	o.show.flags(c)
	return c
}

func (a *app) stockImport() *cobra.Command {
	var o struct {
		change
		source
	}
	var replace bool
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "Add the pairs of a stock file or a table to the pair store",
		Long: `Adds the pairs of a stock file (.toml) or a table (.csv). What the store holds
just so is passed over; what it holds with other values is refused, unless
--replace says that the file is right. All of the file is taken, or nothing.`,
		Example: "  layshaft stock import new-pairs.csv --stock team.store --who Ada \\\n" +
			"    --life-km 4000",
		Args: oneArg("a stock file (.toml) or a table (.csv)"),
		RunE: func(c *cobra.Command, args []string) error {
			stock, notes, err := o.read(args[0])
			if err != nil {
				return err
			}
			a.warn(&o.show, notes...)
			return o.apply(c, "import", replace, func(e *store.Edit) error { return e.Import(stock, replace) })
		},
	}
	o.change.flags(c)
	o.source.flags(c)
	c.Flags().BoolVar(&replace, "replace", false, "take the file's values for pairs that the store holds with others; needs --why")
	return c
}

func (a *app) stockExport() *cobra.Command {
	var o struct {
		output
		stock string
		kind  choice
	}
	c := &cobra.Command{
		Use:   "export",
		Short: "Write the stock as a text: stock file (toml) or table (csv)",
		Long: `Writes what the pair store, or a stock file, holds as a text that people can
read, compare and put under version control. The stock file serves
'sheet --stock' by itself and can be imported again; so can the table. The
history stays in the store.`,
		Example: "  layshaft stock export --stock wren --format csv",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := o.output.check(); err != nil {
				return err
			}
			s, err := wholeStock(o.stock)
			if err != nil {
				return err
			}
			return o.write(c, func(w io.Writer) error {
				text := s.TOML()
				if o.kind.value == formatCSV {
					text = s.Table()
				}
				_, err := w.Write(text)
				return err
			})
		},
	}
	o.stock = defaultStock
	o.kind = choice{value: formatTOML, words: []string{formatTOML, formatCSV}}
	c.Flags().Var(&textValue{&o.stock, "STOCK"}, "stock", "pair store, stock file or embedded stock")
	c.Flags().Var(&o.kind, "format", "stock file or table")
	o.output.flags(c)
	return c
}

const (
	formatTOML = "toml"
	formatCSV  = "csv"
)

// wholeStock is all that a store or a stock file holds, nothing left out.
func wholeStock(ref string) (*gearbox.Stock, error) {
	if isStore(ref) {
		s, err := store.Read(ref)
		if err != nil {
			return nil, storeFault(err)
		}
		s.Stock.Fitted = s.Stock.FittedIn(gearbox.DefaultCar)
		return &s.Stock, nil
	}
	src, err := datafile.Read(ref, gearbox.Embedded(), gearbox.StockDir, fileExt)
	if err != nil {
		return nil, badInput("--stock: %s", err)
	}
	s, err := gearbox.ParseStock(src)
	if err != nil {
		return nil, asInput(err)
	}
	for g, id := range s.Fitted { // a table knows fitted pairs by their cards only
		if p := s.Pair(id); p.Count == 1 {
			p.Car, p.Gear, p.Place = gearbox.DefaultCar, g+1, gearbox.PlaceCar
		}
	}
	return s, nil
}

// listUnits lists the identified pairs of a store.
func listUnits(o *stockOptions) *sheet.Listing {
	l := &sheet.Listing{
		Title: "Pairs of " + titleOr(o.stock.Title, o.stock.Name), NameHead: "pair",
		Columns: []sheet.Column{
			{Key: "layshaft_teeth", Head: "lay"}, {Key: "mainshaft_teeth", Head: "main"}, {Key: "mark", Head: "mark"},
			{Key: "ratio", Head: "ratio", Decimals: 3}, {Key: "run_km", Head: "run|km", Decimals: 0}, {Key: "life_km"},
			{Key: "life_left_km", Head: "left|km", Decimals: 0}, {Key: "state", Head: "state"}, {Key: "place", Head: "place"},
			{Key: "car"}, {Key: "fitted_gear", Head: "gear"}, {Key: "why", Head: "why"}, {Key: "damage_ratio"}, {Key: "crack_tested"},
			{Key: "crack_test_every_days"}, {Key: "crack_test_every_km"}, {Key: "limiter_count"}, {Key: "half"}, {Key: "group"}, {Key: "fits"},
			{Key: "pair_count"}, {Key: "note"},
		},
		Warnings: o.files.warnings,
		Inputs:   only(o.used, roleStock),
	}
	counts := map[string]int{}
	for i := range o.store.Stock.Pairs {
		p := &o.store.Stock.Pairs[i]
		use := o.wanted
		use.Car = p.Car // where a pair is, is no reason against it in a list
		use.Places = nil
		state, why := use.State(p)
		counts[state]++
		var ratio, life, left, gear, car any
		if p.Half == "" {
			ratio = p.Ratio()
		} else {
			why = joinWhy("loose "+p.Half+" gear", why)
		}
		if p.LifeM > 0 {
			life, left = p.LifeM/metresPerKm, sheet.KmLeft((p.LifeM-p.RunM)/metresPerKm)
		}
		place := p.Place
		if p.Car != "" {
			gear, car, place = p.Gear, p.Car, "car "+p.Car
		}
		l.Items = append(l.Items, sheet.Item{Name: p.ID, Facts: []any{
			noZero(p.Layshaft), noZero(p.Mainshaft), p.Mark, ratio, p.RunM / metresPerKm, life, left, state, place, car, gear, why,
			p.Damage, p.Crack.On.String(), noZero(p.Crack.Days), p.Crack.EveryM / metresPerKm, p.LimiterCount, p.Half, p.Group, p.Fits, 1, p.Note,
		}})
	}
	l.Notes = append(l.Notes, fmt.Sprintf("On %s: %d ready, %d fitted, %d due, %d retired. Ratio = mainshaft / layshaft teeth.", o.wanted.Day,
		counts[gearbox.StateReady], counts[gearbox.StateFitted], counts[gearbox.StateDue], counts[gearbox.StateRetired]))
	return l
}

func joinWhy(a, b string) string {
	if b == "" {
		return a
	}
	return a + "; " + b
}

func noZero(n int) any {
	if n == 0 {
		return nil
	}
	return n
}

// isTable tells a table from a stock file by its name.
func isTable(ref string) bool { return strings.HasSuffix(strings.ToLower(ref), ".csv") }
