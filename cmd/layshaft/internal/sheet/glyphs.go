package sheet

import (
	"encoding/binary"
	"errors"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// substitute stands for what the font cannot show: seen, and never taken for a
// letter. Liberation Sans has it.
const substitute = '□'

// coverage tells which characters a font has a glyph for, one bit each.
type coverage []uint64

// errFont says that a font has no character table that glyphs can be read from.
var errFont = errors.New("sheet: the font has no character map for Unicode")

// coverageOf reads the character map (table "cmap", format 4, of the OpenType
// specification) of a TrueType font.
func coverageOf(font []byte) (coverage, error) {
	at := func(i int) int {
		if i < 0 || i+2 > len(font) {
			return 0
		}
		return int(binary.BigEndian.Uint16(font[i:]))
	}
	long := func(i int) int { return at(i)<<16 | at(i+2) }
	cmap := 0
	for i := range at(4) {
		if e := 12 + 16*i; e+16 <= len(font) && string(font[e:e+4]) == "cmap" {
			cmap = long(e + 8)
		}
	}
	if cmap == 0 {
		return nil, errFont
	}
	for i := range at(cmap + 2) {
		e := cmap + 4 + 8*i
		platform, encoding, table := at(e), at(e+2), cmap+long(e+4)
		if platform != 3 || encoding != 1 || at(table) != 4 {
			continue
		}
		c := make(coverage, 0x10000/64)
		n := at(table + 6) // twice the number of segments
		for k := 0; k < n; k += 2 {
			ends := table + 14 + k
			starts := ends + n + 2
			deltas, offsets := starts+n, starts+2*n
			for r := at(starts); r <= at(ends) && r < 0xffff; r++ {
				glyph := r + at(deltas)
				if o := at(offsets); o != 0 {
					glyph = at(offsets + o + 2*(r-at(starts)))
				}
				if glyph&0xffff != 0 {
					c[r/64] |= 1 << (r % 64)
				}
			}
		}
		return c, nil
	}
	return nil, errFont
}

// has tells whether there is a glyph for the character.
func (c coverage) has(r rune) bool {
	return r >= 0 && r < 0x10000 && c[r/64]&(1<<(r%64)) != 0
}

// printable makes a text safe for paper: letters composed of two characters
// become one where there is one, what has no glyph in the font becomes the
// substitute, control characters become spaces. Above all no character beyond
// U+FFFF is left, on which the PDF library panics (go-pdf/fpdf issue 40).
func (c coverage) printable(s string) string {
	s = norm.NFC.String(seen(s))
	return strings.Map(func(r rune) rune {
		if r == '\u00a0' || c.has(r) {
			return r
		}
		return substitute
	}, s)
}

// seen makes a text what it looks like: no control characters, no broken UTF-8,
// and a substitute for characters that do nothing but change how others are
// shown; one of them turns a line from right to left, and 12/38 with it.
func seen(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) || r == 0xfffe || r == 0xffff {
			return substitute
		}
		return r
	}, clean(strings.ToValidUTF8(s, string(substitute))))
}
