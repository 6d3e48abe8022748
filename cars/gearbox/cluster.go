package gearbox

// Sides on which a dog ring engages a gear, seen along the stack.
const (
	Inner = "inner" // the side towards the housing
	Outer = "outer" // the side away from the housing
	Both  = "both"  // of a pair: dogs on both sides
)

// Position is the stack position of the gear, from 1 at the housing; 0 when
// the gear is not in the stack.
func (c *Cluster) Position(gear int) int {
	for i, g := range c.Stack {
		if g == gear {
			return i + 1
		}
	}
	return 0
}

// Fork returns the fork that serves the gear and its number from 1; nil and 0
// when none does.
func (c *Cluster) Fork(gear int) (Fork, int) {
	for i, f := range c.Forks {
		if f.Serves(gear) {
			return f, i + 1
		}
	}
	return nil, 0
}

// DogSide is the side on which the ring engages the gear as the forks and the
// stack give it: a ring lies between the two gears of its fork, so the inner
// one is engaged on its outer side and the outer one on its inner side. It is
// "" for a gear that has a fork to itself, since only the slot can say.
func (c *Cluster) DogSide(gear int) string {
	f, _ := c.Fork(gear)
	if len(f) != 2 {
		return ""
	}
	other := f[0]
	if other == gear {
		other = f[1]
	}
	here, there := c.Position(gear), c.Position(other)
	switch {
	case here == 0 || there == 0:
		return ""
	case here < there:
		return Outer
	default:
		return Inner
	}
}

// Slot returns the slot in which the gear stands in that cluster, with its dog
// side filled in from the forks where the file does not state it; nil when the
// gear is not in the stack.
func (b *Box) Slot(c *Cluster, gear int) *Slot {
	p := c.Position(gear)
	if p == 0 || p > len(b.Slots) {
		return nil
	}
	s := b.Slots[p-1]
	if s.DogSide == "" {
		s.DogSide = c.DogSide(gear)
	}
	return &s
}

// Cluster finds a listed cluster by its name; nil when there is none.
func (b *Box) Cluster(name string) *Cluster {
	for i := range b.Clusters {
		if b.Clusters[i].Name == name {
			return &b.Clusters[i]
		}
	}
	return nil
}

// Pair finds a pair by its id; nil when the stock does not hold it.
func (s *Stock) Pair(id string) *Pair {
	for i := range s.Pairs {
		if s.Pairs[i].ID == id {
			return &s.Pairs[i]
		}
	}
	return nil
}

// FittedFinal is the final drive that the file calls fitted, else the only
// one, else nil.
func (s *Stock) FittedFinal() *Drive { return fitted(s.Finals) }

// FittedDrop is the drop pair that the file calls fitted, else the only one,
// else nil.
func (s *Stock) FittedDrop() *Drive { return fitted(s.Drops) }

func fitted(drives []Drive) *Drive {
	for i := range drives {
		if drives[i].Fitted {
			return &drives[i]
		}
	}
	if len(drives) == 1 {
		return &drives[0]
	}
	return nil
}
