package cli

import (
	"bytes"
	"context"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// run calls the program inside the test.
func run(args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	code = Main(context.Background(), args, strings.NewReader(""), &out, &errs)
	return code, out.String(), errs.String()
}

// commands lists every command of ours below c, c included.
func commands(c *cobra.Command) []*cobra.Command {
	if c.Name() == "completion" {
		return nil
	}
	out := []*cobra.Command{c}
	for _, sub := range c.Commands() {
		out = append(out, commands(sub)...)
	}
	return out
}

// Every help fits an 80-column terminal and holds an example.
func TestHelp(t *testing.T) {
	for _, c := range commands((&app{}).root()) {
		words := append(strings.Fields(c.CommandPath())[1:], "--help")
		t.Run(c.CommandPath(), func(t *testing.T) {
			code, out, errs := run(words...)
			assert.Zero(t, code)
			assert.Empty(t, errs)
			assert.Contains(t, out, "Examples:")
			for _, line := range strings.Split(out, "\n") {
				assert.LessOrEqual(t, len([]rune(line)), 80, line)
			}
		})
	}
}

// Every example of every help runs as it stands, in a folder that holds what the
// examples name; those of one command run one after the other in one folder.
func TestExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("searches the whole stock several times")
	}
	bench := t.TempDir()
	benchFiles(t, bench)
	for _, c := range commands((&app{}).root()) {
		folder := t.TempDir()
		if c.CommandPath() != name+" stock new" {
			require.NoError(t, os.CopyFS(folder, os.DirFS(bench)))
		}
		for _, line := range strings.Split(strings.ReplaceAll(c.Example, "\\\n", " "), "\n") {
			line, into, redirected := strings.Cut(strings.TrimSpace(line), " > ") // what the shell does
			words := shellWords(line)
			require.NotEmpty(t, words)
			require.Equal(t, name, words[0])
			t.Run(line, func(t *testing.T) {
				t.Chdir(folder)
				code, out, errs := run(words[1:]...)
				assert.Zero(t, code, errs)
				assert.NotEmpty(t, out)
				if redirected {
					require.NoError(t, os.WriteFile(into, []byte(out), 0o666))
				}
			})
		}
	}
}

// shellWords splits a line at blanks, double quotes aside.
func shellWords(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

// benchFiles makes what the examples name: a pair store and a saved sheet.
func benchFiles(t *testing.T, dir string) {
	t.Helper()
	t.Chdir(dir)
	ok := func(line string) {
		code, _, errs := run(shellWords(line)...)
		require.Zero(t, code, "%s: %s", line, errs)
	}
	ok("stock new team.store --from wren --who Ada")
	table := "id,layshaft_teeth,mainshaft_teeth,half,fits\nW-1635-1,16,35,,wide\nW-1731-2,17,31,,wide\n" +
		"L-16-3,16,,layshaft,wide\nM-35-1,,35,mainshaft,wide\n"
	require.NoError(t, os.WriteFile("cards.csv", []byte(table), 0o600))
	ok("stock import cards.csv --stock team.store --who Ada")
	require.NoError(t, os.WriteFile("new-pairs.csv", []byte("layshaft_teeth,mainshaft_teeth,position\n23,25,3-6\n"), 0o600))
	ok("sheet --stock team.store --set 13/38,17/36,20/33,22/30,24/28,26/27 --date 2026-03-07 --format json -o saturday.json --event Round --revision 1 --issued-by Ben --quiet")
	ok("stock fit saturday.json --stock team.store --who Ada")
}

// With the embedded demonstration every command runs without an argument.
func TestNoArguments(t *testing.T) {
	for _, c := range commands((&app{}).root()) {
		t.Run(c.CommandPath(), func(t *testing.T) {
			if testing.Short() && c.Name() == "whatif" {
				t.Skip("searches the whole stock")
			}
			if slices.Contains(strings.Split(c.Example, "\n"), "  "+c.CommandPath()) {
				t.Skip("is an example: TestExamples runs it")
			}
			t.Chdir(t.TempDir())
			code, out, errs := run(strings.Fields(c.CommandPath())[1:]...)
			if c.Annotations[needsFile] != "" {
				assert.Equal(t, exitUsage, code)
				assert.Empty(t, out)
				assert.Contains(t, errs, c.Annotations[needsFile])
				return
			}
			assert.Zero(t, code, errs)
			assert.NotEmpty(t, out)
		})
	}
}
