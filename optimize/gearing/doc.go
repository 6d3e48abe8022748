// Package gearing is the search space of a gearbox: which pairs can stand
// together, how good any completion of a partial set can be, and how good a
// complete set is, for package optimize to search.
//
// # What is promised
//
// For the lap as package sim computes it, no buildable set is quicker than the
// one returned (first stage). Among the sets within the gap of it, none has a
// quicker out lap (second stage), which decides gears that the lap never uses.
// Equal out laps: the set that comes first in the order of candidates, first
// gear first, falling ratio, then id. The same answer for any number of
// workers. SetsInSpace counts the sets that pass every rule between pairs
// (stock, slots, integral parts, steps, headroom, gears kept) exactly, without
// listing them; rules that only the lap can decide (a gear below its pulling
// rpm, downshifts that do not fit) are not in the count.
//
// # Why the bounds are bounds
//
// The ideal car drives, at every speed, with the best of all pairs that stand
// in some set, without shifts. At no place and speed does a real set
// accelerate harder, and the limit of corners and braking is the same for
// both; so from the same state the ideal car is never behind and never slower.
// Its time to go, W, is a lower bound of everybody's.
//
// A lap is cut into zones where the ideal car is on a least limit. There no car
// is faster, so beginning the next zone at that speed is never a loss.
//
// Prefix. The gears chosen so far are driven exactly, zone by zone, with the
// functions of the lap itself (walk.go): up to two cars per zone, that of the
// natural gear and that of the next. At the shift into the next gear, t + W is
// a lower bound of the zone. A car that would shift down at full throttle is
// handed to the ideal one.
//
// Gears to come. A car that first reaches speed v at a place d behind the
// ideal one has lost at least L(v, d) (account.go). Running in a gear through a
// cell of speeds it loses the growth of t + W, tabulated over d; so does a
// pause for a shift. The least over all d that a car can be behind is charged
// to the gear. A car that is farther behind, or that never reaches the speed,
// has lost at least the zone's cap; and no chain is charged more than the cap
// in a zone (charges.go). So the sum of charges never exceeds the loss, for any
// set. All zones are charged to the same chain of pairs by a backward dynamic
// programme over (previous, this, next).
//
// Joining both. What a prefix is known to lose and what the table goes on to
// charge may together exceed the cap; safe takes the excess off.
//
// One zone. Where a lap is one zone (an out lap on a flat-out oval) the time
// to go after a shift at a place is itself a backward dynamic programme
// (rest.go).
//
// Flat out all round. Where nothing resets the speed there are laps in one
// gear, all listed, and laps with an upshift, bounded by the ideal car that
// must pause once (ring.go). Where that bound does not exclude them the answer
// is returned as stopped, with its gap: the proof is not complete there.
//
// Sampling. Tables are read between nodes; what that can be off is measured
// when they are made and doubled (L), or covered by keepShare and restSlack.
// These margins are argued from smoothness, not proved; three things watch
// over them: the search stops with optimize.ErrBound when a score lies below
// its bound, TestBound tries the bound on random partial sets of the full
// stock, TestSearchEqualsOracle compares with a list of all sets.
package gearing
