package cli

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain lets the test binary stand in for the program, so that the scripts
// run what users run.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		name: func() {
			os.Exit(Main(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

// TestScripts runs whole commands: testdata/script for what works,
// testdata/fail for what must be refused.
func TestScripts(t *testing.T) {
	for _, dir := range []string{"testdata/script", "testdata/fail"} {
		t.Run(strings.TrimPrefix(dir, "testdata/"), func(t *testing.T) {
			testscript.Run(t, testscript.Params{
				Dir:                 dir,
				Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exitcode": exitCode, "narrow": narrow},
				Condition:           func(cond string) (bool, error) { return cond == "short" && testing.Short(), nil },
				RequireExplicitExec: true,
				Setup:               setup,
			})
		})
	}
}

// exitCode runs "exitcode N command…" and wants exactly that exit code;
// stdout and stderr of the command can be looked at afterwards.
func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exitcode N command…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// narrow wants every line of the file, such as stdout, within 80 columns.
func narrow(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: narrow FILE")
	}
	for i, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if n := len([]rune(line)); n > 80 {
			ts.Fatalf("%s:%d: %d columns: %s", args[0], i+1, n, line)
		}
	}
}

// setup tells scripts where the inputs are that they share with other tests.
func setup(env *testscript.Env) error {
	dir, err := filepath.Abs("testdata/small")
	env.Setenv("SMALL", dir)
	return err
}
