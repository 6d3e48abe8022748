package sheet

import (
	"math"
	"strconv"
)

// The rounding rules, for every view.
//
//   - Halves go away from zero, as people round.
//   - Ratios, overall ratios and steps: JSON carries the quotient of the tooth
//     numbers unrounded; text shows 3 decimals, rounded from the whole tooth
//     numbers and never from a rounded ratio.
//   - Engine speeds are whole rpm everywhere. The rpm after an upshift is taken
//     from the rounded upshift rpm, and the drop is the difference of the two:
//     the printed numbers add up. So do limiter, rpm and headroom.
//   - Road speeds at an rpm are those of the rounded rpm. JSON 0.001 km/h,
//     text 0.1 km/h or mph.
//   - Times: JSON 1e-6 s, text 1 ms. A loss or gain is the difference of the
//     two rounded lap times: the printed numbers add up.
//   - Parts of a loss: JSON 1e-6 s, text 1 ms, rounded down or up so that they add
//     up to the difference of the two lap times as shown (apportion).
//   - Numerical error and proof gap are rounded up, never down: JSON 1e-6 s,
//     text 0.01 ms.
//   - Kilometres of a lap by gear: JSON 0.0001 km, text 0.001 km, rounded down or up
//     so that they add up to the track's length (apportion). Kilometres and laps
//     left, and speeds for downshifts, are rounded down, never up. Damage: JSON six
//     significant digits; what is left follows from the rounded numbers.
//   - Bench minutes: JSON 0.1 min; text whole minutes, rounded up.
//   - Distances: JSON 0.1 m, text 1 m or 1 ft. Wheel turns: whole degrees.
const (
	ratioDecimals = 3 // text
	speedDecimals = 3 // JSON, km/h
	speedText     = 1 // text, km/h or mph
	timeDecimals  = 6 // JSON, s
	timeText      = 3 // text, s
	distDecimals  = 1 // JSON, m
	benchDecimals = 1 // JSON, min
	errorText     = 2 // text, ms
)

// roundTo rounds to so many decimals, halves away from zero; never -0.
func roundTo(x float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(x*p)/p + 0
}

// ceilTo rounds up to so many decimals. A part in a million of the last place
// is taken for the float's own rounding: 0.001 stays 0.001.
func ceilTo(x float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Ceil(x*p-1e-6)/p + 0
}

// floorTo rounds down to so many decimals, as ceilTo rounds up.
func floorTo(x float64, decimals int) float64 { return -ceilTo(-x, decimals) + 0 }

// wholeRPM rounds an engine speed.
func wholeRPM(rpm float64) int { return int(math.Round(rpm)) }

// fixed writes x with so many decimals, halves away from zero.
func fixed(x float64, decimals int) string {
	return strconv.FormatFloat(roundTo(x, decimals), 'f', decimals, 64)
}

// signed writes x as fixed does, with its sign: +0.012, -0.003, 0.000.
func signed(x float64, decimals int) string {
	s := fixed(x, decimals)
	if roundTo(x, decimals) > 0 {
		return "+" + s
	}
	return s
}

// fraction is a quotient of products of tooth numbers.
type fraction struct{ num, den int64 }

// text writes the quotient with ratioDecimals decimals in whole-number
// arithmetic, so that a half is a half.
func (f fraction) text() string {
	const scale = 1000 // 10^ratioDecimals
	n := (2*f.num*scale + f.den) / (2 * f.den)
	frac := strconv.FormatInt(n%scale, 10)
	for len(frac) < ratioDecimals {
		frac = "0" + frac
	}
	return strconv.FormatInt(n/scale, 10) + "." + frac
}

func (f fraction) value() float64 { return float64(f.num) / float64(f.den) }

// of scales a whole number by the fraction and rounds it.
func (f fraction) of(n int) int {
	return int((2*int64(n)*f.num + f.den) / (2 * f.den))
}

// pairRatio, overallRatio and stepRatio are the quotients of a gear table.
func pairRatio(g *Gear) fraction {
	return fraction{int64(g.MainshaftTeeth), int64(g.LayshaftTeeth)}
}

func overallRatio(g *Gear, final Teeth, drop *Teeth) fraction {
	f := pairRatio(g)
	f.num *= int64(final.DrivenTeeth)
	f.den *= int64(final.DrivingTeeth)
	if drop != nil {
		f.num *= int64(drop.DrivenTeeth)
		f.den *= int64(drop.DrivingTeeth)
	}
	return f
}

func stepRatio(g, next *Gear) fraction {
	a, b := pairRatio(g), pairRatio(next)
	return fraction{a.num * b.den, a.den * b.num}
}
