package sheet

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// strange are names that people and files do have.
const strange = "Ärger/Øst: µ ° Ω 🏁 日本 \u202e12/38 e\u0301 <b>&\"'"

// crowd fills a sheet with what a big box, stock and track have: 40 corners with
// long names, 30 alternates in three conditions, a revision, a waiver, warnings,
// and what has become of it.
func crowd(s *Sheet, name string) {
	s.Event, s.Session, s.Revision, s.IssuedBy = name, name, 12, name
	s.Superseded, s.Standing = "by revision 13, issued 2031-05-05 by "+name, []string{"the stock file has changed: " + name}
	s.Gears[1].Waiver, s.Gears[0].Note = name+": allowed for one run", name
	for i := range 40 {
		s.ThrottleOns = append(s.ThrottleOns, ThrottleOn{DistanceM: float64(100 * i), Corner: fmt.Sprintf("T%d %s", i, name), SpeedKmh: 123.4, Gear: 3, EngineRPM: 6543})
		s.Corners = append(s.Corners, Corner{Corner: fmt.Sprintf("T%d %s", i, name), DistanceM: float64(100 * i), ApexSpeedKmh: 98.7, Gear: 2})
	}
	for i := range 30 {
		a := s.Alternates[i%2]
		a.Condition, a.PairID, a.Mark = fmt.Sprintf("%s, case %d", name, i/10), fmt.Sprintf("P%d %s", i, name), name
		s.Alternates = append(s.Alternates, a)
	}
	for i := range 7 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("warning %d: %s", i, name))
	}
}

// paperCases are the sheets that every view has to hold.
func paperCases(t *testing.T) map[string]*Sheet {
	out := map[string]*Sheet{}
	boxes := []int{4, 5, 6, 8}
	if testing.Short() {
		boxes = []int{6}
	}
	for _, gears := range boxes {
		out[fmt.Sprintf("%d gears", gears)] = mustBuild(t, fixture(gears))
		in := fixture(gears)
		lengthen(&in)
		out[fmt.Sprintf("%d gears, long names", gears)] = mustBuild(t, in)
		in = fixture(gears)
		in.Car.Title, in.Track.Title, in.Box.Title, in.Stock.Title = strange, strange, strange, strange
		for i := range in.Stock.Pairs {
			in.Stock.Pairs[i].Mark = "Ω/" + in.Stock.Pairs[i].Mark
		}
		s := mustBuild(t, in)
		crowd(s, strange)
		out[fmt.Sprintf("%d gears, crowded", gears)] = s
	}
	return out
}

func pdfOf(t testing.TB, s PaperView, opt PaperOptions) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, s.PDF(&b, opt))
	return b.Bytes()
}

// Nothing runs off the paper and nothing lies on anything else.
func TestPaperLayout(t *testing.T) {
	cases := map[string]PaperView{}
	for name, s := range paperCases(t) {
		cases[name] = s
		card, err := DriverCardOf(s)
		require.NoError(t, err)
		cases["card of "+name] = card
		other := *s
		other.LapTimeS, other.Loss = s.LapTimeS+0.1, nil
		compare, err := BuildComparison(Compared{Sheet: s, Name: strange, Stale: s.Standing}, Compared{Sheet: &other, Name: name})
		require.NoError(t, err)
		cases["comparison of "+name] = compare
	}
	for name, s := range cases {
		for i, paper := range []Paper{A4, Letter} {
			for k, u := range []Units{Metric, US} {
				if i != k && name != "6 gears" && name != "card of 6 gears" {
					continue // the two choices have nothing to do with each other
				}
				t.Run(fmt.Sprintf("%s, %s, %s", name, paper, u), func(t *testing.T) {
					pages := pagesOf(t, pdfOf(t, s, PaperOptions{Units: u, Paper: paper}))
					for _, f := range misplaced(pages) {
						t.Error(f)
					}
					w, h, err := paper.size()
					require.NoError(t, err)
					if _, ok := s.(*DriverCard); ok {
						w, h = h/2, w
					}
					for i, p := range pages {
						require.InDelta(t, w, p.Width, 0.01) // as printed to the file
						require.InDelta(t, h, p.Height, 0.01)
						all := ""
						for _, w := range p.Words {
							all += w.Text + " "
						}
						assert.Contains(t, all, fmt.Sprintf("page %d of %d", i+1, len(pages)))
					}
				})
			}
		}
	}
}

// The bench has all that it needs on page one, and the pages do not run away.
func TestPagesOfPaper(t *testing.T) {
	for _, gears := range []int{4, 6, 8} {
		for _, paper := range []Paper{A4, Letter} {
			s := mustBuild(t, fixture(gears))
			doc := pdfOf(t, s, PaperOptions{Paper: paper})
			pages := pagesOf(t, doc)
			if gears <= 6 && paper == A4 { // a page for each reader
				assert.Len(t, pages, 4)
			}
			assert.LessOrEqual(t, len(pages), 7)
			first := string(poppler(t, doc, "pdftotext", "-raw", "-l", "1"))
			for i := range s.Gears {
				assert.GreaterOrEqual(t, strings.Count(first, s.Gears[i].Mark), 2)
				assert.Contains(t, first, s.Gears[i].PairID)
			}
			wanted := []string{"built by", "checked by", "issued by", "FORKS", s.Neutral}
			if gears == 8 && paper == Letter { // no room: whole on page two, and page one says so
				wanted = append(wanted, "cautions on the next page")
				second := string(poppler(t, doc, "pdftotext", "-raw", "-f", "2", "-l", "2"))
				assert.Contains(t, second, s.Cautions[0])
				assert.Contains(t, second, "PREDICTION")
			} else {
				wanted = append(wanted, s.Cautions[0], s.Cautions[len(s.Cautions)-1][:40])
			}
			for _, want := range wanted {
				assert.Contains(t, first, want, "%d gears, %s", gears, paper)
			}
			large := 0
			for _, w := range pages[0].Words {
				if w.Text == s.Gears[0].Mark && w.YMax-w.YMin > 14 { // its box is higher than its size
					large++
				}
			}
			assert.Equal(t, 2, large, "large marks of first gear")
		}
	}
}

// bare takes out all white space: where a line breaks does not count.
func bare(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}

// wordsOf are all texts of the sheet in 80 columns, each by itself.
func wordsOf(t *testing.T, s *Sheet, u Units) []string {
	t.Helper()
	var out []string
	items, err := itemsOf(s, TextOptions{u})
	require.NoError(t, err)
	for _, it := range items {
		if it.kind == headItem {
			continue // set in an own way
		}
		out = append(out, it.mark, it.text)
		for _, r := range it.rows {
			out = append(out, r...)
		}
		out = append(out, it.notes...)
	}
	return out
}

// All that stands in the text stands on paper and in the browser.
func TestNothingMissing(t *testing.T) {
	for _, gears := range []int{4, 6, 8} {
		for _, u := range []Units{Metric, US} {
			s := mustBuild(t, fixture(gears))
			s.Event, s.Session, s.Revision, s.IssuedBy, s.Date = "Round 3", "practice", 3, "Ada", "2031-05-04"
			s.Superseded, s.Standing = "by revision 4", []string{"car file changed"}
			s.Gears[0].Waiver = "Ben: one run"
			raw := string(poppler(t, pdfOf(t, s, PaperOptions{Units: u}), "pdftotext", "-raw"))
			var web bytes.Buffer
			require.NoError(t, s.HTML(&web, PaperOptions{Units: u}))
			page := textOf(t, web.Bytes())
			for _, want := range wordsOf(t, s, u) {
				if want == tick || strings.TrimSpace(want) == "-" { // a box, a bullet
					continue
				}
				assert.Contains(t, bare(raw), bare(want), "PDF, %d gears, %s", gears, u)
				if strings.HasSuffix(want, ". ") || want == "! " { // numbered by the browser; warnings are a list
					continue
				}
				assert.Contains(t, bare(page), bare(want), "HTML, %d gears, %s", gears, u)
			}
			for _, want := range []string{"revision 3", "date 2031-05-04"} {
				assert.Contains(t, raw, want)
				assert.Contains(t, page, want)
			}
		}
	}
}

// Names of users come through, or are replaced by something that is seen.
func TestNamesOnPaper(t *testing.T) {
	in := fixture(6)
	in.Car.Title = strange
	raw := string(poppler(t, pdfOf(t, mustBuild(t, in), PaperOptions{}), "pdftotext", "-raw"))
	assert.Contains(t, raw, "Ärger/Øst: µ ° Ω □ □□ □12/38 é <b>&\"'")
}

// Same sheet, same bytes; the dates in the file are nobody's.
func TestPDFSameBytes(t *testing.T) {
	for name, s := range paperCases(t) {
		opt := PaperOptions{Figures: []Figure{testFigure(t)}}
		doc := pdfOf(t, s, opt)
		assert.True(t, bytes.Equal(doc, pdfOf(t, s, opt)), name)
		assert.Equal(t, 2, bytes.Count(doc, []byte("Date (D:19700101000000")), name)
		var a, b bytes.Buffer
		require.NoError(t, s.HTML(&a, opt))
		require.NoError(t, s.HTML(&b, opt))
		assert.True(t, bytes.Equal(a.Bytes(), b.Bytes()), name)
	}
}

// The foot of each page carries the hash of the saved sheet, in a reprint too.
func TestDigest(t *testing.T) {
	s := mustBuild(t, fixture(6))
	before, err := s.Digest()
	require.NoError(t, err)
	assert.Len(t, before, 12)
	s.Superseded, s.Standing = "by revision 4", []string{"a"}
	after, err := s.Digest()
	require.NoError(t, err)
	assert.Equal(t, before, after)
	for _, p := range pagesOf(t, pdfOf(t, s, PaperOptions{})) {
		foot := ""
		for _, w := range p.Words {
			if w.YMin > p.Height-40 {
				foot += w.Text + " "
			}
		}
		assert.Contains(t, foot, after)
		assert.Contains(t, foot, "SUPERSEDED revision")
	}
	s.LapTimeS += 1e-6
	s.Loss = nil
	other, err := s.Digest()
	require.NoError(t, err)
	assert.NotEqual(t, before, other)
}

// testFigure is a line.
func testFigure(t testing.TB) Figure {
	t.Helper()
	return Figure{
		Title: "FIGURE: a line", Caption: "made for a test", Ratio: 1.5,
		SVG:  []byte(`<?xml version="1.0"?><!-- x --><svg role="img" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 3 2"><title>a line</title><path d="M0 0L3 2"/></svg>`),
		Draw: func(d *fpdf.Fpdf, x, y, w, h float64) error { d.Line(x, y, x+w, y+h); return nil },
	}
}

// A figure comes with its title and caption, and what follows
// is black again; what fails ends the document with no byte.
func TestFigures(t *testing.T) {
	s := mustBuild(t, fixture(6))
	line := testFigure(t)
	lines := Figure{Title: "FIGURE: drawn", Ratio: 2, Draw: func(d *fpdf.Fpdf, x, y, w, h float64) error {
		d.SetTextColor(200, 200, 200)
		d.SetFillColor(200, 200, 200)
		d.SetFont(fontName, boldFace, 30)
		d.Text(x+w/2, y+h/2, "inside")
		return nil
	}}
	doc := pdfOf(t, s, PaperOptions{Figures: []Figure{line, lines}})
	raw := string(poppler(t, doc, "pdftotext", "-raw"))
	for _, want := range []string{"FIGURE: a line", "made for a test", "inside"} {
		assert.Contains(t, raw, want)
	}
	assert.Empty(t, misplaced(pagesOf(t, doc)))
	var b bytes.Buffer
	require.NotContains(t, string(poppler(t, pdfOf(t, s, PaperOptions{Figures: []Figure{{Title: "for the browser"}}}), "pdftotext", "-raw")), "for the browser")
	assert.Error(t, s.PDF(&b, PaperOptions{Figures: []Figure{{Title: "bad", Draw: func(*fpdf.Fpdf, float64, float64, float64, float64) error { return errFont }}}}))
	assert.Error(t, s.PDF(&b, PaperOptions{Paper: "a7"}))
	assert.Error(t, s.PDF(&b, PaperOptions{Units: "ell"}))
	s.Gears[0].Ratio = 3
	assert.Error(t, s.PDF(&b, PaperOptions{}))
	assert.Zero(t, b.Len())
}

func BenchmarkPDF(b *testing.B) {
	in := fixture(8)
	s, err := Build(in)
	require.NoError(b, err)
	crowd(s, "Long Reed")
	opt := PaperOptions{Figures: []Figure{testFigure(b)}}
	for b.Loop() {
		pdfOf(b, s, opt)
	}
}

func BenchmarkHTML(b *testing.B) {
	s, err := Build(fixture(8))
	require.NoError(b, err)
	crowd(s, "Long Reed")
	for b.Loop() {
		var out bytes.Buffer
		require.NoError(b, s.HTML(&out, PaperOptions{}))
	}
}
