// Package sim drives one lap: a car, a track, a set of ratios and the
// conditions become times, speeds, gears and shift places.
//
// The car is a point mass on a given line (MODEL.md numbers the equations; the
// code cites the numbers where it computes). Left out, and so said: line
// choice, tyre temperature and wear, lateral load transfer, transient yaw,
// crosswind, differential, brake balance, boost recovery after a shift, driver
// error, fuel burnt within a lap.
//
// Conventions: SI throughout, engine speed in 1/min. Distance, signs and
// headings are those of package tracks; ratios are engine turns per turn of the
// driven wheels, first gear first. Nothing here does I/O or reads a clock.
//
// Pipeline:
//
//	New           mesh, corner limits, braking curves: once per car, track, conditions
//	NewSolver     working memory of one goroutine
//	LapTime       the inner loop of a search: a number
//	Lap, OutLap   the same with trace, shifts, warnings and numerical error
//	StartLap      from a standstill; RestartLap: from a speed on the start line
//	Stint         laps on end, and the fuel that they burn
//	zone.go       the pieces of a lap for a search that bounds and shares them
//	LossAccount   where a lap loses time against the ideal car, by gear and place
//
// A set that cannot drive the lap is no error: the Lap says why in Infeasible.
package sim
