package cli

import (
	"fmt"
	"path/filepath"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"

	"github.com/spf13/cobra"
)

const compareLong = `Compares two ratio sheets that were saved with 'sheet --format json -o FILE':
what differs, the change in lap time, headroom, shift rpm and top speed, and
the shortest rebuild from the old set to the new one: what comes off in order,
what goes on in order with the marks to read, what must be new, the minutes,
which pairs come out of the gearbox and which go in.

Lap times are subtracted only where track, car, conditions and the driver's
shifts are the same; where they are not, the answer says which differ. The plan
rests on the two sheets alone. An input that has changed since a sheet was made
is a warning; files are looked for beside the sheet and in the current folder.

With --fitted there is one sheet, the new one: the old one is that which the car
was built from, as 'stock fit' booked it in the pair store.`

// compareOptions are the flags of compare.
type compareOptions struct {
	show
	fitted bool
	stock  string
	inCar  string
}

func (a *app) compareCommand() *cobra.Command {
	var o compareOptions
	c := &cobra.Command{
		Use:   "compare OLD.json NEW.json",
		Short: "Two saved sheets: what differs, and the rebuild plan",
		Long:  compareLong,
		Example: "  layshaft sheet --change 6 --format json > old.json\n" +
			"  layshaft sheet --change 5,6 --format json > new.json\n" +
			"  layshaft compare old.json new.json\n" +
			"  layshaft compare --fitted new.json --stock team.store",
		Args: func(c *cobra.Command, args []string) error { return twoSheets(c, args, o.fitted) },
		RunE: func(c *cobra.Command, args []string) error { return a.runCompare(c, &o, args) },
	}
	o.show.flags(c)
	o.paperFlags(c, formatHTML, formatPDF)
	f := c.Flags()
	f.BoolVar(&o.fitted, "fitted", false, "compare with what is in the car by the pair store")
	f.Var(&textValue{&o.stock, "STORE"}, "stock", "pair store: says which sheets still count, and what is fitted")
	o.inCar = gearbox.DefaultCar
	inCarFlag(c, &o.inCar)
	return c
}

// twoSheets wants exactly the two files; one with --fitted.
func twoSheets(c *cobra.Command, args []string, fitted bool) error {
	switch {
	case fitted && len(args) == 1, !fitted && len(args) == 2:
		return nil
	case fitted:
		return asUsage(c.CommandPath(), fmt.Errorf("%d files given: with --fitted name one saved sheet, the new one", len(args)))
	}
	return asUsage(c.CommandPath(), fmt.Errorf("%d files given: name two saved sheets, the old one first: 'layshaft compare OLD.json NEW.json'; 'layshaft sheet --format json -o FILE' saves one", len(args)))
}

func (a *app) runCompare(c *cobra.Command, o *compareOptions, args []string) error {
	if err := o.show.check(a); err != nil {
		return err
	}
	var old, now sheet.Compared
	var err error
	if o.fitted {
		old, err = o.fittedSheet()
	} else {
		old, err = o.savedSheet(args[0])
	}
	if err != nil {
		return err
	}
	if now, err = o.savedSheet(args[len(args)-1]); err != nil {
		return err
	}
	var warnings []string
	if old.SHA256 == now.SHA256 {
		warnings = append(warnings, "both files hold the same sheet, byte for byte")
	}
	report, err := sheet.BuildComparison(old, now, warnings...)
	if err != nil {
		return asInput(err)
	}
	a.warn(&o.show, report.Warnings...)
	return o.print(c, report)
}

// maxSheetBytes is some fifty times a sheet with every list at its longest.
const maxSheetBytes = 16 << 20

// savedSheet reads a saved sheet and looks after its inputs.
func (o *compareOptions) savedSheet(name string) (sheet.Compared, error) {
	s, data, err := readSheet(name)
	if err != nil {
		return sheet.Compared{}, err
	}
	dir := filepath.Dir(name)
	s.Standing = staleInputs(s, dir)
	if _, err := standing(s, data, o.stock, dir, today()); err != nil {
		return sheet.Compared{}, err
	}
	return compared(s, filepath.Base(name), data), nil
}

// compared takes over what has become of the sheet.
func compared(s *sheet.Sheet, name string, data []byte) sheet.Compared {
	out := sheet.Compared{Sheet: s, Name: name, SHA256: datafile.NewSource(name, data).SHA256, Stale: s.Standing}
	if s.Superseded != "" {
		out.Stale = append([]string{"SUPERSEDED " + s.Superseded}, out.Stale...)
	}
	return out
}

// fittedSheet is the sheet that the car was built from.
func (o *compareOptions) fittedSheet() (sheet.Compared, error) {
	none := sheet.Compared{}
	if !isStore(o.stock) {
		return none, badInput("--fitted needs --stock STORE, the pair store (%s) that knows what is in the car", store.Ext)
	}
	now, err := store.Read(o.stock)
	if err != nil {
		return none, storeFault(err)
	}
	text := now.BuiltFrom(o.inCar)
	if text == nil {
		return none, badInput("%s: car %s was not built from a saved sheet: book the set that is in it with 'layshaft stock fit SHEET.json'", o.stock, o.inCar)
	}
	s, err := sheet.Read("the sheet that car "+o.inCar+" was built from", text)
	if err != nil {
		return none, asInput(err)
	}
	return compared(s, "fitted in car "+o.inCar, text), nil
}
