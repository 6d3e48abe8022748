package gearbox

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/datafile"
)

// clusters converts and checks the listed clusters: every gear has exactly one
// place in the stack and exactly one fork, a fork serves one or two gears that
// stand side by side, and no fork serves neighbours unless the box allows it.
func (b *Box) clusters(d *datafile.Doc, files []clusterFile) {
	names := map[string]int{}
	for i, cf := range files {
		key := fmt.Sprintf("cluster[%d]", i+1)
		d.Need(key+".name", key+".forks", key+".stack")
		needText(d, key+".name", cf.Name)
		if first, ok := names[cf.Name]; ok && d.Has(key+".name") {
			d.Fault(key+".name", "%q is the name of cluster[%d] too; names must differ", cf.Name, first)
		} else {
			names[cf.Name] = i + 1
		}
		c := Cluster{Name: cf.Name}
		inStack := b.stack(d, key, cf.Stack, &c)
		b.forks(d, key, cf.Forks, inStack, &c)
		b.Clusters = append(b.Clusters, c)
	}
}

// gearNumber checks one gear number of a file: 1 to Gears, or -1 for reverse.
func (b *Box) gearNumber(d *datafile.Doc, key string, v float64) (int, bool) {
	if v != math.Trunc(v) || (v != Reverse && (v < 1 || v > float64(b.Gears))) {
		d.Fault(key, "%g is no gear of this box; write 1 to %d, or -1 for reverse", v, b.Gears)
		return 0, false
	}
	return int(v), true
}

// absent lists the forward gears that are not there: "gear 2, gear 4".
func (b *Box) absent(there func(gear int) bool) string {
	var out []string
	for g := 1; g <= b.Gears; g++ {
		if !there(g) {
			out = append(out, "gear "+GearName(g))
		}
	}
	return strings.Join(out, ", ")
}

func and(missing string) string {
	if missing == "" {
		return ""
	}
	return "; missing: " + missing
}

// stack fills c.Stack and returns which gears it holds.
func (b *Box) stack(d *datafile.Doc, key string, stack []float64, c *Cluster) map[int]bool {
	key += ".stack"
	held := map[int]bool{}
	if !d.Has(key) {
		return held
	}
	for i, v := range stack {
		g, ok := b.gearNumber(d, fmt.Sprintf("%s[%d]", key, i+1), v)
		if ok && held[g] {
			d.Fault(fmt.Sprintf("%s[%d]", key, i+1), "gear %s stands in the stack twice", GearName(g))
		}
		if ok {
			held[g] = true
			c.Stack = append(c.Stack, g)
		}
	}
	switch missing := b.absent(func(g int) bool { return held[g] }); {
	case len(stack) != len(b.Slots):
		d.Fault(key, "holds %d gears, but the box has %d slots; write one gear for every [[slot]]%s", len(stack), len(b.Slots), and(missing))
	case missing != "":
		d.Fault(key, "%s missing from the stack", missing)
	}
	return held
}

func (b *Box) forks(d *datafile.Doc, key string, forks [][]float64, inStack map[int]bool, c *Cluster) {
	key += ".forks"
	if !d.Has(key) {
		return
	}
	servedBy := map[int]int{}
	for i, gears := range forks {
		fkey := fmt.Sprintf("%s[%d]", key, i+1)
		if n := len(gears); n < 1 || n > 2 {
			d.Fault(fkey, "serves %d gears; a fork slides one dog ring and serves one or two", n)
		}
		var f Fork
		for _, v := range gears {
			g, ok := b.gearNumber(d, fkey, v)
			if !ok {
				continue
			}
			if other, taken := servedBy[g]; taken {
				d.Fault(fkey, "gear %s is served by fork %d already; every gear has one fork", GearName(g), other)
				continue
			}
			servedBy[g] = i + 1
			f = append(f, g)
		}
		c.Forks = append(c.Forks, f)
		if len(gears) == 2 && len(f) == 2 {
			b.forkRules(d, fkey, f, c)
		}
	}
	missing := b.absent(func(g int) bool { return servedBy[g] > 0 })
	if inStack[Reverse] && servedBy[Reverse] == 0 {
		missing = strings.TrimPrefix(missing+", gear R (-1)", ", ")
	}
	if missing != "" {
		d.Fault(key, "no fork serves %s; every gear in the stack needs one", missing)
	}
}

// forkRules checks a fork of two gears: neighbours, place, dog sides.
func (b *Box) forkRules(d *datafile.Doc, key string, f Fork, c *Cluster) {
	if f.joinsNeighbours() && !b.NeighboursShare {
		d.Fault(key, "%s puts two consecutive gears on one fork, which this box forbids (neighbours_share_fork = false)", f)
	}
	p, q := c.Position(f[0]), c.Position(f[1])
	if p == 0 || q == 0 {
		if p != q {
			d.Fault(key, "%s: one of the two is not in the stack, but a dog ring lies between its two gears", f)
		}
		return
	}
	if p-q != 1 && q-p != 1 {
		d.Fault(key, "%s stand at stack positions %d and %d, but a dog ring lies between two gears that stand side by side", f, p, q)
		return
	}
	for _, g := range f {
		at := c.Position(g)
		if at > len(b.Slots) {
			continue
		}
		if stated := b.Slots[at-1].DogSide; stated != "" && stated != c.DogSide(g) {
			d.Fault(key, "%s engages gear %s on its %s side, but slot %d states dog_side %q", f, GearName(g), c.DogSide(g), at, stated)
		}
	}
}
