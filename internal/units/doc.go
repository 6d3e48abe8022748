// Package units holds the conversions between SI, in which everything inside
// layshaft is computed, and the units that the trade writes on paper. It is
// the only place where a conversion factor stands.
//
// A factor is named To‹target›: multiply the SI value by it. Its inverse is
// From‹target›. All factors are exact by definition unless the comment says
// otherwise. A zero point (ZeroC) is added, not multiplied.
//
// Left out: rounding and formatting, which belong to the views, and units that
// no input, flag or sheet uses.
package units
