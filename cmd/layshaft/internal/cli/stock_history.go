package cli

import (
	"fmt"
	"strings"

	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

func (a *app) stockUndo() *cobra.Command {
	var o change
	entry := number{lo: 2, hi: 1e9, whole: true}
	c := &cobra.Command{
		Use:   "undo",
		Short: "Take back the last change, or a named one; needs a reason",
		Long: `Takes back one change as a change of its own; nothing is lost, and an undo can
be taken back by its number. What a later change built upon has to be taken
back first.`,
		Example: "  layshaft stock undo --stock team.store --who Ada \\\n" +
			"    --why \"booked twice\"",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			path, err := o.ready()
			if err != nil {
				return err
			}
			by, err := o.by("undo", true)
			if err != nil {
				return err
			}
			done, err := store.Undo(path, by, uint64(entry.value))
			if err != nil {
				return storeFault(err)
			}
			return o.receipt(c, path, done)
		},
	}
	o.flags(c)
	c.Flags().Var(&entry, "entry", "number of the entry; default the newest that is not taken back")
	return c
}

func (a *app) stockHistory() *cobra.Command {
	var o change
	last := number{value: 50, lo: 1, hi: 1e6, whole: true}
	c := &cobra.Command{
		Use:     "history [ID]",
		Short:   "Who changed what, when and why; of one pair or of all",
		Example: "  layshaft stock history --stock team.store --last 10",
		Args:    someArgs("one pair, or none", 0, 1),
		RunE: func(c *cobra.Command, args []string) error {
			path, err := o.ready()
			if err != nil {
				return err
			}
			all, err := store.History(path)
			if err != nil {
				return storeFault(err)
			}
			if len(args) == 1 {
				if all, err = ofPair(path, all, args[0]); err != nil {
					return err
				}
			}
			return o.print(c, listHistory(path, all, int(last.value)))
		},
	}
	o.readFlags(c)
	c.Flags().Var(&last, "last", "entries to list, the newest ones")
	return c
}

// readFlags are those of a command that only reads the store.
func (o *change) readFlags(c *cobra.Command) {
	c.Flags().Var(&textValue{&o.store, "STORE"}, "stock", "the pair store, a file that ends in "+store.Ext)
	o.show.flags(c)
}

// ofPair keeps the entries of one pair; it may have left the store since.
func ofPair(path string, all []store.Entry, id string) ([]store.Entry, error) {
	var out []store.Entry
	for i := range all {
		if all[i].Touches(id) {
			out = append(out, all[i])
		}
	}
	if len(out) > 0 {
		return out, nil
	}
	now, err := store.Read(path)
	if err != nil {
		return nil, storeFault(err)
	}
	_, err = now.Pair(id)
	return nil, asInput(err)
}

func listHistory(path string, all []store.Entry, last int) *sheet.Listing {
	l := &sheet.Listing{
		Title: "History of " + baseName(path), NameHead: "no.",
		Columns: []sheet.Column{
			{Key: "at", Head: "when (UTC)"}, {Key: "who", Head: "who"}, {Key: "what", Head: "what"},
			{Key: "summary", Head: "summary"}, {Key: "why", Head: "why"}, {Key: "undone_by", Head: "undone|by"},
			{Key: "pairs"},
		},
	}
	from := max(0, len(all)-last)
	for _, e := range all[from:] {
		var undone any
		if e.Undone > 0 {
			undone = fmt.Sprint(e.Undone)
		}
		pairs := []string{}
		for _, c := range e.Changes {
			if e.Touches(c.Key) {
				pairs = append(pairs, c.Key)
			}
		}
		l.Items = append(l.Items, sheet.Item{Name: fmt.Sprint(e.Number), Facts: []any{
			strings.Replace(e.At, "T", " ", 1), e.Who, e.What, e.Summary, e.Why, undone, pairs,
		}})
	}
	if from > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("%d older entries: --last %d shows all.", from, len(all)))
	}
	return l
}

func (a *app) stockCheck() *cobra.Command {
	var o change
	c := &cobra.Command{
		Use:     "check",
		Short:   "Check that the pair store is whole and agrees with its history",
		Example: "  layshaft stock check --stock team.store",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			path, err := o.ready()
			if err != nil {
				return err
			}
			if err := store.Check(path); err != nil {
				return storeFault(err)
			}
			now, err := store.Read(path)
			if err != nil {
				return storeFault(err)
			}
			all, err := store.History(path)
			if err != nil {
				return storeFault(err)
			}
			return o.print(c, &sheet.Booking{Store: baseName(path), Number: uint64(len(all)), What: "check",
				Summary: fmt.Sprintf("whole: %d pairs, %d entries of the history agree with them", len(now.Stock.Pairs), len(all))})
		},
	}
	o.readFlags(c)
	return c
}

func (a *app) stockIssue() *cobra.Command {
	var o change
	c := &cobra.Command{
		Use:   "issue SHEET.json",
		Short: "Note a saved ratio sheet as issued under its revision",
		Long: `Notes a saved ratio sheet as issued. From then on the store knows which revision
counts: an older one of the same track, event and session says SUPERSEDED.`,
		Example: "  layshaft stock issue saturday.json --stock team.store --who Ada",
		Args:    oneArg("a saved ratio sheet"),
		RunE: func(c *cobra.Command, args []string) error {
			s, data, err := readSheet(args[0])
			if err != nil {
				return err
			}
			one := issuedOf(s, data)
			if one == nil {
				return badInput("%s: has no revision: make it with 'sheet --revision 1 --event ... --issued-by ...'", args[0])
			}
			return o.apply(c, "issue", false, func(e *store.Edit) error { return e.Issue(*one) })
		},
	}
	o.flags(c)
	return c
}

func (a *app) stockSheets() *cobra.Command {
	var o change
	c := &cobra.Command{
		Use:     "sheets",
		Short:   "The ratio sheets that were issued, and which of them count",
		Example: "  layshaft stock sheets --stock team.store",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			path, err := o.ready()
			if err != nil {
				return err
			}
			now, err := store.Read(path)
			if err != nil {
				return storeFault(err)
			}
			l := &sheet.Listing{
				Title: "Ratio sheets issued, " + baseName(path), NameHead: "revision",
				Columns: []sheet.Column{
					{Key: "car", Head: "car"}, {Key: "track", Head: "track"}, {Key: "event", Head: "event"}, {Key: "session", Head: "session"},
					{Key: "date", Head: "date"}, {Key: "issued_by", Head: "issued by"}, {Key: "set", Head: "set"},
					{Key: "counts", Head: "counts"}, {Key: "sha256"},
				},
			}
			for i := range now.Sheets {
				s := &now.Sheets[i]
				l.Items = append(l.Items, sheet.Item{Name: fmt.Sprint(s.Revision), Facts: []any{
					s.Car, s.Track, s.Event, s.Session, s.Date, s.IssuedBy, s.Set, now.Replaced(s) == nil, s.SHA256,
				}})
			}
			return o.print(c, l)
		},
	}
	o.readFlags(c)
	return c
}
