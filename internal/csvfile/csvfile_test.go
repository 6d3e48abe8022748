package csvfile

import (
	"testing"
	"unicode/utf16"

	"layshaft/internal/numtest"

	"github.com/stretchr/testify/require"
)

func utf16le(s string) []byte {
	out := []byte{0xFF, 0xFE}
	for _, u := range utf16.Encode([]rune(s)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return out
}

// What spreadsheets write; the values are those that a person reads in them.
func TestRead(t *testing.T) {
	for name, c := range map[string]struct {
		data string
		want []float64 // column b, line by line; -1 = no value
		note string
	}{
		"plain":                 {"a,b\n1,2.5\n3,4\n", []float64{2.5, 4}, ""},
		"mark and CRLF":         {"\xef\xbb\xbfA, B \r\n1,2.5\r\n\r\n3,4\r\n", []float64{2.5, 4}, ""},
		"old line ends":         {"a,b\r1,2\r3,4", []float64{2, 4}, ""},
		"semicolon and comma":   {"a;b\n1;2,5\n3;1.180,25\n", []float64{2.5, 1180.25}, "decimal sign"},
		"point in every cell":   {"a;b\n1;1.180\n3;48.25\n", []float64{1.18, 48.25}, ""},
		"three decimals only":   {"a;b\n1;0.180\n3;4800.236\n", []float64{0.18, 4800.236}, ""},
		"semicolon and point":   {"a;b\n1;2.5\n3;1,180\n", []float64{2.5, 1180}, ""},
		"tabs":                  {"a\tb\n1\t2,5\n", []float64{2.5}, "decimal sign"},
		"thousands in quotes":   {"a,b\n1,\"3,000\"\n2,\"1,250.5\"\n", []float64{3000, 1250.5}, ""},
		"thousands by blank":    {"a;b\n1;1 180\n2;12'500\n3;4\u00a0100,5\n", []float64{1180, 12500, 4100.5}, "decimal sign"},
		"no value":              {"a,b\n1,N/A\n2,\n3,-\n4,7\n", []float64{-1, -1, -1, 7}, ""},
		"blank last column":     {"a,b,\n1,2,\n3,4,\n", []float64{2, 4}, ""},
		"one tail cell too few": {"a,b,\n1,2\n", []float64{2}, ""},
		"UTF-16":                {string(utf16le("a;b;größe\n1;2;ü\n")), []float64{2}, "UTF-16"},
		"Windows-1252":          {"a;b;gr\xf6\xdfe\n1;2;\xfc\n", []float64{2}, "Windows-1252"},
	} {
		t.Run(name, func(t *testing.T) {
			tab, err := Read("x.csv", []byte(c.data))
			require.NoError(t, err)
			require.Len(t, tab.Rows, len(c.want))
			for i, want := range c.want {
				v, given, err := tab.Number(&tab.Rows[i], "b")
				require.NoError(t, err)
				require.Equal(t, want >= 0, given)
				if given {
					numtest.Equal(t, "value", want, v, 0, 1e-15)
				}
			}
			if c.note != "" {
				require.Contains(t, tab.Notes[0], c.note)
			}
		})
	}
}

func TestRefuses(t *testing.T) {
	for name, c := range map[string]struct{ data, want string }{
		"empty":                     {"", "x.csv: is empty"},
		"blank":                     {" \n\n", "x.csv: is empty"},
		"header only":               {"a,b\n", "has a first line and no other"},
		"numbers for names":         {"1,2\n3,4\n", "x.csv:1: the first line holds numbers"},
		"name missing":              {"a,,b\n1,2,3\n", "x.csv:1: column 2 has no name"},
		"name twice":                {"a b,A-B\n1,2\n", "x.csv:1: column a_b stands there twice"},
		"comma for both":            {"a,b\n1,2,5\n", "x.csv:2: has 3 cells, the first line names 2 columns: is the comma the decimal sign as well?"},
		"short line":                {"a,b,c\n1,2,3\n\n4,5\n", "x.csv:4: has 2 cells"},
		"a thousand, or one and so": {"a;b\n1;1,180\n", `x.csv:2: "1,180" may be a thousand and some`},
		"groups by point, or not":   {"a;b\n1;1.180\n2;7.250\n", `x.csv:2: "1.180" may be a thousand and some, or a decimal number: write it without the point`},
		"both signs undecided":      {"a;b\n1;1.180\n2;7,250\n", `x.csv:2: "1.180" may be a thousand and some`},
		"quote":                     {"a,b\n1,\"2\n", "x.csv:2: quotes are not closed"},
		"binary":                    {"a,b\n1,\x00\n", "x.csv:2: holds a control character"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read("x.csv", []byte(c.data))
			require.ErrorContains(t, err, c.want)
		})
	}
	tab, err := Read("x.csv", []byte("a;b\n1;2,5\n2;3.5\n3;nan\n4;0x10\n5;zwei\n6;1,5\n"))
	require.NoError(t, err)
	for i, want := range []string{"", "decimal point in a table", "is not a number", "is not a number", "is not a number", ""} {
		_, _, err := tab.Number(&tab.Rows[i], "b")
		if want == "" {
			require.NoError(t, err)
		} else {
			require.ErrorContains(t, err, want)
			require.ErrorContains(t, err, "x.csv:")
		}
	}
	_, _, err = tab.Whole(&tab.Rows[5], "b", 0, 9)
	require.ErrorContains(t, err, `x.csv:7: b: "1,5" is not a whole number from 0 to 9`)
}

func FuzzRead(f *testing.F) {
	f.Add([]byte("a,b\n1,\"3,000\"\n"))
	f.Add([]byte("\xef\xbb\xbfa;b\r\n1;2,5\r\n"))
	f.Add([]byte("a\tb\r1\tN/A"))
	f.Fuzz(func(t *testing.T, data []byte) {
		tab, err := Read("x.csv", data)
		if err != nil {
			return
		}
		for i := range tab.Rows {
			for _, c := range tab.Columns {
				v, _, err := tab.Number(&tab.Rows[i], c)
				if err == nil && v != v {
					t.Fatalf("%s is NaN", tab.Rows[i].Text(c))
				}
			}
		}
	})
}
