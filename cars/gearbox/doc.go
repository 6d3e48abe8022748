// Package gearbox says what can be built inside a sequential dog gearbox out
// of the pairs that a team owns, in what order it stacks, and what must come
// off to change it.
//
// Purpose: a ratio sheet ends up as steel. Pair, Stock, Box, Cluster and Set
// hold what decides whether a chosen set can be built: tooth numbers, counts,
// life, slots, dog sides, gears cut on a shaft, forks and the listed stacks.
//
// Assumptions: a fork slides one dog ring, which lies between the two gears it
// serves; the last gear on is the first off; a layout of forks and a stack are
// used only where the gearbox file lists them together. What a pair fits is a
// matter of slots, not of gear numbers. All of it is common practice of the
// trade; where boxes differ the box file says which.
//
// Damage is the one figure on strength: the linear damage sum (Miner) of a pair
// under given loads, against a reference load, cycles and exponent that the box
// file states with their source. It is an estimate that may shorten what the
// team's limit allows and never lengthens it.
//
// Left out: strength by itself, bearings, oil, selector timing, torque figures.
// Those are the gearbox maker's; MakerNote only quotes what the user's file states
// with its source. Profile shift is not computed: an unusual tooth sum is a warning.
//
// Conventions: ratio = mainshaft teeth / layshaft teeth, the shorter the gear
// the larger the number. Gears count from 1, Reverse is -1. Stack positions
// count from 1 at the housing. Times are in s, distances in m, angles counted
// by hand on the bench in degrees (Turn). "inner" is the side towards the
// housing. A pair id is unique; a pair counts once per set.
//
// Pipeline:
//
//	datafile.Read  ->  ParseBox, ParseStock   strict files, every fault at once
//	Candidates     ->  pairs per gear, and why the others are refused
//	Set            ->  a chosen cluster, pairs, drives; TotalRatios, BenchCounts, SetWarnings
//	Box.ComesOff, Box.Minutes                 the bench work
//	Box.BuildOrder, Box.Rebuild               every part in its order; from one set to another
//	verify.Verify  ->  the set once more, by code that shares nothing with this
//
// Layouts is a study of what fork layouts a rule admits; a box lists its own.
package gearbox
