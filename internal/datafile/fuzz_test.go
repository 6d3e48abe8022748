package datafile_test

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"layshaft/internal/datafile"
)

// FuzzDecode holds what every accepted file keeps: no panic, every number
// finite, no control characters in one-line texts, the same answer twice, and
// for each value that was read a line that exists.
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{
		goodCar,
		"title = \"a\\tb\"\n[car]\nmass_kg = nan\nMass_kg = 2\n",
		"car = {mass_kg = 1, track = '''\nx'''}\npair = [{mark='a'},{mark='b',fits=['c']}]",
		"[[pair]]\n[pair.x]\n[[pair]]\n\"ma\\u0072k\" = \"\"\"\"quoted\"\"\"\"",
		"forks = [[1,[2]],[]]\n[engine]\ntorque_rpm=[1,2_0,0x1F,1e400]",
		"a = [[[[[[[[[[", "x = \"", "[", "\xff\xfe", "= 1", "a.b.c = 1\r\na.b.d = 2",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		src := datafile.NewSource("my.toml", []byte(text))
		var one, two taggedCarFile
		d, err := datafile.Decode(src, &one)
		again, errAgain := datafile.Decode(src, &two)
		if message(d, err) != message(again, errAgain) {
			t.Fatalf("not the same twice:\n%s\n%s", message(d, err), message(again, errAgain))
		}
		if !utf8.ValidString(message(d, err)) {
			t.Fatalf("message is not UTF-8: %q", message(d, err))
		}
		if err != nil || d.Err() != nil {
			return
		}
		if !reflect.DeepEqual(one, two) {
			t.Fatalf("not the same twice: %v %v", one, two)
		}
		lines := 1 + strings.Count(text, "\n")
		walk(t, d, lines, "", reflect.ValueOf(one))
	})
}

func message(d *datafile.Doc, err error) string {
	if err == nil {
		err = d.Err()
	}
	if err == nil {
		return ""
	}
	return err.Error()
}

func walk(t *testing.T, d *datafile.Doc, lines int, key string, v reflect.Value) {
	if key != "" && !v.IsZero() {
		if line := d.Line(key); !d.Has(key) || line < 1 || line > lines {
			t.Fatalf("%s was read, but has line %d of %d", key, line, lines)
		}
	}
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			t.Fatalf("%s: %v was accepted", key, v)
		}
	case reflect.String:
		for _, r := range v.String() {
			if (r < 0x20 && r != '\n' && r != '\t' && r != '\r') || r == 0x7f {
				t.Fatalf("%s: control character %U was accepted", key, r)
			}
		}
	case reflect.Pointer:
		if !v.IsNil() {
			walk(t, d, lines, key, v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(t, d, lines, fmt.Sprintf("%s[%d]", key, i+1), v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			name := v.Type().Field(i).Tag.Get("toml")
			if key != "" {
				name = key + "." + name
			}
			walk(t, d, lines, name, v.Field(i))
		}
	}
}
