package sheet

import (
	"testing"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCoverage(t *testing.T) {
	for name, font := range map[string][]byte{"regular": liberationsansregular.TTF, "bold": liberationsansbold.TTF} {
		c, err := coverageOf(font)
		require.NoError(t, err, name)
		n := 0
		for r := range rune(0x10000) {
			if c.has(r) {
				n++
			}
		}
		t.Log(name, n)
		for _, r := range "azÄÖüßéñŁčµ°·±–Ω≤→€²Δ…─" + string(substitute) {
			assert.True(t, c.has(r), "%s: %c", name, r)
		}
		for _, r := range "日本✓🏁\U0010ffff" {
			assert.False(t, c.has(r), "%s: %c", name, r)
		}
	}
}
