package cli

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A warning that stands in the text on the screen is not said a second time;
// anywhere else it goes to stderr, so that it is seen before the answer is used.
func TestWarnOnce(t *testing.T) {
	text := func(change func(*show)) *show {
		s := &show{format: choice{value: formatText}}
		change(s)
		return s
	}
	for name, k := range map[string]struct {
		screen bool
		how    *show
		said   bool
	}{
		"text on the screen":       {true, text(func(*show) {}), false},
		"text to a pipe":           {false, text(func(*show) {}), true},
		"text to a file":           {true, text(func(s *show) { s.path = "sheet.txt" }), true},
		"text to stdout by name":   {true, text(func(s *show) { s.path = toStdout }), false},
		"JSON on the screen":       {true, text(func(s *show) { s.format.value = "json" }), true},
		"a picture, without words": {true, text(func(s *show) { s.format.value = "" }), true},
		"quiet":                    {false, text(func(s *show) { s.quiet = true }), false},
	} {
		t.Run(name, func(t *testing.T) {
			var errs bytes.Buffer
			a := &app{stderr: &errs, screen: k.screen}
			a.warn(k.how, "look here")
			if k.said {
				assert.Equal(t, "layshaft: warning: look here\n", errs.String())
			} else {
				assert.Empty(t, errs.String())
			}
		})
	}
}
