package cli

import (
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each flag type: what it takes, how it reads back, what it refuses and the
// remedy in the message.
func TestFlagTypes(t *testing.T) {
	num := func() pflag.Value { return &number{lo: -40, hi: 60, unit: "°C"} }
	whole := func() pflag.Value { return &number{lo: 1, hi: 8, whole: true} }
	word := func() pflag.Value { return &choice{words: []string{"text", "json"}, later: []string{"pdf"}} }
	list := func() pflag.Value { return &gears{} }
	time := func() pflag.Value { return &span{} }
	date := func() pflag.Value { return &day{} }
	pairs := func() pflag.Value { return &pairList{} }
	where := func() pflag.Value { return &placeList{} }
	for name, k := range map[string]struct {
		make func() pflag.Value
		in   string
		want string // as it reads back; "" = refused
		why  string // part of the refusal
	}{
		"number":            {num, "25.5", "25.5", ""},
		"negative number":   {num, "-7", "-7", ""},
		"exponent":          {num, "1e1", "10", ""},
		"lowest":            {num, "-40", "-40", ""},
		"zero":              {num, "0", "0", ""},
		"not a number":      {num, "warm", "", `"warm" is not a number: give a number from -40 to 60 °C`},
		"empty number":      {num, "", "", "is not a number"},
		"with unit":         {num, "25C", "", "is not a number"},
		"decimal comma":     {num, "25,5", "", "write the decimal sign as a point: 25.5"},
		"NaN":               {num, "NaN", "", "is not a plain number"},
		"infinite":          {num, "Inf", "", "is not a plain number"},
		"overflow":          {num, "1e999", "", "out of range"},
		"hexadecimal":       {num, "0x1p3", "", "is not a plain number"},
		"too high":          {num, "60.1", "", "60.1 is out of range: give a number from -40 to 60 °C"},
		"whole":             {whole, "3", "3", ""},
		"not whole":         {whole, "3.5", "", "3.5 is not a whole number: give a whole number from 1 to 8"},
		"word":              {word, "json", "json", ""},
		"misspelt word":     {word, "jsno", "", "did you mean json?"},
		"wrong case":        {word, "JSON", "", "did you mean json?"},
		"later word":        {word, "pdf", "", "not available yet: choose text or json"},
		"foreign word":      {word, "xyzzy", "", "known are text, json"},
		"gears":             {list, "1, 2", "1,2", ""},
		"gear twice":        {list, "6,6", "", "gear 6 stands twice"},
		"gear zero":         {list, "0", "", "gear 0 does not exist"},
		"gear nine":         {list, "9", "", "gear 9 does not exist"},
		"no gear":           {list, "six", "", "is not a list of gears: write 6, or 1,2"},
		"time":              {time, "90s", "1m30s", ""},
		"time, no unit":     {time, "90", "", "such as 30s or 2m"},
		"time, negative":    {time, "-3s", "", "out of range"},
		"date":              {date, "2026-02-28", "2026-02-28", ""},
		"no such date":      {date, "2026-02-30", "", "write year-month-day"},
		"date, other form":  {date, "28.2.2026", "", "write year-month-day"},
		"set":               {pairs, "13/36, 16/35", "13/36,16/35", ""},
		"places":            {where, "T5, after T5,Long Harrow", "T5,after T5,Long Harrow", ""},
		"place with a hole": {where, "T5,,T6", "", "has an empty place in it"},
		"place twice":       {where, "T5,T5", "", "T5 stands twice"},
		"everywhere and":    {where, "T5,everywhere", "", "everywhere says it all: write it alone"},
		"set with a hole":   {pairs, "13/36,,16/35", "", "place 2 of"},
		"set of nine":       {pairs, "1,2,3,4,5,6,7,8,9", "", "more than the 8 gears"},
	} {
		t.Run(name, func(t *testing.T) {
			v := k.make()
			err := v.Set(k.in)
			if k.why != "" {
				require.ErrorContains(t, err, k.why)
				assert.NotContains(t, err.Error(), "strconv")
				assert.NotContains(t, err.Error(), "parsing")
				return
			}
			require.NoError(t, err)
			assert.Equal(t, k.want, v.String())
		})
	}
}

// Absent and zero differ, and a refused value changes nothing.
func TestNumberRemembersWhetherItWasGiven(t *testing.T) {
	n := number{lo: 0, hi: 10}
	assert.Nil(t, n.pointer())
	require.Error(t, n.Set("11"))
	assert.Nil(t, n.pointer())
	require.NoError(t, n.Set("0"))
	require.NotNil(t, n.pointer())
	assert.Zero(t, *n.pointer())
}

func TestDistance(t *testing.T) {
	// kitten to sitting in three steps: the usual textbook example of the
	// edit distance.
	assert.Equal(t, 3, distance("kitten", "sitting"))
	assert.Equal(t, 0, distance("SHEET", "sheet"))
	assert.Equal(t, 4, distance("", "abcd"))
	assert.Equal(t, 4, distance("abcd", ""))
}

func TestBoxPath(t *testing.T) {
	for name, k := range map[string]struct {
		ref, car string
		embedded bool
		want     string
	}{
		"embedded name":               {"wren-six", "wren", true, "wren-six"},
		"name in a user's file":       {"wren-six", "team/car.toml", false, "wren-six"},
		"beside the car":              {"box.toml", "team/car.toml", false, "team/box.toml"},
		"beside a car in this folder": {"box.toml", "car.toml", false, "./box.toml"},
		"absolute":                    {"/srv/box.toml", "team/car.toml", false, "/srv/box.toml"},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, k.want, boxPath(k.ref, k.car, k.embedded)) })
	}
}
