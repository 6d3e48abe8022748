package sim

// slowing begets the shifts down at full throttle that label i's run may take
// (8.5): each time that it begins to slow down, where the gear below first turns
// no faster than the limiter and pulls harder, and where the speed has come down
// to dropShare of the shift speed into the gear.
func (k *Solver) slowing(i int, sEnd float64) {
	g := k.labels[i].gear
	low := &k.drives[max(g-1, 0)]
	drop := k.cross[max(g-1, 0)] * dropShare * dropShare
	found := false
	for j := k.labels[i].lo; j < k.labels[i].hi; j++ {
		p := &k.arena[j]
		if p.phase != Driving || p.d1 >= 0 {
			found = false
			continue
		}
		k.labels[i].sag = min(k.labels[i].sag, p.u1)
		if g == 0 || k.m.cells[p.cell].noShift {
			continue
		}
		if p.u0 > drop && p.u1 <= drop && found {
			k.down(i, j, p.falls(drop), sEnd)
			continue
		}
		if found || p.u1 > low.uLimit {
			continue
		}
		s := p.s0
		if p.u0 > low.uLimit {
			s = p.falls(low.uLimit)
		} else if p.d0 > 0 {
			s = p.crest()
		}
		if k.better(p, s, g) <= 0 {
			if k.better(p, p.s1, g) <= 0 {
				continue
			}
			lo, hi := s, p.s1
			for hi-lo > 1e-6 {
				if mid := 0.5 * (lo + hi); k.better(p, mid, g) > 0 {
					hi = mid
				} else {
					lo = mid
				}
			}
			s = hi
		}
		found = true
		k.down(i, j, s, sEnd)
	}
}

// better is how much harder (m/s²) the gear below g pulls at s (m) of a piece.
func (k *Solver) better(p *piece, s float64, g int) float64 {
	c := &k.m.cells[p.cell]
	at := c.at(min(max(k.m.wrap(s)-c.s, 0), c.h))
	u := p.uAt(s)
	lower, _ := k.m.body.accel(&at, u, &k.drives[g-1])
	own, _ := k.m.body.accel(&at, u, &k.drives[g])
	return lower - own
}

// down begets the shift down at s (m) in piece j of label i's run.
func (k *Solver) down(i, j int, s, sEnd float64) {
	p := &k.arena[j]
	at := k.m.momentAt(s, p.uAt(s))
	at.t = p.tAt(s)
	k.shift(i, k.labels[i].gear-1, at, j, sEnd)
}

// falls returns the distance (m) at which v² comes down to u inside a piece that
// begins above it.
func (p *piece) falls(u float64) float64 {
	lo, hi := p.s0, p.s1
	for hi-lo > 1e-9 {
		if mid := 0.5 * (lo + hi); p.uAt(mid) > u {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// crest returns the distance (m) at which v² is greatest inside a piece that
// rises at first and falls at its end.
func (p *piece) crest() float64 {
	h := p.s1 - p.s0
	lo, hi := 0.0, 1.0
	for range 30 {
		if mid := 0.5 * (lo + hi); hermiteSlope(p.u0, p.d0, p.u1, p.d1, h, mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return p.s0 + h*hi
}
