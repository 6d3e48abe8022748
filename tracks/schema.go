package tracks

// file is the schema of a track file. Zero stands for an absent number; what
// zero means then is decided by Doc.Has.
type file struct {
	Title        string        `toml:"title"`
	HeadingDeg   float64       `toml:"heading_deg"` // clockwise from true north, at the start line
	AltitudeM    float64       `toml:"altitude_m"`
	PitLimitKmh  float64       `toml:"pit_limit_kmh"`
	PitExitM     float64       `toml:"pit_exit_m"`
	CloseM       float64       `toml:"close_m"`
	CloseDeg     float64       `toml:"close_deg"`
	CloseHeightM float64       `toml:"close_height_m"`
	Segment      []segmentFile `toml:"segment"`
	NoShift      []noShiftFile `toml:"no_shift"`
	Place        []placeFile   `toml:"place"`
}

// segmentFile is a straight or a corner.
type segmentFile struct {
	Kind         string  `toml:"kind"` // "straight" or "corner"
	Name         string  `toml:"name"`
	LengthM      float64 `toml:"length_m"`
	RadiusM      float64 `toml:"radius_m"`
	AngleDeg     float64 `toml:"angle_deg"`
	Direction    string  `toml:"direction"` // "left" or "right"
	SpiralInM    float64 `toml:"spiral_in_m"`
	SpiralOutM   float64 `toml:"spiral_out_m"`
	BankDeg      float64 `toml:"bank_deg"`
	GradePercent float64 `toml:"grade_percent"`     // at the start
	GradeEnd     float64 `toml:"grade_end_percent"` // absent: as at the start
	GripRatio    float64 `toml:"grip_ratio"`
}

// noShiftFile is a place where the driver does not shift: a corner by name, or
// from one distance to another.
type noShiftFile struct {
	Name   string  `toml:"name"`
	Corner string  `toml:"corner"`
	FromM  float64 `toml:"from_m"`
	ToM    float64 `toml:"to_m"`
}

// placeFile names a stretch of the lap that is not a segment by itself.
type placeFile struct {
	Name  string  `toml:"name"`
	FromM float64 `toml:"from_m"`
	ToM   float64 `toml:"to_m"`
}
