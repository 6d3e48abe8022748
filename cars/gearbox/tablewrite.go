package gearbox

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"
)

// Table writes the stock as a table that ParseTable reads back: commas, decimal
// points, UTF-8, one line a pair. Same stock, same bytes. The fitted list of a
// stock file is not in it; pairs say themselves where they are fitted.
func (s *Stock) Table() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	columns := tableColumns()
	put := func(cells map[string]string) {
		row := make([]string, len(columns))
		for i, c := range columns {
			row[i] = cells[c]
		}
		_ = w.Write(row) // a buffer takes everything
	}
	_ = w.Write(columns)
	drives := func(kind string, all []Drive) {
		for _, d := range all {
			cars := d.FittedIn
			if len(cars) == 0 && d.Fitted {
				cars = []string{DefaultCar}
			}
			put(map[string]string{
				colKind: kind, colID: d.Name, colLayshaft: strconv.Itoa(d.Driving), colMainshaft: strconv.Itoa(d.Driven),
				colCount: strconv.Itoa(d.Count), "car": bars(cars),
			})
		}
	}
	drives(tableKinds[1], s.Finals)
	drives(tableKinds[2], s.Drops)
	for i := range s.Pairs {
		put(s.Pairs[i].cells())
	}
	w.Flush()
	return b.Bytes()
}

// cells is the pair's card by column; what says nothing is left out.
func (p *Pair) cells() map[string]string {
	out := map[string]string{
		colKind: tableKinds[0], colID: p.ID, "half": p.Half, "mark": p.Mark, colCount: strconv.Itoa(p.Count),
		colFits: bars(p.Fits), "dog_side": p.DogSide, "group": p.Group,
		colCrack: p.Crack.On.String(), "inspection_causes": strings.Join(withoutBars(p.Causes), "|"),
		"place": p.Place, "car": p.Car, "note": p.Note,
	}
	for column, n := range map[string]int{
		colLayshaft: p.Layshaft, colMainshaft: p.Mainshaft, "crack_test_every_days": p.Crack.Days,
		"limiter_count": p.LimiterCount, "limiter_most_count": p.LimiterMost, "gear": p.Gear,
	} {
		if n != 0 {
			out[column] = strconv.Itoa(n)
		}
	}
	for column, v := range map[string]float64{
		"life_km": p.LifeM / metresPerKm, "damage_ratio": p.Damage, "damage_over_km": p.DamageM / metresPerKm,
		"crack_tested_at_km": p.Crack.AtM / metresPerKm, "crack_test_every_km": p.Crack.EveryM / metresPerKm,
	} {
		if v != 0 {
			out[column] = strconv.FormatFloat(v, 'f', -1, 64)
		}
	}
	out[colRun] = strconv.FormatFloat(p.RunM/metresPerKm, 'f', -1, 64)
	for column, v := range map[string]bool{"inspection_due": p.InspectionDue, "retired": p.Retired} {
		if v {
			out[column] = "yes"
		}
	}
	return out
}

// bars joins words for list; a single one with a blank in it gets a bar too.
func bars(words []string) string {
	out := strings.Join(words, "|")
	if len(words) == 1 && strings.Contains(out, " ") {
		out += "|"
	}
	return out
}

// withoutBars keeps the bar for between the texts.
func withoutBars(texts []string) []string {
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = strings.ReplaceAll(t, "|", "/")
	}
	return out
}
