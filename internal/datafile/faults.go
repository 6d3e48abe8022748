package datafile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing that is wrong with a file.
type Fault struct {
	File    string // base name
	Line    int    // from 1; 0 = the file as a whole
	Key     string // "pair[3].mark"; "" = the file as a whole
	Message string // value, what was wanted, remedy
}

// String is the form shown to people: "file:line: key: message".
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
	}
	b.WriteString(": ")
	if f.Key != "" {
		b.WriteString(f.Key + ": ")
	}
	b.WriteString(f.Message)
	return b.String()
}

// FaultsError lists every fault of a file, in file order; faults that belong to
// no line come last.
type FaultsError struct {
	Faults []Fault // never empty
}

// Error puts each fault on its own line.
func (e *FaultsError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		lines[i] = f.String()
	}
	return strings.Join(lines, "\n")
}

func newFaultsError(faults []Fault) *FaultsError {
	sorted := slices.Clone(faults)
	slices.SortStableFunc(sorted, func(a, b Fault) int {
		if (a.Line == 0) != (b.Line == 0) {
			return cmp.Compare(b.Line, a.Line)
		}
		return cmp.Compare(a.Line, b.Line)
	})
	return &FaultsError{Faults: sorted}
}
