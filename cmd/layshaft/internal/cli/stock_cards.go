package cli

import (
	"errors"
	"fmt"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"

	"github.com/spf13/cobra"
)

// cardFlags are the values of a pair's card.
type cardFlags struct {
	lay, main          number
	half, mark, note   string
	fits               wordList
	dogSide, group     string
	run, life          number
	crackTested        day
	crackDays, crackKm number
	limiterMost        number
	place              choice
}

func (o *cardFlags) flags(c *cobra.Command) {
	f := c.Flags()
	teeth := number{lo: 8, hi: 120, unit: "teeth", whole: true}
	o.lay, o.main = teeth, teeth
	f.Var(&o.lay, "layshaft-teeth", "teeth of the driving gear")
	f.Var(&o.main, "mainshaft-teeth", "teeth of the driven gear")
	f.Var(&textValue{&o.half, "SHAFT"}, "half", "a loose gear without its mate: layshaft or mainshaft")
	f.Var(&textValue{&o.mark, "TEXT"}, "mark", "what is read on both gears; default the teeth, 16/35")
	f.Var(&o.fits, "fits", "kinds of slot that it fits, as the gearbox file names them")
	f.Var(&textValue{&o.dogSide, "SIDE"}, "dog-side", "side of its dogs: inner, outer or both")
	f.Var(&textValue{&o.group, "PART"}, "group", "integral part that it is cut on")
	km := number{lo: 0, hi: 1e6, unit: "km"}
	o.run, o.life, o.crackKm = km, km, km
	f.Var(&o.run, "run-km", "distance that it has run")
	f.Var(&o.life, "life-km", "distance that the team lets it run")
	f.Var(&o.crackTested, "crack-tested", "day of the last crack test, year-month-day; at today's run-km")
	o.crackDays = number{lo: 0, hi: 3650, unit: "days", whole: true}
	f.Var(&o.crackDays, "crack-test-every-days", "interval of the crack test in days")
	f.Var(&o.crackKm, "crack-test-every-km", "interval of the crack test in distance")
	o.limiterMost = number{lo: 0, hi: 1e6, whole: true}
	f.Var(&o.limiterMost, "limiter-most-count", "times on the limiter that ask for an inspection")
	o.place = choice{words: []string{gearbox.PlaceBox, gearbox.PlaceShop}}
	f.Var(&o.place, "place", "where it is")
	f.Var(&textValue{&o.note, "TEXT"}, "note", "anything else")
}

// put writes the flags that were given into the card; all faults at once.
func (o *cardFlags) put(p *gearbox.Pair) error {
	setText := func(into *string, v string) {
		if v != "" {
			*into = v
		}
	}
	setText(&p.Half, o.half)
	setText(&p.Mark, o.mark)
	setText(&p.Note, o.note)
	setText(&p.DogSide, o.dogSide)
	setText(&p.Group, o.group)
	if o.lay.given {
		p.Layshaft = int(o.lay.value)
	}
	if o.main.given {
		p.Mainshaft = int(o.main.value)
	}
	if len(o.fits.words) > 0 {
		p.Fits = o.fits.words
	}
	if o.run.given {
		p.RunM = o.run.value * metresPerKm
	}
	if o.life.given {
		p.LifeM = o.life.value * metresPerKm
	}
	if day := o.crackTested.value; day != 0 {
		if err := notAhead("--crack-tested: the test of", day); err != nil {
			return err
		}
		p.Crack.On, p.Crack.AtM = day, p.RunM
	}
	if o.crackDays.given {
		p.Crack.Days = int(o.crackDays.value)
	}
	if o.crackKm.given {
		p.Crack.EveryM = o.crackKm.value * metresPerKm
	}
	if o.limiterMost.given {
		p.LimiterMost = int(o.limiterMost.value)
	}
	if o.place.value != "" {
		if p.Car != "" {
			return fmt.Errorf("%s is fitted in car %s: take it out with 'stock fit' or 'stock unfit'", p.ID, p.Car)
		}
		p.Place = o.place.value
	}
	return p.Validate()
}

func (a *app) stockAdd() *cobra.Command {
	var o struct {
		change
		cardFlags
	}
	c := &cobra.Command{
		Use:   "add ID",
		Short: "Put a new pair, or a loose gear, into the pair store",
		Example: "  layshaft stock add W-2231 --stock team.store --who Ada --layshaft-teeth 23 \\\n" +
			"    --mainshaft-teeth 25 --fits narrow --life-km 4000",
		Args: oneArg("the new pair's id"),
		RunE: func(c *cobra.Command, args []string) error {
			p := gearbox.Pair{ID: args[0], Count: 1, Place: gearbox.PlaceShop}
			if err := o.put(&p); err != nil {
				return asInput(err)
			}
			return o.apply(c, "add", false, func(e *store.Edit) error { return e.Add(p) })
		},
	}
	o.change.flags(c)
	o.cardFlags.flags(c)
	return c
}

func (a *app) stockAmend() *cobra.Command {
	var o struct {
		change
		cardFlags
	}
	c := &cobra.Command{
		Use:   "amend ID",
		Short: "Correct a pair's card; needs a reason",
		Example: "  layshaft stock amend W-1635-1 --stock team.store --who Ada \\\n" +
			"    --life-km 3500 --why \"bulletin 7\"",
		Args: oneArg("the pair's id"),
		RunE: func(c *cobra.Command, args []string) error {
			return o.apply(c, "amend", true, func(e *store.Edit) error { return e.Amend(args[0], o.put) })
		},
	}
	o.change.flags(c)
	o.cardFlags.flags(c)
	return c
}

func (a *app) stockMate() *cobra.Command {
	var o change
	var id, mark string
	c := &cobra.Command{
		Use:   "mate LAYSHAFT_GEAR MAINSHAFT_GEAR",
		Short: "Make a pair out of two loose gears",
		Long: `Makes a pair out of two loose gears. It has run as far as the gear that has run
further. Whether two gears that were not made together may run together is for
the maker's manual and qualified people to say; their reason goes into --why.`,
		Example: "  layshaft stock mate L-16-3 M-35-1 --as W-1635-9 \\\n" +
			"    --stock team.store --who Ada --why \"manual 4.2\"",
		Args: someArgs("the two loose gears, the layshaft's first", 2, 2),
		RunE: func(c *cobra.Command, args []string) error {
			if id == "" {
				return badInput("--as ID is missing: name the new pair")
			}
			return o.apply(c, "mate", true, func(e *store.Edit) error {
				return e.Mate(args[0], args[1], gearbox.Pair{ID: id, Mark: mark})
			})
		},
	}
	o.flags(c)
	c.Flags().Var(&textValue{&id, "ID"}, "as", "id of the new pair")
	c.Flags().Var(&textValue{&mark, "TEXT"}, "mark", "what is read on both gears; default the teeth")
	return c
}

func (a *app) stockInspect() *cobra.Command {
	var o change
	var passed, failed bool
	c := &cobra.Command{
		Use:   "inspect ID ...",
		Short: "Book an inspection with a crack test: --passed or --failed",
		Long: `Books an inspection with a crack test. What passed is good for another interval;
causes for inspection and the limiter count are cleared. What failed is retired.
How a gear is inspected and what it may show is the maker's and the team's.`,
		Example: "  layshaft stock inspect W-1635-1 W-1731-2 --passed --stock team.store \\\n" +
			"    --who Ada",
		Args: someArgs("ids of pairs", 1, -1),
		RunE: func(c *cobra.Command, args []string) error {
			if passed == failed {
				return badInput("say --passed or --failed")
			}
			day := o.day()
			if err := notAhead("--date: the inspection of", day); err != nil {
				return err
			}
			return o.apply(c, "inspect", failed, func(e *store.Edit) error { return e.Inspect(args, day, passed) })
		},
	}
	o.flags(c)
	o.dayFlag(c, "day of the inspection")
	c.Flags().BoolVar(&passed, "passed", false, "good for another interval")
	c.Flags().BoolVar(&failed, "failed", false, "not to run again; needs --why")
	return c
}

func (a *app) stockRetire() *cobra.Command {
	var o change
	c := &cobra.Command{
		Use:   "retire ID ...",
		Short: "Take pairs out of use for good; needs a reason",
		Example: "  layshaft stock retire W-1635-1 --stock team.store --who Ada \\\n" +
			"    --why \"chipped tooth\"",
		Args: someArgs("ids of pairs", 1, -1),
		RunE: func(c *cobra.Command, args []string) error {
			return o.apply(c, "retire", true, func(e *store.Edit) error { return e.Retire(args) })
		},
	}
	o.flags(c)
	return c
}

func (a *app) stockMove() *cobra.Command {
	var o change
	place := choice{words: []string{gearbox.PlaceBox, gearbox.PlaceShop}}
	c := &cobra.Command{
		Use:     "move ID ...",
		Short:   "Say where pairs are: in the box that travels, or in the shop",
		Example: "  layshaft stock move W-1635-1 W-1731-2 --to box --stock team.store --who Ada",
		Args:    someArgs("ids of pairs", 1, -1),
		RunE: func(c *cobra.Command, args []string) error {
			if place.value == "" {
				return badInput("--to is missing: %s", orList(place.words))
			}
			return o.apply(c, "move", false, func(e *store.Edit) error { return e.Move(args, place.value) })
		},
	}
	o.flags(c)
	c.Flags().Var(&place, "to", "where they go")
	return c
}

// oneArg wants exactly one argument.
func oneArg(what string) cobra.PositionalArgs { return someArgs(what, 1, 1) }

// someArgs wants from lo to hi arguments; hi < 0 = any number.
func someArgs(what string, lo, hi int) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		var err error
		switch n := len(args); {
		case n < lo:
			err = fmt.Errorf("name %s", what)
		case hi >= 0 && n > hi:
			err = fmt.Errorf("unexpected argument %q: name %s", args[hi], what)
		}
		for _, a := range args {
			if a == "" {
				err = errors.Join(err, errors.New("an argument is empty"))
			}
		}
		return asUsage(c.CommandPath(), err)
	}
}
