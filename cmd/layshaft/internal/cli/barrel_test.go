package cli

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The number of layouts in which no fork serves two neighbours, through the
// JSON that other programs read: OEIS A000806, Bessel polynomial y_n(-1),
// absolute values; with sharing the double factorials, OEIS A001147.
func TestBarrelStudy(t *testing.T) {
	for name, k := range map[string]struct {
		args []string
		want int
	}{
		"4":         {[]string{"--gears", "4"}, 1},
		"6":         {[]string{"--gears", "6"}, 5},
		"8":         {[]string{"--gears", "8"}, 36},
		"10":        {[]string{"--gears", "10"}, 329},
		"6 sharing": {[]string{"--gears", "6", "--neighbours-share"}, 15},
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := run(append([]string{"barrel", "--format", "json"}, k.args...)...)
			require.Zero(t, code, errs)
			var got struct {
				Layouts [][][]int `json:"layouts"`
			}
			require.NoError(t, json.Unmarshal([]byte(out), &got))
			assert.Len(t, got.Layouts, k.want)
		})
	}
}
