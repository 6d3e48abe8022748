// Package sheet is the ratio sheet and its smaller sisters: what a run of
// layshaft puts on paper.
//
// # Purpose
//
// A number on the ratio sheet ends up as steel in a gearbox. So there is one
// model, Sheet, and every form in which people or programs read it is a view
// of that model: Text for an 80-column terminal or printer, PDF for the bench,
// HTML for a browser, JSON for programs, CSV for spreadsheets. WhatIf, LapReport, BarrelReport and Listing are built the same way for the
// other commands.
//
// # Pipeline
//
//	Input (set, laps, weather, files)
//	  -> Build: the set is checked once more by cars/gearbox/verify
//	  -> values are rounded once (rounding.go), sums are taken of rounded values
//	  -> Sheet.Check: the sheet tests its own sums
//	  -> Text, JSON, PDF, HTML or CSV: check again, render, proof-read the gear table
//	  -> one Write of the whole, or an error and no byte
//
// # Conventions
//
// SI comes in; the model is in the units of the trade (km/h, rpm, minutes,
// degrees), named by the suffix of each field and JSON key. A number that does
// not exist is nil, printed as "-", null in JSON; a list without members is
// empty, not null. Forks and stack positions count from 1, position 1 at the
// housing; Reverse is -1 in JSON and R in text. A step is a gear's ratio over
// the next gear's and stands with the lower gear. Text is ASCII but for names
// that come out of the user's files, and no line is longer than 80 characters.
//
// # Left out
//
// No pictures (they come in ready, as Figure), no clock (a date is only ever the
// user's), no files, no colour, no figures of the gearbox maker other than those
// quoted from the user's file.
package sheet
