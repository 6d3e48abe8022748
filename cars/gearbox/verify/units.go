package verify

import (
	"fmt"
	"slices"

	"layshaft/cars/gearbox"
)

// Units holds the set against the cards of the identified pairs as the store
// has them, and returns every reason why one may not run in that use; waived
// pairs are not judged on life and inspection. It shares nothing with the code
// that chose the pairs (gearbox.Use).
func Units(cards []gearbox.Pair, set *gearbox.Set, use gearbox.Use) []error {
	var faults []error
	for i, chosen := range set.Pairs {
		gear := i + 1
		fault := func(format string, args ...any) {
			faults = append(faults, fmt.Errorf("gear %d: pair %s: %s", gear, chosen.ID, fmt.Sprintf(format, args...)))
		}
		var card *gearbox.Pair
		for j := range cards {
			if cards[j].ID == chosen.ID {
				card = &cards[j]
			}
		}
		if card == nil {
			fault("has no card in the store")
			continue
		}
		if card.Layshaft != chosen.Layshaft || card.Mainshaft != chosen.Mainshaft || card.Mark != chosen.Mark {
			fault("is %d/%d, mark %s on its card, %d/%d, mark %s in the set", card.Layshaft, card.Mainshaft, card.Mark, chosen.Layshaft, chosen.Mainshaft, chosen.Mark)
		}
		switch {
		case card.Retired:
			fault("is retired")
		case card.Half != "":
			fault("is a loose gear")
		case card.Car != "" && card.Car != use.Car:
			fault("is in car %s", card.Car)
		case card.Car == "" && len(use.Places) > 0 && !slices.Contains(use.Places, card.Place):
			fault("is not at hand")
		}
		if _, ok := use.Waived[chosen.ID]; ok {
			continue
		}
		end := card.RunM + use.RunM
		if card.LifeM > 0 && (end > card.LifeM || card.RunM >= card.LifeM) {
			fault("its life of %.0f m does not last to %.0f m", card.LifeM, end)
		}
		if !(card.Damage < 1) {
			fault("its damage estimate is %g", card.Damage)
		}
		c := card.Crack
		switch {
		case c.Days+int(c.EveryM) > 0 && c.On == 0:
			fault("was never crack tested")
		case c.Days > 0 && int(use.Day-c.On) > c.Days:
			fault("its crack test is %d days old, good for %d", use.Day-c.On, c.Days)
		case c.EveryM > 0 && (end-c.AtM > c.EveryM || card.RunM-c.AtM >= c.EveryM):
			fault("its crack test of %.0f m does not last to %.0f m", c.AtM, end)
		}
		if card.InspectionDue || len(card.Causes) > 0 || (card.LimiterMost > 0 && card.LimiterCount >= card.LimiterMost) {
			fault("is due for inspection")
		}
	}
	return faults
}
