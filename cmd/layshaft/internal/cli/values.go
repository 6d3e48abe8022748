package cli

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"layshaft/cars/gearbox"
	"layshaft/tracks"

	"github.com/spf13/pflag"
)

// number is a flag's decimal number with its unit and the range that makes
// sense. It remembers whether it was given: zero and absent differ.
type number struct {
	value  float64
	given  bool
	lo, hi float64 // closed range, in the flag's own unit
	unit   string  // for messages; "" = a pure number
	whole  bool    // only whole numbers
}

var _ pflag.Value = (*number)(nil)

// decimalComma finds numbers written with a comma for the decimal sign.
var decimalComma = regexp.MustCompile(`^[+-]?\d+,\d+$`)

// Set reads the number. NaN, infinities and hexadecimal floats are refused.
func (n *number) Set(s string) error {
	t := strings.TrimSpace(s)
	v, err := strconv.ParseFloat(t, 64)
	switch {
	case decimalComma.MatchString(t):
		return fmt.Errorf("%q: write the decimal sign as a point: %s", s, strings.Replace(t, ",", ".", 1))
	case err != nil && math.IsInf(v, 0):
		return fmt.Errorf("%q is out of range: give %s", s, n.wanted())
	case err != nil:
		return fmt.Errorf("%q is not a number: give %s", s, n.wanted())
	case math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(t, "xXpP_"):
		return fmt.Errorf("%q is not a plain number: give %s", s, n.wanted())
	case v < n.lo || v > n.hi:
		return fmt.Errorf("%s is out of range: give %s", t, n.wanted())
	case n.whole && v != math.Trunc(v):
		return fmt.Errorf("%s is not a whole number: give %s", t, n.wanted())
	}
	n.value, n.given = v, true
	return nil
}

// wanted says which numbers are taken.
func (n *number) wanted() string {
	kind := "a number"
	if n.whole {
		kind = "a whole number"
	}
	text := fmt.Sprintf("%s from %s to %s", kind, plain(n.lo), plain(n.hi))
	if n.unit != "" {
		text += " " + n.unit
	}
	return text
}

// String is the value as given; empty when there is none, so that help shows
// no default that is none.
func (n *number) String() string {
	if n == nil || (!n.given && n.value == 0) {
		return ""
	}
	return plain(n.value)
}

// Type is the placeholder in the help.
func (n *number) Type() string { return "N" }

// plain writes a number in its shortest decimal form.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// choice is a flag that takes one of a few words. Words that will come later
// are known and refused with a clear word.
type choice struct {
	value string
	words []string
	later []string

	elsewhere string // why a word of later is refused; "" = it is not available yet
}

var _ pflag.Value = (*choice)(nil)

// Set takes one of the words, exactly as written.
func (c *choice) Set(s string) error {
	for _, w := range c.words {
		if s == w {
			c.value = s
			return nil
		}
	}
	for _, w := range c.later {
		if s == w && c.elsewhere != "" {
			return fmt.Errorf("%q %s: choose %s", s, c.elsewhere, orList(c.words))
		}
		if s == w {
			return fmt.Errorf("%q is not available yet: choose %s", s, orList(c.words))
		}
	}
	return fmt.Errorf("%q is not known%s", s, meant(s, c.words))
}

func (c *choice) String() string {
	if c == nil {
		return ""
	}
	return c.value
}

// Type is the placeholder in the help: the words themselves.
func (c *choice) Type() string { return strings.Join(c.words, "|") }

// orList writes "a, b or c".
func orList(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// gears is a list of gear numbers, such as 1,2.
type gears struct{ list []int }

var _ pflag.Value = (*gears)(nil)

// maxGears is the most forward gears that a box may have.
const maxGears = 8

// Set reads the list; whether the box has these gears is checked later.
func (g *gears) Set(s string) error {
	var list []int
	for _, word := range strings.Split(s, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(word))
		if err != nil {
			return fmt.Errorf("%q is not a list of gears: write 6, or 1,2", s)
		}
		if n < 1 || n > maxGears {
			return fmt.Errorf("gear %d does not exist: forward gears are 1 to %d at most", n, maxGears)
		}
		for _, seen := range list {
			if seen == n {
				return fmt.Errorf("gear %d stands twice in %q: name each gear once", n, s)
			}
		}
		list = append(list, n)
	}
	g.list = list
	return nil
}

func (g *gears) String() string {
	if g == nil {
		return ""
	}
	words := make([]string, len(g.list))
	for i, n := range g.list {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ",")
}

// Type is the placeholder in the help.
func (g *gears) Type() string { return "GEARS" }

// span is a length of time, such as 90s or 2m.
type span struct{ d time.Duration }

var _ pflag.Value = (*span)(nil)

// Set wants a number with its unit, from 1 ms to 24 h.
func (t *span) Set(s string) error {
	d, err := time.ParseDuration(s)
	if err != nil {
		return fmt.Errorf("%q is not a length of time: write a number with its unit, such as 30s or 2m", s)
	}
	if d < time.Millisecond || d > 24*time.Hour {
		return fmt.Errorf("%s is out of range: give a time from 1ms to 24h", s)
	}
	t.d = d
	return nil
}

func (t *span) String() string {
	if t == nil || t.d == 0 {
		return ""
	}
	return t.d.String()
}

// Type is the placeholder in the help.
func (t *span) Type() string { return "TIME" }

// day is a calendar date; none when it was not given.
type day struct{ value gearbox.Day }

var _ pflag.Value = (*day)(nil)

// Set wants year-month-day (ISO 8601 calendar date).
func (d *day) Set(s string) error {
	day, err := gearbox.ParseDay(s)
	if err != nil {
		return err
	}
	d.value = day
	return nil
}

func (d *day) String() string {
	if d == nil {
		return ""
	}
	return d.value.String()
}

// Type is the placeholder in the help.
func (d *day) Type() string { return "DATE" }

// wordList is a list of words with commas between; given again it grows.
type wordList struct{ words []string }

var _ pflag.Value = (*wordList)(nil)

// Set adds the words.
func (l *wordList) Set(s string) error {
	for _, w := range strings.Split(s, ",") {
		w = strings.TrimSpace(w)
		if w == "" {
			return fmt.Errorf("%q has an empty place in it: write ids with commas between", s)
		}
		if slices.Contains(l.words, w) {
			return fmt.Errorf("%s is named twice", w)
		}
		l.words = append(l.words, w)
	}
	return nil
}

func (l *wordList) String() string {
	if l == nil {
		return ""
	}
	return strings.Join(l.words, ",")
}

// Type is the placeholder in the help.
func (l *wordList) Type() string { return "IDS" }

// placeList is a list of places of a track by name, such as T5,Heron.
// Whether the track has them is checked once it is read.
type placeList struct{ names []string }

var _ pflag.Value = (*placeList)(nil)

// Set reads the list.
func (p *placeList) Set(s string) error {
	var names []string
	for _, word := range strings.Split(s, ",") {
		name := strings.TrimSpace(word)
		if name == "" {
			return fmt.Errorf("%q has an empty place in it: write straights, or names with commas between", s)
		}
		if slices.Contains(names, name) {
			return fmt.Errorf("%s stands twice in %q: name each place once", name, s)
		}
		names = append(names, name)
	}
	if len(names) > 1 && slices.Contains(names, tracks.Everywhere) {
		return fmt.Errorf("%q: %s says it all: write it alone", s, tracks.Everywhere)
	}
	p.names = names
	return nil
}

func (p *placeList) String() string {
	if p == nil {
		return ""
	}
	return strings.Join(p.names, ",")
}

// Type is the placeholder in the help.
func (p *placeList) Type() string { return "WHERE" }
