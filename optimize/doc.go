// Package optimize finds the best complete choice in a tree of choices and
// proves it: depth-first branch and bound on all cores, with an exhaustive
// search beside it as oracle. It knows nothing of cars or gears: a Space says
// which choices follow a prefix, how good any completion can be at best (a
// lower bound), and how good a complete choice is.
//
// What it promises, given bounds that never exceed the score of a completion:
// the answer has the least score; among equal scores it is the first in the
// order of choices (the tie rule); the same for any number of workers. Nodes
// whose bound exceeds the best score known are cut; equal ones are not, since
// they may hold an earlier equal.
//
// Pipeline: Search -> tasks (prefixes of two choices, by bound) -> workers
// (depth first, children by bound) -> one shared best -> Result.
package optimize
