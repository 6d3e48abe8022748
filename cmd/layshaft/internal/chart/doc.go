// Package chart draws the pictures of layshaft. It is the only package that
// knows gonum/plot.
//
// # Figures
//
//	Lap         speed and gear over distance, every shift point numbered and listed
//	Laps        several laps together, and the time by which each is behind the first
//	Revs        engine speed and gear over distance
//	Sawtooth    engine speed over road speed in every gear, from shift to shift
//	Effort      force at the driven wheels and road load over road speed
//	TrackMap    the circuit in plan by gear, speed or time lost
//	Loss        time lost against the ideal car over distance, by gear
//	LapChoice   lap time over the ratio of one gear, with the pairs of the stock
//	Engine      torque and power over engine speed
//	RatioChart  speed range of every pair of the stock
//
// DEVELOPERS.md says where the arrangement of each comes from.
//
// # Where they go
//
//	Write       a file: PNG, SVG or PDF
//	SVGBytes    an SVG of any size, for a page of HTML
//	DrawOn      a place on a page of a PDF that is being made
//
// With Frame.Bare a figure comes without title, caption and lists, and with
// corners by number alone, for a page that has those itself; 18 cm by 9.5 cm are
// enough for all but the ratio chart.
//
// # Conventions
//
// SI goes in, the trade's units come out, US ones with Frame.US. Distance runs from
// the start line in the direction of travel. Nothing is told by colour alone: what
// the car does is told by the weight and the dashes of the line, the kind of shift
// by the shape of its mark, classes on a map by lightness and width. Words that do
// not fit beside a mark are a number there and a line in a list. Fonts are the
// Liberation family that the plotting library embeds, so that the same input gives
// the same bytes on every machine. Texts of the user's may hold anything: Clean
// makes them drawable.
//
// Figures only read what they are given and may be drawn by several goroutines.
//
// # Left out
//
// Laps of other kinds than the flying one in comparisons; colours of a team;
// anything to click on.
package chart
