package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// version is what --version prints.
const version = "0.1.0"

const rootLong = `layshaft chooses the gear pairs of a sequential dog box from the pairs that a
team owns, for one car, one circuit and one weather, proves that no buildable
set is faster by the computed lap, and prints the ratio sheet for the bench.

The embedded car, circuits and stock are invented: every command runs without
a file of your own. The maker's manual, the rules of the series and qualified
people decide what is built.`

// root builds the command tree afresh.
func (a *app) root() *cobra.Command {
	root := group(&cobra.Command{
		Use:           name,
		Short:         "Gear pairs from stock to ratio sheet",
		Long:          rootLong,
		Example:       "  layshaft sheet --track quayside",
		Version:       version,
		SilenceUsage:  true,
		SilenceErrors: true,
	})
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages ", ".FlagUsagesWrapped 80 "))
	root.SetVersionTemplate("{{.Name}} {{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(
		a.sheetCommand(),
		a.lapCommand(),
		a.cardCommand(),
		a.whatifCommand(),
		needs(a.compareCommand(), "compare OLD.json NEW.json"),
		a.plotCommand(),
		a.barrelCommand(),
		a.stockCommand(),
		a.trackCommand(),
		a.carCommand(),
	)
	root.SetHelpCommand(helpCommand())
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" {
			group(c)
			c.Args = groupArgs
		}
	}
	return root
}

// group makes a command that only holds others: alone it prints its help, an
// unknown word is refused with what was probably meant. (cobra by itself would
// print help and end with 0.)
func group(c *cobra.Command) *cobra.Command {
	c.Args = groupArgs
	c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
	return c
}

func groupArgs(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	var names []string
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	return asUsage(c.CommandPath(), fmt.Errorf("unknown command %q for %q%s", args[0], c.CommandPath(), meant(args[0], names)))
}

// helpCommand replaces cobra's, which ends with 0 for an unknown topic.
func helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [command]",
		Short:   "Help about a command",
		Example: "  layshaft help sheet",
		RunE: func(c *cobra.Command, args []string) error {
			at := c.Root()
			for _, word := range args {
				next, _, err := at.Find([]string{word})
				if err != nil || next == at {
					return groupArgs(at, []string{word})
				}
				at = next
			}
			at.InitDefaultHelpFlag()
			return at.Help()
		},
	}
}

// flagError rewrites what the flag package says into words without Go, with
// the nearest flag where one is unknown.
func flagError(c *cobra.Command, err error) error {
	if errors.Is(err, pflag.ErrHelp) {
		return err
	}
	var (
		unknown *pflag.NotExistError
		invalid *pflag.InvalidValueError
		bare    *pflag.ValueRequiredError
		syntax  *pflag.InvalidSyntaxError
	)
	switch {
	case errors.As(err, &unknown):
		if short := unknown.GetSpecifiedShortnames(); short != "" {
			return asUsage(c.CommandPath(), fmt.Errorf("unknown flag -%s", unknown.GetSpecifiedName()))
		}
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
		word := "--" + unknown.GetSpecifiedName()
		return asUsage(c.CommandPath(), fmt.Errorf("unknown flag %s%s", word, meant(word, names)))
	case errors.As(err, &invalid):
		return asUsage(c.CommandPath(), fmt.Errorf("--%s: %w", invalid.GetFlag().Name, unwrapAll(invalid)))
	case errors.As(err, &bare):
		f := bare.GetFlag()
		return asUsage(c.CommandPath(), fmt.Errorf("--%s needs a value: %s", f.Name, plainUsage(f)))
	case errors.As(err, &syntax):
		return asUsage(c.CommandPath(), fmt.Errorf("%q is not a flag", syntax.GetSpecifiedFlag()))
	}
	return asUsage(c.CommandPath(), err)
}

// unwrapAll gives the innermost error: the words of the value's own Set. A
// switch (bool) is the one value that is not ours, and speaks Go.
func unwrapAll(invalid *pflag.InvalidValueError) error {
	if invalid.GetFlag().Value.Type() == "bool" {
		return fmt.Errorf("%q: a switch takes no value, or true or false", invalid.GetValue())
	}
	return invalid.Unwrap()
}

// plainUsage is a flag's help without the quotes around its placeholder.
func plainUsage(f *pflag.Flag) string {
	_, usage := pflag.UnquoteUsage(f)
	return usage
}

// meant gives ", did you mean …?" when a known word is near, else the list of
// the known ones when it is short.
func meant(word string, known []string) string {
	best, dist := "", len(word)/2+1
	for _, k := range known {
		if d := distance(word, k); d < dist {
			best, dist = k, d
		}
	}
	switch {
	case best != "":
		return fmt.Sprintf(": did you mean %s?", best)
	case len(known) > 0 && len(known) <= 12:
		return ": known are " + strings.Join(known, ", ")
	}
	return ""
}

// distance is the number of single letters to insert, delete or replace to
// come from a to b (Levenshtein, Binary codes capable of correcting deletions,
// insertions and reversals, 1966), without regard to case.
func distance(a, b string) int {
	ra, rb := []rune(strings.ToLower(a)), []rune(strings.ToLower(b))
	row := make([]int, len(rb)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(ra); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(rb); j++ {
			cost := 1
			if ra[i-1] == rb[j-1] {
				cost = 0
			}
			diag, row[j] = row[j], min(row[j]+1, row[j-1]+1, diag+cost)
		}
	}
	return row[len(rb)]
}
