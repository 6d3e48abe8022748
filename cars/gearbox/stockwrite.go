package gearbox

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

const stockHead = `# Stock of gear pairs, written by layshaft. layshaft_teeth drive, mainshaft_teeth
# are driven; ratio = mainshaft / layshaft. Correct it with an editor and import
# it again, or let 'sheet --stock' read it as it is.
`

// TOML writes the stock as a file that ParseStock reads back to the same stock,
// pairs in their order, keys that say nothing left out. Same stock, same bytes.
func (s *Stock) TOML() []byte {
	w := &tomlWriter{}
	w.WriteString(stockHead)
	w.text("name", s.Name)
	w.text("title", s.Title)
	w.texts("fitted", s.Fitted)
	for i := range s.Finals {
		w.drive("final_drive", &s.Finals[i])
	}
	for i := range s.Drops {
		w.drive("drop_pair", &s.Drops[i])
	}
	for i := range s.Pairs {
		w.pair(&s.Pairs[i])
	}
	return w.Bytes()
}

// tomlWriter writes one key a line; empty values are left out.
type tomlWriter struct{ bytes.Buffer }

func (w *tomlWriter) raw(key, value string) { fmt.Fprintf(w, "%s = %s\n", key, value) }

func (w *tomlWriter) text(key, v string) {
	if v != "" {
		w.raw(key, quote(v))
	}
}

func (w *tomlWriter) texts(key string, v []string) {
	if len(v) == 0 {
		return
	}
	quoted := make([]string, len(v))
	for i, one := range v {
		quoted[i] = quote(one)
	}
	w.raw(key, "["+strings.Join(quoted, ", ")+"]")
}

func (w *tomlWriter) whole(key string, v int) {
	if v != 0 {
		w.raw(key, strconv.Itoa(v))
	}
}

func (w *tomlWriter) number(key string, v float64) {
	if v != 0 {
		w.raw(key, strconv.FormatFloat(v, 'f', -1, 64))
	}
}

// km writes a distance in km, 0 too where always is set.
func (w *tomlWriter) km(key string, m float64, always bool) {
	if m != 0 || always {
		w.raw(key, strconv.FormatFloat(wholeMetres(m)/metresPerKm, 'f', -1, 64))
	}
}

func (w *tomlWriter) yes(key string, v bool) {
	if v {
		w.raw(key, "true")
	}
}

// quote writes a TOML basic string (TOML 1.0, section String): control
// characters, quotes and backslashes are escaped, all else stands as it is.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (w *tomlWriter) drive(table string, d *Drive) {
	fmt.Fprintf(w, "\n[[%s]]\n", table)
	w.text("name", d.Name)
	w.whole("driving_teeth", d.Driving)
	w.whole("driven_teeth", d.Driven)
	w.raw("pair_count", strconv.Itoa(d.Count))
	w.yes("fitted", d.Fitted)
	w.texts("fitted_in", d.FittedIn)
}

func (w *tomlWriter) pair(p *Pair) {
	fmt.Fprintf(w, "\n[[pair]]\n")
	w.text("id", p.ID)
	w.whole("layshaft_teeth", p.Layshaft)
	w.whole("mainshaft_teeth", p.Mainshaft)
	w.text("half", p.Half)
	w.text("mark", p.Mark)
	w.raw("pair_count", strconv.Itoa(p.Count))
	w.texts("fits", p.Fits)
	w.text("dog_side", p.DogSide)
	w.text("group", p.Group)
	w.km("run_km", p.RunM, true)
	w.km("life_km", p.LifeM, false)
	w.number("damage_ratio", p.Damage)
	w.km("damage_over_km", p.DamageM, false)
	w.text("crack_tested", p.Crack.On.String())
	w.km("crack_tested_at_km", p.Crack.AtM, false)
	w.whole("crack_test_every_days", p.Crack.Days)
	w.km("crack_test_every_km", p.Crack.EveryM, false)
	w.whole("limiter_count", p.LimiterCount)
	w.whole("limiter_most_count", p.LimiterMost)
	w.yes("inspection_due", p.InspectionDue)
	w.texts("inspection_causes", p.Causes)
	w.yes("retired", p.Retired)
	w.text("place", p.Place)
	w.text("car", p.Car)
	w.whole("gear", p.Gear)
	w.text("note", p.Note)
}
