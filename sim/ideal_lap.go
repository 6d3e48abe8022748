package sim

import "math"

// IdealLap is the ideal car's flying lap time (s): a lower bound of the flying
// lap of every set of the gears that it was made of. Where nothing resets the
// speed the car comes in no slower than any set can and is timed after some laps;
// it only slows down to its own pace, so no set's lap is quicker.
func (m *Model) IdealLap(e *Ideal) float64 {
	if zs := m.FlyingZones(e); zs != nil {
		sum := 0.0
		for i := range zs {
			sum += zs[i].Ideal
		}
		return sum
	}
	d, w := idealDrive(e), alongside()
	c := &m.cells[m.home]
	st := state{cell: m.home, s: c.s, u: min(m.before(m.home).cap1, mostSpeed*mostSpeed)}
	took := math.Inf(1)
	for lap := range settleLaps {
		began := st.t
		if _, end := m.run(&st, 0, &d, c.s+float64(lap+1)*m.length, &w, nil); end == stalled {
			return 0 // no bound but this one
		}
		took = st.t - began
	}
	return took
}

const (
	mostSpeed  = 200 // m/s, more than any car has
	settleLaps = 6
)
