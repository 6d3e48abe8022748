package gearbox

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"layshaft/internal/csvfile"
	"layshaft/internal/datafile"
)

// Columns of a stock table. Those of the teeth are needed, and fits or position.
// The names in brackets mean the same.
const (
	colKind      = "kind" // pair (the default), final_drive, drop_pair
	colID        = "id"   // (serial)
	colLayshaft  = "layshaft_teeth"
	colMainshaft = "mainshaft_teeth"
	colCount     = "pair_count"   // (count, qty); default 1
	colFits      = "fits"         // kinds of slot, blanks between
	colPosition  = "position"     // gears that it may carry: 1, 3-6, 3 5; in place of fits
	colRun       = "run_km"       // (km)
	colCrack     = "crack_tested" // (crack_test): year-month-day
)

// tableKinds are the values of colKind. Read-only.
var tableKinds = []string{"pair", "final_drive", "drop_pair"}

// aliases are other names of columns. Read-only.
var aliases = map[string]string{
	"serial": colID, "count": colCount, "qty": colCount, "quantity": colCount, "km": colRun, "crack_test": colCrack,
}

// tableColumns are all columns, in the order in which Table writes them.
func tableColumns() []string {
	return []string{
		colKind, colID, colLayshaft, colMainshaft, "half", "mark", colCount, colFits, "dog_side", "group",
		colRun, "life_km", "damage_ratio", "damage_over_km", colCrack, "crack_tested_at_km", "crack_test_every_days", "crack_test_every_km",
		"limiter_count", "limiter_most_count", "inspection_due", "inspection_causes", "retired",
		"place", "car", "gear", "note",
	}
}

// table reads one file.
type table struct {
	*csvfile.Table
	box    *Box
	column map[string]string // as known -> as the file calls it
	stock  *Stock
	faults []error
	lines  map[string]int // id -> line
	teeth  map[Teeth]int  // -> first line
}

// ParseTable reads a stock out of a table that people keep in a spreadsheet. The
// teeth stand in two columns of whole numbers; one column with 12/38 is refused,
// since spreadsheets turn it into a date. Where the table says which gears a pair
// may carry, and not which slots it fits, the box's listed clusters tell in which
// slots these gears stand. notes says what was assumed. The error lists every
// fault with its line.
func ParseTable(src datafile.Source, box *Box) (stock *Stock, notes []string, err error) {
	raw, err := csvfile.Read(src.Name, src.Data)
	if err != nil {
		return nil, nil, err
	}
	t := &table{
		Table: raw, box: box, column: map[string]string{}, lines: map[string]int{}, teeth: map[Teeth]int{},
		stock: &Stock{Name: strings.TrimSuffix(src.Name, ".csv")},
	}
	if err := t.columns(); err != nil {
		return nil, nil, err
	}
	t.unitsRow()
	for i := range t.Rows {
		t.row(&t.Rows[i])
	}
	if len(t.faults) > 0 {
		return nil, nil, errors.Join(t.faults...)
	}
	t.stock.Warnings = stockToothSums(t.stock.Pairs)
	return t.stock, append(t.Notes, t.stock.Warnings...), nil
}

// columns finds the known columns and refuses the others.
func (t *table) columns() error {
	if t.Has("pair") && !t.Has(colLayshaft) {
		return t.pairColumn()
	}
	known := append(tableColumns(), colPosition)
	for _, c := range t.Columns {
		as := c
		if other, ok := aliases[c]; ok {
			as = other
		}
		switch before := t.column[as]; {
		case !slices.Contains(known, as):
			hint := "known are " + strings.Join(known, ", ")
			if near, ok := datafile.Nearest(c, known); ok {
				hint = "did you mean " + near + "?"
			}
			t.faults = append(t.faults, fmt.Errorf("%s: column %s is not known: %s", t.Name, c, hint))
		case before != "":
			t.faults = append(t.faults, fmt.Errorf("%s: columns %s and %s say the same thing: keep one", t.Name, before, c))
		default:
			t.column[as] = c
		}
	}
	for _, c := range []string{colLayshaft, colMainshaft} {
		if t.column[c] == "" {
			t.faults = append(t.faults, fmt.Errorf("%s: column %s is missing: the teeth stand in two columns, layshaft_teeth (driving) and mainshaft_teeth (driven)", t.Name, c))
		}
	}
	if t.column[colFits] == "" && t.column[colPosition] == "" {
		t.faults = append(t.faults, fmt.Errorf("%s: column fits or position is missing: in fits write the kinds of slot%s, in position the gears that the pair may carry, such as 2 or 3-6", t.Name, t.kinds()))
	}
	return errors.Join(t.faults...)
}

// kinds names the box's kinds of slot for a message.
func (t *table) kinds() string {
	if t.box == nil {
		return ", as the gearbox file names them"
	}
	var kinds []string
	for i := range t.box.Slots {
		if k := t.box.Slots[i].Kind; !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
	}
	return " of " + t.box.Name + " (" + strings.Join(kinds, ", ") + ")"
}

// pairColumn refuses one column with both numbers, and shows what became of it.
func (t *table) pairColumn() error {
	text := fmt.Sprintf("%s: column pair: write the teeth in two columns of whole numbers, layshaft_teeth (driving) and mainshaft_teeth (driven); a spreadsheet turns 12/38 into a date", t.Name)
	for i := range t.Rows {
		if v := t.Rows[i].Text("pair"); LooksLikeDate(v) {
			text += fmt.Sprintf("\n%s:%d: %q is such a date: read the numbers on the gears again", t.Name, t.Rows[i].Line, v)
		}
	}
	return errors.New(text)
}

// unitsRow takes a first line without any digit for the units of the columns, and
// refuses those that are not the columns' own.
func (t *table) unitsRow() {
	if len(t.Rows) == 0 {
		return
	}
	r := &t.Rows[0]
	known := map[string]string{"km": "km", "kilometres": "km", "days": "days", "d": "days", "teeth": "teeth", "z": "teeth", "count": "count", "pcs": "count"}
	some := false
	for _, c := range t.Columns {
		unit := strings.Trim(r.Text(c), "[]()- ")
		if strings.ContainsAny(unit, "0123456789") || unit != "" && known[strings.ToLower(unit)] == "" && (c == t.column[colLayshaft] || c == t.column[colID]) {
			return // a line of values, good or bad
		}
		some = some || unit != ""
	}
	if !some {
		return
	}
	t.Rows = t.Rows[1:]
	t.Notes = append(t.Notes, fmt.Sprintf("%s:%d: read as a line of units", t.Name, r.Line))
	for as, c := range t.column {
		unit := strings.ToLower(strings.Trim(r.Text(c), "[]()- "))
		for _, suffix := range []string{"km", "days", "teeth", "count"} {
			if unit != "" && strings.HasSuffix(as, "_"+suffix) && known[unit] != suffix {
				t.fault(r, "%s: the unit is %q, but the column is in %s: convert it", c, unit, suffix)
			}
		}
	}
}

func (t *table) fault(r *csvfile.Row, format string, args ...any) {
	t.faults = append(t.faults, fmt.Errorf("%s:%d: %s", t.Name, r.Line, fmt.Sprintf(format, args...)))
}

func (t *table) text(r *csvfile.Row, column string) string { return r.Text(t.column[column]) }

func (t *table) number(r *csvfile.Row, column string) float64 {
	v, _, err := t.Number(r, t.column[column])
	if err != nil {
		t.faults = append(t.faults, err)
	}
	return v
}

func (t *table) whole(r *csvfile.Row, column string, otherwise, lo, hi int) int {
	if v := t.text(r, column); LooksLikeDate(v) && (column == colLayshaft || column == colMainshaft) {
		t.fault(r, "%s: %q is a date that a spreadsheet made of tooth numbers: read the gears again", column, v)
		return otherwise
	}
	n, given, err := t.Whole(r, t.column[column], lo, hi)
	if err != nil {
		t.faults = append(t.faults, err)
	}
	if !given {
		return otherwise
	}
	return n
}

// yes reads a column of yes and no; empty is no.
func (t *table) yes(r *csvfile.Row, column string) bool {
	switch v := strings.ToLower(t.text(r, column)); v {
	case "yes", "true", "1", "x":
		return true
	case "", "no", "false", "0":
	default:
		t.fault(r, "%s: %q is neither yes nor no", column, v)
	}
	return false
}

// list reads a column with several words, semicolons or bars between; where
// there are neither, blanks.
func list(text string) []string {
	if !strings.ContainsAny(text, "|;") {
		return strings.Fields(text)
	}
	var out []string
	for _, p := range strings.FieldsFunc(text, func(r rune) bool { return r == '|' || r == ';' }) {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

func (t *table) row(r *csvfile.Row) {
	before := len(t.faults)
	kind := t.text(r, colKind)
	if kind == "" {
		kind = tableKinds[0]
	}
	if !slices.Contains(tableKinds, kind) {
		t.fault(r, "kind: %q is not known: %s", kind, strings.Join(tableKinds, ", "))
		return
	}
	if kind != tableKinds[0] {
		t.drive(r, kind)
		return
	}
	p := t.pair(r)
	if len(t.faults) > before {
		return
	}
	if err := p.Validate(); err != nil {
		for _, line := range strings.Split(err.Error(), "\n") {
			t.fault(r, "%s", line)
		}
		return
	}
	if p.Count == 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("%s:%d: %s has count 0 and was left out: what is not there has no card", t.Name, r.Line, p.ID))
		return
	}
	if t.twice(r, p) {
		return
	}
	t.stock.Pairs = append(t.stock.Pairs, *p)
}

// twice gives a pair without a number one of its own, and refuses what is
// probably a pair with its columns swapped.
func (t *table) twice(r *csvfile.Row, p *Pair) bool {
	own := t.text(r, colID) != ""
	if line := t.teeth[Teeth{p.Mainshaft, p.Layshaft}]; line > 0 && p.Layshaft != p.Mainshaft && p.Half == "" && !own {
		t.fault(r, "%s is the pair of line %d the other way round: are layshaft_teeth and mainshaft_teeth swapped? Where both are real give them ids", p.teethText(), line)
		return true
	}
	if !own {
		base := p.ID
		for k := 'b'; t.lines[p.ID] > 0; k++ {
			p.ID = base + " " + string(k)
		}
	}
	if line := t.lines[p.ID]; line > 0 {
		t.fault(r, "id %s is that of line %d too; ids must differ", p.ID, line)
		return true
	}
	t.lines[p.ID] = r.Line
	if t.teeth[Teeth{p.Layshaft, p.Mainshaft}] == 0 {
		t.teeth[Teeth{p.Layshaft, p.Mainshaft}] = r.Line
	}
	return false
}

func (t *table) pair(r *csvfile.Row) *Pair {
	p := &Pair{
		ID: t.text(r, colID), Half: t.text(r, "half"), Mark: t.text(r, "mark"),
		Fits: list(t.text(r, colFits)), DogSide: t.text(r, "dog_side"), Group: t.text(r, "group"),
		Damage: t.number(r, "damage_ratio"), DamageM: t.number(r, "damage_over_km") * metresPerKm, InspectionDue: t.yes(r, "inspection_due"), Retired: t.yes(r, "retired"),
		Place: t.text(r, "place"), Car: t.text(r, "car"), Note: t.text(r, "note"),
		RunM: t.number(r, colRun) * metresPerKm, LifeM: t.number(r, "life_km") * metresPerKm,
	}
	p.Layshaft = t.whole(r, colLayshaft, 0, minTeeth, maxTeeth)
	p.Mainshaft = t.whole(r, colMainshaft, 0, minTeeth, maxTeeth)
	p.Count = t.whole(r, colCount, 1, 0, maxCount)
	p.Gear = t.whole(r, "gear", 0, 1, maxGears)
	p.LimiterCount = t.whole(r, "limiter_count", 0, 0, maxEvents)
	p.LimiterMost = t.whole(r, "limiter_most_count", 0, 0, maxEvents)
	if causes := t.text(r, "inspection_causes"); causes != "" {
		for _, c := range strings.Split(causes, "|") {
			if c = strings.TrimSpace(c); c != "" {
				p.Causes = append(p.Causes, c)
			}
		}
	}
	p.Crack = CrackTest{
		AtM:  t.number(r, "crack_tested_at_km") * metresPerKm,
		Days: t.whole(r, "crack_test_every_days", 0, 0, maxDays), EveryM: t.number(r, "crack_test_every_km") * metresPerKm,
	}
	if text := t.text(r, colCrack); text != "" {
		day, err := ParseDay(text)
		if err != nil {
			t.fault(r, "%s: %s", colCrack, err)
		}
		p.Crack.On = day
	}
	if where := t.text(r, colPosition); where != "" && len(p.Fits) == 0 {
		p.Fits = t.position(r, where)
	}
	if p.ID == "" {
		p.ID = p.teethText()
	}
	return p
}

// position turns gears into the kinds of slots in which they stand in the
// clusters that the box lists.
func (t *table) position(r *csvfile.Row, text string) []string {
	if t.box == nil {
		t.fault(r, "position: %q needs a gearbox, which says where the gears stand", text)
		return nil
	}
	var kinds []string
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,;|/+", r) }) {
		from, to, isRange := strings.Cut(word, "-")
		if !isRange {
			to = from
		}
		lo, errA := strconv.Atoi(from)
		hi, errB := strconv.Atoi(to)
		if errA != nil || errB != nil || lo < 1 || hi < lo || hi > t.box.Gears {
			t.fault(r, "position: %q is not a gear or range of gears of %s, which has %d: write 2, 3-6 or 3 5", word, t.box.Name, t.box.Gears)
			return nil
		}
		for gear := lo; gear <= hi; gear++ {
			for c := range t.box.Clusters {
				if s := t.box.Slot(&t.box.Clusters[c], gear); s != nil && !slices.Contains(kinds, s.Kind) {
					kinds = append(kinds, s.Kind)
				}
			}
		}
	}
	note := fmt.Sprintf("%s: position is taken for the slots in which these gears stand in %s; check what each pair really fits", t.Name, t.box.Name)
	if !slices.Contains(t.Notes, note) {
		t.Notes = append(t.Notes, note)
	}
	return kinds
}

// drive reads a final drive or a drop pair; its name is the id.
func (t *table) drive(r *csvfile.Row, kind string) {
	d := Drive{Name: t.text(r, colID), Count: t.whole(r, colCount, 1, 0, maxCount)}
	d.Driving = t.whole(r, colLayshaft, 0, minTeeth, maxTeeth)
	d.Driven = t.whole(r, colMainshaft, 0, minTeeth, maxTeeth)
	if d.Name == "" {
		d.Name = fmt.Sprintf("%d/%d", d.Driving, d.Driven)
	}
	if LooksLikeDate(d.Name) {
		t.fault(r, "id: %q looks like a date that a spreadsheet made of tooth numbers", d.Name)
	}
	if d.Driving == 0 || d.Driven == 0 {
		t.fault(r, "%s %s has no teeth", kind, d.Name)
	}
	if cars := t.text(r, "car"); cars != "" {
		d.FittedIn = list(cars)
		d.Fitted = slices.Contains(d.FittedIn, DefaultCar)
	}
	into := &t.stock.Finals
	if kind == tableKinds[2] {
		into = &t.stock.Drops
	}
	if slices.ContainsFunc(*into, func(o Drive) bool { return o.Name == d.Name }) {
		t.fault(r, "%s %s stands there twice", kind, d.Name)
		return
	}
	*into = append(*into, d)
}
