package gearbox

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// defaultToothSumSpread is the number of teeth by which sums on one centre
// distance differ by profile shift without being remarkable ("within a tooth
// or two": common practice).
const defaultToothSumSpread = 2

// ToothSumWarning is a line for a pair whose tooth sum is unusual for the box,
// "" when it is usual or when the box states no sum. Another sum may be a
// typing error; it is never refused, since profile shift can make it right.
func (b *Box) ToothSumWarning(p *Pair) string {
	if b.ToothSum == 0 {
		return ""
	}
	return toothSumWarning(p, b.ToothSum, b.ToothSumSpread)
}

func toothSumWarning(p *Pair, usual, spread int) string {
	sum := p.Layshaft + p.Mainshaft
	if d := sum - usual; d <= spread && -d <= spread {
		return ""
	}
	return fmt.Sprintf("pair %s: tooth sum %d, usual is %d (within %d): check the numbers on the gears", p.ID, sum, usual, spread)
}

// stockToothSums warns of pairs whose sum lies off the commonest one of the
// stock, which stands for the centre distance as long as no box is known: one
// line per sum.
func stockToothSums(pairs []Pair) []string {
	seen := map[int]int{}
	usual := 0
	for i := range pairs {
		sum := pairs[i].Layshaft + pairs[i].Mainshaft
		seen[sum]++
		if seen[sum] > seen[usual] || (seen[sum] == seen[usual] && sum < usual) {
			usual = sum
		}
	}
	odd := map[int][]string{}
	for i := range pairs {
		if p := &pairs[i]; toothSumWarning(p, usual, defaultToothSumSpread) != "" {
			sum := p.Layshaft + p.Mainshaft
			odd[sum] = append(odd[sum], p.ID)
		}
	}
	var out []string
	for _, sum := range slices.Sorted(maps.Keys(odd)) {
		out = append(out, fmt.Sprintf("tooth sum %d, most of the stock has %d (within %d), check the numbers on the gears: %s",
			sum, usual, defaultToothSumSpread, strings.Join(odd[sum], ", ")))
	}
	return out
}

// SetWarnings are the lines that a reader of a sheet for this set should see,
// the pairs of which the stock has only one, and in gear order the tooth sums that
// are unusual for the box.
func SetWarnings(b *Box, set *Set) []string {
	var out, single []string
	for i, p := range set.Pairs {
		if p == nil {
			continue
		}
		if p.Count == 1 {
			single = append(single, fmt.Sprintf("%s (gear %d)", p.ID, i+1))
		}
		if w := b.ToothSumWarning(p); w != "" {
			out = append(out, fmt.Sprintf("gear %d: %s", i+1, w))
		}
	}
	if len(single) > 0 {
		out = append([]string{"no second pair like it in the stock: " + strings.Join(single, ", ")}, out...)
	}
	return out
}
