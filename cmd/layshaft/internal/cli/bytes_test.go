package cli

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSameBytes holds the sheets of the embedded circuits to be the same, byte by
// byte, with one, two and eight workers, in both forms; the text, which is made of
// the same numbers, on a short circuit. Twenty pairs, so that it takes seconds.
func TestSameBytes(t *testing.T) {
	const kite = "testdata/small/kite.toml"
	circuits := []string{kite, "harrowdale", "quayside", "saltmere"}
	if testing.Short() {
		circuits = circuits[:1]
	}
	sheet := func(t *testing.T, circuit, format, workers string) []byte {
		var out, errs bytes.Buffer
		code := Main(context.Background(), []string{"sheet", "-q", "--stock", "testdata/small/twenty.toml", "--track", circuit,
			"--format", format, "--workers", workers}, strings.NewReader(""), &out, &errs)
		require.Equal(t, exitDone, code, errs.String())
		require.NotEmpty(t, out.Bytes())
		return out.Bytes()
	}
	for _, circuit := range circuits {
		t.Run(filepath.Base(circuit), func(t *testing.T) {
			t.Parallel()
			for _, format := range []string{"json", "text"} {
				if format == "text" && circuit != kite {
					continue
				}
				one := sheet(t, circuit, format, "1")
				for _, n := range []string{"2", "8"} {
					assert.Equal(t, string(one), string(sheet(t, circuit, format, n)), "%s workers", n)
				}
			}
		})
	}
}

// TestWhatIfSameBytes does the same with the processors that the program may use:
// whatif has no workers to choose.
func TestWhatIfSameBytes(t *testing.T) {
	for _, circuit := range []string{"harrowdale", "quayside", "saltmere"} {
		for _, format := range []string{"json", "text"} {
			var first []byte
			for _, n := range []string{"1", "2", "8"} {
				// TestMain put the program into the path.
				cmd := exec.Command(name, "whatif", "-q", "--stock", "testdata/small/twenty.toml", "--track", circuit, "--change", "6", "--format", format)
				cmd.Env = append(cmd.Environ(), "GOMAXPROCS="+n)
				out, err := cmd.Output()
				require.NoError(t, err)
				require.NotEmpty(t, out)
				if first == nil {
					first = out
				}
				assert.Equal(t, string(first), string(out), "%s, %s processors", circuit, n)
			}
		}
	}
}
