package tracks

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

const head = `title = "Test"
heading_deg = 30.0
altitude_m = 10.0
pit_limit_kmh = 80.0
pit_exit_m = 20.0
`

// square is a left-hand square with rounded corners, spirals in and out.
func square() string {
	text := head
	for _, name := range []string{"North", "West", "South", "East"} {
		text += `
[[segment]]
kind = "straight"
length_m = 100.0
[[segment]]
kind = "corner"
name = "` + name + `"
direction = "left"
radius_m = 50.0
angle_deg = 90.0
spiral_in_m = 20.0
spiral_out_m = 20.0
bank_deg = 6.0
`
	}
	return text
}

func parse(t testing.TB, text string) *Track {
	t.Helper()
	tr, err := Parse(datafile.NewSource("my.toml", []byte(text)))
	require.NoError(t, err)
	return tr
}

// faults parses what must be refused.
func faults(t testing.TB, text string) string {
	t.Helper()
	_, err := Parse(datafile.NewSource("my.toml", []byte(text)))
	require.Error(t, err)
	return err.Error()
}

// edited replaces text that must be there, once.
func edited(t testing.TB, text, from, to string) string {
	t.Helper()
	require.Contains(t, text, from)
	return strings.Replace(text, from, to, 1)
}

func circuit(t testing.TB, name string) *Track {
	t.Helper()
	src, err := datafile.Read(name, Embedded(), CircuitDir, ".toml")
	require.NoError(t, err)
	tr, err := Parse(src)
	require.NoError(t, err)
	return tr
}

func names() []string { return datafile.Names(Embedded(), CircuitDir, ".toml") }
