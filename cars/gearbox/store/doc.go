// Package store keeps the team's pairs in one file: an embedded database in
// which every change is one transaction with its history.
//
// # Purpose
//
// A pair lives for years through many hands: kilometres are booked after a run,
// crack tests done, pairs fitted, taken out, retired. The store holds each pair
// with its identity, what is fitted in which car, the ratio sheets that were
// issued, and who changed what, when and why.
//
// # Conventions
//
//   - One call of Update is one transaction: all of it is kept, or nothing. It is
//     on the disk before Update returns. A process that is killed leaves the
//     store as it was after the last Update that returned, or the one that was
//     being written, whole (bbolt writes copies of pages and switches by one
//     checked page; its README, "Transactions").
//   - One process writes at a time; others wait a few seconds, then are told.
//     Readers see the state before or after a change, never in between.
//   - Distances are m, whole metres; days are gearbox.Day; times are UTC.
//   - Nothing here reads a clock: who calls says when.
//   - Rules are in Edit's methods, one for each thing that people do. They check
//     all that they are given before they change anything.
//
// # Pipeline
//
//  1. Update opens the file, reads all records into a Snapshot (a thousand pairs
//     take some milliseconds), and hands out an Edit on it.
//  2. The caller's function changes the Snapshot through the Edit.
//  3. Records are compared with what was read; those that differ are written,
//     with an Entry of the history that holds both.
//  4. Undo puts back what an Entry says was there before, as a change of its own.
//
// # Left out
//
// Final drives and drop pairs have no kilometres and no crack test of their own.
package store
