package cli

import (
	"fmt"
	"path/filepath"

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
is a warning; files are looked for beside the sheet and in the current folder.`

// compareOptions are the flags of compare.
type compareOptions struct{ show }

func (a *app) compareCommand() *cobra.Command {
	var o compareOptions
	c := &cobra.Command{
		Use:   "compare OLD.json NEW.json",
		Short: "Two saved sheets: what differs, and the rebuild plan",
		Long:  compareLong,
		Example: "  layshaft sheet --change 6 --format json > old.json\n" +
			"  layshaft sheet --change 5,6 --format json > new.json\n" +
			"  layshaft compare old.json new.json",
		Args: twoSheets,
		RunE: func(c *cobra.Command, args []string) error { return a.runCompare(c, &o, args) },
	}
	o.show.flags(c)
	return c
}

// twoSheets wants exactly the two files.
func twoSheets(c *cobra.Command, args []string) error {
	if len(args) == 2 {
		return nil
	}
	return asUsage(c.CommandPath(), fmt.Errorf("%d files given: name two saved sheets, the old one first: 'layshaft compare OLD.json NEW.json'; 'layshaft sheet --format json -o FILE' saves one", len(args)))
}

func (a *app) runCompare(c *cobra.Command, o *compareOptions, args []string) error {
	if err := o.output.check(); err != nil {
		return err
	}
	old, err := savedSheet(args[0])
	if err != nil {
		return err
	}
	now, err := savedSheet(args[1])
	if err != nil {
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
func savedSheet(name string) (sheet.Compared, error) {
	data, err := readLimited(name, maxSheetBytes)
	if err != nil {
		return sheet.Compared{}, badInput("%s: %s; a saved sheet is made by 'layshaft sheet --format json -o FILE'", name, plainOS(err))
	}
	s, err := sheet.Read(name, data)
	if err != nil {
		return sheet.Compared{}, asInput(err)
	}
	return sheet.Compared{
		Sheet: s, Name: filepath.Base(name), SHA256: datafile.NewSource(name, data).SHA256,
		Stale: staleInputs(s, filepath.Dir(name)),
	}, nil
}
