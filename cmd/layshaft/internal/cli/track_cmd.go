package cli

import (
	"fmt"
	"math"

	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"
	"layshaft/internal/units"
	"layshaft/tracks"

	"github.com/spf13/cobra"
)

// viewOptions are the flags of list, show and check.
type viewOptions struct {
	files
	show
}

// viewCommand makes a command that loads one thing, named by a flag or by its
// one argument, and prints a listing of it. ref is nil where nothing is named.
func (a *app) viewCommand(c *cobra.Command, o *viewOptions, ref *string, list func() (*sheet.Listing, error)) *cobra.Command {
	c.Args = func(c *cobra.Command, args []string) error {
		if ref == nil {
			return noArgs(c, args)
		}
		if len(args) > 1 {
			return asUsage(c.CommandPath(), fmt.Errorf("unexpected argument %q: one name or file at a time", args[1]))
		}
		return nil
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := o.output.check(); err != nil {
			return err
		}
		if len(args) == 1 {
			if args[0] == "" {
				return badInput("the name is empty: give an embedded name or a file")
			}
			*ref = args[0]
		}
		l, err := list()
		if err != nil {
			return err
		}
		a.warn(&o.show, o.files.warnings...)
		return o.print(c, l)
	}
	o.show.flags(c)
	return c
}

func (a *app) trackCommand() *cobra.Command {
	c := group(&cobra.Command{
		Use:     "track",
		Short:   "Circuits: list, show, check",
		Example: "  layshaft track list",
	})
	c.AddCommand(a.trackList(), a.trackShow(), a.trackCheck())
	return c
}

func (a *app) trackList() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "list",
		Short:   "The embedded circuits, all invented",
		Example: "  layshaft track list --format json",
	}
	return a.viewCommand(c, &o, nil, func() (*sheet.Listing, error) {
		l := &sheet.Listing{
			Title:    "Embedded circuits (invented)",
			NameHead: "track",
			Columns: []sheet.Column{
				{Key: "length_m", Head: "length m", Decimals: 0},
				{Key: "corner_count", Head: "corners"},
				{Key: "altitude_m", Head: "altitude m", Decimals: 0},
				{Key: "title", Head: "title"},
			},
			Notes: []string{"--track takes one of these names, or a file (a path, or a name that ends in .toml)."},
		}
		for _, ref := range datafile.Names(tracks.Embedded(), tracks.CircuitDir, fileExt) {
			one := files{trackRef: ref}
			if err := one.loadTrack(); err != nil {
				return nil, err
			}
			l.Inputs = append(l.Inputs, one.used...)
			l.Items = append(l.Items, sheet.Item{Name: ref, Facts: []any{
				one.track.Length, len(one.track.Corners), one.track.Altitude, one.track.Title,
			}})
		}
		return l, nil
	})
}

func (a *app) trackShow() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "show [TRACK]",
		Short:   "The corners of a circuit",
		Example: "  layshaft track show saltmere",
	}
	o.trackFlag(c)
	return a.viewCommand(c, &o, &o.trackRef, func() (*sheet.Listing, error) {
		if err := o.loadTrack(); err != nil {
			return nil, err
		}
		return listCorners(&o.files), nil
	})
}

// listCorners shows every corner by its tightest place.
func listCorners(f *files) *sheet.Listing {
	t := f.track
	l := &sheet.Listing{
		Title:    titleOr(t.Title, t.Name),
		NameHead: "corner",
		Columns: []sheet.Column{
			{Key: "start_m", Head: "from m", Decimals: 0},
			{Key: "end_m", Head: "to m", Decimals: 0},
			{Key: "direction", Head: "turns"},
			{Key: "radius_m", Head: "radius m", Decimals: 0},
			{Key: "angle_deg", Head: "angle", Decimals: 0},
			{Key: "bank_deg", Head: "bank", Decimals: 1},
		},
		Warnings: f.warnings,
		Inputs:   f.used,
	}
	for i, corner := range t.Corners {
		tight, bank, angle := 0.0, 0.0, 0.0
		for _, s := range t.Segments {
			if s.Corner != i {
				continue
			}
			angle += (s.K0 + s.K1) / 2 * s.Length
			for _, k := range []struct{ k, b float64 }{{s.K0, s.Bank0}, {s.K1, s.Bank1}} {
				if math.Abs(k.k) >= math.Abs(tight) {
					tight, bank = k.k, k.b
				}
			}
		}
		turns := "left"
		if tight < 0 {
			turns, bank = "right", -bank
		}
		var radius any
		if tight != 0 {
			radius = 1 / math.Abs(tight)
		}
		l.Items = append(l.Items, sheet.Item{Name: corner.Name, Facts: []any{
			corner.Start, corner.End, turns, radius, math.Abs(angle) * units.ToDeg, bank*units.ToDeg + 0,
		}})
	}
	l.Notes = append(l.Notes, trackFacts(t)...)
	return l
}

// trackFacts are the sentences under a track.
func trackFacts(t *tracks.Track) []string {
	notes := []string{
		fmt.Sprintf("Length %.1f m, altitude %.0f m, heading %.1f degrees at the start line.", t.Length, t.Altitude, t.Heading*units.ToDeg),
		fmt.Sprintf("Turns %.3f degrees in all; the end misses the start by %.1f mm.", t.Turned*units.ToDeg, 1000*math.Hypot(t.GapX, t.GapY)),
		"Distance along the driven line from the start line; bank positive = helps the corner; angles in degrees.",
	}
	if t.PitLimit > 0 {
		notes = append(notes, fmt.Sprintf("Pit lane %.0f km/h, its limit ends at %.0f m.", t.PitLimit*units.ToKmh, t.PitExit))
	}
	for _, s := range t.NoShift {
		notes = append(notes, fmt.Sprintf("No shift: %s, %.0f to %.0f m.", s.Name, s.Start, s.End))
	}
	return notes
}

func (a *app) trackCheck() *cobra.Command {
	var o viewOptions
	c := &cobra.Command{
		Use:     "check [TRACK]",
		Short:   "Whether a track file is sound and closes",
		Example: "  layshaft track check quayside",
	}
	o.trackFlag(c)
	return a.viewCommand(c, &o, &o.trackRef, func() (*sheet.Listing, error) {
		if err := o.loadTrack(); err != nil {
			return nil, err
		}
		t := o.track
		return &sheet.Listing{
			Title:    o.used[0].Name + " is sound",
			NameHead: "track",
			Columns: []sheet.Column{
				{Key: "length_m", Head: "length m", Decimals: 1},
				{Key: "segment_count", Head: "segments"},
				{Key: "corner_count", Head: "corners"},
				{Key: "turned_deg", Head: "turned deg", Decimals: 3},
				{Key: "gap_m", Head: "gap m", Decimals: 4},
			},
			Items: []sheet.Item{{Name: t.Name, Facts: []any{
				t.Length, len(t.Segments), len(t.Corners), t.Turned * units.ToDeg, math.Hypot(t.GapX, t.GapY),
			}}},
			Warnings: o.files.warnings,
			Inputs:   o.used,
		}, nil
	})
}
