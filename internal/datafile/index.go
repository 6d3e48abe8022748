package datafile

import (
	"regexp"
	"strconv"
	"strings"
)

// index knows on which line each key of a TOML text was written. The TOML
// library tells lines only for syntax errors, so this scanner walks the text a
// second time. It is meant for text that the library has accepted: on anything
// else it stops early and knows fewer lines, but neither panics nor hangs.
type index struct {
	lines map[string]int    // "pair[3].mark" -> line, from 1; tables and list elements too
	raw   map[string]string // text values in one-line double quotes, as written
}

func newIndex(text string) *index {
	x := &index{lines: map[string]int{}, raw: map[string]string{}}
	s := &scanner{text: text, line: 1, index: x, arrays: map[string]int{}}
	s.file()
	return x
}

// note records the line of a key and of the tables that it implies; the first
// mention counts.
func (x *index) note(base string, parts []string, line int) string {
	key := base
	for _, p := range parts {
		key = joinKey(key, p)
		if _, ok := x.lines[key]; !ok {
			x.lines[key] = line
		}
	}
	return key
}

// joinKey appends one part to a dotted key, quoting it where TOML would have to.
func joinKey(base, part string) string {
	if !bareKey.MatchString(part) {
		part = strconv.Quote(part)
	}
	if base == "" {
		return part
	}
	return base + "." + part
}

// bareKey is what TOML lets stand without quotes; read-only.
var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

func itemKey(base string, i int) string { return base + "[" + strconv.Itoa(i) + "]" }

type scanner struct {
	text   string
	pos    int
	line   int
	index  *index
	arrays map[string]int // arrays of tables: how many so far
}

func (s *scanner) end() bool { return s.pos >= len(s.text) }

func (s *scanner) peek() byte {
	if s.end() {
		return 0
	}
	return s.text[s.pos]
}

func (s *scanner) next() {
	if s.peek() == '\n' {
		s.line++
	}
	s.pos++
}

// blank skips spaces; with lines also line ends and comments.
func (s *scanner) blank(lines bool) {
	for !s.end() {
		switch c := s.peek(); {
		case c == ' ' || c == '\t' || c == '\r':
			s.next()
		case c == '\n' && lines:
			s.next()
		case c == '#' && lines:
			s.toLineEnd()
		default:
			return
		}
	}
}

func (s *scanner) toLineEnd() {
	for !s.end() && s.peek() != '\n' {
		s.pos++
	}
}

func (s *scanner) file() {
	table := ""
	for {
		s.blank(true)
		if s.end() {
			return
		}
		if s.peek() == '[' {
			var ok bool
			if table, ok = s.header(); !ok {
				return
			}
			continue
		}
		if !s.keyValue(table) {
			return
		}
	}
}

// header reads [a.b] or [[a.b]] and returns the key of the table that it opens.
func (s *scanner) header() (string, bool) {
	line := s.line
	s.next()
	array := s.peek() == '['
	if array {
		s.next()
	}
	parts, ok := s.key()
	if !ok || s.peek() != ']' {
		return "", false
	}
	key := ""
	for i, p := range parts {
		key = s.index.note(key, []string{p}, line)
		last := i == len(parts)-1
		if array && last {
			s.arrays[key]++
		}
		if n := s.arrays[key]; n > 0 {
			key = itemKey(key, n)
			if array && last {
				s.index.lines[key] = line
			}
		}
	}
	// A table may be opened after its parts were; the header is the better place
	// to point at.
	s.index.lines[key] = line
	s.toLineEnd()
	return key, true
}

func (s *scanner) keyValue(table string) bool {
	line := s.line
	parts, ok := s.key()
	if !ok || s.peek() != '=' {
		return false
	}
	s.next()
	return s.value(s.index.note(table, parts, line))
}

// key reads a dotted key and the space behind it.
func (s *scanner) key() ([]string, bool) {
	var parts []string
	for {
		s.blank(false)
		part, ok := s.keyPart()
		if !ok {
			return nil, false
		}
		parts = append(parts, part)
		s.blank(false)
		if s.peek() != '.' {
			return parts, true
		}
		s.next()
	}
}

func (s *scanner) keyPart() (string, bool) {
	if c := s.peek(); c == '"' || c == '\'' {
		raw, ok := s.quoted()
		if !ok {
			return "", false
		}
		if word, err := strconv.Unquote(raw); c == '"' && err == nil {
			return word, true
		}
		return raw[1 : len(raw)-1], true
	}
	start := s.pos
	for !s.end() && bareKey.MatchString(s.text[s.pos:s.pos+1]) {
		s.pos++
	}
	return s.text[start:s.pos], s.pos > start
}

// quoted reads a text in any of TOML's four kinds of quotes and returns it as
// written.
func (s *scanner) quoted() (string, bool) {
	start, q := s.pos, s.text[s.pos:s.pos+1]
	closing := q
	if long := strings.Repeat(q, 3); strings.HasPrefix(s.text[s.pos:], long) {
		closing = long
	}
	s.pos += len(closing)
	for !s.end() {
		switch {
		case q == `"` && s.peek() == '\\':
			s.next()
			s.next()
		case strings.HasPrefix(s.text[s.pos:], closing):
			s.pos += len(closing)
			// Up to two more quotes may belong to the text of a long string.
			for len(closing) == 3 && s.peek() == q[0] {
				s.pos++
			}
			return s.text[start:s.pos], true
		case len(closing) == 1 && s.peek() == '\n':
			return "", false
		default:
			s.next()
		}
	}
	return "", false
}

func (s *scanner) value(key string) bool {
	s.blank(true)
	switch s.peek() {
	case '"', '\'':
		raw, ok := s.quoted()
		if ok && raw[0] == '"' && !strings.HasPrefix(raw, `"""`) {
			s.index.raw[key] = raw
		}
		return ok
	case '[':
		return s.list(key)
	case '{':
		return s.inline(key)
	}
	start := s.pos
	for !s.end() && !strings.ContainsRune(",]}#\n", rune(s.peek())) {
		s.pos++
	}
	return s.pos > start
}

func (s *scanner) list(key string) bool {
	s.next()
	for i := 1; ; i++ {
		s.blank(true)
		if s.peek() == ']' {
			s.next()
			return true
		}
		item := itemKey(key, i)
		s.index.lines[item] = s.line
		if !s.value(item) || !s.comma(']') {
			return false
		}
	}
}

func (s *scanner) inline(key string) bool {
	s.next()
	for {
		s.blank(true)
		if s.peek() == '}' {
			s.next()
			return true
		}
		if !s.keyValue(key) || !s.comma('}') {
			return false
		}
	}
}

// comma passes a comma, or stands before the closing bracket.
func (s *scanner) comma(closing byte) bool {
	s.blank(true)
	switch s.peek() {
	case ',':
		s.next()
		return true
	case closing:
		return true
	}
	return false
}
