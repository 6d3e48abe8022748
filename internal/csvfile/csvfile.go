package csvfile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// Table is a file of columns.
type Table struct {
	Name    string   // of the file, as shown to people
	Columns []string // names from the first line
	Rows    []Row
	Notes   []string // what was assumed, in words

	separator    rune
	decimalComma bool
}

// Row is one line of the table.
type Row struct {
	Line  int // in the file, from 1
	cells map[string]string
}

// Text is the cell of the column; "" when the table has no such column, when the
// cell is empty, or says that there is no value (N/A, a dash).
func (r *Row) Text(column string) string {
	v := r.cells[column]
	switch strings.ToLower(v) {
	case "n/a", "na", "-", "–", "#n/a", "null":
		return ""
	}
	return v
}

// Has tells whether the table has the column.
func (t *Table) Has(column string) bool { return slices.Contains(t.Columns, column) }

// separators are looked for in this order; the first of those that occur most
// often counts. Read-only.
var separators = [...]rune{',', ';', '\t'}

// Read takes the bytes of a table apart. The error names the file, the line and
// what to do.
func Read(name string, data []byte) (*Table, error) {
	t := &Table{Name: name}
	text, err := t.decode(data)
	if err != nil {
		return nil, err
	}
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if i := strings.IndexFunc(text, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' }); i >= 0 {
		return nil, fmt.Errorf("%s:%d: holds a control character: it is not a table in text form; save the spreadsheet as CSV", name, 1+strings.Count(text[:i], "\n"))
	}
	if strings.TrimSpace(text) == "" {
		return nil, fmt.Errorf("%s: is empty; write a line with the names of the columns first", name)
	}
	t.separator = findSeparator(text)
	records, lines, err := t.records(text)
	if err != nil {
		return nil, err
	}
	if err := t.header(records[0], lines[0]); err != nil {
		return nil, err
	}
	var faults []error
	for i, cells := range records[1:] {
		row, err := t.row(cells, lines[i+1])
		if err != nil {
			faults = append(faults, err)
			continue
		}
		if row != nil {
			t.Rows = append(t.Rows, *row)
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	if len(t.Rows) == 0 {
		return nil, fmt.Errorf("%s: has a first line and no other", name)
	}
	return t, t.findDecimal()
}

// decode turns the bytes into text.
func (t *Table) decode(data []byte) (string, error) {
	switch {
	case bytes.HasPrefix(data, []byte{0xEF, 0xBB, 0xBF}):
		data = data[3:]
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}), bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		out, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(data)
		if err != nil {
			return "", fmt.Errorf("%s: begins like UTF-16 and is not: save it as CSV in UTF-8", t.Name)
		}
		t.Notes = append(t.Notes, "read as UTF-16")
		return string(out), nil
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", fmt.Errorf("%s: is neither UTF-8 nor Windows-1252: save it as CSV in UTF-8", t.Name)
	}
	t.Notes = append(t.Notes, "read as Windows-1252, since it is not UTF-8")
	return string(out), nil
}

func findSeparator(text string) rune {
	first := ""
	for line := range strings.Lines(text) {
		if first = strings.TrimSpace(line); first != "" {
			break
		}
	}
	best, most := separators[0], 0
	for _, s := range separators {
		if n := strings.Count(first, string(s)); n > most {
			best, most = s, n
		}
	}
	return best
}

// records takes the lines apart, at least one; blank lines are passed over.
func (t *Table) records(text string) (records [][]string, lines []int, err error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace = t.separator, -1, t.separator != '\t'
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var fault *csv.ParseError
		if errors.As(err, &fault) {
			return nil, nil, fmt.Errorf("%s:%d: quotes are not closed, or stand inside a cell: write a quote inside quotes twice", t.Name, fault.StartLine)
		}
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", t.Name, err)
		}
		line, _ := r.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if slices.ContainsFunc(cells, func(c string) bool { return c != "" }) {
			records, lines = append(records, cells), append(lines, line)
		}
	}
	if len(records) == 0 {
		return nil, nil, fmt.Errorf("%s: has no line with anything in it", t.Name)
	}
	return records, lines, nil
}

func (t *Table) header(cells []string, line int) error {
	if n := len(cells); n > 1 && cells[n-1] == "" {
		cells = cells[:n-1]
	}
	for i, c := range cells {
		name := strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(c))
		switch {
		case name == "":
			return fmt.Errorf("%s:%d: column %d has no name", t.Name, line, i+1)
		case slices.Contains(t.Columns, name):
			return fmt.Errorf("%s:%d: column %s stands there twice", t.Name, line, name)
		}
		t.Columns = append(t.Columns, name)
	}
	if !slices.ContainsFunc(t.Columns, func(c string) bool { return strings.Trim(c, "0123456789.,+_e") != "" }) {
		return fmt.Errorf("%s:%d: the first line holds numbers, not the names of the columns: write them above", t.Name, line)
	}
	return nil
}

// row checks the number of cells: one empty cell too many is the blank column
// that some programs add, more than the header has is not.
func (t *Table) row(cells []string, line int) (*Row, error) {
	n := len(t.Columns)
	if len(cells) == n+1 && cells[n] == "" {
		cells = cells[:n]
	}
	if len(cells) != n {
		hint := "give every line as many cells as the first one"
		switch {
		case n == 1:
			hint = "is the first line a title? Delete the lines above the names of the columns"
		case t.separator == ',' && len(cells) > n:
			hint = "is the comma the decimal sign as well? Save the table with semicolons, or write decimal points"
		}
		return nil, fmt.Errorf("%s:%d: has %d cells, the first line names %d columns: %s", t.Name, line, len(cells), n, hint)
	}
	row := &Row{Line: line, cells: map[string]string{}}
	for i, c := range cells {
		row.cells[t.Columns[i]] = c
	}
	return row, nil
}

// Shapes of numbers; thousands is by whether the decimal sign is a comma.
// Read-only.
var (
	commaNumber     = regexp.MustCompile(`^[+-]?\d+,(\d+)$`)
	groupsThenComma = regexp.MustCompile(`^[+-]?\d{1,3}(\.\d{3})+,\d+$`)
	pointNumber     = regexp.MustCompile(`^[+-]?\d+\.\d+$`)
	pointGroups     = regexp.MustCompile(`^[+-]?[1-9]\d{0,2}(\.\d{3})+$`)
	thousands       = map[bool]*regexp.Regexp{
		true:  regexp.MustCompile(`^[+-]?\d{1,3}(\.\d{3})+(,\d+)?$`),
		false: regexp.MustCompile(`^[+-]?\d{1,3}(,\d{3})+(\.\d+)?$`),
	}
)

// findDecimal decides on the decimal sign. Where the comma separates cells it is
// the point. Else a cell such as 3,5 or 12,25 shows a comma, and 3.5 a point; 1,180
// or 1.180 alone shows nothing and is refused, unless another cell decides.
func (t *Table) findDecimal() error {
	if t.separator == ',' {
		return nil
	}
	var comma, open, point *Row
	openText := ""
	undecided := func(r *Row, v string) {
		if open == nil {
			open, openText = r, v
		}
	}
	for i := range t.Rows {
		for _, c := range t.Columns {
			v := withoutBlanks(t.Rows[i].cells[c])
			switch m := commaNumber.FindStringSubmatch(v); {
			case m != nil && len(m[1]) != 3, groupsThenComma.MatchString(v):
				comma = &t.Rows[i]
			case m != nil:
				undecided(&t.Rows[i], v)
			case pointGroups.MatchString(v):
				undecided(&t.Rows[i], v)
			case pointNumber.MatchString(v):
				point = &t.Rows[i]
			}
		}
	}
	switch {
	case comma != nil:
		t.decimalComma = true
		t.Notes = append(t.Notes, "the comma is read as the decimal sign")
	case open != nil && point == nil:
		sign := "comma"
		if !strings.Contains(openText, ",") {
			sign = "point"
		}
		return fmt.Errorf("%s:%d: %q may be a thousand and some, or a decimal number: write it without the %s, or with two decimals", t.Name, open.Line, openText, sign)
	}
	return nil
}

// withoutBlanks takes blanks and apostrophes out, which stand between groups of
// digits.
func withoutBlanks(s string) string {
	return strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "", "'", "", "’", "").Replace(s)
}

// Number reads the cell of the column. given is false when there is none. The
// decimal sign is the table's; blanks and apostrophes between digits, and the
// other sign before groups of three, are thousands separators. The error names
// file, line and column.
func (t *Table) Number(r *Row, column string) (v float64, given bool, err error) {
	text := r.Text(column)
	if text == "" {
		return 0, false, nil
	}
	s := withoutBlanks(text)
	if thousands[t.decimalComma].MatchString(s) {
		sign := ","
		if t.decimalComma {
			sign = "."
		}
		s = strings.ReplaceAll(s, sign, "")
	}
	if t.decimalComma {
		if pointNumber.MatchString(s) {
			return 0, true, fmt.Errorf("%s:%d: %s: %q has a decimal point in a table with decimal commas", t.Name, r.Line, column, text)
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	v, e := strconv.ParseFloat(s, 64)
	if e != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(s, "xXpP_") {
		return 0, true, fmt.Errorf("%s:%d: %s: %q is not a number", t.Name, r.Line, column, text)
	}
	return v, true, nil
}

// Whole reads a whole number from lo to hi.
func (t *Table) Whole(r *Row, column string, lo, hi int) (n int, given bool, err error) {
	v, given, err := t.Number(r, column)
	if err != nil || !given {
		return 0, given, err
	}
	if v != math.Trunc(v) || v < float64(lo) || v > float64(hi) {
		return 0, true, fmt.Errorf("%s:%d: %s: %q is not a whole number from %d to %d", t.Name, r.Line, column, r.Text(column), lo, hi)
	}
	return int(v), true, nil
}
