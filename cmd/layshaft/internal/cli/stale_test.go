package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"
)

// Embedded inputs are held against this program's, files against those at
// hand; a pair store is passed over, and no name leads out of the folder.
func TestStaleInputs(t *testing.T) {
	wren, err := datafile.Read("wren", cars.Embedded(), cars.ExampleDir, fileExt)
	require.NoError(t, err)
	dir, here := t.TempDir(), t.TempDir()
	t.Chdir(here)
	write := func(folder, name, text string) string {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666))
		return datafile.NewSource(name, []byte(text)).SHA256
	}
	same := write(dir, "same.toml", "a")
	write(dir, "changed.toml", "b")
	both := write(here, "both.toml", "c")
	write(dir, "both.toml", "another one")
	secret := write(filepath.Dir(dir), "outside.toml", "d")
	for name, c := range map[string]struct {
		in   sheet.InputRef
		want string // "" = nothing to say
	}{
		"embedded as it was":   {sheet.InputRef{Role: "car", Name: "wren.toml", SHA256: wren.SHA256, Embedded: true}, ""},
		"embedded, changed":    {sheet.InputRef{Role: "car", Name: "wren.toml", SHA256: "0123456789abcdef", Embedded: true}, "car wren.toml: changed since the sheet was made (sha256 now begins " + wren.SHA256[:12] + ", on the sheet 0123456789ab)"},
		"embedded, gone":       {sheet.InputRef{Role: "track", Name: "atlantis.toml", SHA256: "00", Embedded: true}, "track atlantis.toml: came with the program that made the sheet, but not with this one"},
		"beside the sheet":     {sheet.InputRef{Role: "track", Name: "same.toml", SHA256: same}, ""},
		"changed beside it":    {sheet.InputRef{Role: "track", Name: "changed.toml", SHA256: same}, "track changed.toml: changed since the sheet was made"},
		"two, one as it was":   {sheet.InputRef{Role: "stock", Name: "both.toml", SHA256: both}, ""},
		"not at hand":          {sheet.InputRef{Role: "gearbox", Name: "none.toml", SHA256: "00"}, "gearbox none.toml: not found here, not checked"},
		"a pair store":         {sheet.InputRef{Role: "stock", Name: "team.store", SHA256: "00"}, ""},
		"a store that is none": {sheet.InputRef{Role: "car", Name: "team.store", SHA256: "00"}, "car team.store: not found here, not checked"},
		"a way out":            {sheet.InputRef{Role: "car", Name: "../outside.toml", SHA256: secret}, "car ../outside.toml: not found here, not checked"},
	} {
		t.Run(name, func(t *testing.T) {
			got := staleInputs(&sheet.Sheet{Inputs: []sheet.InputRef{c.in}}, dir)
			if c.want == "" {
				assert.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.Contains(t, got[0], c.want)
		})
	}
}
