package gearbox

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"layshaft/internal/datafile"

	"github.com/stretchr/testify/require"
)

func sixBox(t testing.TB) *Box {
	t.Helper()
	src, err := datafile.Read("wren-six", Embedded(), BoxDir, ".toml")
	require.NoError(t, err)
	box, err := ParseBox(src)
	require.NoError(t, err)
	return box
}

func tableFile(t testing.TB, name string) datafile.Source {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata/table", name))
	require.NoError(t, err)
	return datafile.NewSource(name, data)
}

// A table whose pairs a spreadsheet turned into dates (invented sample).
func TestTableOfDates(t *testing.T) {
	_, _, err := ParseTable(tableFile(t, "own_stock_spreadsheet_dates.csv"), sixBox(t))
	require.ErrorContains(t, err, "two columns of whole numbers, layshaft_teeth (driving) and mainshaft_teeth (driven)")
	for _, want := range []string{`own_stock_spreadsheet_dates.csv:2: "Dec-38"`, `:6: "31-Oct"`, `:7: "05-Apr"`, `:8: "45566"`} {
		require.ErrorContains(t, err, want)
	}
	require.NotContains(t, err.Error(), "17/36")
}

// The other sample: one swapped pair is refused; without it the rest is taken,
// and what is odd about it is said.
func TestTableOfTwoColumns(t *testing.T) {
	src := tableFile(t, "own_stock_two_columns.csv")
	_, _, err := ParseTable(src, sixBox(t))
	require.ErrorContains(t, err, "own_stock_two_columns.csv:6: 34/20 is the pair of line 5 the other way round")
	require.NotContains(t, err.Error(), "\n", "it is the only fault")

	var kept []string
	for line := range strings.Lines(string(src.Data)) {
		if !strings.Contains(line, "swapped") {
			kept = append(kept, line)
		}
	}
	s, notes, err := ParseTable(datafile.NewSource(src.Name, []byte(strings.Join(kept, ""))), sixBox(t))
	require.NoError(t, err)
	all := strings.Join(notes, "\n")
	require.Contains(t, all, "24/30 has count 0 and was left out")
	require.Contains(t, all, "position is taken for the slots in which these gears stand in wren-six")
	require.Nil(t, s.Pair("24/30"))
	require.Equal(t, []string{"shaft-first"}, s.Pair("13/38").Fits)
	require.Equal(t, []string{"wide"}, s.Pair("17/36").Fits, "second stands in a wide slot")
	require.Equal(t, []string{"wide", "narrow"}, s.Pair("20/34").Fits, "third in a wide one, fourth to sixth in narrow ones")
	require.Equal(t, 2, s.Pair("17/36").Count)
	require.Equal(t, 4_100_000.0, s.Pair("22/32").RunM)
	require.Equal(t, "2024-02-11", s.Pair("22/32").Crack.On.String())
	require.Zero(t, s.Pair("17/36").Crack.On)
}

func TestTableRefuses(t *testing.T) {
	const head = "id,layshaft_teeth,mainshaft_teeth,fits,km\n"
	for name, c := range map[string]struct{ data, want string }{
		"no teeth":        {"id,fits\na,wide\n", "column layshaft_teeth is missing"},
		"no slots":        {"layshaft_teeth,mainshaft_teeth\n16,35\n", "column fits"},
		"misspelt":        {"layshaft_teth,mainshaft_teeth,fits\n16,35,wide\n", "did you mean layshaft_teeth?"},
		"named twice":     {"km,run_km,layshaft_teeth,mainshaft_teeth,fits\n1,1,16,35,wide\n", "columns km and run_km say the same thing"},
		"date for teeth":  {head + "a,45566,35,wide,0\n", `x.csv:2: layshaft_teeth: "45566" is a date`},
		"half a tooth":    {head + "a,16.5,35,wide,0\n", `x.csv:2: layshaft_teeth: "16.5" is not a whole number from 8 to 120`},
		"teeth missing":   {head + "a,,35,wide,0\n", "x.csv:2: layshaft_teeth is 0"},
		"no fits":         {head + "a,16,35,,0\n", "x.csv:2: fits is empty"},
		"same id":         {head + "a,16,35,wide,0\na,17,36,wide,0\n", "x.csv:3: id a is that of line 2 too"},
		"swapped":         {"layshaft_teeth,mainshaft_teeth,fits\n16,35,wide\n35,16,wide\n", "x.csv:3: 35/16 is the pair of line 2 the other way round"},
		"id swapped":      {head + "16/35 b,35,16,wide,0\n", `x.csv:2: id "16/35 b" names the teeth the other way round`},
		"id swapped, no.": {head + "16/35#2,35,16,wide,0\n", `x.csv:2: id "16/35#2" names the teeth the other way round`},
		"km in groups":    {"id;layshaft_teeth;mainshaft_teeth;fits;km\na;16;35;wide;1.219\n", `x.csv:2: "1.219" may be a thousand and some`},
		"no place named":  {"layshaft_teeth,mainshaft_teeth\n16,35\n", "kinds of slot of wren-six (shaft-first, wide, narrow)"},
		"negative km":     {head + "a,16,35,wide,-5\n", "x.csv:2: run_km is -5"},
		"date as id":      {head + "Dec-38,16,35,wide,0\n", "looks like a date"},
		"gear not there":  {"layshaft_teeth,mainshaft_teeth,position\n16,35,3-9\n", `x.csv:2: position: "3-9" is not a gear or range of gears of wren-six, which has 6`},
		"day":             {"layshaft_teeth,mainshaft_teeth,fits,crack_test\n16,35,wide,7.3.2026\n", `x.csv:2: crack_tested: "7.3.2026" is not a date`},
		"kind":            {"kind,layshaft_teeth,mainshaft_teeth,fits\ngear,16,35,wide\n", `x.csv:2: kind: "gear" is not known`},
		"formula as id":   {head + "=1+1,16,35,wide,0\n", "begins like a formula"},
		"miles":           {"layshaft_teeth,mainshaft_teeth,fits,run_km\nteeth,teeth,,mi\n16,35,wide,100\n", `run_km: the unit is "mi", but the column is in km`},
		"two faults":      {head + "a,1,35,wide,x\n", "km: \"x\" is not a number"},
		"fitted and both": {"layshaft_teeth,mainshaft_teeth,fits,car\n16,35,wide,1\n", "do not agree: a fitted pair has all three"},
		"mark":            {"layshaft_teeth,mainshaft_teeth,fits,mark\n16,35,wide,16/36\n", `mark "16/36" does not agree`},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := ParseTable(datafile.NewSource("x.csv", []byte(c.data)), sixBox(t))
			require.ErrorContains(t, err, c.want)
		})
	}
}

// A line of units under the names of the columns is read as that.
func TestTableOfUnits(t *testing.T) {
	for _, line := range []string{"[-],[-],,[km]", "z,z,,km", "teeth,teeth,,km"} {
		s, notes, err := ParseTable(datafile.NewSource("x.csv", []byte("layshaft_teeth,mainshaft_teeth,fits,km\n"+line+"\n16,35,wide,100\n")), sixBox(t))
		require.NoError(t, err, line)
		require.Len(t, s.Pairs, 1)
		require.Contains(t, notes, "x.csv:2: read as a line of units")
	}
	_, _, err := ParseTable(datafile.NewSource("x.csv", []byte("layshaft_teeth,mainshaft_teeth,fits,km\nsixteen,35,wide,100\n")), sixBox(t))
	require.ErrorContains(t, err, `"sixteen" is not a number`)
}

// What ParseTable accepts can be written and read again.
func FuzzParseTable(f *testing.F) {
	for _, name := range []string{"own_stock_spreadsheet_dates.csv", "own_stock_two_columns.csv"} {
		f.Add(tableFile(f, name).Data)
	}
	f.Add([]byte("kind;id;layshaft_teeth;mainshaft_teeth;fits;km\npair;a;16;35;wide|narrow;1.180,5\nfinal_drive;12/37;12;37;;\n"))
	box := sixBox(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		s, _, err := ParseTable(datafile.NewSource("x.csv", data), box)
		if err != nil {
			return
		}
		again, _, err := ParseTable(datafile.NewSource("x.csv", s.Table()), box)
		require.NoError(t, err)
		require.Equal(t, s.Pairs, again.Pairs)
		require.Equal(t, s.Finals, again.Finals)
		s.Name = "x"
		if len(s.Pairs) > 0 && len(s.Finals) > 0 {
			_, err := ParseStock(datafile.NewSource("x.toml", s.TOML()))
			require.NoError(t, err)
		}
	})
}
