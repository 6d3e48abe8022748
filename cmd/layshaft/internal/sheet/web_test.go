package sheet

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// elements reads a page strictly as XML; each is called for every token with the
// names of the elements that are open.
func elements(t *testing.T, page []byte, each func(open []string, token xml.Token)) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(page))
	var open []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if e, ok := token.(xml.StartElement); ok {
			open = append(open, e.Name.Local)
		}
		each(open, token)
		if _, ok := token.(xml.EndElement); ok {
			open = open[:len(open)-1]
		}
	}
	assert.Empty(t, open)
}

// textOf is what a reader of the page sees.
func textOf(t *testing.T, page []byte) string {
	t.Helper()
	var b strings.Builder
	elements(t, page, func(open []string, token xml.Token) {
		if text, ok := token.(xml.CharData); ok && len(open) > 1 && open[1] == "body" {
			b.Write(text)
			b.WriteByte(' ')
		}
	})
	return b.String()
}

// The page is well formed, needs nothing from elsewhere and no script, says its
// language and title, and names tables, columns, rows, boxes and pictures.
func TestHTMLPage(t *testing.T) {
	for name, s := range paperCases(t) {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, s.HTML(&b, PaperOptions{Paper: Letter, Figures: []Figure{testFigure(t), {Title: "for paper only"}}}))
			require.True(t, bytes.HasPrefix(b.Bytes(), []byte("<!DOCTYPE html>\n<html lang=\"en\">")))
			count := map[string]int{}
			ids := map[string]bool{}
			var wanted []string
			elements(t, b.Bytes(), func(_ []string, token xml.Token) {
				e, ok := token.(xml.StartElement)
				if !ok {
					return
				}
				count[e.Name.Local]++
				has := map[string]string{}
				for _, a := range e.Attr {
					has[a.Name.Local] = a.Value
					switch a.Name.Local {
					case "id":
						assert.False(t, ids[a.Value], a.Value)
						ids[a.Value] = true
					case "href", "src", "action", "data":
						assert.True(t, strings.HasPrefix(a.Value, "#"), a.Value)
						wanted = append(wanted, strings.TrimPrefix(a.Value, "#"))
					case "aria-labelledby":
						wanted = append(wanted, a.Value)
					}
					assert.False(t, strings.HasPrefix(a.Name.Local, "on"), a.Name.Local)
				}
				switch e.Name.Local {
				case "th":
					assert.NotEmpty(t, has["scope"])
				case "input":
					assert.NotEmpty(t, has["aria-label"])
				case "svg":
					assert.Equal(t, "img", has["role"])
				case "script", "link", "iframe", "img", "object", "embed":
					t.Errorf("there is a %s", e.Name.Local)
				}
			})
			for _, w := range wanted {
				assert.True(t, ids[w], w)
			}
			assert.Equal(t, count["table"], count["caption"])
			assert.Equal(t, 1, count["svg"])
			assert.Equal(t, 3*len(s.Stack)+len(s.Forks)+len(s.BuildOrder), count["input"])
			style := b.String()
			assert.NotContains(t, style, "@import")
			assert.NotContains(t, style, "url(")
			assert.Contains(t, style, "size: letter")
		})
	}
	var b bytes.Buffer
	assert.Error(t, mustBuild(t, fixture(6)).HTML(&b, PaperOptions{Figures: []Figure{{Title: "x", SVG: []byte("text")}}}))
	assert.Error(t, mustBuild(t, fixture(6)).HTML(&b, PaperOptions{Paper: "a7"}))
	assert.Zero(t, b.Len())
}

// The table reads back to the values of the model, and nothing in it looks like
// what a spreadsheet would change.
func TestCSVReadsBack(t *testing.T) {
	for name, s := range paperCases(t) {
		s.Gears[0].Note, s.Gears[1].Group, s.Gears[2].Waiver = "=1+1", "12/38", "Mar-3"
		var b bytes.Buffer
		require.NoError(t, s.CSV(&b))
		rows, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		at := map[string]int{}
		for i, k := range rows[0] {
			at[k] = i
		}
		keys := renderJSON(t, s)
		for _, k := range rows[0] {
			assert.Contains(t, keys, `"`+k+`": `)
		}
		reverse := 0
		for _, g := range s.Stack {
			if g < 1 {
				reverse++
			}
		}
		require.Len(t, rows, 1+len(s.Gears)+reverse, name)
		stack := make([]int, len(s.Stack))
		for i, r := range rows[1:] {
			whole := func(key string) int {
				n, err := strconv.Atoi(r[at[key]])
				require.NoError(t, err, key)
				return n
			}
			float := func(key string) float64 {
				v, err := strconv.ParseFloat(r[at[key]], 64)
				require.NoError(t, err, key)
				return v
			}
			stack[whole("stack_position")-1] = whole("gear")
			if i >= len(s.Gears) {
				continue
			}
			g := &s.Gears[i]
			assert.Equal(t, g.Gear, whole("gear"))
			assert.Equal(t, g.LayshaftTeeth, whole("layshaft_teeth"))
			assert.Equal(t, g.MainshaftTeeth, whole("mainshaft_teeth"))
			assert.Equal(t, g.Fork, whole("fork"))
			assert.Equal(t, "mark "+strings.TrimSpace(seen(g.Mark)), r[at["mark"]])
			assert.Equal(t, "pair "+strings.TrimSpace(seen(g.PairID)), r[at["pair_id"]])
			// Written so that the same float comes back.
			assert.Equal(t, []float64{g.Ratio, g.OverallRatio, g.SpeedAtLimiterKmh, g.RunKm, g.TimeInGearS},
				[]float64{float("ratio"), float("overall_ratio"), float("speed_at_limiter_kmh"), float("run_km"), float("time_in_gear_s")})
			if g.StepRatio == nil {
				assert.Empty(t, r[at["step_ratio"]])
				assert.Empty(t, r[at["upshift_rpm"]])
			} else {
				assert.Equal(t, *g.UpshiftRPM, whole("upshift_rpm"))
				assert.Equal(t, *g.RPMAfterUpshift+*g.RPMDrop, whole("upshift_rpm"))
			}
		}
		assert.Equal(t, s.Stack, stack)
		assert.Equal(t, "text =1+1", rows[1][at["note"]])
		assert.Equal(t, "text 12/38", rows[2][at["group"]])
		assert.Equal(t, "text Mar-3", rows[3][at["waiver"]])
	}
}

// oddNames are what may come out of files.
func oddNames() []string {
	return []string{strange, "", " ", "\x00", "\xff\xfe", "\U0010ffff", "a\u0301\u0302", "\u00a0", "[ ]", "]]>", "{{.}}", strings.Repeat("W", 300), "-1", "=x", "\r\n\",\"", "*** x", "\ufffe"}
}

// No name breaks paper, browser or table.
func TestOddNames(t *testing.T) {
	for _, name := range oddNames() {
		s, err := Build(fixture(4))
		require.NoError(t, err)
		s.Car, s.Track, s.Event, s.Date, s.Gears[0].PairID, s.Gears[1].Mark, s.Gears[2].Note = name, name, name, name, name, name, name
		s.Superseded = name
		s.Gears[3].Group, s.Inputs[0].Name, s.Alternates[0].Condition = name, name, name
		for i := range s.BuildOrder {
			for k := range s.BuildOrder[i].Gears {
				g := &s.BuildOrder[i].Gears[k]
				if g.Gear == 1 && g.PairID != "" {
					g.PairID = name
				}
				if g.Gear == 2 && g.Mark != "" {
					g.Mark = name
				}
			}
		}
		opt := PaperOptions{}
		assert.Empty(t, misplaced(pagesOf(t, pdfOf(t, s, opt))))
		var b bytes.Buffer
		require.NoError(t, s.HTML(&b, opt))
		elements(t, b.Bytes(), func([]string, xml.Token) {})
		b.Reset()
		require.NoError(t, s.CSV(&b))
		rows, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		assert.Len(t, rows, 1+len(s.Gears))
	}
}

// FuzzNames holds of any text: on paper every character has a glyph, a line is no
// wider than its room unless it is one character, and nothing gets lost; XML takes
// it, and it stays itself; a cell of a table is read back as written.
func FuzzNames(f *testing.F) {
	for _, s := range oddNames() {
		f.Add(s, 30.0)
	}
	p, err := newPress(300, 300, "fuzz")
	require.NoError(f, err)
	large := face{markType, true}
	f.Fuzz(func(t *testing.T, name string, room float64) {
		room = math.Mod(math.Abs(room), 500)
		if math.IsNaN(room) || len(name) > 5000 {
			t.Skip("no page")
		}
		shown := p.glyphs.printable(name)
		for _, r := range shown {
			require.True(t, r == ' ' || p.glyphs.has(r), "%U", r)
		}
		lines := p.wrap(large, name, room)
		for _, l := range lines {
			if p.measure(large, l) > room+2*slack {
				require.Equal(t, 1, utf8.RuneCountInString(l), l)
			}
		}
		require.Equal(t, bare(shown), bare(strings.Join(lines, "")))
		require.LessOrEqual(t, p.measure(large, p.fit(large, name, room)), max(room, p.measure(large, "…"))+slack)

		var b bytes.Buffer
		require.NoError(t, xml.EscapeText(&b, []byte(webText(name))))
		var back string
		require.NoError(t, xml.Unmarshal([]byte("<a>"+b.String()+"</a>"), &back))
		require.Equal(t, webText(name), back)

		cell := words(name)
		b.Reset()
		c := csv.NewWriter(&b)
		require.NoError(t, c.Write([]string{"x", cell}))
		c.Flush()
		row, err := csv.NewReader(&b).Read()
		require.NoError(t, err)
		require.Equal(t, cell, row[1])
		require.False(t, strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "@"))
	})
}
