package gearing

import (
	"math/big"
	"sort"

	"layshaft/cars/gearbox"
)

// count is the exact number of sets of the frame that pass every rule between
// pairs: falling ratios, step limits, top gear's headroom, integral parts
// whole. It lists nothing: it runs once over the gears for every choice of
// integral parts, counting chains that use exactly those parts.
func (f *frame) count(stock *gearbox.Stock) *big.Int {
	// Groups that can be used at all: every pair of the part is a candidate.
	members := map[string]int{}
	for i := range stock.Pairs {
		if g := stock.Pairs[i].Group; g != "" {
			members[g]++
		}
	}
	var usable []string
	for name, list := range f.groups {
		ids := map[string]bool{}
		for _, q := range list {
			ids[q.id] = true
		}
		if len(ids) == members[name] && members[name] <= f.n {
			usable = append(usable, name)
		}
	}
	sort.Strings(usable)
	total := new(big.Int)
	// Every subset of parts whose pairs fit into n gears; a chain uses the
	// pairs of the subset, all of them, and loose pairs besides.
	var pick func(i, left int, chosen map[string]bool, need int)
	pick = func(i, left int, chosen map[string]bool, need int) {
		if i == len(usable) {
			total.Add(total, f.chains(chosen, need))
			return
		}
		pick(i+1, left, chosen, need)
		if m := members[usable[i]]; m <= left {
			chosen[usable[i]] = true
			pick(i+1, left-m, chosen, need+m)
			delete(chosen, usable[i])
		}
	}
	pick(0, f.n, map[string]bool{}, 0)
	return total
}

// chains counts chains whose grouped pairs all belong to the chosen parts and
// number need. Ratios fall, so no pair stands twice; need distinct pairs of
// parts that have need pairs in all are all of them.
func (f *frame) chains(chosen map[string]bool, need int) *big.Int {
	// ways[i][k]: chains ending in candidate i with k grouped pairs.
	ways := make([][]*big.Int, len(f.cand[0]))
	start := func(g, i int) (int, bool) {
		name := f.cand[g][i].Group
		if name == "" {
			return 0, true
		}
		return 1, chosen[name]
	}
	for i := range f.cand[0] {
		ways[i] = zeros(need + 1)
		if k, ok := start(0, i); ok && k <= need {
			ways[i][k].SetInt64(1)
		}
	}
	for g := range f.n - 1 {
		nw := make([][]*big.Int, len(f.cand[g+1]))
		for j := range nw {
			nw[j] = zeros(need + 1)
		}
		for i := range f.cand[g] {
			for _, j := range f.next[g][i] {
				k, ok := start(g+1, int(j))
				if !ok {
					continue
				}
				for q := 0; q+k <= need; q++ {
					nw[j][q+k].Add(nw[j][q+k], ways[i][q])
				}
			}
		}
		ways = nw
	}
	sum := new(big.Int)
	for i := range ways {
		sum.Add(sum, ways[i][need])
	}
	return sum
}

func zeros(n int) []*big.Int {
	z := make([]*big.Int, n)
	for i := range z {
		z[i] = new(big.Int)
	}
	return z
}
