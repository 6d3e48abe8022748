package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"testing"

	"layshaft/cmd/layshaft/internal/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A terminal is spared the bytes of a PDF, before anything is computed.
func TestPDFToTerminal(t *testing.T) {
	s := show{format: choice{value: formatPDF}}
	assert.ErrorContains(t, s.check(&app{screen: true}), "use -o FILE.pdf")
	assert.NoError(t, s.check(&app{}))
	s.path = toStdout
	assert.ErrorContains(t, s.check(&app{screen: true}), "use -o FILE.pdf")
	s.path = t.TempDir() + "/sheet.pdf"
	assert.NoError(t, s.check(&app{screen: true}))
}

// So it is spared the bytes of a picture; SVG is text.
func TestPictureToTerminal(t *testing.T) {
	words := []string{"png", "svg", "pdf"}
	for form, screen := range map[string]string{"png": "use -o FILE.png", "pdf": "use -o FILE.pdf", "svg": "", "": ""} {
		o := plotOptions{picture: choice{value: form, words: words}}
		o.path = toStdout
		_, err := o.place(false)
		assert.NoError(t, err, form)
		_, err = o.place(true)
		if screen == "" {
			assert.NoError(t, err, form)
		} else {
			assert.ErrorContains(t, err, screen)
		}
	}
}

// The digits at the foot of the page are the saved file's.
func TestFootOfPage(t *testing.T) {
	t.Chdir(t.TempDir())
	code, _, errs := run("sheet", "-q", "--set", "13/38,17/36,20/33,22/30,24/28,26/27", "--format", "json", "-o", "saved.json")
	require.Zero(t, code, errs)
	data, err := os.ReadFile("saved.json")
	require.NoError(t, err)
	s, err := sheet.Read("saved.json", data)
	require.NoError(t, err)
	s.Superseded, s.Standing = "by revision 4", []string{"the stock has changed"}
	sum := sha256.Sum256(data)
	got, err := s.Digest()
	require.NoError(t, err)
	assert.Equal(t, hex.EncodeToString(sum[:])[:12], got)
	code, page, errs := run("reprint", "saved.json", "--format", "html")
	require.Zero(t, code, errs)
	assert.Contains(t, page, "sheet "+got)
}
