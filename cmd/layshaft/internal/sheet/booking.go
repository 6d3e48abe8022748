package sheet

import (
	"fmt"
	"io"
	"strconv"
)

// Card is a pair of the store as it stands after a change.
type Card struct {
	PairID string   `json:"pair_id"`
	Gear   *int     `json:"gear"` // in the car; nil = not fitted
	RunKm  float64  `json:"run_km"`
	LeftKm *float64 `json:"life_left_km"` // nil = no limit given
	State  string   `json:"state"`        // "ready", "fitted", "due", "retired"
	Why    string   `json:"why"`          // why it is due; "" = it is not
}

// Booking is the receipt for one change of the pair store.
type Booking struct {
	Schema  int      `json:"schema_version"`
	Store   string   `json:"store"`
	Number  uint64   `json:"number"` // of the entry in the history; 0 = nothing differed
	At      string   `json:"at"`     // RFC 3339, UTC
	Who     string   `json:"who"`
	What    string   `json:"what"`
	Why     string   `json:"why"`
	Summary string   `json:"summary"`
	Cards   []Card   `json:"cards"` // the pairs that it touched
	Notes   []string `json:"notes"`
}

// JSON writes the receipt as one object.
func (b *Booking) JSON(w io.Writer) error {
	if b.Cards == nil {
		b.Cards = []Card{}
	}
	if b.Notes == nil {
		b.Notes = []string{}
	}
	b.Schema = SchemaVersion
	return writeJSON(w, b)
}

// Text writes the receipt for an 80-column terminal; opt changes nothing but is
// checked.
func (b *Booking) Text(w io.Writer, opt TextOptions) error {
	if _, err := opt.display(); err != nil {
		return err
	}
	p := &page{}
	if b.Number == 0 {
		p.para(b.Store + ": nothing differs from what it holds; nothing was written.")
	} else {
		p.para(fmt.Sprintf("%s, entry %d: %s.", b.Store, b.Number, b.Summary))
	}
	if len(b.Cards) > 0 {
		p.blank()
		var rows [][]string
		for _, c := range b.Cards {
			gear := none
			if c.Gear != nil {
				gear = strconv.Itoa(*c.Gear)
			}
			rows = append(rows, []string{c.PairID, gear, fixed(c.RunKm, 1), kmDown(c.LeftKm), c.State, orNone(c.Why)})
		}
		p.table([]column{{head: "pair", flex: true}, {head: "gear", right: true}, {head: "run km", right: true},
			{head: "left km", right: true}, {head: "state"}, {head: "why", flex: true}}, rows)
	}
	for _, n := range b.Notes {
		p.para(n)
	}
	return p.flush(w)
}
