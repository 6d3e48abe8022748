package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// name is the program's name in messages.
const name = "layshaft"

// app is what one call of the program works with.
type app struct {
	stdout   io.Writer
	stderr   io.Writer
	terminal bool // stderr is a terminal that can redraw a line
	screen   bool // stdout is a terminal: who reads it reads stderr as well
}

// Main runs the program with the arguments (without the program's name) and
// returns its exit code; see the package comment. The first interrupt cancels
// the work, so that the best answer so far can be printed; the second one
// kills the program.
func Main(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, release := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer release()
	stop := context.AfterFunc(ctx, release)
	defer stop()

	a := &app{stdout: stdout, stderr: stderr, terminal: canRedraw(stderr), screen: isTerminal(stdout)}
	out := newAnswer(stdout)
	root := a.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(out)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if flushErr := out.Flush(); flushErr != nil && (err == nil || isUnproved(err)) {
		err = fmt.Errorf("cannot write to standard output: %w: free some room or choose another place", plainOS(flushErr))
	}
	return a.report(err)
}

// report says what went wrong on stderr and gives the exit code.
func (a *app) report(err error) int {
	if err == nil {
		return exitDone
	}
	code, usage := exitFailed, ""
	var known *exitError
	if errors.As(err, &known) {
		code, usage = known.ExitCode(), known.usage
	} else if cobraUsage(err) {
		code = exitUsage
	}
	for i, line := range strings.Split(strings.TrimSpace(err.Error()), "\n") {
		switch {
		case line == "":
			continue
		case i == 0:
			line = name + ": " + line
		}
		_, _ = fmt.Fprintln(a.stderr, line)
	}
	if usage != "" {
		_, _ = fmt.Fprintf(a.stderr, "See '%s --help'.\n", usage)
	}
	return code
}

// warn prints warnings on stderr, unless --quiet, or unless they stand in the
// text that the same person is about to read on the same screen.
func (a *app) warn(s *show, warnings ...string) {
	if s.quiet || (a.screen && s.onStdout() && s.format.value == formatText) {
		return
	}
	for _, w := range warnings {
		_, _ = fmt.Fprintf(a.stderr, "%s: warning: %s\n", name, w)
	}
}

func isUnproved(err error) bool {
	var known *exitError
	return errors.As(err, &known) && known.code == exitUnproved
}

// cobraUsage recognises what cobra reports as a plain error although it is
// wrong use: flags that exclude or need each other.
func cobraUsage(err error) bool {
	s := err.Error()
	return strings.HasPrefix(s, "if any flags in the group") ||
		strings.HasPrefix(s, "at least one of the flags in the group") ||
		strings.HasPrefix(s, "required flag")
}

// plainOS takes the system call's name and the path off an error of the
// operating system; what is left is what people can read.
func plainOS(err error) error {
	var path *os.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}

// noArgs refuses arguments, naming the first.
func noArgs(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return asUsage(c.CommandPath(), fmt.Errorf("unexpected argument %q: '%s' takes flags only", args[0], c.CommandPath()))
}
