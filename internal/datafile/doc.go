// Package datafile reads the input files of layshaft: it finds an embedded
// example or a file of the user, decodes TOML strictly and collects everything
// that is wrong with it, so that one run tells the user all that there is to
// mend.
//
// # Pipeline
//
//  1. Read turns what stands on the command line into a Source: name, bytes
//     and SHA-256.
//  2. Decode checks the encoding and the syntax (an error at once, with line
//     and caret), then fills the schema struct.
//  3. Unknown keys, wrong case, NaN and Inf become faults of the Doc; values of
//     the wrong kind are returned at once, all of them together.
//  4. The loader states its rules: Need, Positive, Between, Increasing, OneOf,
//     Whole, and Fault for rules that span several keys.
//  5. Err returns nil or a *FaultsError that lists the faults in file order,
//     each as "my.toml:12: engine.torque_nm[3]: -5 is not > 0".
//
// # Conventions
//
// A key is written as people would point at it: tables joined by dots,
// elements of lists and of arrays of tables counted from 1
// ("pair[3].mark"). Keys are lower case and matched exactly. A schema is a
// struct whose exported fields all carry a toml tag; its fields are float64
// (counts too: Whole checks them), string, bool, structs, pointers to these and
// slices of these. Any other field type is a programmer's mistake and panics.
//
// A key that already has a fault gets no second one, so that a loader may state
// all its rules without asking first which of them still make sense.
//
// # Left out
//
// Nothing is converted: units are the loader's affair. Nothing is written: the
// TOML library loses comments, and a user's file is not ours to rewrite. Dates
// and free-form tables are not supported in schemas. Line numbers inside a
// multi-line string are those of its start.
package datafile
