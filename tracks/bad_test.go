package tracks

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

// Every file under testdata/bad ends in "# want:" lines: the faults that it
// must be refused with, all of them and in this order.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.toml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			data, err := os.ReadFile(name)
			require.NoError(t, err)
			var want []string
			for line := range strings.Lines(string(data)) {
				if w, ok := strings.CutPrefix(strings.TrimSpace(line), "# want: "); ok {
					want = append(want, filepath.Base(name)+w)
				}
			}
			require.NotEmpty(t, want)
			tr, err := Parse(datafile.NewSource(filepath.Base(name), data))
			require.Error(t, err)
			assert.Nil(t, tr)
			assert.Equal(t, want, strings.Split(err.Error(), "\n"))
		})
	}
}
