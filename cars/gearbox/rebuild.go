package gearbox

import "slices"

// Moved is a pair with the gear that it leaves and the one that it serves; 0
// is outside the gearbox.
type Moved struct {
	Pair     *Pair
	From, To int
}

// RebuildPlan is the shortest way on the bench from one set to another: only
// what must come off does.
type RebuildPlan struct {
	Changed  []int        // gears whose pair differs, from first gear
	Whole    bool         // another cluster: everything comes off
	Off      []PlacedStep // of the old set, in removal order: last on, first off
	On       []PlacedStep // of the new set, in build order
	OldPairs []Moved      // come out of the gearbox
	NewPairs []Moved      // go into it
	Moves    []Moved      // stay, in another gear
	Time     float64      // s, as Minutes; another final drive or drop pair is not in it
	Final    bool         // the final drive differs
	Drop     bool         // the drop pair differs
}

// MustBeNew lists the steps of On whose part is never used again.
func (p *RebuildPlan) MustBeNew() []PlacedStep {
	var out []PlacedStep
	for _, s := range p.On {
		if s.MustBeNew {
			out = append(out, s)
		}
	}
	return out
}

// Changes tells whether a step brings another pair than the old set has there.
func (p *RebuildPlan) Changes(s *PlacedStep) bool {
	if s.Part != GearStep && s.Part != LayshaftStep {
		return false
	}
	return slices.ContainsFunc(s.Gears, func(g PlacedGear) bool { return slices.Contains(p.Changed, g.Gear) })
}

// Rebuild plans the change from one set to another of the same box. On each
// shaft everything comes off, last on first, down to the deepest gear whose
// pair changes; where a bearing carrier must come off, so must all that was
// put on after it, on both shafts, since it bears both. What was put on before
// stays. Where the cluster differs everything comes off.
//
// Two pairs are the same when their ids are. Both sets must have a pair for
// every gear of the box; anything else is a programmer's mistake and panics.
func (b *Box) Rebuild(from, to *Set) *RebuildPlan {
	p := &RebuildPlan{
		Whole: from.Cluster.Name != to.Cluster.Name,
		Final: driveDiffers(from.Final, to.Final),
		Drop:  driveDiffers(from.Drop, to.Drop),
	}
	for g := range to.Pairs {
		if from.Pairs[g].ID != to.Pairs[g].ID {
			p.Changed = append(p.Changed, g+1)
		}
	}
	p.sortPairs(from, to)
	off, on := b.BuildOrder(from), b.BuildOrder(to)
	touched := p.Changed
	if p.Whole {
		p.Off, p.On = off, on
		touched = nil
		for g := range from.Pairs {
			touched = append(touched, g+1)
		}
	} else {
		must := b.mustComeOff(from.Cluster, off, p.Changed)
		for i := range off { // one cluster, one list of steps: on[i] is the same place
			if must(i) {
				p.Off, p.On = append(p.Off, off[i]), append(p.On, on[i])
			}
		}
	}
	slices.Reverse(p.Off)
	p.Time = b.Minutes(from.Cluster, touched)
	return p
}

// mustComeOff tells of each step of the order whether it comes off to change
// the pairs of the gears.
func (b *Box) mustComeOff(c *Cluster, order []PlacedStep, gears []int) func(step int) bool {
	least := map[string]int{OnLayshaft: len(order), OnMainshaft: len(order)} // first step that comes off, by shaft
	for i := range order {
		for _, g := range gears {
			for shaft := range least {
				if b.reaches(&order[i].BuildStep, shaft, c.Position(g)) {
					least[shaft] = min(least[shaft], i)
				}
			}
		}
	}
	carrier := slices.IndexFunc(order, func(s PlacedStep) bool { return s.Part == CarrierStep })
	if carrier >= 0 && carrier >= min(least[OnLayshaft], least[OnMainshaft]) {
		for shaft := range least {
			least[shaft] = min(least[shaft], carrier)
		}
	}
	return func(i int) bool {
		for shaft, first := range least {
			if order[i].onShaft(shaft) && i >= first {
				return true
			}
		}
		return false
	}
}

// sortPairs sorts the pairs into those that leave, come and move.
func (p *RebuildPlan) sortPairs(from, to *Set) {
	free := slices.Clone(from.Pairs) // nil where the pair was found again
	var missing []int                // gears of the new set whose pair was not in that gear
	for g, pair := range to.Pairs {
		if free[g].ID == pair.ID {
			free[g] = nil
		} else {
			missing = append(missing, g)
		}
	}
	for _, g := range missing {
		pair := to.Pairs[g]
		was := slices.IndexFunc(free, func(f *Pair) bool { return f != nil && f.ID == pair.ID })
		if was < 0 {
			p.NewPairs = append(p.NewPairs, Moved{Pair: pair, To: g + 1})
			continue
		}
		free[was] = nil
		p.Moves = append(p.Moves, Moved{Pair: pair, From: was + 1, To: g + 1})
	}
	for g, f := range free {
		if f != nil {
			p.OldPairs = append(p.OldPairs, Moved{Pair: f, From: g + 1})
		}
	}
}

func driveDiffers(a, b *Drive) bool {
	if a == nil || b == nil {
		return a != b
	}
	return a.Name != b.Name || a.Teeth != b.Teeth
}
