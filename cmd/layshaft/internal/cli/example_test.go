package cli_test

import (
	"context"
	"os"
	"strings"

	"layshaft/cmd/layshaft/internal/cli"
)

// A command is a call: arguments in, an exit code out.
func Example() {
	cli.Main(context.Background(), []string{"barrel", "--gears", "4", "--format", "json"},
		strings.NewReader(""), &firstLines{n: 4}, os.Stderr)
	// Output:
	// {
	//   "schema_version": 1,
	//   "gearbox": "",
	//   "gears_count": 4,
}

// firstLines prints the first n lines of what is written.
type firstLines struct{ n int }

func (f *firstLines) Write(p []byte) (int, error) {
	for _, line := range strings.SplitAfter(string(p), "\n") {
		if f.n--; f.n >= 0 {
			_, _ = os.Stdout.WriteString(line)
		}
	}
	return len(p), nil
}
