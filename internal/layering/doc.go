// Package layering holds the rules of the repository that no compiler checks.
// It has no code of its own: the rules are its tests.
//
//   - arrows_test.go: which package may import which; where each library may
//     appear; that sim and optimize cannot reach files, the clock, the
//     environment or the network.
//   - state_test.go: no init functions, no package variables that change, no
//     global random source, no printing outside the command line, os.Exit only
//     in main.
//   - keys_test.go: every key of a file or of JSON that holds a number ends in
//     its unit.
//   - tree_test.go: top-level folders, length of files, package names and
//     comments, left-over markers, paths of somebody's machine.
//
// Each rule is a function from parsed sources (or from the list of packages) to
// complaints. The same function is run on the repository, where it must find
// nothing, and on sources with a deliberate fault in faults_test.go, where it
// must find exactly that; so no rule can rot into one that never fails.
//
// To admit an exception, add it to the rule's table with the reason beside it.
package layering
