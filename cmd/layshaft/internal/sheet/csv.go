package sheet

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
)

// CSV writes gear table and build table as one table: a row for each gear, from
// first on, then one for reverse where it stands in the stack; sorted by
// stack_position it is the build table. Heads are the keys of the JSON, whose last
// part is the unit; a cell without a value is empty; the decimal sign is a point
// and the separator a comma, whatever the reader's country (UTF-8).
//
// Spreadsheets turn "16/35" into a date or a fraction, and "=…" into a formula.
// So the tooth numbers are two columns of whole numbers, and mark and pair id have
// their word before them: "mark 16/35", "pair 16/35". Other texts get "text "
// before them where they could be taken for something else.
func (s *Sheet) CSV(w io.Writer) error {
	if err := s.Check(); err != nil {
		return err
	}
	var b bytes.Buffer
	table := csv.NewWriter(&b)
	table.UseCRLF = true // RFC 4180
	if err := table.WriteAll(s.csvRows()); err != nil {
		return fmt.Errorf("sheet: CSV: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// csvKeys are the columns.
func csvKeys() []string {
	return []string{
		"gear", "pair_id", "layshaft_teeth", "mainshaft_teeth", "mark", "ratio", "overall_ratio", "step_ratio",
		"upshift_rpm", "rpm_after_upshift", "rpm_drop", "speed_at_upshift_kmh", "speed_at_limiter_kmh",
		"used_on_lap", "time_in_gear_s", "max_rpm", "downshift_speed_max_kmh",
		"stack_position", "fork", "dog_side", "slot_kind", "group",
		"run_km", "life_km", "in_shop_count", "place", "crack_tested", "bench_min", "note", "waiver",
	}
}

func (s *Sheet) csvRows() [][]string {
	rows := [][]string{csvKeys()}
	for i := range s.Gears {
		g := &s.Gears[i]
		rows = append(rows, []string{
			strconv.Itoa(g.Gear), "pair " + plainLine(g.PairID), strconv.Itoa(g.LayshaftTeeth), strconv.Itoa(g.MainshaftTeeth), "mark " + plainLine(g.Mark),
			number(g.Ratio), number(g.OverallRatio), numberOr(g.StepRatio),
			wholeOr(g.UpshiftRPM), wholeOr(g.RPMAfterUpshift), wholeOr(g.RPMDrop), numberOr(g.SpeedAtUpshiftKmh), number(g.SpeedAtLimiterKmh),
			strconv.FormatBool(g.UsedOnLap), number(g.TimeInGearS), wholeOr(g.MaxRPM), numberOr(g.DownshiftMaxKmh),
			strconv.Itoa(g.StackPosition), strconv.Itoa(g.Fork), words(g.DogSide), words(g.SlotKind), words(g.Group),
			number(g.RunKm), numberOr(g.LifeKm), strconv.Itoa(g.InShop), g.Place, g.CrackTested, number(g.Strip.BenchMin), words(g.Note), words(g.Waiver),
		})
	}
	for i, gear := range s.Stack {
		if gear >= 1 {
			continue
		}
		row := make([]string, len(rows[0]))
		fork := ""
		for k, f := range s.Forks {
			if gearbox.Fork(f).Serves(gear) {
				fork = strconv.Itoa(k + 1)
			}
		}
		row[0] = strconv.Itoa(gear)
		for k, key := range rows[0] {
			switch key {
			case "stack_position":
				row[k] = strconv.Itoa(i + 1)
			case "fork":
				row[k] = fork
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// mistaken finds texts that a spreadsheet may take for a number, a date, a time, a
// truth value or a formula, or for a text of ours that is protected already.
var mistaken = regexp.MustCompile(`^(\s*[-+=@]|\s*[0-9.]|text |(?i:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|true|false))`)

// words is a cell of text that stays one.
func words(s string) string {
	s = plainLine(s)
	if mistaken.MatchString(s) {
		return "text " + s
	}
	return s
}

// plainLine is a text on one line, without characters that nobody sees.
func plainLine(s string) string { return strings.TrimSpace(seen(s)) }

func numberOr(v *float64) string {
	if v == nil {
		return ""
	}
	return number(*v)
}

func wholeOr(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}
