package datafile

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"
)

// SyntaxError says where a text stops being TOML.
type SyntaxError struct {
	File    string // base name
	Line    int    // from 1; 0 = the file as a whole
	Column  int    // in characters, from 1; 0 = not known
	Message string
	Text    string // the line itself, "" = not shown
	Hint    string // what to do, "" = nothing to add
}

// Error shows the place, the line with a caret below it, and the remedy.
func (e *SyntaxError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
	}
	if e.Column > 0 {
		fmt.Fprintf(&b, ":%d", e.Column)
	}
	b.WriteString(": " + e.Message)
	if e.Text != "" {
		fmt.Fprintf(&b, "\n%6d | %s", e.Line, strings.ReplaceAll(e.Text, "\t", " "))
		if e.Column > 0 {
			b.WriteString("\n       | " + strings.Repeat(" ", e.Column-1) + "^")
		}
	}
	if e.Hint != "" {
		b.WriteString("\n  " + e.Hint)
	}
	return b.String()
}

// plainText returns the text of a source without a byte order mark, or says
// which encoding to use.
func plainText(src Source) (string, error) {
	data := src.Data
	whole := func(line int, msg string) error {
		return &SyntaxError{File: src.Name, Line: line, Message: msg}
	}
	if len(data) > MaxBytes {
		return "", whole(0, "is larger than 1 MB, which no input file needs; is it the right file?")
	}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return "", whole(0, "is saved as UTF-16; save it as UTF-8 (in the editor's dialogue \"Save as\", encoding UTF-8)")
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return "", whole(1+bytes.Count(data[:i], []byte("\n")),
			"holds a zero byte: it is no text file, or it is UTF-16; save it as text in UTF-8")
	}
	if i := invalidUTF8(data); i >= 0 {
		return "", whole(1+bytes.Count(data[:i], []byte("\n")), fmt.Sprintf(
			"byte 0x%02x is not UTF-8; the file seems to be saved as Latin-1 or Windows-1252: save it as UTF-8", data[i]))
	}
	text := strings.ReplaceAll(string(data), "\r\n", "\n")
	if i := strings.IndexByte(text, '\r'); i >= 0 {
		return "", whole(1+strings.Count(text[:i], "\n"),
			"holds a carriage return that ends no line; save the file with ordinary line ends (LF or CRLF)")
	}
	return text, nil
}

// invalidUTF8 is the offset of the first byte that is not UTF-8, else -1.
func invalidUTF8(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

// syntaxError puts an error of the TOML decoder into our form.
func syntaxError(file, text string, err error) error {
	var pe toml.ParseError
	if !errors.As(err, &pe) {
		return &SyntaxError{File: file, Message: strings.TrimPrefix(err.Error(), "toml: ")}
	}
	start := place(text, pe)
	line := 1 + strings.Count(text[:start], "\n")
	from := strings.LastIndexByte(text[:start], '\n') + 1
	shown, _, _ := strings.Cut(text[from:], "\n")
	e := &SyntaxError{File: file, Line: line, Message: reword(pe.Message), Hint: hint(shown, pe.Message)}
	if utf8.RuneCountInString(shown) <= 200 {
		e.Text = shown
		e.Column = 1 + utf8.RuneCountInString(text[from:start])
	}
	return e
}

// place is the byte offset of a fault. The decoder's own offset is now and then
// one character early, or stands behind the line end at which it noticed; the
// character that its message quotes tells which.
func place(text string, pe toml.ParseError) int {
	start := min(max(pe.Position.Start, 0), len(text))
	m := gotChar.FindStringSubmatch(pe.Message)
	if m == nil {
		return start
	}
	got := m[1]
	if got == `\n` {
		got = "\n"
	}
	_, width := utf8.DecodeRuneInString(text[start:])
	switch {
	case strings.HasPrefix(text[start:], got):
	case strings.HasPrefix(text[start+width:], got):
		start += width
	case got == "\n" && start > 0 && text[start-1] == '\n':
		start--
	}
	return start
}

// gotChar finds the character that a message of the decoder complains of;
// read-only.
var gotChar = regexp.MustCompile(`(?:got|found) '(\\n|[^'])'`)

// reword puts the decoder's most frequent message into words that a reader who
// does not know TOML's grammar can follow.
func reword(message string) string {
	const topLevel = "expected a top-level item to end with a newline, comment, or EOF, but got "
	if got, ok := strings.CutPrefix(message, topLevel); ok {
		return "the line should end here, but goes on with " + strings.TrimSuffix(got, " instead")
	}
	return message
}

// hints go from the look of the faulty line to a remedy; the first that fits is
// used. Read-only.
var hints = []struct {
	line *regexp.Regexp
	text string
}{
	{regexp.MustCompile(`[“”„‘’]`), `Straight quotes are needed: "text" or 'text'.`},
	{regexp.MustCompile(`"[^"]*\\[^"]*"?`), `A backslash in double quotes starts an escape; for a Windows path use single quotes: 'D:\folder\file.toml'.`},
	{regexp.MustCompile(`=\s*[-+]?[0-9][0-9. ]*,[0-9]+\s*(#.*)?$`), "A decimal comma? Write a decimal point and no thousands separator: 1234.5."},
	{regexp.MustCompile(`=\s*[-+]?[0-9]+( [0-9]{3})+([.,][0-9]+)?\s*(#.*)?$`), "Write the number without spaces, or with underscores: 1_234.5."},
	{regexp.MustCompile(`=\s*[-+]?[0-9][0-9._]*\s*[A-Za-zµ°%²³/·]+`), "A value is a number alone; its unit is the end of the key's name."},
	{regexp.MustCompile(`[=,\[]\s*[-+]?\.[0-9]`), "Write a digit before the decimal point: 0.5."},
	{regexp.MustCompile(`[=,\[]\s*[-+]?[0-9]+\.\s*([,\]#]|$)`), "Write a digit after the decimal point: 5.0."},
	{regexp.MustCompile(`=\s*[-+]?0[0-9]`), "Write the number without leading zeros."},
	{regexp.MustCompile(`=\s*(True|TRUE|False|FALSE|yes|no|on|off)\b`), "Write true or false, in lower case."},
	{regexp.MustCompile(`^\s*[A-Za-z0-9_-]+\s*:`), "A value is given with =, not with a colon: key = value."},
	{regexp.MustCompile(`^\s*;|^\s*//`), "A comment starts with #."},
	{regexp.MustCompile(`=\s*(#.*)?$`), "The value is missing; delete the line if the key is not wanted."},
	{regexp.MustCompile(`=\s*[A-Za-z]`), `A text stands in quotes: key = "text".`},
}

func hint(line, message string) string {
	if strings.Contains(message, "already") {
		return "Delete or rename one of the two."
	}
	for _, h := range hints {
		if h.line.MatchString(line) {
			return h.text
		}
	}
	return ""
}
