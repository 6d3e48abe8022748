// Package csvfile reads tables that people saved out of a spreadsheet: it finds
// out about encoding, line ends, separator and decimal sign, says what it took
// them for, and refuses where a guess could turn out wrong in silence.
//
// # Pipeline
//
//  1. Bytes become text: byte-order mark, else UTF-8, else Windows-1252.
//  2. The separator is the one of comma, semicolon and tab that the first line
//     has most of; cells come from encoding/csv.
//  3. The first line holds the names of the columns: lower case, blanks and
//     hyphens as underscores, each once.
//  4. The decimal sign is found from the cells (see Number).
//
// # Left out
//
// Files without a header: numbers without names are not guessed at. Several
// tables in one file.
package csvfile
