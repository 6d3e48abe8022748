package chart

import (
	"fmt"
	"math"

	"layshaft/sim"
	"layshaft/tracks"
)

// course is an invented lap for drawing only: corners on a circle-free line,
// a car that brakes at 15 m/s² and pulls at 9 m/s² less with speed, gears by
// speed alone. It looks like a lap and is no model of one.
func course(length float64, corners []cornerAt, gears int) *Lap {
	t := &tracks.Track{Name: "course", Title: "Invented course", Length: length}
	for i, c := range corners {
		t.Corners = append(t.Corners, tracks.Corner{Name: c.name, Start: c.from, End: c.to})
		if i == 1 {
			t.NoShift = append(t.NoShift, tracks.Span{Name: c.name, Start: c.from, End: c.to})
		}
	}
	const step = 2.0
	n := int(length/step) + 1
	limit := make([]float64, n)
	for i := range limit {
		limit[i] = 85
		for _, c := range corners {
			if s := float64(i) * step; s >= c.from && s <= c.to {
				limit[i] = min(limit[i], c.speed)
			}
		}
	}
	for k := 2*n - 1; k >= 0; k-- { // braking, twice round
		i, next := k%n, (k+1)%n
		limit[i] = min(limit[i], math.Sqrt(limit[next]*limit[next]+2*15*step))
	}
	v := make([]float64, n)
	v[n-1] = limit[n-1]
	for k := range 2 * n {
		i, before := k%n, (k+n-1)%n
		pull := max(0.1, 9-9*math.Pow(v[before]/82, 1.5))
		v[i] = min(limit[i], math.Sqrt(v[before]*v[before]+2*pull*step))
	}
	lap := &sim.Lap{Time: 80, TimeInGear: make([]float64, gears)}
	gearOf := func(v float64) int { return min(gears, 1+int(v/(86/float64(gears)))) }
	time := 0.0
	for i := range v {
		g := gearOf(v[i])
		phase := sim.Driving
		switch {
		case v[i] >= 79.5:
			phase = sim.Limiting
		case v[i] >= limit[i]-1e-9:
			phase = sim.Capped
		}
		rpm := 9000 * v[i] / (86 / float64(gears) * float64(g))
		lap.Samples = append(lap.Samples, sim.Sample{S: min(float64(i)*step, length), T: time, V: v[i], Gear: g, RPM: rpm, Phase: phase, Limit: limit[i]})
		time += step / v[i]
		lap.TimeInGear[g-1] += step / v[i]
		if i > 0 && gearOf(v[i]) != gearOf(v[i-1]) {
			from := gearOf(v[i-1])
			lap.Shifts = append(lap.Shifts, sim.Shift{S: float64(i) * step, From: from, To: g, RPMBefore: 8900, RPMAfter: 8900 * float64(from) / float64(g), V: v[i]})
		}
	}
	lap.Time = time
	return &Lap{
		Frame: Frame{Title: fmt.Sprintf("Invented course, invented car: lap %.3f s", time),
			Caption: "layshaft/mainshaft 13/36 16/35 18/33 20/31 22/30 24/29, final drive 11/34; air 1.225 kg/m³, fuel 20 kg, grip x 1.00"},
		Track: t, Lap: lap,
	}
}

type cornerAt struct {
	name     string
	from, to float64
	speed    float64
}

// roadCourse has fifteen corners, a hairpin and long names.
func roadCourse() *Lap {
	return course(4012, []cornerAt{
		{"Old Barn", 420, 500, 42}, {"Long Meadow", 560, 760, 61}, {"Fox Gate", 800, 850, 28},
		{"Coppice in", 1010, 1050, 36}, {"Coppice out", 1060, 1110, 38}, {"Miller's Rise", 1320, 1420, 55},
		{"Water Lane Hairpin", 1640, 1690, 14}, {"Chalk Pit", 1800, 1880, 33}, {"Ridge", 2050, 2130, 47},
		{"Gorse Bank Double Apex", 2250, 2420, 39}, {"Ferry Left", 2560, 2600, 24}, {"Ferry Right", 2620, 2660, 24},
		{"Quarry", 2900, 2990, 44}, {"Last Gate", 3720, 3790, 31}, {"Start Bend", 3880, 3960, 50},
	}, 6)
}

// oval is flat out all the way: two shifts at most, a narrow band of speed.
func oval() *Lap {
	l := course(2400, []cornerAt{{"East end", 350, 950, 200}, {"West end", 1550, 2200, 200}}, 6)
	for i := range l.Lap.Samples {
		s := &l.Lap.Samples[i]
		s.V = 79 + 1.4*math.Sin(2*math.Pi*s.S/1200)
		s.Gear, s.Phase = 6, sim.Driving
	}
	l.Lap.Shifts = nil
	return l
}
