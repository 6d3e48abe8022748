package datafile_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

// syntax decodes text that must be refused as no TOML.
func syntax(t *testing.T, text string) *datafile.SyntaxError {
	t.Helper()
	var f taggedCarFile
	d, err := datafile.Decode(datafile.NewSource("my.toml", []byte(text)), &f)
	assert.Nil(t, d)
	var se *datafile.SyntaxError
	require.ErrorAs(t, err, &se)
	return se
}

func TestSyntaxHints(t *testing.T) {
	cases := []struct {
		line string
		hint string
	}{
		{`mass_kg = 600,5`, "decimal comma"},
		{`mass_kg = 1.600,5`, "decimal comma"},
		{`mass_kg = 1 600.5`, "without spaces"},
		{`mass_kg = 600 kg`, "unit is the end of the key's name"},
		{`mass_kg = 600kg`, "unit is the end of the key's name"},
		{`tyre_radius_m = .28`, "digit before the decimal point"},
		{`tyre_radius_m = 1.`, "digit after the decimal point"},
		{`mass_kg = 0600`, "leading zeros"},
		{`wet = True`, "true or false"},
		{`mass_kg: 600`, "not with a colon"},
		{`// mass`, "A comment starts with #"},
		{`mass_kg =`, "value is missing"},
		{`track = bramble`, "stands in quotes"},
		{`track = “bramble”`, "Straight quotes"},
		{`track = "C:\Users\me.csv"`, "single quotes"},
	}
	for _, c := range cases {
		t.Run(c.line, func(t *testing.T) {
			e := syntax(t, "[car]\n\n"+c.line+"\n")
			assert.Equal(t, 3, e.Line)
			assert.Equal(t, c.line, e.Text)
			assert.Contains(t, e.Hint, c.hint)
			assert.True(t, strings.HasPrefix(e.Error(), "my.toml:3:"), e.Error())
		})
	}
}

func TestSyntaxCaret(t *testing.T) {
	e := syntax(t, "title = 'Müller'\n\tmass_kg = 'é' x\n")
	assert.Equal(t, "     2 |  mass_kg = 'é' x", strings.Split(e.Error(), "\n")[1])
	caret := strings.Split(e.Error(), "\n")[2]
	assert.Equal(t, strings.IndexByte("     2 |  mass_kg = 'e' x", 'x'), strings.IndexByte(caret, '^'), "counted in characters, not bytes")
}

func TestDuplicateKeys(t *testing.T) {
	e := syntax(t, "[car]\nmass_kg = 1\nmass_kg = 2\n")
	assert.Equal(t, 3, e.Line)
	assert.Contains(t, e.Hint, "Delete or rename")
	assert.Equal(t, 2, syntax(t, "[car]\n[car]\n").Line)
}

func TestEncodings(t *testing.T) {
	d, f := decode(t, "\xef\xbb\xbftitle = 'x'\r\n[car]\r\nmass_kg = 5\r\n")
	require.NoError(t, d.Err(), "byte order mark and CRLF are fine")
	assert.Equal(t, 5.0, f.Car.MassKg)
	assert.Equal(t, 3, d.Line("car.mass_kg"))

	assert.Contains(t, syntax(t, "\xff\xfet\x00i\x00").Error(), "UTF-16")
	assert.Contains(t, syntax(t, "\xfe\xff\x00t\x00i").Error(), "UTF-16")
	assert.Contains(t, syntax(t, "t\x00i\x00t\x00").Error(), "UTF-16")
	e := syntax(t, "wet = true\ntitle = 'M\xfcller'\n")
	assert.Equal(t, 2, e.Line)
	assert.Contains(t, e.Error(), "my.toml:2: byte 0xfc is not UTF-8")
	assert.Contains(t, syntax(t, "wet = true\rtitle = 'x'\r").Error(), "line ends")
}

func TestHostileSizes(t *testing.T) {
	assert.Contains(t, syntax(t, "a = "+strings.Repeat("[", 900_000)).Error(), "nested more than 50 deep")
	assert.Contains(t, syntax(t, "a = "+strings.Repeat("{b=", 1000)).Error(), "nested more than 50 deep")
	assert.Contains(t, syntax(t, strings.Repeat("#", datafile.MaxBytes+1)).Error(), "larger than 1 MB")
	d, _ := decode(t, "# "+strings.Repeat("[", 100)+"\ntitle = '"+strings.Repeat("[", 100)+"'\n")
	assert.NoError(t, d.Err(), "brackets in comments and texts are no nesting")
}

// The caret stands below the character that is wrong, whichever way the decoder
// came upon it.
func TestSyntaxColumn(t *testing.T) {
	cases := []struct {
		text         string
		line, column int
	}{
		{"mass_kg = 600 kg\n", 1, 15},
		{"mass_kg = 600,5\n", 1, 14},
		{"x = [1,\n 2 3]\n", 2, 4},
		{"mass_kg = .5\n", 1, 11},
		{"mass_kg =\n", 1, 10},
		{"title = 'x\n", 1, 11},
		{"[car\n", 1, 5},
		{"a = 1\na = 2\n", 2, 1},
	}
	for _, c := range cases {
		e := syntax(t, c.text)
		assert.Equal(t, c.line, e.Line, "%q: %v", c.text, e)
		assert.Equal(t, c.column, e.Column, "%q: %v", c.text, e)
	}
}
