package sim

// Phase says what the car is doing at a sample.
type Phase uint8

const (
	Driving  Phase = iota + 1 // full throttle
	Shifting                  // no drive during an upshift
	Limiting                  // held on the limiter
	Capped                    // on the corner or braking limit
)

// Sample is one point of the lap's trace.
type Sample struct {
	S, T  float64 // m, s
	V     float64 // m/s
	Gear  int     // from 1
	RPM   float64 // 1/min
	Phase Phase
	Limit float64 // m/s, corner and braking limit at S; +Inf where there is none
}

// Shift is one upshift (From < To) or downshift.
type Shift struct {
	S                   float64 // m, where the shift begins
	From, To            int
	RPMBefore, RPMAfter float64 // 1/min; after = at the same road speed in the new gear
	V                   float64 // m/s at the beginning
	Held                bool    // shift delayed by a no-shift place
}

// ThrottleOn is a place where full throttle begins after a corner.
type ThrottleOn struct {
	S      float64 // m
	Corner string  // name of the nearest corner
	V      float64 // m/s
	Gear   int
	RPM    float64 // 1/min
}

// Kind says how a lap begins.
type Kind uint8

const (
	Flying  Kind = iota // as it ends
	Out                 // from the pit exit at the pit-lane limit
	Start               // from a standstill at the start line
	Restart             // at the start line with a given speed
)

// String is the word for the kind: "flying", "out", "start" or "restart".
func (k Kind) String() string {
	return [...]string{"flying", "out", "start", "restart"}[k]
}

// Lap is the result of one simulated lap.
type Lap struct {
	Kind           Kind
	Time           float64 // s
	NumericalError float64 // s, by step halving; see MODEL.md
	TopSpeed       float64 // m/s
	TopSpeedAt     float64 // m
	Samples        []Sample
	Shifts         []Shift
	ThrottleOns    []ThrottleOn
	TimeInGear     []float64 // s, index 0 = first gear
	LimiterTime    float64   // s on the limiter
	MaxRPM         []float64 // 1/min by gear; 0 = never engaged
	EngineWork     float64   // J at the crank, as the torque table states it (10.7)
	ClutchHeat     float64   // J lost in the slipping clutch
	CrossRPM       []float64 // 1/min, shift-light rpm by gear (index 0: from first to second); see MODEL.md
	Energy         Energy    // where the energy went, see MODEL.md
	Periodic       bool      // no place of the lap resets the speed: converged to its periodic speed
	Warnings       []string
	Infeasible     string // not empty: the set cannot drive this lap, with place and numbers
}

// Used reports whether the lap engages gear g (from 1).
func (l *Lap) Used(g int) bool { return l.TimeInGear[g-1] > 0 }
