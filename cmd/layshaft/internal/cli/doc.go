// Package cli is the command line of layshaft: it turns flags and files into
// a problem, hands it to the simulation and the search, and prints the answer.
//
// # Pipeline
//
//  1. Flags are read into values that know their range and their words.
//  2. Files are loaded, embedded or the user's own, by one loader.
//  3. Conditions are turned into SI (sim.Conditions).
//  4. sim and optimize/gearing compute.
//  5. Package sheet or chart makes the answer, which is written whole or not
//     at all.
//
// # Conventions
//
// The answer goes to stdout or to the file of --output; progress and warnings
// go to stderr. One command stands in one file. The command tree is built
// afresh for each call, so that nothing is shared between two calls.
//
// Exit codes: 0 done; 1 failed; 2 bad usage or input; 3 an answer was printed
// but is not proved (time limit, or an interrupt after the first buildable
// set); 4 nothing is feasible; 130 interrupted with no answer.
//
// # Left out
//
// No prompts, no configuration file, no environment variable but TERM (a dumb
// terminal gets no progress line).
package cli
