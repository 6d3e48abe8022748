package cli

import (
	"fmt"

	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/optimize"
	"layshaft/optimize/gearing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

const cardLong = `Prints the driver card, one small page: the rpm to type into the shift light,
the speed at each shift, rpm drop and rpm after it, the highest speed for each
downshift, and for every corner the gear, the slowest speed and the engine speed
where full throttle goes on.

With SHEET.json, a sheet saved by 'layshaft sheet --format json', the card is
that sheet's. Without it the card is for --set, else for the fitted set that the
stock file names, in the conditions of the flags; nothing is searched.`

// cardOptions are the flags of card.
type cardOptions struct {
	lapOptions
	event string
}

func (a *app) cardCommand() *cobra.Command {
	var o cardOptions
	c := &cobra.Command{
		Use:   "card [SHEET.json]",
		Short: "Driver card: shift light, speeds, gear by corner",
		Long:  cardLong,
		Example: "  layshaft card\n" +
			"  layshaft card --track quayside --set 13/38,17/36,20/33,22/30,24/28,26/27\n" +
			"  layshaft card --fuel-kg 5 --units us",
		Args: cardArgs,
		RunE: func(c *cobra.Command, args []string) error { return a.runCard(c, &o, args) },
	}
	o.inputFlags(c)
	c.Flags().Var(&textValue{&o.event, "TEXT"}, "event", "what the card is for, printed at its foot")
	o.show.flags(c)
	o.paperFlags(c, formatHTML, formatPDF)
	return c
}

// cardArgs takes one saved sheet at most.
func cardArgs(c *cobra.Command, args []string) error {
	if len(args) <= 1 {
		return nil
	}
	return asUsage(c.CommandPath(), fmt.Errorf("unexpected argument %q: a card is of one saved sheet", args[1]))
}

func (a *app) runCard(c *cobra.Command, o *cardOptions, args []string) error {
	if err := o.show.check(a); err != nil {
		return err
	}
	var card *sheet.DriverCard
	var err error
	if len(args) == 1 {
		card, err = o.ofSaved(c, args[0])
	} else {
		card, err = a.cardOfFlags(c, o)
	}
	if err != nil {
		return err
	}
	return o.print(c, card)
}

// ofSaved is the card of a saved sheet, which holds all inputs already.
func (o *cardOptions) ofSaved(c *cobra.Command, path string) (*sheet.DriverCard, error) {
	var shown cobra.Command
	var flags show
	flags.flags(&shown)
	flags.paperFlags(&shown)
	stray := ""
	c.Flags().Visit(func(f *pflag.Flag) { // in the order of the names
		if shown.Flags().Lookup(f.Name) == nil && stray == "" {
			stray = f.Name
		}
	})
	if stray != "" {
		return nil, badInput("--%s does not go with a saved sheet, which has its own inputs: leave out one of the two", stray)
	}
	s, _, err := readSheet(path)
	if err != nil {
		return nil, err
	}
	card, err := sheet.DriverCardOf(s)
	if err != nil {
		return nil, badInput("%s: %s", path, err)
	}
	return card, nil
}

// cardOfFlags drives the lap and makes the sheet of it that a card needs.
func (a *app) cardOfFlags(c *cobra.Command, o *cardOptions) (*sheet.DriverCard, error) {
	d, err := o.drive(c.Context())
	if err != nil {
		return nil, err
	}
	a.warn(&o.show, o.files.warnings...)
	s, err := sheet.Build(sheet.Input{
		Car: o.car, Track: o.track, Stock: o.stock, Box: o.box,
		Answer: &gearing.Answer{Set: d.base.set, Lap: d.lap, Status: optimize.Given},
		Speed:  d.model.Speed, LimiterRPM: d.model.LimiterRPM(),
		Weather: d.weather, Files: o.used, Event: o.event, Date: o.date.String(), Waived: o.wanted.Waived, Warnings: o.files.warnings,
	})
	if err != nil {
		return nil, err
	}
	return sheet.DriverCardOf(s)
}
