package sheet

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Column is one fact that every item of a listing may have.
type Column struct {
	Key      string // JSON key, ending in its unit
	Head     string // heading in the text, broken at "|"; "" = the fact stands in the JSON only
	Decimals int    // of float64 values in the text; JSON has them as handed over
}

// KmLeft are kilometres that a pair may still run, rounded down in the text.
type KmLeft float64

// Item is one line of a listing.
type Item struct {
	Name  string
	Facts []any // one for each column: string, bool, int, float64, KmLeft, []string, []int, or nil for no value
}

// Listing is a list of named things: tracks, cars, stocks, pairs, or the ratio
// chart of a stock. It is handed over as it is; there is nothing to build.
type Listing struct {
	Title    string // first line of the text
	NameHead string // heading of the names; "" = "name"
	Columns  []Column
	Items    []Item
	Notes    []string // sentences under the table
	Warnings []string
	Inputs   []InputFile
}

// Check holds every item against the columns and refuses NaN.
func (l *Listing) Check() error {
	c := &sums{}
	finite := func(i int, it *Item, k int, v float64) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			c.fault("item %d (%s): %s is %g", i+1, it.Name, l.Columns[k].Key, v)
		}
	}
	for i, it := range l.Items {
		if len(it.Facts) != len(l.Columns) {
			c.fault("item %d (%s): %d facts for %d columns", i+1, it.Name, len(it.Facts), len(l.Columns))
			continue
		}
		for k, f := range it.Facts {
			switch v := f.(type) {
			case nil, string, bool, int, []string, []int:
			case float64:
				finite(i, &it, k, v)
			case KmLeft:
				finite(i, &it, k, float64(v))
			default:
				c.fault("item %d (%s): %s is a %T, which a listing does not show", i+1, it.Name, l.Columns[k].Key, f)
			}
		}
	}
	return c.err()
}

// JSON writes one object with items[], each with name and its facts in column
// order.
func (l *Listing) JSON(w io.Writer) error {
	if err := l.Check(); err != nil {
		return err
	}
	items := []json.RawMessage{}
	for _, it := range l.Items {
		raw, err := l.object(it)
		if err != nil {
			return err
		}
		items = append(items, raw)
	}
	notes := l.Notes
	if notes == nil {
		notes = []string{}
	}
	return writeJSON(w, struct {
		Schema   int               `json:"schema_version"`
		Title    string            `json:"title"`
		Items    []json.RawMessage `json:"items"`
		Notes    []string          `json:"notes"`
		Inputs   []InputRef        `json:"inputs"`
		Warnings []string          `json:"warnings"`
	}{SchemaVersion, l.Title, items, notes, inputRefs(l.Inputs), unique(l.Warnings)})
}

// object writes an item by hand, since a Go map would lose the order.
func (l *Listing) object(it Item) (json.RawMessage, error) {
	var b bytes.Buffer
	put := func(key string, v any) error {
		sep := ","
		if b.Len() == 0 {
			sep = "{"
		}
		k, err := json.Marshal(key)
		if err != nil {
			return err
		}
		raw, err := json.Marshal(v)
		if err != nil {
			return err
		}
		b.WriteString(sep)
		b.Write(k)
		b.WriteByte(':')
		b.Write(raw)
		return nil
	}
	err := put("name", it.Name)
	for i, c := range l.Columns {
		err = errors.Join(err, put(c.Key, it.Facts[i]))
	}
	b.WriteByte('}')
	return b.Bytes(), err
}

// Text writes the list as a table for an 80-column terminal: numbers flush
// right, words may wrap. Values are in the units of their columns; opt changes
// nothing but is checked.
func (l *Listing) Text(w io.Writer, opt TextOptions) error {
	_, err := opt.display()
	if err = errors.Join(err, l.Check()); err != nil {
		return err
	}
	p := &page{}
	p.head(l.Title, "")
	name := l.NameHead
	if name == "" {
		name = "name"
	}
	cols := []column{{head: name, flex: true}}
	var shown []int
	for k, c := range l.Columns {
		if c.Head == "" {
			continue
		}
		shown = append(shown, k)
		numbers := l.numbers(k)
		cols = append(cols, column{head: c.Head, right: numbers, flex: !numbers})
	}
	var rows [][]string
	for _, it := range l.Items {
		row := []string{it.Name}
		for _, k := range shown {
			row = append(row, cell(it.Facts[k], l.Columns[k].Decimals))
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		p.line("Nothing to list.")
	} else {
		p.table(cols, rows)
	}
	if len(l.Notes) > 0 {
		p.blank()
		for _, n := range l.Notes {
			p.para(n)
		}
	}
	textWarnings(p, unique(l.Warnings))
	textInputs(p, inputRefs(l.Inputs))
	return p.flush(w)
}

// numbers reports whether a column holds numbers only.
func (l *Listing) numbers(k int) bool {
	some := false
	for _, it := range l.Items {
		switch it.Facts[k].(type) {
		case nil:
		case int, float64, KmLeft:
			some = true
		default:
			return false
		}
	}
	return some
}

func cell(v any, decimals int) string {
	switch v := v.(type) {
	case nil:
		return none
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case int:
		return strconv.Itoa(v)
	case float64:
		return fixed(v, decimals)
	case KmLeft:
		return fixed(floorTo(float64(v), decimals), decimals)
	case []string:
		return orNone(strings.Join(v, ", "))
	case []int:
		return gearList(v)
	}
	return orNone(fmt.Sprint(v))
}
