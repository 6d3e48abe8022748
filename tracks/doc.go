// Package tracks reads circuits and tells what the road is like at any place.
//
// A circuit is one driven line, written as a list of straights and corners:
// the line that the car takes, not the middle of the road. Corners may have
// spirals (clothoids) in and out, along which curvature and bank change
// linearly.
//
// # Signs, frames, origin of distance
//
// This is the one place where they are stated.
//
//   - Distance s is in m along the driven line, in the direction of travel, 0
//     at the start line. It is measured in plan, as on a map. The slope itself
//     is longer by 1/cos of the grade: 0.1 % at a grade of 5 %, left out, and
//     warned of above 10 %.
//   - Curvature is in 1/m, left positive.
//   - Bank is in rad, positive = left side low, so that bank x curvature > 0
//     helps the car round the corner. In a file bank_deg of a corner is
//     positive when it helps, whichever way the corner goes; bank_deg of a
//     straight is positive when the left side is low.
//   - Grade is in rad (atan of rise over run), positive uphill; a file gives
//     it in percent, grade_percent at the start of a segment and, where it is
//     another, grade_end_percent at its end. Between them the angle runs
//     linearly along the segment, spirals included.
//   - Vertical curvature is d(grade)/ds in 1/m, positive in a dip, negative
//     over a crest.
//   - Heading is in rad clockwise from true north, as is the direction that a
//     wind comes from. Left curvature lowers it.
//   - x points east, y points north, z up, all 0 at the start line, in m.
//   - The turned angle is left positive: +360° for a circuit driven
//     anticlockwise, -360° for one driven clockwise.
//   - Corners count from T1 in the order of the file.
//
// # Corners
//
// Angle and length of a corner include its spirals. A spiral of length L
// between curvature 0 and 1/R turns the line by L/(2R); the arc between the
// spirals takes the rest. The bank runs in with the spiral (in road design:
// superelevation run-off), from the bank of the straight beside it, or from
// none where another corner is beside it. Without a spiral it jumps.
//
// # Closure
//
// A circuit must come back to its start: turned angle within close_deg (0.1) of
// a full turn either way, position within close_m (1), height within
// close_height_m (1; a lap that ends higher than it began would make energy
// from nothing). Otherwise it is refused, with the gap, and with the change of
// two straights that closes it where there is one. What gap remains is kept in
// GapX, GapY, Turned and Climb: the seam is not smoothed. Above 0.1 m the gap
// in height is also told in Warnings.
//
// # Names of places
//
// A stretch is called by its corner ("T5", or the corner's name), by the corner
// before it ("after T5") or its own name on a straight, or by a [[place]] of
// the file (name, from_m, to_m), at whose ends the segments are cut. "straights"
// and "everywhere" are understood on every track.
//
// # Left out
//
// What happens where the grade jumps from segment to segment (in a file that
// gives end grades, a jump of more than 1 percent point is warned of), the
// width of the road, the choice of line, and circuits that cross over
// themselves, whose turned angle is 0.
//
// # Pipeline
//
//  1. datafile.Decode reads the file strictly into the schema.
//  2. The rules of each segment are checked and angles, arcs and spirals
//     worked out.
//  3. The pieces become Segments; headings and positions are summed along the
//     line, positions from closed forms (arc) and Gauss-Legendre (spiral).
//  4. Pit exit and no-shift spans are placed; closure is checked.
//  5. At, Place and Outline answer for any distance; Mirrored, Shifted and
//     SplitStraight make the variants that tests of a lap need.
package tracks
