package cli

import (
	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/spf13/cobra"
)

const barrelLong = `Checks the layouts and stacks that the gearbox file lists and prints, for every
gear, its fork, its place in the stack and what comes off both shafts to
change it.

--gears N is a study: it lists the layouts of forks for N gears in which no
fork serves two neighbours, or with --neighbours-share all of them. What your
box really has stands in its maker's manual.`

// barrelOptions are the flags of barrel.
type barrelOptions struct {
	files
	show
	gears number
	share bool
}

func (a *app) barrelCommand() *cobra.Command {
	var o barrelOptions
	c := &cobra.Command{
		Use:   "barrel",
		Short: "Forks, stack, and what comes off for each gear",
		Long:  barrelLong,
		Example: "  layshaft barrel\n" +
			"  layshaft barrel --gears 6",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.runBarrel(c, &o) },
	}
	o.carFlags(c)
	o.gears = number{lo: 2, hi: 10, whole: true, unit: "gears"}
	c.Flags().Var(&o.gears, "gears", "study: list the layouts for so many gears")
	c.Flags().BoolVar(&o.share, "neighbours-share", false, "study: neighbours may use the same fork")
	o.show.flags(c)
	return c
}

func (a *app) runBarrel(c *cobra.Command, o *barrelOptions) error {
	if err := o.output.check(); err != nil {
		return err
	}
	if o.share && !o.gears.given {
		return badInput("--neighbours-share belongs to the study: add --gears N; for your box the gearbox file says it")
	}
	if o.gears.given {
		report, err := sheet.StudyLayouts(int(o.gears.value), o.share)
		if err != nil {
			return asInput(err)
		}
		return o.print(c, report)
	}
	if err := o.loadCar(); err != nil {
		return err
	}
	report, err := sheet.BuildBarrel(o.box, only(o.used, "gearbox"))
	if err != nil {
		return asInput(err)
	}
	return o.print(c, report)
}

// only keeps the files of one role: what the answer does not rest on is not
// named under it.
func only(used []sheet.InputFile, roles ...string) []sheet.InputFile {
	var out []sheet.InputFile
	for _, u := range used {
		for _, r := range roles {
			if u.Role == r {
				out = append(out, u)
			}
		}
	}
	return out
}
