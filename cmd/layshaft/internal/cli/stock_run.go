package cli

import (
	"fmt"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"

	"github.com/spf13/cobra"
)

// readSheet reads a saved ratio sheet.
func readSheet(path string) (*sheet.Sheet, []byte, error) {
	data, err := readLimited(path, maxSheetBytes)
	if err != nil {
		return nil, nil, badInput("%s: %s; a saved sheet is made by 'layshaft sheet --format json -o FILE'", path, plainOS(err))
	}
	s, err := sheet.Read(path, data)
	return s, data, asInput(err)
}

// issuedOf is the sheet's number, nil when it has none.
func issuedOf(s *sheet.Sheet, data []byte) *store.Issued {
	if s.Revision < 1 {
		return nil
	}
	var set []string
	for i := range s.Gears {
		set = append(set, fmt.Sprintf("%d/%d", s.Gears[i].LayshaftTeeth, s.Gears[i].MainshaftTeeth))
	}
	return &store.Issued{
		Car: s.InCar, Track: s.Track, Event: s.Event, Session: s.Session, Revision: s.Revision, IssuedBy: s.IssuedBy, Date: s.Date,
		Set: strings.Join(set, ", "), SHA256: datafile.NewSource("", data).SHA256,
	}
}

func (a *app) stockFit() *cobra.Command {
	var o change
	car := gearbox.DefaultCar
	c := &cobra.Command{
		Use:   "fit SHEET.json",
		Short: "Book the set of a saved ratio sheet as fitted in the car",
		Long: `Books the set of a saved ratio sheet (sheet --format json -o FILE) as fitted.
What was in the car and does not stay goes into the box. Every pair must be
free, in life and inspected, unless the sheet says who allowed it. A sheet that
has a revision is noted as issued.`,
		Example: "  layshaft stock fit saturday.json --stock team.store --who Ada",
		Args:    oneArg("a saved ratio sheet"),
		RunE: func(c *cobra.Command, args []string) error {
			s, data, err := readSheet(args[0])
			if err != nil {
				return err
			}
			switch {
			case s.InCar == "": // a stock file knows no cars
			case !c.Flags().Changed("in-car"):
				car = s.InCar
			case s.InCar != car:
				return badInput("%s: is the sheet of car %s, not of car %s: make one with 'layshaft sheet --in-car %s'", args[0], s.InCar, car, car)
			}
			f := &store.Fitting{
				Use:   gearbox.Use{Day: o.day(), Car: car, Waived: map[string]string{}},
				Final: s.FinalDrive.Name, Text: data, Issued: issuedOf(s, data),
			}
			if s.Drop != nil {
				f.Drop = s.Drop.Name
			}
			for i := range s.Gears {
				g := &s.Gears[i]
				f.Pairs = append(f.Pairs, g.PairID)
				f.Teeth = append(f.Teeth, gearbox.Teeth{Driving: g.LayshaftTeeth, Driven: g.MainshaftTeeth})
				if g.Waiver != "" {
					f.Use.Waived[g.PairID] = g.Waiver
				}
			}
			return o.apply(c, "fit", false, func(e *store.Edit) error { return e.Fit(f) })
		},
	}
	o.flags(c)
	o.dayFlag(c, "day for which inspections are judged")
	inCarFlag(c, &car)
	c.Flags().Lookup("in-car").DefValue = "" // the sheet's own
	return c
}

// inCarFlag says which car a booking is of; its default is what *car holds.
func inCarFlag(c *cobra.Command, car *string) {
	c.Flags().Var(&textValue{car, "CAR"}, "in-car", "which of the team's cars, by its number or `NAME`")
}

func (a *app) stockUnfit() *cobra.Command {
	var o change
	car := gearbox.DefaultCar
	drives := false
	c := &cobra.Command{
		Use:     "unfit",
		Short:   "Book that all pairs came out of the car, into the box",
		Example: "  layshaft stock unfit --drives --stock team.store --who Ada",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return o.apply(c, "unfit", false, func(e *store.Edit) error { return e.Unfit(car, drives) })
		},
	}
	o.flags(c)
	inCarFlag(c, &car)
	c.Flags().BoolVar(&drives, "drives", false, "its final drive and drop pair came out too")
	return c
}

// bookOptions are the flags of stock book.
type bookOptions struct {
	change
	car      string
	sheet    string
	km, laps number
	limiter  number
	overRevs number
	overRPM  number
}

func (a *app) stockBook() *cobra.Command {
	var o bookOptions
	c := &cobra.Command{
		Use:   "book",
		Short: "Book the kilometres of a run on every pair in the car",
		Long: `Books a run on every pair that is in the car: its kilometres, or its laps of the
track of the sheet that the car was built from. Counts from the team's logger go
with it: an over-rev is a cause for inspection of every pair, and so are more
times on the limiter than a pair's card allows. With --sheet the run is booked
only if that sheet's set is the one in the car.

Where the sheet has a damage estimate, it is booked with the distance. It may
shorten a pair's life, never lengthen it.`,
		Example: "  layshaft stock book --km 83.5 --stock team.store --who Ada \\\n" +
			"    --why \"practice 1\"\n" +
			"  layshaft stock book --laps 22 --over-rev-count 1 --over-rev-rpm 9650 \\\n" +
			"    --stock team.store --who Ada",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runBook(c, &o) },
	}
	o.flags(c)
	o.dayFlag(c, "day of the run")
	f := c.Flags()
	o.car = gearbox.DefaultCar
	inCarFlag(c, &o.car)
	f.Var(&textValue{&o.sheet, "FILE"}, "sheet", "saved ratio sheet that the car ran with")
	o.km = number{lo: 0.001, hi: 10000, unit: "km"}
	o.laps = number{lo: 0.01, hi: 5000, unit: "laps"}
	f.Var(&o.km, "km", "distance of the run")
	f.Var(&o.laps, "laps", "laps of the sheet's track, in place of --km")
	o.limiter = number{lo: 0, hi: 1e6, whole: true}
	f.Var(&o.limiter, "limiter-count", "times on the limiter, from the logger")
	o.overRevs = number{lo: 0, hi: 1e4, whole: true}
	f.Var(&o.overRevs, "over-rev-count", "over-revs, from the logger: a cause for inspection")
	o.overRPM = number{lo: 1000, hi: 25000, unit: "rpm"}
	f.Var(&o.overRPM, "over-rev-rpm", "highest engine speed of them")
	return c
}

func (a *app) runBook(c *cobra.Command, o *bookOptions) error {
	if _, err := o.path(); err != nil {
		return err
	}
	switch {
	case o.km.given == o.laps.given:
		return badInput("say how far it ran: --km N or --laps N")
	case o.overRPM.given && o.overRevs.value == 0:
		return badInput("--over-rev-rpm goes with --over-rev-count")
	}
	if err := notAhead("--date: the run of", o.day()); err != nil {
		return err
	}
	run := &store.Run{
		Car: o.car, Distance: o.km.value * metresPerKm, Day: o.day(),
		Limiter: int(o.limiter.value), OverRevs: int(o.overRevs.value), OverRPM: o.overRPM.value,
	}
	var given *sheet.Sheet
	if o.sheet != "" {
		var err error
		if given, _, err = readSheet(o.sheet); err != nil {
			return err
		}
		for i := range given.Gears {
			run.Pairs = append(run.Pairs, given.Gears[i].PairID)
		}
	}
	return o.apply(c, "book", false, func(e *store.Edit) error {
		s := given
		if text := e.BuiltFrom(o.car); s == nil && text != nil {
			var err error
			if s, err = sheet.Read("the sheet that car "+o.car+" was built from", text); err != nil {
				// Kilometres that were run are booked, whatever an older program wrote.
				if o.laps.given {
					return fmt.Errorf("%w\nGive --km, or --sheet FILE", err)
				}
				a.warn(&o.show, fmt.Sprintf("no damage estimate is booked: %s", firstLine(err)))
				s = nil
			}
		}
		if s == nil && o.laps.given {
			return fmt.Errorf("--laps needs a track: car %s was not built from a saved sheet; give --sheet FILE, or --km", o.car)
		}
		if s != nil {
			if o.laps.given {
				run.Distance = o.laps.value * s.TrackLengthM
			}
			run.Laps = run.Distance / s.TrackLengthM
			run.Damage = damagePerLap(s)
		}
		return e.Book(run)
	})
}

// damagePerLap is the share of life that one lap takes, by gear, -1 where it is not
// known; nil when the sheet has no estimate.
func damagePerLap(s *sheet.Sheet) []float64 {
	out := make([]float64, len(s.Gears))
	known := false
	for i := range s.Gears {
		out[i] = -1
		if d := s.Gears[i].DamagePerLapRatio; d != nil {
			out[i], known = *d, true
		}
	}
	if !known {
		return nil
	}
	return out
}

// firstLine is the head of an error of several lines.
func firstLine(err error) string {
	head, _, _ := strings.Cut(err.Error(), "\n")
	return strings.TrimSuffix(head, ":")
}
