package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// poppler runs one of its programs on a document and gives what it prints.
func poppler(t *testing.T, doc []byte, program string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("%s is missing (package poppler-utils)", program)
	}
	file := filepath.Join(t.TempDir(), "a.pdf")
	require.NoError(t, os.WriteFile(file, doc, 0o600))
	out, err := exec.CommandContext(t.Context(), program, append(args, file, "-")...).CombinedOutput()
	require.NoError(t, err, string(out))
	return out
}

// word is a word of a page with the box that poppler gives it, in points.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

// sheetOfPaper is a page of a document.
type sheetOfPaper struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []word  `xml:"word"`
}

func pagesOf(t *testing.T, doc []byte) []sheetOfPaper {
	t.Helper()
	var out struct {
		Pages []sheetOfPaper `xml:"body>doc>page"`
	}
	require.NoError(t, xml.Unmarshal(poppler(t, doc, "pdftotext", "-bbox"), &out))
	require.NotEmpty(t, out.Pages)
	return out.Pages
}

// misplaced finds words that run off the paper or into its margin, and words that
// lie on one another. Poppler's boxes reach from the font's ascent to its descent,
// which is a little less than a line; half a point is its rounding.
func misplaced(pages []sheetOfPaper) (faults []string) {
	const margin, slack = 20.0, 0.5 // pt
	for n, p := range pages {
		for i, w := range p.Words {
			if w.XMin < margin || w.YMin < margin || w.XMax > p.Width-margin || w.YMax > p.Height-margin/2 {
				faults = append(faults, fmt.Sprintf("page %d: %q runs off: %.1f to %.1f, %.1f to %.1f pt of %.0f x %.0f", n+1, w.Text, w.XMin, w.XMax, w.YMin, w.YMax, p.Width, p.Height))
			}
			for _, v := range p.Words[:i] {
				if min(v.XMax, w.XMax)-max(v.XMin, w.XMin) > slack && min(v.YMax, w.YMax)-max(v.YMin, w.YMin) > slack {
					faults = append(faults, fmt.Sprintf("page %d: %q lies on %q at %.0f, %.0f pt", n+1, w.Text, v.Text, w.XMin, w.YMin))
				}
			}
		}
	}
	return faults
}

// The checker sees what it is there for.
func TestMisplacedSeesFaults(t *testing.T) {
	p, err := newPress(300, 200, "faults")
	require.NoError(t, err)
	f := face{12, false}
	p.newPage()
	p.pages[0] = append(p.pages[0], func() {
		p.write(f, 50, 50, "under")
		p.write(f, 60, 56, "over")
		p.write(f, 280, 100, "beyond")
		p.write(f, 50, 150, "good")
	})
	var b bytes.Buffer
	require.NoError(t, p.print(&b))
	faults := misplaced(pagesOf(t, b.Bytes()))
	require.Len(t, faults, 2, faults)
	assert.Contains(t, faults[0], `"over" lies on "under"`)
	assert.Contains(t, faults[1], "runs off") // poppler leaves out what is beyond the edge
}
