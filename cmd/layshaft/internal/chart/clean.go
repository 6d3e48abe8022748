package chart

import (
	"strings"
	"unicode"

	"gonum.org/v1/plot/font"
)

// Clean makes a text fit to be drawn: control characters become blanks, marks
// that only join or vary others are dropped, and every character that the font
// lacks, or that a PDF cannot name (above U+FFFF), becomes a question mark.
// Invalid UTF-8 becomes question marks too.
func Clean(s string) string {
	face := font.DefaultCache.Lookup(sans(smallSize, false), smallSize)
	var out strings.Builder
	for _, r := range s {
		switch {
		case unicode.IsSpace(r) || unicode.IsControl(r):
			r = ' '
		case unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r):
			continue
		case r > 0xffff || r == unicode.ReplacementChar:
			r = '?'
		default:
			if i, err := face.Face.GlyphIndex(nil, r); err != nil || i == 0 {
				r = '?'
			}
		}
		out.WriteRune(r)
	}
	return strings.TrimSpace(out.String())
}
