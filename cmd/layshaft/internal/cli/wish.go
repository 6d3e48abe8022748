package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/sim"

	"github.com/spf13/pflag"
)

// wish is one gear that is to be taller or shorter, by about an amount or by any.
type wish struct {
	gear   int
	taller bool
	amount float64 // in unit; 0 = any
	unit   string  // "%" of the ratio, or "rpm" at the gear's highest engine speed; "" = any
	word   string  // as the user wrote it
}

// direction is the word for where the wish goes.
func (w *wish) direction() string {
	if w.taller {
		return "taller"
	}
	return "shorter"
}

// wishes is a list of gears with amounts, such as 6 or 5:2%,6:150rpm. The flag may
// stand more than once.
type wishes struct {
	taller bool
	list   []wish
}

var _ pflag.Value = (*wishes)(nil)

// How much may be asked for: more than any step, or less than any, is a slip.
const (
	leastPct, mostPct         = 0.1, 50
	leastWishRPM, mostWishRPM = 10, 5000
)

// Set adds gears to the list; whether the box has them is checked later.
func (l *wishes) Set(s string) error {
	for _, word := range strings.Split(s, ",") {
		w, err := readWish(strings.TrimSpace(word), s)
		if err != nil {
			return err
		}
		w.taller = l.taller
		l.list = append(l.list, w)
	}
	return nil
}

func readWish(word, all string) (wish, error) {
	gear, amount, some := strings.Cut(word, ":")
	w := wish{word: word}
	var err error
	if w.gear, err = strconv.Atoi(gear); err != nil {
		return w, fmt.Errorf("%q: %q is not a gear: write 6 for any amount, 6:2%% or 6:150rpm, with commas between gears and a point as decimal sign", all, gear)
	}
	if w.gear < 1 || w.gear > maxGears {
		return w, fmt.Errorf("gear %d does not exist: forward gears are 1 to %d at most", w.gear, maxGears)
	}
	if !some {
		return w, nil
	}
	n := number{lo: leastPct, hi: mostPct, unit: "%"}
	digits, ok := strings.CutSuffix(amount, "%")
	w.unit = "%"
	if !ok {
		if digits, ok = strings.CutSuffix(amount, "rpm"); !ok {
			return w, fmt.Errorf("%q has no unit: write 6:2%% for a ratio that differs by about 2 %%, or 6:150rpm for about 150 rpm", word)
		}
		n, w.unit = number{lo: leastWishRPM, hi: mostWishRPM, unit: "rpm"}, "rpm"
	}
	if err := n.Set(digits); err != nil {
		return w, fmt.Errorf("%q: %w", word, err)
	}
	w.amount = n.value
	return w, nil
}

func (l *wishes) String() string {
	if l == nil {
		return ""
	}
	words := make([]string, len(l.list))
	for i, w := range l.list {
		words[i] = w.word
	}
	return strings.Join(words, ",")
}

// Type is the placeholder in the help.
func (l *wishes) Type() string { return "GEARS" }

// aboutLeast and aboutMost bound what "about" so much is, as shares of the amount:
// stocks have pairs every two to four per cent, so that half and double of a usual
// wish hold a few pairs and not the whole drawer.
const aboutLeast, aboutMost = 0.5, 2.0

// target is a wish held against the base.
type target struct {
	wish
	base   *gearbox.Pair
	ref    float64 // 1/min, the base's engine speed at the speed at which the wish is measured
	driven bool    // that is the highest of the base lap; else the limiter, as the lap never engages the gear
	want   float64 // ratio; that of the base where any amount will do
}

// newTarget measures a wish: rpm at the speed of the gear's highest engine speed on
// the base lap.
func newTarget(w wish, set *gearbox.Set, lap *sim.Lap, limiterRPM float64) target {
	t := target{wish: w, base: set.Pairs[w.gear-1], ref: limiterRPM}
	if rpm := lap.MaxRPM[w.gear-1]; rpm > 0 {
		t.ref, t.driven = rpm, true
	}
	t.want = t.base.Ratio() * (1 + t.sign()*t.share())
	return t
}

// share is the amount as a share of the base's ratio.
func (t *target) share() float64 {
	switch t.unit {
	case "%":
		return t.amount / 100
	case "rpm":
		return t.amount / t.ref
	}
	return 0
}

// sign is that of the change of ratio.
func (t *target) sign() float64 {
	if t.taller {
		return -1
	}
	return 1
}

// moves says whether a pair lies in the wish's direction from the base at all.
func (t *target) moves(q *gearbox.Pair) bool { return t.sign()*(q.Ratio()-t.base.Ratio()) > 0 }

// meets says whether a pair is about what the wish asks for.
func (t *target) meets(q *gearbox.Pair) bool {
	if !t.moves(q) || t.amount == 0 {
		return t.moves(q)
	}
	moved := t.sign() * (q.Ratio()/t.base.Ratio() - 1)
	return moved >= aboutLeast*t.share()-1e-12 && moved <= aboutMost*t.share()+1e-12
}

// off is how far a pair is from the wish, relative.
func (t *target) off(q *gearbox.Pair) float64 { return math.Abs(q.Ratio()/t.want - 1) }

// reach words how far a pair moves the gear: "26/28: 3.7 % taller, 310 rpm less".
func (t *target) reach(q *gearbox.Pair) string {
	moved := q.Ratio()/t.base.Ratio() - 1
	less := "more"
	if t.taller {
		less = "less"
	}
	return fmt.Sprintf("%s (%d/%d): %.1f %% %s, %.0f rpm %s", q.ID, q.Layshaft, q.Mainshaft,
		100*math.Abs(moved), t.direction(), t.ref*math.Abs(moved), less)
}

// shown is the wish as the report takes it.
func (t *target) shown() sheet.Wish {
	return sheet.Wish{Gear: t.gear, Taller: t.taller, Amount: t.amount, Unit: t.unit, Ref: t.ref, Driven: t.driven, Want: t.want}
}

// wished gathers the gears of --taller and --shorter, and refuses what contradicts
// itself or --keep.
func (o *whatifOptions) wished() ([]wish, error) {
	all := append(append([]wish(nil), o.taller.list...), o.shorter.list...)
	seen := map[int]*wish{}
	for i := range all {
		w := &all[i]
		if w.gear > o.box.Gears {
			return nil, badInput("--%s %s: the box has %d gears", w.direction(), w.word, o.box.Gears)
		}
		if other := seen[w.gear]; other != nil {
			if other.taller != w.taller {
				return nil, badInput("--taller %s and --shorter %s: gear %d cannot be both: leave one out", other.word, w.word, w.gear)
			}
			return nil, badInput("--%s: gear %d stands twice, %s and %s: leave one out", w.direction(), w.gear, other.word, w.word)
		}
		seen[w.gear] = w
		for _, g := range o.keep.list {
			if g == w.gear {
				return nil, badInput("--%s %s and --keep %d contradict each other: take gear %d out of one of them", w.direction(), w.word, g, g)
			}
		}
	}
	return all, nil
}
