package gearbox

// Reverse is the number under which reverse gear stands in forks and stacks.
const Reverse = -1

// Teeth is a pair of meshing gears by their tooth numbers.
type Teeth struct {
	Driving int // teeth of the driving gear (layshaft side for a gear pair), > 0
	Driven  int // teeth of the driven gear (mainshaft side for a gear pair), > 0
}

// Ratio is driven / driving: how many turns the driving shaft makes for one
// turn of the driven one. The shorter the gear, the larger the number.
func (t Teeth) Ratio() float64 { return float64(t.Driven) / float64(t.Driving) }

// Pair is a gear pair of the team's stock: a layshaft (driving) and a mainshaft
// (driven) gear that mesh and carry the same mark. In a pair store it is one
// pair with an identity (Count 1); in a stock file it may stand for several that
// are alike.
type Pair struct {
	ID            string   // the team's own number or the serial, unique in the stock
	Layshaft      int      // teeth, driving; 0 in a loose mainshaft gear
	Mainshaft     int      // teeth, driven; 0 in a loose layshaft gear
	Mark          string   // what is read on both gears
	Half          string   // LayshaftHalf or MainshaftHalf: a loose gear without its mate; "" = a pair
	Count         int      // how many of this pair the team has, >= 0
	Fits          []string // kinds of slot that it fits (Slot.Kind); never empty
	DogSide       string   // side of its dogs: "inner", "outer", "both"; "" = does not matter
	Group         string   // name of the integral part it is cut on; "" = a loose pair
	RunM          float64  // m run so far
	LifeM         float64  // m allowed; 0 = no limit given
	InspectionDue bool     // must be inspected before it may run
	InspectionWhy string   // why, in words; "" = not said
	Damage        float64  // share of its life by the estimated damage sum, 0 to 1 and beyond; 0 = none booked
	DamageM       float64  // m of RunM that Damage speaks of
	Crack         CrackTest
	LimiterCount  int      // times on the limiter since the last inspection
	LimiterMost   int      // count at which it must be inspected; 0 = no rule
	Causes        []string // for inspection, since the last one: "over-rev ..."
	Retired       bool     // never to run again
	Place         string   // where it is: "box", "shop", "car"; "" = not known
	Car           string   // in which car it is fitted; "" = in none
	Gear          int      // that it carries there, from 1; 0 = none
	NotFree       string   // why it may not be taken now although the team has it: "fitted in car 2"; "" = free
	Note          string
}

// DefaultCar is the car that is meant where a team has one and names none.
const DefaultCar = "1"

// CrackTest is the last crack test of a pair and the team's interval.
type CrackTest struct {
	On     Day     // 0 = never, or not known
	AtM    float64 // m that the pair had run then
	Days   int     // d, the interval; 0 = no interval in days
	EveryM float64 // m, the interval; 0 = no interval in distance
}

// Values of Pair.Half.
const (
	LayshaftHalf  = "layshaft"
	MainshaftHalf = "mainshaft"
)

// Values of Pair.Place.
const (
	PlaceBox  = "box"  // the box of pairs that travels with the car
	PlaceShop = "shop" // the team's shop
	PlaceCar  = "car"  // fitted
)

// Ratio is mainshaft teeth / layshaft teeth.
func (p *Pair) Ratio() float64 { return float64(p.Mainshaft) / float64(p.Layshaft) }

// Drive is a final drive or a drop pair.
type Drive struct {
	Name string
	Teeth
	Fitted   bool     // the one in the car now
	Count    int      // how many there are, >= 0
	FittedIn []string // cars, where a pair store knows several; Fitted is then set for one of them
}

// Stock is everything the team can build from, in file order.
type Stock struct {
	Name     string
	Title    string
	Pairs    []Pair
	Finals   []Drive  // at least one
	Drops    []Drive  // empty = the box has no drop pair
	Fitted   []string // pair ids of the fitted set, in gear order; empty = not known
	Warnings []string // what a reader should know (tooth sums, single pairs)
}

// Fork slides one dog ring between the gears that it serves: one or two gear
// numbers, Reverse being -1.
type Fork []int

// Slot is one place on the shafts, at a fixed stack position.
type Slot struct {
	Position int    // from 1, 1 at the housing
	Kind     string // width, bore and hand in the team's own word
	DogSide  string // side on which the ring engages: "inner", "outer"; "" = not stated
	CutOn    bool   // the layshaft gear here is cut in one piece with the layshaft: a change of pair is a change of layshaft
}

// Cluster is a layout of forks together with a stack order; only listed
// clusters can be built.
type Cluster struct {
	Name  string
	Forks []Fork
	Stack []int // gear numbers outward from the housing; may hold Reverse
}

// Strip describes, per box, what has to come off to reach a gear.
type Strip struct {
	LastOnFirstOff string    // "outer": the end away from the housing opens; "housing": the other end
	CarrierAfter   int       // stack position after which a bearing carrier sits (gears beyond it come off with it); 0 = none
	Opening        float64   // s, to open the box
	Depth          []float64 // s, by number of stack positions opened (index 0 = the first one); len = number of positions
	PerPair        float64   // s, per pair changed
	Closing        float64   // s, to close and check
}

// Box is a gearbox: what it looks like inside, not what is fitted.
type Box struct {
	Name            string
	Title           string
	Gears           int // forward gears, 4 to 8
	Slots           []Slot
	Clusters        []Cluster
	NeutralBetween  bool // neutral lies between first and second instead of below first
	NeighboursShare bool // two consecutive gears may use the same fork
	Strip           Strip
	UpshiftTime     []float64 // s without drive; index g = from gear g+1 to g+2; len Gears-1
	DownshiftTime   float64   // s per downshift
	StepMin         float64   // least ratio step between neighbours, > 1
	StepMax         float64   // greatest ratio step between neighbours
	ToothSum        int       // usual tooth sum of a pair; 0 = not stated
	ToothSumSpread  int       // teeth by which a pair may differ without a warning
	FinalFixed      bool      // the final drive is fixed for the event
	MakerNotes      []MakerNote
	Steps           []BuildStep // build order, first on first; empty = the file states none
	CentreDistance  float64     // m, layshaft to mainshaft; 0 = not stated
	Endurances      []Endurance // by slot kind; empty = none stated
}

// MakerNote is a figure of the gearbox maker, only ever quoted.
type MakerNote struct{ What, Value, Source string }

// Set is one buildable choice: a cluster, a pair for every gear, and drives.
type Set struct {
	Cluster *Cluster
	Pairs   []*Pair // by gear, index 0 = first gear
	Final   *Drive
	Drop    *Drive // nil = no drop pair
}

// TotalRatios returns engine turns per turn of the driven wheels, by gear.
func (s *Set) TotalRatios() []float64 {
	f := s.Final.Ratio()
	if s.Drop != nil {
		f *= s.Drop.Ratio()
	}
	out := make([]float64, len(s.Pairs))
	for i, p := range s.Pairs {
		out[i] = p.Ratio() * f
	}
	return out
}
