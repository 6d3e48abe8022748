package units

import "math"

// Gravity is the standard acceleration of free fall, exact by definition
// (3rd CGPM, 1901).
const Gravity = 9.80665 // m/s²

const (
	ToKmh   = 3.6                    // m/s -> km/h
	FromKmh = 1 / ToKmh              // km/h -> m/s
	ToMph   = 1 / 0.44704            // m/s -> mile/h (international mile)
	FromMph = 0.44704                // mile/h -> m/s
	ToRPM   = 30 / math.Pi           // rad/s -> 1/min
	FromRPM = math.Pi / 30           // 1/min -> rad/s
	ToDeg   = 180 / math.Pi          // rad -> degrees
	FromDeg = math.Pi / 180          // degrees -> rad
	ToFoot  = 1 / 0.3048             // m -> ft
	ToPound = 1 / 0.45359237         // kg -> lb
	ZeroC   = 273.15                 // K at 0 °C
	HPa     = 100.0                  // Pa per hPa
	ToLbfFt = 1 / 1.3558179483314004 // N·m -> lbf·ft
)

// Of force and power. The pound-force is exact by definition; the horsepower is
// the mechanical one, 550 lbf·ft/s.
const (
	ToPoundForce = 1 / 4.4482216152605 // N -> lbf
	ToHorsepower = ToLbfFt / 550       // W -> hp
)
