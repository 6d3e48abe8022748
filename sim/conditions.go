package sim

// Conditions are the weather and the state of the car for one lap.
type Conditions struct {
	AirDensity   float64 // kg/m³
	EngineFactor float64 // factor on the torque curve, 1 = none
	WindSpeed    float64 // m/s
	WindFrom     float64 // rad clockwise from true north, where the wind comes from
	TowDrag      float64 // ratio on drag in a tow, 1 = alone
	TowDownforce float64 // ratio on downforce in a tow, 1 = alone
	// TowWhere names the places where the tow acts, as tracks.Segment.Named
	// knows them: tracks.Straights, tracks.Everywhere, or the track's own.
	// Empty = everywhere.
	TowWhere []string
	Fuel     float64 // kg
	Grip     float64 // factor on grip, 1 = nominal
	Map      string  // engine map; "" = the first
}
