package datafile

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/BurntSushi/toml"
)

// Doc is a decoded file that knows the line of each key and collects faults.
// It is not safe for concurrent use.
type Doc struct {
	source Source
	schema reflect.Type
	index  *index
	faults []Fault
	faulty map[string]bool // keys that have a fault already
	meant  map[string]bool // keys that a misspelt one was meant to be
	misfit bool            // a value of the wrong kind was found
}

// Decode decodes TOML strictly into schema, a pointer to a struct as described
// in the package comment. Syntax errors, a wrong text encoding and values of
// the wrong kind return an error and no Doc; the wrong kinds come as a
// *FaultsError with every other fault found so far. Unknown keys, keys in the
// wrong case, NaN, Inf and control characters become faults in the Doc, which
// Err returns after the loader has added its own.
//
// It panics if schema is not a pointer to a struct of supported fields.
func Decode(src Source, schema any) (*Doc, error) {
	v := reflect.ValueOf(schema)
	if v.Kind() != reflect.Pointer || v.IsNil() || v.Elem().Kind() != reflect.Struct {
		panic("datafile: schema is not a pointer to a struct")
	}
	text, err := plainText(src)
	if err != nil {
		return nil, err
	}
	if line, deep := tooDeep(text); deep {
		return nil, &SyntaxError{File: src.Name, Line: line,
			Message: fmt.Sprintf("brackets are nested more than %d deep; is this the right file?", maxDepth)}
	}
	tree := map[string]any{}
	if _, err := toml.Decode(text, &tree); err != nil {
		return nil, syntaxError(src.Name, text, err)
	}
	d := &Doc{
		source: src,
		schema: v.Elem().Type(),
		index:  newIndex(text),
		faulty: map[string]bool{},
		meant:  map[string]bool{},
	}
	d.bind("", tree, v.Elem())
	if d.misfit {
		return nil, d.Err()
	}
	return d, nil
}

// maxDepth is far beyond any schema; the TOML decoder recurses on brackets.
const maxDepth = 50

// tooDeep looks for deeply nested brackets outside comments and quotes, before
// the decoder sees them. On faulty text it may misjudge, which the decoder
// then reports as a syntax error.
func tooDeep(text string) (line int, deep bool) {
	s := &scanner{text: text, line: 1}
	depth := 0
	for !s.end() {
		switch s.peek() {
		case '#':
			s.toLineEnd()
		case '"', '\'':
			s.quoted() // an unclosed one ends at the line end
		case '[', '{':
			if depth++; depth > maxDepth {
				return s.line, true
			}
			s.next()
		case ']', '}':
			depth = max(0, depth-1)
			s.next()
		default:
			s.next()
		}
	}
	return 0, false
}

// Source returns the file that was decoded.
func (d *Doc) Source() Source { return d.source }

// Has tells whether the key was written: "engine.inertia_kgm2",
// "pair[3].mark", "pair" or "engine" itself.
func (d *Doc) Has(key string) bool {
	_, ok := d.index.lines[key]
	return ok
}

// Line returns the line on which the key was written, else that of the nearest
// table around it, else 0.
func (d *Doc) Line(key string) int {
	for key != "" {
		if line, ok := d.index.lines[key]; ok {
			return line
		}
		key = parent(key)
	}
	return 0
}

// parent cuts the last element or part off a key.
func parent(key string) string {
	if strings.HasSuffix(key, "]") {
		if i := strings.LastIndexByte(key, '['); i >= 0 {
			return key[:i]
		}
	}
	if i := strings.LastIndexByte(key, '.'); i >= 0 {
		return key[:i]
	}
	return ""
}

// Fault reports "file:line: key: message". A key that has a fault already gets
// no second one, nor does a key inside a value that has one. The key "" stands
// for the file as a whole and may have any number.
func (d *Doc) Fault(key, format string, args ...any) {
	if d.spoilt(key) {
		return
	}
	if key != "" {
		d.faulty[key] = true
	}
	d.faults = append(d.faults, Fault{
		File: d.source.Name, Line: d.Line(key), Key: key, Message: fmt.Sprintf(format, args...),
	})
}

// spoilt tells whether the key, or something around it, has a fault already.
func (d *Doc) spoilt(key string) bool {
	for ; key != ""; key = parent(key) {
		if d.faulty[key] {
			return true
		}
	}
	return false
}

// Err returns nil, or a *FaultsError that lists every fault in file order.
func (d *Doc) Err() error {
	if len(d.faults) == 0 {
		return nil
	}
	return newFaultsError(d.faults)
}
