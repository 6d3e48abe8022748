package sheet

import (
	"fmt"
	"math"

	"layshaft/internal/units"
	"layshaft/sim"
	"layshaft/tracks"
)

// Corner is how the lap takes one corner of the track. Full throttle belongs to
// the corner whose slowest place was passed last.
type Corner struct {
	Corner        string   `json:"corner"`
	DistanceM     float64  `json:"distance_m"` // slowest place, from the line
	ApexSpeedKmh  float64  `json:"apex_speed_kmh"`
	Gear          int      `json:"gear"`     // the lowest from its beginning to its end, or at full throttle beyond it
	FlatOut       bool     `json:"flat_out"` // full throttle all through
	ThrottleOnM   *float64 `json:"throttle_on_distance_m"`
	ThrottleOnKmh *float64 `json:"throttle_on_speed_kmh"`
	ThrottleGear  *int     `json:"throttle_on_gear"` // nil, with the other three, where no full throttle follows before the next corner
	ThrottleRPM   *int     `json:"throttle_on_rpm"`
}

// buildDriving fills in what a driver is told of the lap.
func (s *Sheet) buildDriving(in *Input) error {
	lap := in.Answer.Lap
	s.Corners = corners(in.Track, lap)
	s.LimiterTouches = lap.LimiterTouches(in.LimiterRPM)
	for _, shift := range lap.Shifts {
		if shift.To > shift.From {
			s.Upshifts++
		} else {
			s.Downshifts++
		}
	}
	for i := range lap.Samples {
		if lap.Samples[i].V == lap.TopSpeed {
			s.TopSpeedGear = asReached(lap.Samples, i).Gear
			break
		}
	}
	overRev := in.LimiterRPM
	s.OverRevFrom = "the limiter: the car file states no over_rev_rpm"
	if stated := in.Car.Engine.OverRevRPM; stated > 0 {
		overRev, s.OverRevFrom = stated, "over_rev_rpm of the car file"
	}
	s.OverRevRPM = int(math.Floor(overRev))
	total := in.Answer.Set.TotalRatios()
	for i := range s.Gears[:len(s.Gears)-1] {
		v := in.Speed(float64(s.OverRevRPM), total[i])
		if !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("sheet: gear %d: speed at the over-rev limit is %g m/s", i+1, v)
		}
		kmh := floorTo(v*units.ToKmh, speedDecimals)
		s.Gears[i].DownshiftMaxKmh = &kmh
	}
	return nil
}

// corners reads the corners off the lap's trace, in the order of the track.
func corners(t *tracks.Track, lap *sim.Lap) []Corner {
	out := []Corner{}
	apex := make([]float64, len(t.Corners))
	for i := range t.Corners {
		c, at := through(&t.Corners[i], lap)
		c.Corner, apex[i] = t.Label(i), at
		out = append(out, c)
	}
	for i := range out {
		to := t.Length
		if n := len(apex); n > 1 {
			to = ahead(apex[i], apex[(i+1)%n], t.Length)
		}
		first := math.Inf(1)
		for _, on := range lap.ThrottleOns {
			if d := ahead(apex[i], on.S, t.Length); d < to && d < first {
				first = d
				at, kmh, gear, rpm := roundTo(on.S, distDecimals), roundTo(on.V*units.ToKmh, speedDecimals), on.Gear, wholeRPM(on.RPM)
				out[i].ThrottleOnM, out[i].ThrottleOnKmh, out[i].ThrottleGear, out[i].ThrottleRPM = &at, &kmh, &gear, &rpm
			}
		}
		if g := out[i].ThrottleGear; g != nil {
			out[i].Gear = min(out[i].Gear, *g)
		}
	}
	return out
}

// ahead is the way (m) from one place to another round the lap.
func ahead(from, to, length float64) float64 {
	d := math.Mod(to-from, length)
	if d < 0 {
		d += length
	}
	return d
}

// through is what the trace says from a corner's beginning to its end, and the
// slowest place (m).
func through(c *tracks.Corner, lap *sim.Lap) (Corner, float64) {
	o, apex := Corner{FlatOut: true}, 0.0
	slowest := math.Inf(1)
	const slack = 1e-6 // m, rounding of the places
	left := 0
	take := func(p *sim.Sample) {
		if p.V < slowest {
			slowest, apex = p.V, p.S
		}
		if p.Phase == sim.Shifting && math.Abs(p.S-c.Start) <= slack {
			left = p.Gear // an upshift at the very entry leaves this gear behind
		} else if o.Gear == 0 || p.Gear < o.Gear {
			o.Gear = p.Gear
		}
		o.FlatOut = o.FlatOut && p.Phase != sim.Capped
	}
	before := -1
	for i := range lap.Samples {
		p := &lap.Samples[i]
		after, until := p.S >= c.Start-slack, p.S <= c.End+slack
		if after && until || c.End < c.Start && (after || until) {
			take(p)
		} else if p.S < c.Start {
			before = i
		}
	}
	if o.Gear == 0 {
		o.Gear = left
	}
	if o.Gear == 0 && before >= 0 { // shorter than the steps of the trace
		take(&lap.Samples[before])
	}
	o.DistanceM, o.ApexSpeedKmh = roundTo(apex, distDecimals), roundTo(slowest*units.ToKmh, speedDecimals)
	return o, apex
}

// driving tests what a driver is told: every speed for a downshift lies between
// the limiter's in that gear and the next one's, every corner's gear is a gear.
func (c *sums) driving(s *Sheet) {
	for i := range s.Gears {
		g := &s.Gears[i]
		if g.DownshiftMaxKmh == nil {
			continue
		}
		if i == len(s.Gears)-1 {
			c.fault("gear %d is the top gear, yet there is a downshift into it", g.Gear)
		} else if next := s.Gears[i+1].DownshiftMaxKmh; next != nil && !(*g.DownshiftMaxKmh < *next) {
			c.fault("gear %d: downshift below %g km/h, into the next gear below %g km/h", g.Gear, *g.DownshiftMaxKmh, *next)
		}
		if s.OverRevRPM < s.LimiterRPM || !(*g.DownshiftMaxKmh >= g.SpeedAtLimiterKmh-leastKmh) {
			c.fault("gear %d: downshift below %g km/h at %d rpm, the limiter of %d rpm is at %g km/h", g.Gear, *g.DownshiftMaxKmh, s.OverRevRPM, s.LimiterRPM, g.SpeedAtLimiterKmh)
		}
	}
	for _, k := range s.Corners {
		c.finite(k.Corner+": speed", k.ApexSpeedKmh)
		if k.Gear < 1 || k.Gear > len(s.Gears) || k.ThrottleGear != nil && (*k.ThrottleGear < k.Gear || *k.ThrottleGear > len(s.Gears)) {
			c.fault("%s: gear %d, throttle-on in gear %s", k.Corner, k.Gear, whole(k.ThrottleGear))
		}
	}
}

// leastKmh is the last digit of a speed in JSON, and the float's own rounding: one
// speed is rounded down, the other to the nearest.
const leastKmh = 0.001 + 1e-9
