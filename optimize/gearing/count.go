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
	total := new(big.Int)
	f.eachParts(stock, func(need int, grouped groupOf) { total.Add(total, f.chains(need, grouped)) })
	return total
}

// groupOf says of a candidate whether it is a pair of an integral part (1 or 0), and
// whether it may stand.
type groupOf func(g, i int) (n int, ok bool)

// eachParts calls do for every choice of integral parts whose pairs fit into the
// gears: with the number of their pairs, and what that makes of a candidate. Parts of
// one pair are whole by themselves and count as loose.
func (f *frame) eachParts(stock *gearbox.Stock, do func(need int, grouped groupOf)) {
	members := map[string]int{}
	for i := range stock.Pairs {
		members[stock.Pairs[i].Group]++
	}
	// Those that can be used at all: every pair of the part is a candidate.
	var usable []string
	for name, list := range f.groups {
		ids := map[string]bool{}
		for _, q := range list {
			ids[q.id] = true
		}
		if m := members[name]; m > 1 && m <= f.n && len(ids) == m {
			usable = append(usable, name)
		}
	}
	sort.Strings(usable)
	chosen := map[string]bool{}
	grouped := func(g, i int) (int, bool) {
		name := f.cand[g][i].Group
		if name == "" || members[name] == 1 {
			return 0, true
		}
		return 1, chosen[name]
	}
	var pick func(i, need int)
	pick = func(i, need int) {
		if i == len(usable) {
			do(need, grouped)
			return
		}
		pick(i+1, need)
		if m := members[usable[i]]; need+m <= f.n {
			chosen[usable[i]] = true
			pick(i+1, need+m)
			delete(chosen, usable[i])
		}
	}
	pick(0, 0)
}

// chains counts chains whose grouped pairs all belong to the chosen parts and
// number need. Ratios fall, so no pair stands twice; need distinct pairs of
// parts that have need pairs in all are all of them.
func (f *frame) chains(need int, grouped groupOf) *big.Int {
	// ways[i][k]: chains ending in candidate i with k grouped pairs.
	ways := make([][]*big.Int, len(f.cand[0]))
	for i := range f.cand[0] {
		ways[i] = zeros(need + 1)
		if k, ok := grouped(0, i); ok && k <= need {
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
				k, ok := grouped(g+1, int(j))
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
