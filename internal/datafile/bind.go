package datafile

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"
)

// maxExact is the greatest whole number up to which float64 holds every one.
const maxExact = 1 << 53

// bind fills v with the decoded value and notes what does not fit. The TOML
// library could do this itself, but it matches keys without regard to case,
// picks one of two keys that differ only in case at random, stops at the first
// value of a wrong kind and names Go types in its message.
func (d *Doc) bind(key string, value any, v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		d.bind(key, value, v.Elem())
	case reflect.Struct:
		d.bindStruct(key, value, v)
	case reflect.Slice:
		d.bindSlice(key, value, v)
	case reflect.Float64:
		d.bindNumber(key, value, v)
	case reflect.String:
		d.bindText(key, value, v)
	case reflect.Bool:
		if b, ok := value.(bool); ok {
			v.SetBool(b)
			return
		}
		d.wrongKind(key, value, v.Type())
	default:
		panic("datafile: schema field of an unsupported type: " + v.Type().String())
	}
}

func (d *Doc) bindStruct(key string, value any, v reflect.Value) {
	table, ok := value.(map[string]any)
	if !ok {
		d.wrongKind(key, value, v.Type())
		return
	}
	fields := schemaFields(v.Type())
	for _, name := range slices.Sorted(maps.Keys(table)) {
		if i, ok := fields[name]; ok {
			d.bind(joinKey(key, name), table[name], v.Field(i))
			continue
		}
		d.unknown(key, name, table, slices.Sorted(maps.Keys(fields)))
	}
}

func (d *Doc) bindSlice(key string, value any, v reflect.Value) {
	var items []any
	switch list := value.(type) {
	case []any:
		items = list
	case []map[string]any:
		for _, m := range list {
			items = append(items, m)
		}
	default:
		d.wrongKind(key, value, v.Type())
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(items), len(items)))
	for i, item := range items {
		d.bind(itemKey(key, i+1), item, v.Index(i))
	}
}

func (d *Doc) bindNumber(key string, value any, v reflect.Value) {
	switch n := value.(type) {
	case float64:
		if math.IsNaN(n) || math.IsInf(n, 0) {
			d.Fault(key, "%s is not a number that can be computed with; write a finite number", number(n))
		}
		v.SetFloat(n)
	case int64:
		if n > maxExact || n < -maxExact {
			d.Fault(key, "%d is too large; at most %d can be held exactly", n, int64(maxExact))
		}
		v.SetFloat(float64(n))
	default:
		d.wrongKind(key, value, v.Type())
	}
}

// bindText refuses control characters in one-line texts: there they almost
// always come from the backslashes of a Windows path in double quotes, which
// TOML turns into tabs and line ends without a word.
func (d *Doc) bindText(key string, value any, v reflect.Value) {
	s, ok := value.(string)
	if !ok {
		d.wrongKind(key, value, v.Type())
		return
	}
	v.SetString(s)
	raw, double := d.index.raw[key]
	for _, r := range s {
		control := r < 0x20 || r == 0x7f
		if !control || !double && (r == '\n' || r == '\t' || r == '\r') {
			continue
		}
		if double && strings.Contains(raw, `\`) {
			d.Fault(key, "%s holds a control character, since a backslash in double quotes starts an escape; use single quotes: '%s'",
				raw, raw[1:len(raw)-1])
		} else {
			d.Fault(key, "holds the control character U+%04X; remove it", r)
		}
		return
	}
}

// wrongKind notes a value of the wrong kind in the user's words.
func (d *Doc) wrongKind(key string, value any, want reflect.Type) {
	msg := "wants " + kindWords(want) + ", got " + valueWords(value)
	switch s, isText := value.(string); {
	case isText && want.Kind() == reflect.Float64 && numberText.MatchString(strings.TrimSpace(s)):
		msg += "; write it without quotes and without a unit, with a decimal point"
	case isText && want.Kind() == reflect.Bool && (strings.EqualFold(s, "true") || strings.EqualFold(s, "false")):
		msg += "; write it without quotes"
	case want.Kind() == reflect.String && !isText && !isCollection(value):
		msg += "; put it in quotes"
	case want.Kind() == reflect.Slice && !isCollection(value):
		if want.Elem().Kind() != reflect.Struct {
			msg += "; put it in square brackets"
		} else {
			msg += fmt.Sprintf("; start each one with [[%s]]", key)
		}
	case want.Kind() == reflect.Slice && isTable(value):
		msg += fmt.Sprintf("; start each one with [[%s]], in double brackets", key)
	}
	d.misfit = true
	d.Fault(key, "%s", msg)
}

// numberText is a text that was meant as a number, perhaps with a decimal
// comma or a unit; read-only.
var numberText = regexp.MustCompile(`^[-+]?[0-9][0-9 ._]*(,[0-9]+)?\s*\S{0,6}$`)

// unknown notes a key that the schema does not have; the part of the file below
// it is not looked at.
func (d *Doc) unknown(base, name string, table map[string]any, known []string) {
	key := joinKey(base, name)
	for _, k := range known {
		if !strings.EqualFold(k, name) {
			continue
		}
		if _, both := table[k]; both {
			d.Fault(key, "is the key %q in other letters, which is there too; delete one of the two", k)
		} else {
			d.meant[joinKey(base, k)] = true
			d.Fault(key, "is not a key; keys are case-sensitive: write %q", k)
		}
		return
	}
	what := "key"
	if isTable(table[name]) || isTables(table[name]) {
		what = "table"
	}
	var free []string // a key that is written already cannot be the one meant
	for _, k := range known {
		if _, there := table[k]; !there {
			free = append(free, k)
		}
	}
	if near, ok := Nearest(name, free); ok {
		d.meant[joinKey(base, near)] = true
		d.Fault(key, "is not a known %s; did you mean %q?", what, near)
		return
	}
	d.Fault(key, "is not a known %s; known here: %s", what, strings.Join(known, ", "))
}

// schemaFields maps toml names to field numbers.
func schemaFields(t reflect.Type) map[string]int {
	fields := make(map[string]int, t.NumField())
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		switch {
		case !f.IsExported() || name == "-":
		case name == "":
			panic("datafile: schema field without a toml tag: " + t.String() + "." + f.Name)
		default:
			fields[name] = i
		}
	}
	return fields
}

// wanted describes the value that a key takes, "" if the schema has no such key.
func wanted(schema reflect.Type, key string) string {
	t := schema
	for _, part := range strings.Split(key, ".") {
		name, rest, _ := strings.Cut(part, "[")
		for t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return ""
		}
		i, ok := schemaFields(t)[name]
		if !ok {
			return ""
		}
		t = t.Field(i).Type
		for range strings.Count(rest, "]") {
			if t.Kind() != reflect.Slice {
				return ""
			}
			t = t.Elem()
		}
	}
	return kindWords(t)
}

func kindWords(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Pointer:
		return kindWords(t.Elem())
	case reflect.Float64:
		return "a number"
	case reflect.String:
		return "a text in quotes"
	case reflect.Bool:
		return "true or false"
	case reflect.Struct:
		return "a table"
	case reflect.Slice:
		switch t.Elem().Kind() {
		case reflect.Float64:
			return "a list of numbers"
		case reflect.String:
			return "a list of texts"
		case reflect.Struct:
			return "an array of tables"
		}
		return "a list of lists"
	}
	return "another kind of value"
}

func valueWords(value any) string {
	switch v := value.(type) {
	case string:
		return fmt.Sprintf("a text (%s)", short(v))
	case bool:
		return fmt.Sprintf("%v", v)
	case int64:
		return fmt.Sprintf("the number %d", v)
	case float64:
		return "the number " + number(v)
	case time.Time:
		return "a date or a time of day"
	case map[string]any:
		return "a table"
	case []map[string]any:
		return "an array of tables"
	case []any:
		return fmt.Sprintf("a list of %d", len(v))
	}
	return "another kind of value"
}

func isTable(v any) bool  { _, ok := v.(map[string]any); return ok }
func isTables(v any) bool { _, ok := v.([]map[string]any); return ok }
func isCollection(v any) bool {
	_, list := v.([]any)
	return list || isTable(v) || isTables(v)
}

// short quotes a text and cuts a long one.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return fmt.Sprintf("%q", string(r[:40])+"…")
	}
	return fmt.Sprintf("%q", s)
}
