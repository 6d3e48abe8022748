// Package numtest compares computed numbers in tests.
//
// It exists because the usual assertion packages let NaN pass as equal within
// any tolerance, so that a test of a broken formula stays green. Here NaN on
// either side, and a NaN or negative tolerance, fail.
//
// Convention: want comes before got, the absolute tolerance before the
// relative one, and a value passes if it keeps either of the two. Every call
// states a tolerance that has a reason. Units are those of the numbers
// compared; name them in what.
//
// Left out: complex numbers and units in the last place.
package numtest
