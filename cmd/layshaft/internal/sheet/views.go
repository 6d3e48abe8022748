package sheet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// Units says in which units people read the text. Air density, temperature
// and pressure stay as they are given.
type Units string

const (
	Metric Units = "metric" // km/h, m, kg
	US     Units = "us"     // mph, ft, lb
)

// TextOptions of every text view; the zero value is metric.
type TextOptions struct {
	Units Units
}

// View is what every report of this package can do. Either method writes the
// whole with one Write, or returns an error and writes nothing.
type View interface {
	Text(w io.Writer, opt TextOptions) error
	JSON(w io.Writer) error
}

// writeJSON writes v as one indented object with a final newline. It fails on
// NaN and infinities, before anything is written.
func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("sheet: JSON: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}
