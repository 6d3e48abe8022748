package gearing

import (
	"math"

	"layshaft/sim"
)

// The lap moves its shifts to where its time does not change with the place (8.7),
// while runs shift at the shift speeds of (8.2). mayGain bounds what that is worth
// and is taken off the clock of the car after the shift.
const (
	movedLeast   = 0.86   // share of the shift speed down to which moves are weighed
	movedShare   = 1.25   // what is taken off, as a share of what was found
	movedSlack   = 2e-5   // s, and beside it
	movedUnknown = 1.5e-3 // s, where the tables do not tell: more than any set was seen to gain
)

// movesBehind (read-only) are the delays (m) at which moves are weighed: what they
// gain hardly depends on it.
var movesBehind = [...]float64{0, 8, 40}

// moveGain is what (s) moving a shift of zone z from gear g's candidate i into
// candidate j of the next gear may gain, on any run. It is found when first asked
// for; whoever finds it finds the same.
func (a *account) moveGain(z, g, i, j int) float64 {
	p := &a.memory.gains[z][g][i][j]
	if bits := p.Load(); bits != 0 {
		return float64(math.Float32frombits(bits))
	}
	f, za := a.f, a.zones[z]
	gain := movedSlack
	if len(za.s) >= 2 && f.cross[g][i][j] > za.nodeV(za.k1)*za.nodeV(za.k1) {
		gain = movedUnknown // above the tables
	}
	v := max(movedLeast*math.Sqrt(f.least[g][i]), za.v0)
	if v < za.v1 {
		var run sim.Trajectory
		ga, gb := a.gearOf(g, i), a.gearOf(g+1, j)
		s, _ := za.climb.At(v * v)
		for _, behind := range movesBehind {
			if s+behind >= za.z.End {
				break
			}
			a.m.Run(&run, a.m.MomentAt(s+behind, v*v), &ga, &za.z, a.e, f.cross[g][i][j], 0, past(ga.ShiftSq()))
			at, ok := a.m.Crosses(&run, f.cross[g][i][j])
			if !ok {
				continue
			}
			if after, ok := a.m.After(at, &ga, &gb, &za.z); ok {
				gain = max(gain, a.mayGain(za, g, i, j, &run, &at, &after))
			}
		}
	}
	p.Store(math.Float32bits(float32(gain) * (1 + 1e-6)))
	return gain
}

// past ends a run that has come to v² = u (m²/s²).
func past(u float64) func(s, u, clock float64) bool {
	return func(_, now, _ float64) bool { return now >= u }
}

// mayGain is what (s) a shift from a run in gear g's candidate i into candidate j of
// the next gear, at a moment, may gain by being moved along the run. Between the
// speeds of both places one gear's losses stand for the other's, and the pause
// comes at another speed; all are losses against the ideal car, which gains no less
// by being ahead than any car.
func (a *account) mayGain(za *zoneAcct, g, i, j int, run *sim.Trajectory, at, after *sim.Moment) float64 {
	v := math.Sqrt(at.SpeedSq())
	top := math.Sqrt(a.f.gear[g][i].ShiftSq())
	if len(za.s) < 2 || za.shift[g] == nil {
		return movedSlack
	}
	if a.m.Car().ShiftInertiaReturn > 0 {
		return movedUnknown // what comes back depends on the place
	}
	before, behind := za.charge[g][i], za.charge[g+1][j]
	if before == nil || behind == nil {
		return movedSlack
	}
	x := v/cellV - float64(za.k0)
	d0 := at.Distance() - za.place(x)
	va := math.Sqrt(after.SpeedSq())
	pause := max(0, after.Distance()-za.place(va/cellV-float64(za.k0))-d0) // m, further behind after the pause
	base := za.shiftLoss(g, x, d0)
	if math.IsInf(base, 1) {
		return movedUnknown
	}
	// What the gear loses over a cell beyond the next one.
	diff := func(k int, d float64) float64 {
		k = max(0, min(k, len(before)-1))
		own := across(&before[k], d)
		if math.IsInf(own, 1) && k > 0 {
			own = across(&before[k-1], d) // the limiter lies in the cell
		}
		return own - across(&behind[k], d+pause)
	}
	best, inside := 0.0, 0.0 // inside: what the best place inside a cell may have over its ends
	look := func(step int, last float64) {
		gain, y, d := 0.0, x, d0
		for {
			var next float64 // the next node
			if step < 0 {
				next = math.Ceil(y) - 1
			} else {
				next = math.Floor(y) + 1
			}
			if end := last/cellV - float64(za.k0); float64(step)*(next-end) > 0 {
				next = end
			}
			share := math.Abs(y - next)
			if next < 0 || next > float64(len(za.s)-1) || share < 1e-6 {
				return
			}
			vn := (next + float64(za.k0)) * cellV
			on, ok := a.m.Crosses(run, vn*vn)
			if !ok {
				return
			}
			dn := on.Distance() - za.place(next)
			k := min(int(min(y, next)), len(za.s)-2)
			if za.rough[k] {
				best = max(best, movedUnknown)
				return
			}
			mid := max(0, 0.5*(d+dn))
			cell := diff(k, mid)
			gain += float64(-step) * share * cell
			if math.IsInf(gain, 0) || math.IsNaN(gain) {
				return // one of them does not climb there
			}
			bend := max(math.Abs(cell-diff(k-1, mid)), math.Abs(cell-diff(k+1, mid))) / 8
			if !(bend < movedUnknown) {
				bend = movedUnknown // one of them does not climb in the next cell
			}
			if y == x {
				inside = max(inside, bend)
			}
			y, d = next, dn
			loss := za.shiftLoss(g, y, d)
			if step < 0 && loss == 0 {
				return // as slow as the zone begins: rather begun in the next gear, without a pause
			}
			if net := gain + base - loss; net > best && !a.m.NoShiftAt(on.Distance()) {
				best, inside = net, max(inside, bend)
			}
			if !(gain > -3e-3) {
				return
			}
		}
	}
	look(-1, movedLeast*v)
	look(+1, top)
	return movedShare*best + inside + movedSlack
}

// place is where (m) the ideal car first reaches the speed of a node, between
// nodes by straight lines.
func (a *zoneAcct) place(x float64) float64 {
	k := max(0, min(int(x), len(a.s)-2))
	return a.s[k] + (x-float64(k))*(a.s[k+1]-a.s[k])
}

// shiftLoss is what the shift out of gear index g loses at a node, d metres
// behind; 0 where it is not known.
func (a *zoneAcct) shiftLoss(g int, x, d float64) float64 {
	k := max(0, min(int(x), len(a.s)-2))
	lo, hi := across(&a.shift[g][k], max(0, d)), across(&a.shift[g][k+1], max(0, d))
	if lo == 0 {
		return 0
	}
	return lo + (hi-lo)*max(0, min(x-float64(k), 1))
}

// across reads a row of losses d metres behind.
func across(row *[nDelay]float32, d float64) float64 {
	i := nDelay - 2
	for j := 1; j < nDelay-1; j++ {
		if d < delays[j] {
			i = j - 1
			break
		}
	}
	y := min((d-delays[i])/(delays[i+1]-delays[i]), 1)
	lo, hi := float64(row[i]), float64(row[i+1])
	if math.IsInf(hi, 1) || math.IsInf(lo, 1) {
		return min(lo, hi)
	}
	return lo + (hi-lo)*y
}
