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
// # When it is stopped, and when there is no set
//
// A set is constructed before any table is made (first.go); from then on the search
// may be stopped at any moment (halt.go). What it then says is bounded by what is
// known: the bound of what is still open in the tree, or else the ideal lap.
//
// Where no set is left, the answer names a least number of limits that clash and
// the smallest changes that leave one (diagnose.go). Both are found by trying,
// with the rules of the search: what is offered has a set. Where sets can be
// built but none drives the lap, sets are driven one by one, up to mostLaps; past
// that, offers are still tried, but no longer said to be the smallest, and no
// clash is named.
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
// Prefix. The gears chosen so far are driven zone by zone with the functions of
// the lap itself (chain.go), in all the ways that the lap tries: begun in any
// gear, shifted when due, held, shifted in a row before a no-shift place, or as
// soon as the next gear pulls. At the shift into the next gear, t + W is a lower
// bound of the zone. A shift down on the way is handed to the ideal car after
// its pause; so is a car that comes upon the limit. What a zone comes to depends
// on the gears from its first on, up to one that is never left, and on nothing
// else; so it is made once and shared by all prefixes and workers.
//
// Gears to come, of each zone alone. A car in a gear at some speed, some way
// behind the ideal car, still loses at least what runs in that gear tell that
// pass there (ends.go), each with the best that may follow it: a programme from
// the last gear down. What is still lost hardly depends on the way behind, so
// the lesser of the two runs next to a car serves.
//
// Gears to come, of all zones together. Running in a gear through a cell of
// speeds a car loses the growth of t + W, tabulated over how far it is behind the
// ideal one (account.go); so does a pause for a shift. The least over all that a
// car of interest can be behind is charged: a car that has lost no more than the
// zone's budget (charges.go). A car need not come through all cells; none is
// charged more than a car loses that stays below it. Where the shift of a chain
// lies is free: the charge of a pair of neighbours is the least over all places,
// and the sum over a chain telescopes, so the least chain over all zones together
// is a backward dynamic programme over pairs. The greater of the two bounds counts.
//
// Links. Most pairs of neighbours stand in no chain whose charges are within the
// target; they are left out before anything else is made (narrow).
//
// Budgets. The bound is promised to sets that lose no more than the best known,
// and the gap: of such a set a zone loses at most what the others leave. Small
// budgets mean high charges. Tables are made for several levels of budgets; a
// level is used at a node of the tree where what is known of the zones there
// leaves each of them no more.
//
// Each zone takes the tightest level that holds for it.
//
// Later gears. A zone may begin in a gear that is still to be chosen, as where a
// no-shift place follows. Then it has lost nothing so far and is charged nothing,
// since a shift costs nothing where a zone begins; what is known of the gears
// chosen does not count there, unless beginning so late costs more than the budget.
//
// Joining both. What a prefix has lost beyond what the tables charge for the
// speeds it has come through is added to the chain's charges.
//
// One zone. Where a lap is one zone (an out lap on a flat-out oval) the time
// to go after a shift at a place is itself a backward dynamic programme
// (rest.go).
//
// Flat out all round. Where nothing resets the speed there are laps in one
// gear, all listed, and laps with shifts (ring.go). With V the time still to go
// of the ideal car against its own periodic lap, a lap that repeats itself takes
// the ideal lap and all that its moments lose in V; every upshift is made good by
// a shift down, so such a lap has two pauses for every gear but one of those that
// it uses, each of which loses what a pause loses at least anywhere. Chains of
// neighbouring gears that this leaves open are lapped, which decides up to
// openSlack. Where the ideal car meets the limit without being reset, one pause
// only is certain; what that leaves open is returned as stopped, with its gap.
//
// Places of shifts. Runs of a prefix shift at the shift speed of (8.2); the lap
// then moves its shifts a little to where its time does not change with them.
// What that may gain is bounded from the tables, shift by shift, and taken off
// the clock (mayGain).
//
// Flat climbs. Where a corner taken flat out holds the ideal car back, the place
// where it first reaches a speed jumps, and nothing may be read between two nodes
// of speed. Such cells are found by their length (findRough); nothing is charged in
// them, and the ideal car is driven instead of read.
//
// Sampling. Tables are read between nodes; what that can be off is measured
// when they are made and doubled (L), or covered by keepShare and restSlack.
// These margins are argued from smoothness, not proved; three things watch
// over them: a score below its bound ends the search (optimize.ErrBound), and the
// answer says that it is not proved; TestBoundOfGoodSets goes down to sets near the
// best, each with its own score as cutoff, where a bound that is a little too high
// shows, and TestBound to random partial sets of the full stock; TestEnds drives
// between the runs of the ends; TestSearchEqualsOracle compares with a list of all
// sets, those within the gap and the written rules included.
package gearing
