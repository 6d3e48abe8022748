// Package chart draws the pictures of layshaft. It is the only package that
// knows gonum/plot.
//
// # Figures
//
// Lap: speed over distance (the speed-distance diagram of vehicle dynamics
// textbooks) with the corners named on top, the gear engaged as a step line
// below, and every shift point numbered and listed under the panels.
//
// # Conventions
//
// Distance runs from the start line in the direction of travel. Nothing is
// told by colour alone: what the car does is told by the weight and the dashes
// of the line, the kind of shift by the shape of its mark. Fonts are the
// Liberation family that the plotting library embeds, so that the same input
// gives the same bytes on every machine.
//
// # Left out
//
// PDF: it comes with the printed sheet, on a canvas of its own.
package chart
