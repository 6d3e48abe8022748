package chart

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// poppler runs one of its tools on a PDF; where there is none the test is left out,
// but not in .ci/run, which sets CI and installs it.
func poppler(t *testing.T, pdf []byte, tool string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is missing: install poppler-utils", tool)
		}
		t.Skipf("%s is missing, the PDF is not read back: install poppler-utils", tool)
	}
	name := filepath.Join(t.TempDir(), "figure.pdf")
	require.NoError(t, os.WriteFile(name, pdf, 0o600))
	out, err := exec.Command(tool, append(append(args, name), "-")...).Output()
	require.NoError(t, err)
	return string(out)
}

type word struct {
	X0   float64 `xml:"xMin,attr"`
	Y0   float64 `xml:"yMin,attr"`
	X1   float64 `xml:"xMax,attr"`
	Y1   float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

func words(t *testing.T, pdf []byte) []word {
	t.Helper()
	var page struct {
		Words []word `xml:"body>doc>page>word"`
	}
	d := xml.NewDecoder(strings.NewReader(poppler(t, pdf, "pdftotext", "-bbox")))
	d.Strict = false
	require.NoError(t, d.Decode(&page))
	return page.Words
}

// Another program reads the PDFs: text comes back as written, lies within the page
// and on no other text, and the page is one.
func TestPDFReadBack(t *testing.T) {
	d := newDemo(t, "harrowdale")
	frame := Frame{Title: "Vitesse d'été: µ ° é – Ω", Caption: "air 1.225 kg/m³, wind from 200°"}
	for kind, f := range d.figures(t, frame) {
		t.Run(kind, func(t *testing.T) {
			pdf := render(t, f, PDF)
			assert.Less(t, len(pdf), 150_000)
			text := poppler(t, pdf, "pdftotext", "-layout")
			assert.Contains(t, text, frame.Title)
			assert.Contains(t, text, "kg/m³, wind from 200°")
			assert.Equal(t, 1, strings.Count(text, "\f"), "pages")
			all := words(t, pdf)
			require.Greater(t, len(all), 20)
			for i, a := range all {
				assert.True(t, a.X0 >= 0 && a.Y0 >= 0 && a.X1 <= vg.Length(Width).Points() && a.Y1 <= vg.Length(Height).Points(), "%q lies outside", a.Text)
				for _, b := range all[:i] {
					// poppler's boxes reach from the font's ascent to its descent, more than
					// letters need: what counts is an overlap of more than a third.
					w, h := math.Min(a.X1, b.X1)-math.Max(a.X0, b.X0), math.Min(a.Y1, b.Y1)-math.Max(a.Y0, b.Y0)
					least := math.Min(math.Min(a.X1-a.X0, a.Y1-a.Y0), math.Min(b.X1-b.X0, b.Y1-b.Y0))
					assert.False(t, w > 1 && h > 1 && math.Min(w, h) > least/3, "%q and %q overlap", a.Text, b.Text)
				}
			}
		})
	}
}

// What the font or a PDF cannot hold is replaced, in all forms, and nothing panics.
func TestClean(t *testing.T) {
	assert.Equal(t, "Ångström µ ° – Ω Δ ≤ → €", Clean("Ångström µ ° – Ω Δ ≤ → €"))
	assert.Equal(t, "Wren ? one", Clean("Wren 🏎️ one"))
	assert.Equal(t, "a b c", Clean("a\nb\tc\x00"))
	assert.Equal(t, "?", Clean("日"))
	assert.Equal(t, "x?", Clean("x\xff"))
	l := roadCourse()
	l.Title, l.Caption, l.Track.Corners[0].Name = "🏁 / : \\ \u202etitle", "日本 \xff", "🏎"
	for _, form := range Formats() {
		render(t, l, form)
	}
}

func FuzzClean(f *testing.F) {
	f.Add("Wren 🏎")
	f.Fuzz(func(t *testing.T, s string) {
		got := Clean(s)
		if got != Clean(got) {
			t.Errorf("%q changes again", got)
		}
		for _, r := range got {
			if r > 0xffff || r < ' ' {
				t.Errorf("%q holds %U", got, r)
			}
		}
	})
}

// The page that a figure is drawn on keeps its colours, line and font, which fpdf
// forgets over a transformation: the word after it is as black as the one before.
func TestDrawOnLeavesThePageAsItWas(t *testing.T) {
	doc := fpdf.New("P", "mm", "A4", "")
	doc.SetCompression(false)
	day := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(day)
	doc.SetModificationDate(day)
	AddPDFFonts(doc)
	doc.AddPage()
	doc.SetFont(PDFFont, "B", 11)
	doc.SetTextColor(10, 20, 30)
	doc.SetFillColor(200, 210, 220)
	doc.SetDrawColor(1, 2, 3)
	doc.SetLineWidth(0.7)
	doc.Text(20, 20, "before")
	f := newDemo(t, "harrowdale").figures(t, Frame{Bare: true})["sawtooth"]
	require.NoError(t, DrawOn(doc, 15, 30, 180, 90, f))
	doc.Text(20, 140, "after")
	doc.Rect(20, 150, 10, 10, "D")
	assert.InDelta(t, 0.7, doc.GetLineWidth(), 1e-12)
	var out bytes.Buffer
	require.NoError(t, doc.Output(&out))
	raw := out.String()
	// The colour of text is written beside it; that of a line stands before it.
	color := fmt.Sprintf("q %.3f %.3f %.3f rg BT", 10/255.0, 20/255.0, 30/255.0)
	assert.Equal(t, 2, strings.Count(raw, color), "both words in the page's own colour")
	rest := raw[strings.LastIndex(raw, "re S")-400 : strings.LastIndex(raw, "re S")]
	assert.Contains(t, rest, fmt.Sprintf("%.3f %.3f %.3f RG", 1/255.0, 2/255.0, 3/255.0))
	for _, w := range words(t, out.Bytes()) {
		const mm = 72 / 25.4
		if w.Text != "before" && w.Text != "after" {
			assert.True(t, w.X0 > 15*mm && w.X1 < 195*mm && w.Y0 > 30*mm && w.Y1 < 120*mm, "%q leaves its place", w.Text)
		}
	}
}

// Same figure, same bytes, from eight goroutines at once too: run with -race.
func TestSameBytes(t *testing.T) {
	d := newDemo(t, "quayside")
	figures := d.figures(t, Frame{Title: "Title"})
	for _, form := range Formats() {
		var mu sync.Mutex
		seen := map[string][]byte{}
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				for kind, f := range figures {
					if form != SVG && kind != "speed" && kind != "gears" {
						continue // the same drawing, slower
					}
					var out bytes.Buffer
					err := Write(&out, f, form)
					mu.Lock()
					assert.NoError(t, err)
					if before, ok := seen[kind]; ok {
						assert.True(t, bytes.Equal(before, out.Bytes()), "%s as %s differs", kind, form)
					}
					seen[kind] = out.Bytes()
					mu.Unlock()
				}
			})
		}
		wg.Wait()
	}
}
