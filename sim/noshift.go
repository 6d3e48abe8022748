package sim

import "math"

// alternatives begets what else may follow from label i: shifts before a
// no-shift place that holds up the one that is due, and the shift at throttle-on
// where the engine would turn too slowly to begin in the next gear.
func (k *Solver) alternatives(i int, late bool, sEnd float64) {
	l := &k.labels[i]
	g := l.gear
	if g+1 >= k.n || k.only > 0 || k.own(g) {
		return
	}
	if l.early {
		if at, ok := k.pullingIn(l, g+1); ok {
			k.shift(i, g+1, at, -1, sEnd)
			l = &k.labels[i]
		}
	}
	switch {
	case l.end == 0 && l.w.entered:
		k.row(i, 1, l.w.entry.s, sEnd) // beaten inside the place, maybe not before it
	case !late && (l.end == shiftDue || !k.endsInNoShift(l)):
	case l.w.entered:
		k.row(i, 1, l.w.entry.s, sEnd)
	case l.links > 0:
		k.row(l.root, l.links+1, l.gate, sEnd)
	case l.parent >= 0 && !l.hold && k.labels[l.parent].gear < g:
		// The shift into this gear was due so shortly before the place that
		// its pause ended inside.
		k.row(l.parent, 2, k.m.gateBefore(&l.from), sEnd)
	}
}

// longestRow is the greatest number of shifts in a row before a no-shift place.
const longestRow = 4

// row begets the label that follows from label i by n shifts in a row, the last
// of which begins at gate (m), where a no-shift place begins. Where label i's
// run is too short for them, the label that it comes from gives one more.
func (k *Solver) row(i, n int, gate, sEnd float64) {
	l := &k.labels[i]
	g := l.gear
	at, ok := k.rowBegins(i, n, gate)
	if !ok {
		if p := l.parent; n > 1 && n < longestRow && p >= 0 && !l.hold && k.labels[p].gear == g-1 {
			k.row(p, n+1, gate, sEnd)
		}
		return
	}
	if n > longestRow || g+n >= k.n {
		return
	}
	cutAt := -1
	for j := range n {
		if at.u < k.pullSq(g+j+1) || k.own(g+j) {
			return
		}
		k.shift(i, g+j+1, at, cutAt, sEnd)
		next := len(k.labels) - 1
		l := &k.labels[next]
		if j < n-1 {
			if l.from.s > gate+1e-3 {
				return // it met the envelope on the way
			}
			// A gear only passed through: its run is empty.
			l.tried, l.lo, l.hi, l.cur = true, len(k.arena), len(k.arena), l.from
			at, i, cutAt = l.from, next, l.lo
			continue
		}
		l.links, l.gate = n, gate
		for l.root = i; n > 1; n-- {
			l.root = k.labels[l.root].parent
		}
	}
}

// rowBegins is the moment in label i's run from which n shifts in a row begin
// so that the last one begins at gate (m).
func (k *Solver) rowBegins(i, n int, gate float64) (state, bool) {
	l := &k.labels[i]
	s := gate
	for g := l.gear; g < min(l.gear+n, k.n)-1; g++ {
		s -= k.m.shiftTime[k.first+g] * math.Sqrt(l.cur.u)
	}
	for j := range 12 {
		at := l.from
		if s < l.from.s-1e-6 {
			return state{}, false
		} else if s > l.from.s+1e-6 || n > 1 {
			p := k.pieceAt(l, s)
			if p == nil {
				return state{}, false
			}
			at = k.m.momentAt(s, p.uAt(s))
			at.t = p.tAt(s)
		}
		st := at
		for g := l.gear; g < l.gear+n-1 && g+1 < k.n; g++ {
			ret := k.m.returned(math.Sqrt(st.u), k.drives[g].perV, k.drives[g+1].perV)
			k.m.coast(&st, g, k.m.shiftTime[k.first+g], ret)
		}
		miss := gate - st.s
		if math.Abs(miss) < 1e-7 || j == 11 {
			return at, math.Abs(miss) < 1e-5
		}
		s += miss
	}
	return state{}, false
}

// gateBefore is where (m, unwrapped) the no-shift place around st begins.
func (m *Model) gateBefore(st *state) float64 {
	s, i := st.s-st.x, st.cell
	for range m.cells {
		if i = m.prev(i); !m.cells[i].noShift {
			break
		}
		s -= m.cells[i].h
	}
	return s
}

// pullSq is v² (m²/s²) at which gear g turns its pulling rpm.
func (k *Solver) pullSq(g int) float64 {
	v := k.m.body.speedAt(k.m.body.pulling, k.drives[g].perV)
	return v * v
}

// pullingIn is the first moment of a label's run, from throttle-on, at which a
// shift may begin and the engine would turn its pulling rpm in gear g.
func (k *Solver) pullingIn(l *label, g int) (state, bool) {
	u := k.pullSq(g)
	for j := l.lo; j < l.hi; j++ {
		p := &k.arena[j]
		if !l.w.onSet || p.s1 <= l.w.on.s+1e-9 || p.u1 < u || k.m.cells[p.cell].noShift {
			continue
		}
		s := max(p.s0, l.w.on.s)
		if p.u0 < u {
			s = max(s, k.m.whereOn(p, u))
		}
		v2, t := k.m.readPiece(p, s)
		at := k.m.momentAt(s, v2)
		at.t = t
		return at, s < l.cur.s && at.u < l.w.uShift
	}
	return state{}, false
}

// endsInNoShift says whether a run passed its shift speed in a no-shift place.
func (k *Solver) endsInNoShift(l *label) bool {
	for j := l.lo; j < l.hi; j++ {
		if p := &k.arena[j]; p.u1 >= l.w.uShift && k.m.cells[p.cell].noShift {
			return true
		}
	}
	return false
}
