package sim

import "math"

// Solver simulates laps of one model. It keeps its working memory, so one
// solver serves one goroutine.
type Solver struct {
	m      *Model
	n      int       // gears
	first  int       // index in the box of the lowest gear in use; 0 but for SingleGearLap
	drives []drive   // by gear
	cross  []float64 // v² of the shift out of gear index g; +Inf for the last
	loose  []bool    // by gear, that shift may be better elsewhere
	record bool

	labels   []label
	arena    []piece // pieces of all runs of a passage
	arrivals []arrival
	here     []int   // arrivals at the apex at hand
	chain    []int   // labels of a passage, last first
	launch   []piece // from a standstill to where the passage takes over
	moves    []move  // by label of the chain
	path     []piece // the lap as chosen
	gears    []int
	rest     []int                  // gears still to be tried at the beginning of the passage
	origin   state                  // that beginning
	nat      int                    // the natural gear at the apex at hand
	most     int                    // the tallest gear engaged there
	easy     func(u float64) *drive // the natural gear
	repeats  bool                   // the passage ends with the speed that it begins with
	only     int                    // gear (from 1) in which alone the lap is driven; 0 = shifts as they come
	early    bool                   // the next passage may shift up at its first throttle-on
	spare    float64                // s, from an apex at the end to throttle-on
	tooLong  bool                   // a schedule was refused for its time on the limiter
	why      string                 // the first reason why a gear could not be used
}

// NewSolver returns a solver for m.
func (m *Model) NewSolver() *Solver {
	n := m.car.Box.Gears
	k := &Solver{m: m, n: n, drives: make([]drive, n), cross: make([]float64, n), loose: make([]bool, n)}
	k.easy = func(u float64) *drive { return &k.drives[k.natural(u)] }
	return k
}

// set prepares the gears of a set.
func (k *Solver) set(total []float64) {
	k.launch = k.launch[:0]
	for g := range k.n {
		k.drives[g] = k.m.body.newDrive(total[g], k.m.eta[k.first+g])
	}
	for g := range k.n {
		k.cross[g], k.loose[g] = math.Inf(1), false
		if g+1 < k.n {
			k.cross[g] = k.m.shiftSpeed(&k.drives[g], &k.drives[g+1], k.first+g)
			k.loose[g] = !k.own(g) && k.m.shiftOffset == 0 && k.m.loose(&k.drives[g], &k.drives[g+1])
		}
	}
}

// natural is the index of the gear whose range holds the speed² u: above the
// shift into it, below the shift out of it (8.3).
func (k *Solver) natural(u float64) int {
	g := 0
	for g+1 < k.n && u >= k.cross[g] {
		g++
	}
	return g
}

// dropShare is the share of the up-shift speed below which a car that slows
// down at full throttle takes the gear below (8.5).
const dropShare = 0.97

// returned is the spin energy (J) that the engine gives back when the dogs
// pull it down at v (m/s) (9.2).
func (m *Model) returned(v, perVBefore, perVAfter float64) float64 {
	b := m.body
	if b.inertiaReturn == 0 {
		return 0
	}
	w0 := b.rpmAt(v, perVBefore) * math.Pi / 30
	w1 := b.rpmAt(v, perVAfter) * math.Pi / 30
	return b.inertiaReturn * 0.5 * b.engineInertia * (w0*w0 - w1*w1)
}

// shiftSpeed is v² (m²/s²) at which the shift out of gear index g comes: the
// driver's own where he has one, else (8.2); with the offset of the settings.
func (m *Model) shiftSpeed(a, b *drive, g int) float64 {
	var u float64
	if g < len(m.shiftRPM) && m.shiftRPM[g] > 0 { // at most the limiter
		v := m.body.speedAt(min(m.shiftRPM[g], m.body.limiter), a.perV)
		u = v * v
	} else {
		u = m.crossSpeed(a, b, m.shiftTime[g])
	}
	if m.shiftOffset == 0 {
		return u
	}
	rpm := m.body.rpmAt(math.Sqrt(u), a.perV) + m.shiftOffset
	v := m.body.speedAt(max(m.body.rpmLow, min(rpm, m.body.limiter)), a.perV)
	return v * v
}
