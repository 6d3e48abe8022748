// Package verify checks a set of gear pairs once more before it becomes steel.
//
// It shares no code with the search, with the candidate filter or with the
// loaders' rules: everything is recomputed from tooth numbers, stack
// positions, forks and lists as they stand in the box and the stock. Ratios are
// compared as fractions of whole numbers. Only the data types of package
// gearbox are imported, none of its methods except TotalRatios, which is the
// thing under test.
//
// Left out: anything that needs a lap (headroom, over-rev, pulling rpm).
package verify
