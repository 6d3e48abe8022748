package datafile

import "strings"

// Nearest returns the candidate that a misspelt word most likely meant: the
// one at the least edit distance, case ignored, the first on a tie. ok is false
// when none comes within a third of the longer word's length (at least 1).
// Words that one extends with further parts ("tyre_radius" for "tyre_radius_m")
// count as near as well.
func Nearest(word string, candidates []string) (best string, ok bool) {
	w := strings.ToLower(word)
	least := -1
	for _, c := range candidates {
		l := strings.ToLower(c)
		d := distance(w, l)
		limit := max(1, max(len(w), len(l))/3)
		if d > limit && len(w) >= 3 && (strings.HasPrefix(l, w+"_") || strings.HasPrefix(w, l+"_")) {
			d = limit
		}
		if d <= limit && (least < 0 || d < least) {
			best, least = c, d
		}
	}
	return best, least >= 0
}

// distance is the optimal string alignment distance: insertions, deletions,
// substitutions and swaps of neighbours each cost 1. Long words are cut at 80
// runes, so that a hostile file cannot make it slow.
func distance(a, b string) int {
	x, y := clip([]rune(a)), clip([]rune(b))
	var before []int
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		next := make([]int, len(y)+1)
		next[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			next[j] = min(next[j-1]+1, row[j]+1, row[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(y)]
}

func clip(r []rune) []rune {
	if len(r) > 80 {
		return r[:80]
	}
	return r
}
