package sheet

import (
	"fmt"
	"strings"

	"layshaft/optimize"
)

// cautions stand on every ratio sheet. They are the trade's usual ones, in own
// words; no figure in them is ours to give.
func cautions() []string {
	return []string{
		"The gearbox maker's manual, the series' rules and qualified people decide. This sheet replaces none of them.",
		"One person builds, another one checks against this sheet; both sign.",
		"Before a gear goes in, look for cracks, heat colour, chips and rounded dogs. In doubt it stays out.",
		"Torque, sealant, thread direction and wear limits: from the maker's manual for this box, in its current issue. Use a calibrated torque wrench.",
		"Snap rings and split pins are new every time and never used again. Wear eye protection when they go on or off.",
		"Each gear runs the same way round as before; the same mark on both gears of a pair.",
		"Before a wheel-turn check: engine off and not able to start, the car safely supported on stands on firm ground, nobody under it, hands clear of wheels and chain or shafts.",
		"Other ratios mean other speeds for downshifts. Tell the driver: a downshift too early over-revs the engine, and no limiter prevents it.",
		"The first run on a new build is a check run; look for leaks, noise and every gear before it is driven hard.",
	}
}

// basis says in sentences what the numbers rest on. Its order is fixed.
func (s *Sheet) basis() []string {
	out := []string{
		"The numbers are a simulation's. The model was not matched to a logged lap, so its own error is not known; differences between sets are surer than lap times.",
		"Model: a point mass on a given line; not in it are line choice, tyre temperature and wear, lateral load transfer, crosswind, the differential and driver error.",
		"Shifts: " + shiftRule(s.Conditions, s.ShiftMarginRPM) + ".",
		fmt.Sprintf("Numerical error of the lap, from the run itself: below %s ms. Sets that lie closer together are not told apart.", milliseconds(s.NumericalErrorS)),
	}
	if s.Sensitivities != nil {
		out = append(out, "Change of lap time: "+s.Sensitivities.phrase()+".")
		if text := s.Sensitivities.marginPhrase(s.ShiftMarginRPM, s.NumericalErrorS); text != "" {
			out = append(out, text)
		}
	}
	if s.RadiusSource != "" {
		out = append(out, "Tyre radius: "+s.RadiusSource+".")
	}
	if s.PairsFor != "" {
		out = append(out, "Pairs: "+s.PairsFor+".")
	}
	switch {
	case s.Search.Status == optimize.Given:
		out = append(out, "The set is the engineer's own: nothing was searched and nothing is proved of it.")
	case s.Search.GapS != nil:
		out = append(out, fmt.Sprintf("Search: %s. It speaks of the computed lap under the conditions of this sheet.", s.Search.phrase()))
	default:
		out = append(out, "Search: "+s.Search.phrase()+".")
	}
	for _, st := range s.Search.Stages {
		if s.Search.Status == optimize.Given {
			break
		}
		how := "not proved"
		if st.Proved && st.GapS != nil && *st.GapS < leastGapS {
			how = "proved, none is better"
		} else if st.Proved && st.GapS != nil {
			how = fmt.Sprintf("proved within %s ms", milliseconds(*st.GapS))
		}
		out = append(out, fmt.Sprintf("Stage %s: %s s, %s.", st.Name, seconds(st.ValueS), how))
	}
	out = append(out, s.nearby()...)
	out = append(out, "The set was held against gearbox and stock once more, by code apart from the search, and this sheet's sums were tested before printing.")
	return out
}

// nearby says what is known of the sets that lap within the gap of the best.
func (s *Sheet) nearby() []string {
	var out []string
	if n := s.Search.NearCount; n != nil && *n > 1 {
		text := fmt.Sprintf("%d sets are within the gap of the best by %s.", *n, strings.Join(s.Search.NearBy, " and "))
		var rules []string
		if len(s.Search.NearBy) == 1 && len(s.Search.Stages) > 1 {
			rules = append(rules, s.Search.Stages[1].Name)
		}
		for _, t := range s.Search.Ties {
			rules = append(rules, fmt.Sprintf("%s (%d left)", t.Rule, t.Left))
		}
		if len(rules) > 0 {
			text += " This one was chosen by: " + strings.Join(rules, ", ") + "."
		}
		out = append(out, text)
	} else if n != nil {
		out = append(out, "No other set is within the gap of it.")
	}
	if mine, best := s.Search.FineLapS, s.Search.FineBestS; mine != nil && best != nil && len(s.Near) > 1 {
		text := "the quickest of those"
		if late := *mine - *best; late > leastGapS {
			text = milliseconds(late) + " ms behind the quickest of those"
		}
		out = append(out, fmt.Sprintf("On a mesh four times as fine this set laps in %s s, %s that were listed.", seconds(*mine), text))
	}
	return out
}
