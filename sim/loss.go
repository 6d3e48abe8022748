package sim

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// LossAccount says where a lap loses time against the ideal car's, section 15 of
// MODEL.md. Gears, Places and Curve each add up to Total.
type LossAccount struct {
	Ideal  float64     // s, the ideal car's lap of the same kind
	Total  float64     // s, the lap less Ideal
	Gears  []GearLoss  // by gear index
	Places []PlaceLoss // in the order of the lap, from where it begins
	Curve  []float64   // s, lost from the lap's beginning to each of its Samples
}

// GearLoss is what is lost in one gear (s). Nothing is below zero but by the
// lap's numerical error, and where spin energy comes back in a shift (9.2).
type GearLoss struct {
	Pulling float64 // at full throttle
	Limiter float64 // held on the limiter, or above it without drive
	Shift   float64 // in the pauses of the shifts out of it
	Limit   float64 // on the corner and braking limit: nothing but rounding
}

// Total is all that is lost in the gear (s).
func (g GearLoss) Total() float64 { return g.Pulling + g.Limiter + g.Shift + g.Limit }

// add books a loss (s) of a moment of the lap. limiter is in 1/min.
func (g *GearLoss) add(at *Sample, limiter, loss float64) {
	switch {
	case at.Phase == Shifting:
		g.Shift += loss
	case at.Phase == Limiting || at.Phase == Driving && at.RPM > limiter*(1+1e-9):
		g.Limiter += loss
	case at.Phase == Driving:
		g.Pulling += loss
	default:
		g.Limit += loss
	}
}

// PlaceLoss is what is lost at one corner or straight of the track.
type PlaceLoss struct {
	Place    string     // "T5 Heron", "after T5 (Long Heron)"
	From, To float64    // m; From > To over the start line
	Gears    []GearLoss // by gear index
}

// Total is all that is lost at the place (s).
func (p *PlaceLoss) Total() float64 {
	sum := 0.0
	for _, g := range p.Gears {
		sum += g.Total()
	}
	return sum
}

// ErrNoLossAccount says that a lap has no loss account; the wrapping error says
// why.
var ErrNoLossAccount = errors.New("no loss account")

// LossAccount compares a lap of this model, moment by moment, with the ideal car
// e. It is made for flying laps, out laps and restarts: the clutch of a standing
// start pulls at an engine speed that the ideal car does not have. The error
// wraps ErrNoLossAccount.
func (m *Model) LossAccount(lap *Lap, e *Ideal) (*LossAccount, error) {
	n := len(lap.Samples)
	switch {
	case lap.Infeasible != "" || n < 2:
		return nil, fmt.Errorf("%w: the set cannot drive the lap", ErrNoLossAccount)
	case lap.Kind == Start:
		return nil, fmt.Errorf("%w of a standing start", ErrNoLossAccount)
	}
	first, last := &lap.Samples[0], &lap.Samples[n-1]
	var r *idealLap
	switch lap.Kind {
	case Out:
		m = m.open()
		r = m.idealFrom(m.outStart(), last.S, e)
	case Restart:
		m = m.line()
		r = m.idealFrom(m.momentAt(0, first.V*first.V), last.S, e)
	default:
		if math.Abs(first.V-last.V) > 1e-6*first.V {
			return nil, fmt.Errorf("%w of a lap that does not end as it began", ErrNoLossAccount)
		}
		r = m.idealRound(e)
	}
	if r == nil {
		return nil, fmt.Errorf("%w: the ideal car cannot drive the lap", ErrNoLossAccount)
	}
	return r.account(lap)
}

// account books the lap step by step (15.2).
func (r *idealLap) account(lap *Lap) (*LossAccount, error) {
	m, gears := r.m, len(lap.TimeInGear)
	a := &LossAccount{
		Ideal: r.time, Total: lap.Time - r.time,
		Gears: make([]GearLoss, gears), Curve: make([]float64, len(lap.Samples)),
	}
	home := -1 // segment of the place at hand
	var before float64
	for i := range lap.Samples {
		at := &lap.Samples[i]
		behind, ok := r.behind(at.S, at.V*at.V)
		if !ok {
			return nil, fmt.Errorf("%w: the ideal car, begun as slow as this lap, does not come up to its own lap", ErrNoLossAccount)
		}
		if i > 0 {
			from := &lap.Samples[i-1]
			loss := at.T - from.T - (r.clock(at.S) - r.clock(from.S)) + behind - before
			a.Curve[i] = a.Curve[i-1] + loss
			if seg := m.cells[m.cellIndex(m.wrap(0.5*(from.S+at.S)))].segment; home < 0 || !m.samePlace(seg, home) {
				a.Places = append(a.Places, m.newPlaceLoss(seg, gears))
				home = seg
			}
			a.Gears[from.Gear-1].add(from, m.body.limiter, loss)
			a.Places[len(a.Places)-1].Gears[from.Gear-1].add(from, m.body.limiter, loss)
		}
		before = behind
	}
	a.joinEnds(lap.Kind == Flying)
	return a, nil
}

// joinEnds makes one place of the two into which the start line cuts the one that
// it lies in.
func (a *LossAccount) joinEnds(flying bool) {
	n := len(a.Places) - 1
	if !flying || n < 1 || a.Places[0].Place != a.Places[n].Place || a.Places[0].From != a.Places[n].From {
		return
	}
	for g := range a.Places[n].Gears {
		to, from := &a.Places[0].Gears[g], a.Places[n].Gears[g]
		to.Pulling += from.Pulling
		to.Limiter += from.Limiter
		to.Shift += from.Shift
		to.Limit += from.Limit
	}
	a.Places = a.Places[:n]
}

// samePlace says whether two segments belong to one corner or one straight that
// goes on from one to the other.
func (m *Model) samePlace(a, b int) bool { return m.placeStart(a) == m.placeStart(b) }

// placeStart is the first segment of the corner or straight that a segment
// belongs to; 0 where the whole lap is one.
func (m *Model) placeStart(seg int) int {
	segs := m.track.Segments
	n := len(segs)
	for range n {
		prev := (seg + n - 1) % n
		if segs[prev].Corner != segs[seg].Corner {
			return seg
		}
		seg = prev
	}
	return 0
}

// newPlaceLoss is the corner or straight of a segment, with nothing lost yet. A
// straight bears the names that all its segments share.
func (m *Model) newPlaceLoss(seg, gears int) PlaceLoss {
	segs := m.track.Segments
	n := len(segs)
	at := m.placeStart(seg)
	p := PlaceLoss{From: segs[at].Start, Gears: make([]GearLoss, gears)}
	names, end := segs[at].Places, at
	for range n {
		g := &segs[end%n]
		if end > at && m.placeStart(end%n) != at {
			break
		}
		var shared []string
		for _, name := range names {
			if g.Named(name) {
				shared = append(shared, name)
			}
		}
		names = shared
		p.To = g.Start + g.Length
		end++
	}
	switch c := segs[at].Corner; {
	case c >= 0:
		p.Place = m.track.Label(c)
	case len(names) == 0:
		p.Place = m.track.Place(p.From)
	case len(names) == 1:
		p.Place = names[0]
	default:
		p.Place = names[0] + " (" + strings.Join(names[1:], ", ") + ")"
	}
	return p
}
