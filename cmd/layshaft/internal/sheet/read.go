package sheet

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
)

// control finds an escaped control character, such as a terminal's escape, in JSON
// that was written by Go; line ends and tabs are written otherwise there.
var control = regexp.MustCompile(`(^|[^\\])(\\\\)*\\u00[01]`)

// Read takes back a ratio sheet that was saved with JSON. name is how the file
// is called in errors. Keys that a later version added under the same schema
// are passed over; whatever else is wrong is an error and there is no sheet:
// another kind of answer, another schema, sums that no longer add up.
func Read(name string, data []byte) (*Sheet, error) {
	var kind struct {
		Schema *int             `json:"schema_version"`
		Gears  *json.RawMessage `json:"gears"`
		Search *json.RawMessage `json:"search"`
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if err := json.Unmarshal(data, &kind); err != nil {
		return nil, fmt.Errorf("%s: %s; a saved sheet is made by 'layshaft sheet --format json -o FILE'", name, plainJSON(data, err))
	}
	switch {
	case kind.Schema == nil || kind.Gears == nil || kind.Search == nil:
		return nil, fmt.Errorf("%s: is not a saved ratio sheet (schema_version, gears or search is missing); make one with 'layshaft sheet --format json -o FILE'", name)
	case *kind.Schema != SchemaVersion:
		return nil, fmt.Errorf("%s: schema_version %d, this program reads %d: make the sheet again with this program", name, *kind.Schema, SchemaVersion)
	}
	s := &Sheet{}
	if err := json.Unmarshal(data, s); err != nil {
		return nil, fmt.Errorf("%s: %s", name, plainJSON(data, err))
	}
	if again, err := json.Marshal(s); err != nil || control.Match(again) {
		return nil, fmt.Errorf("%s: holds a character that cannot be printed: it was changed after it was made", name)
	}
	if err := s.Check(); err != nil {
		return nil, fmt.Errorf("%s: was changed after it was made, or is damaged: %w", name, err)
	}
	return s, nil
}

// plainJSON puts an error of the JSON decoder into words for people, with the
// line where it is known.
func plainJSON(data []byte, err error) string {
	line := func(offset int64) int {
		return 1 + bytes.Count(data[:min(max(offset, 0), int64(len(data)))], []byte("\n"))
	}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf("line %d: is not JSON (%s)", line(syntax.Offset), syntax)
	case errors.As(err, &kind):
		field, article := kind.Field, "a"
		if field == "" {
			field = "the file"
		}
		if kind.Value == "array" || kind.Value == "object" {
			article = "an"
		}
		return fmt.Sprintf("line %d: %s holds %s %s", line(kind.Offset), field, article, kind.Value)
	}
	return "is not JSON: " + err.Error()
}
