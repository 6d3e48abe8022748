package cli

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

const reprintLong = `Prints a saved ratio sheet again and says what has become of it: whether its
inputs have changed since it was made, whether a later revision replaces it
(SUPERSEDED), and whether its pairs may still run. With --stock the pair store
is asked; without it, the store that the sheet names is looked for beside it.

Exit code 3: the sheet is printed, but does not count any more.`

func (a *app) reprintCommand() *cobra.Command {
	var o struct {
		show
		stock string
		date  day
	}
	c := &cobra.Command{
		Use:   "reprint SHEET.json",
		Short: "A saved ratio sheet again, and whether it still counts",
		Long:  reprintLong,
		Example: "  layshaft reprint saturday.json --stock team.store\n" +
			"  layshaft reprint saturday.json --format pdf > saturday.pdf",
		Args: oneArg("a saved ratio sheet: 'layshaft sheet --format json -o FILE' makes one"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.show.check(a); err != nil {
				return err
			}
			s, data, err := readSheet(args[0])
			if err != nil {
				return err
			}
			s.Standing = staleInputs(s, filepath.Dir(args[0]))
			counts, err := standing(s, data, o.stock, filepath.Dir(args[0]), cmp.Or(o.date.value, today()))
			if err != nil {
				return err
			}
			a.warn(&o.show, s.Standing...)
			if err := o.print(c, s); err != nil {
				return err
			}
			if !counts {
				return unproved("%s does not count any more: see the head of the sheet", args[0])
			}
			return nil
		},
	}
	o.show.flags(c)
	o.paperFlags(c, formatCSV, formatHTML, formatPDF)
	c.Flags().Var(&textValue{&o.stock, "STORE"}, "stock", "the pair store to ask")
	c.Flags().Var(&o.date, "date", "day for which inspections are judged, year-month-day; default today")
	return c
}

// standing asks the pair store what has become of a sheet, and adds it to the
// sheet: a later revision first. counts is false when the sheet must not be built
// from any more. ref is the store; "" = the one that the sheet names, in dir.
func standing(s *sheet.Sheet, data []byte, ref, dir string, day gearbox.Day) (counts bool, err error) {
	named := ""
	for _, in := range s.Inputs {
		if in.Role == roleStock && isStore(in.Name) {
			named = in.Name
		}
	}
	if ref == "" {
		if named == "" || named != filepath.Base(named) {
			return true, nil
		}
		if ref = filepath.Join(dir, named); !isFile(ref) {
			s.Standing = append(s.Standing, fmt.Sprintf("pair store %s: not found here, not asked; give it with --stock", named))
			return true, nil
		}
	}
	if !isStore(ref) {
		return true, badInput("--stock %s: is not a pair store: its name ends in %s", ref, store.Ext)
	}
	now, err := store.Read(ref)
	if err != nil {
		return true, storeFault(err)
	}
	counts = true
	if one := issuedOf(s, data); one != nil {
		known := now.Known(one)
		later := now.Replaced(one)
		switch {
		case later != nil:
			counts = false
			s.Superseded = "by " + later.Name()
		case known == nil:
			s.Standing = append(s.Standing, fmt.Sprintf("revision %d is not noted as issued in %s: 'stock issue' or 'stock fit' does that", one.Revision, baseName(ref)))
		case known.SHA256 != one.SHA256:
			counts = false
			s.Standing = append(s.Standing, fmt.Sprintf("revision %d was issued with another content: this file is not it", one.Revision))
		}
	}
	if named == "" {
		return counts, nil
	}
	for _, text := range cardsOf(s, now, day) {
		counts = false
		s.Standing = append(s.Standing, text)
	}
	return counts, nil
}

// cardsOf holds the sheet's pairs against their cards: gone, other teeth, in
// another car, due, retired. What the sheet says was allowed stays allowed.
func cardsOf(s *sheet.Sheet, now *store.Snapshot, day gearbox.Day) []string {
	use := gearbox.Use{Day: day}
	var out []string
	for i := range s.Gears {
		g := &s.Gears[i]
		p := now.Stock.Pair(g.PairID)
		if p == nil {
			out = append(out, fmt.Sprintf("gear %d: pair %s is not in the store any more", g.Gear, g.PairID))
			continue
		}
		if p.Layshaft != g.LayshaftTeeth || p.Mainshaft != g.MainshaftTeeth || p.Mark != g.Mark {
			out = append(out, fmt.Sprintf("gear %d: pair %s is %d/%d, mark %s on its card", g.Gear, p.ID, p.Layshaft, p.Mainshaft, p.Mark))
		}
		use.Car = p.Car
		var why []string
		for _, h := range use.Hindrances(p) {
			if g.Waiver == "" || !h.Waivable() {
				why = append(why, h.Text)
			}
		}
		if len(why) > 0 {
			out = append(out, fmt.Sprintf("gear %d: pair %s may not run: %s", g.Gear, p.ID, strings.Join(why, "; ")))
		}
	}
	return out
}

func isFile(path string) bool {
	st, err := os.Stat(path)
	return !errors.Is(err, os.ErrNotExist) && err == nil && st.Mode().IsRegular()
}
