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

// Every example of every help runs as it stands, those of one command one after
// the other in one folder.
func TestExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("searches the whole stock several times")
	}
	for _, c := range commands((&app{}).root()) {
		folder := t.TempDir()
		for _, line := range strings.Split(c.Example, "\n") {
			line, into, redirected := strings.Cut(strings.TrimSpace(line), " > ") // what the shell does
			words := strings.Fields(line)
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
			if _, needs, _ := strings.Cut(c.Use, " "); strings.HasSuffix(needs, ".json") {
				// Its files are the user's own: it says which to give.
				assert.Equal(t, exitUsage, code)
				assert.Empty(t, out)
				assert.Contains(t, errs, "'"+c.CommandPath()+" "+needs+"'")
				return
			}
			assert.Zero(t, code, errs)
			assert.NotEmpty(t, out)
		})
	}
}
