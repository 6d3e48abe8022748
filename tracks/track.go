package tracks

// Segment is a stretch along which curvature, bank and grade angle change
// linearly and grip is constant.
type Segment struct {
	Start   float64 // m from the start line along the driven line
	Length  float64 // m, > 0
	K0, K1  float64 // 1/m, curvature at the start and the end, left positive
	Bank0   float64 // rad at the start, positive = left side low
	Bank1   float64 // rad at the end
	Grade   float64 // rad (atan of rise over run) at the start, positive uphill
	Grip    float64 // factor on the tyres' grip, 1 = nominal
	Heading float64 // rad clockwise from true north at the start
	Corner  int     // index into Track.Corners, -1 on a straight

	// VerticalCurvature is d(grade)/ds, positive in a dip, negative over a
	// crest; 0 keeps the grade of the start.
	VerticalCurvature float64 // 1/m

	// Places are the names by which this stretch can be called, see Named.
	// Shared between copies: read-only.
	Places []string

	X, Y, Z float64 // m east, north and up of the start line, at the start
}

// Corner is a named corner, spirals included.
type Corner struct {
	Name       string  // "" = only its number
	Start, End float64 // m; End < Start wraps over the line (after Shifted)
	Radius     float64 // m, of the arc, > 0
	Angle      float64 // rad, turned in all, left positive
}

// Span is a stretch of the lap; End < Start wraps over the line.
type Span struct {
	Name       string
	Start, End float64 // m
}

// Track is a closed circuit along one driven line. Distance runs from the
// start line, in the direction of travel. Treat it as read-only.
type Track struct {
	Name     string // short, as on the command line
	Title    string
	Length   float64 // m
	Heading  float64 // rad clockwise from true north, at the start line
	Altitude float64 // m above sea level
	Segments []Segment
	Corners  []Corner
	NoShift  []Span

	PitLimit float64 // m/s, pit-lane speed limit
	PitExit  float64 // m, where the limit ends

	GapX, GapY float64 // m, how far the end of the line misses its start
	Turned     float64 // rad, total angle turned, left positive
	Climb      float64 // m, how much higher the end of the line is than its start
	Warnings   []string
}
