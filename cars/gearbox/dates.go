package gearbox

import (
	"regexp"

	"layshaft/internal/datafile"
)

// dateLike matches what spreadsheets make of tooth numbers such as 12/38 and
// 5/4: "Dec-38", "31-Oct", "5. Apr", "2031-10-12", "05.04.2026", and the day
// number of such a date, "45566" (five digits from 20000 to 69999: the years
// 1954 to 2091 when days are counted from 1900). Read-only.
var dateLike = regexp.MustCompile(`(?i)^\s*(` +
	`\d{1,4}\s*[-/. ]+\s*(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?` +
	`|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?\s*[-/. ]\s*\d{1,4}` +
	`|\d{4}-\d{1,2}-\d{1,2}.*` +
	`|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}` +
	`|[2-6]\d{4}` +
	`)\s*$`)

// refuseDate faults a text that is a date rather than tooth numbers and
// reports whether it did.
func refuseDate(d *datafile.Doc, key, text string) bool {
	if !dateLike.MatchString(text) {
		return false
	}
	d.Fault(key, "%q looks like a date; spreadsheets turn tooth numbers such as 12/38 into dates. Write the numbers read on the gears, layshaft_teeth and mainshaft_teeth apart", text)
	return true
}

// LooksLikeDate reports whether a text is what a spreadsheet makes of tooth
// numbers such as 12/38: a date, or the number of a day.
func LooksLikeDate(text string) bool { return dateLike.MatchString(text) }
