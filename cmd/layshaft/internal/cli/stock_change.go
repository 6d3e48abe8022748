package cli

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

// whoEnv is the environment variable that stands in for --who, so that a
// bench computer with one user need not be told each time.
const whoEnv = "LAYSHAFT_WHO"

// change are the flags of every command that changes a pair store.
type change struct {
	show
	store    string
	who, why string
	date     day
}

func (o *change) flags(c *cobra.Command) {
	f := c.Flags()
	f.Var(&textValue{&o.store, "STORE"}, "stock", "the pair store, a file that ends in "+store.Ext)
	f.Var(&textValue{&o.who, "NAME"}, "who", "who does it, for the history; default the environment's "+whoEnv)
	f.Var(&textValue{&o.why, "TEXT"}, "why", "why, for the history")
	o.show.flags(c)
}

// dayFlag is for changes that happen on a day.
func (o *change) dayFlag(c *cobra.Command, what string) {
	c.Flags().Var(&o.date, "date", what+", year-month-day; default today")
}

// day is the day of the change.
func (o *change) day() gearbox.Day {
	return cmp.Or(o.date.value, today())
}

// by says who changes; whyNeeded refuses a change without a reason.
func (o *change) by(what string, whyNeeded bool) (store.By, error) {
	by := store.By{Who: o.who, Why: o.why, What: what, At: time.Now()}
	if by.Who == "" {
		by.Who = os.Getenv(whoEnv)
	}
	var faults []error
	if by.Who == "" {
		faults = append(faults, fmt.Errorf("--who NAME is missing: the history keeps who did it (or set %s)", whoEnv))
	}
	if whyNeeded && by.Why == "" {
		faults = append(faults, errors.New("--why TEXT is missing: this change needs a reason"))
	}
	return by, asInput(errors.Join(faults...))
}

// path is the store to be changed.
func (o *change) path() (string, error) {
	switch {
	case o.store == "":
		return "", badInput("--stock STORE is missing: name the pair store, such as team%s; 'layshaft stock new team%s' makes one", store.Ext, store.Ext)
	case !isStore(o.store):
		return "", badInput("--stock %s: is a stock file, which is changed with an editor; make a pair store of it with 'layshaft stock new team%s --from %s'", o.store, store.Ext, o.store)
	}
	return o.store, nil
}

// notAhead refuses a day that is still to come, mostly a slip in the year: what
// was not done yet is not booked.
func notAhead(what string, d gearbox.Day) error {
	if now := today(); d > now {
		return badInput("%s %s lies ahead (today is %s): book it when it is done", what, d, now)
	}
	return nil
}

// apply changes the store in one transaction and prints the receipt.
func (o *change) apply(c *cobra.Command, what string, whyNeeded bool, edit func(*store.Edit) error) error {
	path, err := o.ready()
	if err != nil {
		return err
	}
	by, err := o.by(what, whyNeeded)
	if err != nil {
		return err
	}
	entry, err := store.Update(path, by, edit)
	if err != nil {
		return storeFault(err)
	}
	return o.receipt(c, path, entry)
}

// ready checks what can be checked before anything is changed.
func (o *change) ready() (string, error) {
	if err := o.output.check(); err != nil {
		return "", err
	}
	return o.path()
}

// storeFault: what the user can mend is bad input; a store that is locked or
// damaged, or a disk that is full, is a failure.
func storeFault(err error) error {
	if err == nil || errors.Is(err, store.ErrLocked) || errors.Is(err, store.ErrDamaged) || errors.Is(err, store.ErrWrite) || isOS(err) {
		return err
	}
	return asInput(err)
}

func isOS(err error) bool {
	var sys syscall.Errno
	return errors.As(err, &sys)
}

// receipt shows the entry and the pairs that it touched as they stand now.
func (o *change) receipt(c *cobra.Command, path string, entry *store.Entry) error {
	b := &sheet.Booking{Store: baseName(path)}
	if entry != nil {
		b.Number, b.At, b.Who, b.What, b.Why, b.Summary = entry.Number, entry.At, entry.Who, entry.What, entry.Why, entry.Summary
		now, err := store.Read(path)
		if err != nil {
			return onlyReceipt(path, entry, err)
		}
		use := gearbox.Use{Day: o.day()}
		touched := 0
		for i := range now.Stock.Pairs {
			p := &now.Stock.Pairs[i]
			if !entry.Touches(p.ID) {
				continue
			}
			if touched++; touched <= mostCards {
				use.Car = p.Car
				b.Cards = append(b.Cards, card(&use, p))
			}
		}
		if touched > mostCards {
			b.Notes = append(b.Notes, fmt.Sprintf("And %d more: see 'layshaft stock list --stock %s'.", touched-mostCards, path))
		}
	}
	err := o.print(c, b)
	if out, ok := c.OutOrStdout().(interface{ Flush() error }); ok && err == nil {
		err = out.Flush()
	}
	if err != nil && entry != nil {
		return onlyReceipt(path, entry, err)
	}
	return err
}

// onlyReceipt is a failure after the change was kept: who does not know that books
// the run a second time.
func onlyReceipt(path string, entry *store.Entry, err error) error {
	return fmt.Errorf("%s: entry %d is booked, do not book it again; only its receipt failed: %w: see 'layshaft stock history'", path, entry.Number, plainOS(err))
}

// mostCards are shown after a change; an import of hundreds is not read.
const mostCards = 12

func card(use *gearbox.Use, p *gearbox.Pair) sheet.Card {
	out := sheet.Card{PairID: p.ID, RunKm: p.RunM / metresPerKm}
	out.State, out.Why = use.State(p)
	if p.Gear > 0 {
		g := p.Gear
		out.Gear = &g
	}
	if p.LifeM > 0 {
		left := (p.LifeM - p.RunM) / metresPerKm
		out.LeftKm = &left
	}
	return out
}
