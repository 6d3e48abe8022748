package cli

import (
	"fmt"
	"strings"

	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/verify"
	"layshaft/optimize/gearing"

	"github.com/spf13/cobra"
)

// rules holds the flags on which sets are allowed.
type rules struct {
	set              pairList
	keep, change     gears
	finalDrive       string
	then             choice
	stepMin, stepMax number
	headroom         number
}

const (
	finalFixed = "fixed"
	finalAny   = "any"
)

// defaultHeadroom keeps top gear off the limiter on a lap alone, no more:
// how much a tow or a tailwind asks for is the engineer's decision, and the
// sheet's table for top gear shows it.
const defaultHeadroom = 0

// setFlag is --set; the files hear of the pairs that it names.
func (r *rules) setFlag(c *cobra.Command, in *files) {
	in.named = &r.set
	c.Flags().Var(&r.set, "set", "the set, layshaft/mainshaft teeth in gear order: 13/36,16/35,…")
	r.finalDrive = finalFixed
	c.Flags().Var(&textValue{&r.finalDrive, "DRIVE"}, "final-drive", "final drive: fixed (the one fitted), its `NAME`, or any")
}

func (r *rules) searchFlags(c *cobra.Command, in *files) {
	r.setFlag(c, in)
	f := c.Flags()
	f.Var(&r.keep, "keep", "gears that keep the pair of --set, else of the fitted set")
	f.Var(&r.change, "change", "the only gears that may change from --set, else from the fitted set")
	r.stepMin = number{lo: 1, hi: 3}
	r.stepMax = number{lo: 1, hi: 3}
	f.Var(&r.stepMin, "step-min", "least ratio step between neighbours; default the gearbox file's")
	f.Var(&r.stepMax, "step-max", "greatest ratio step between neighbours; default the gearbox file's")
	r.headroom = number{value: defaultHeadroom, lo: -1, hi: 5000, unit: "rpm"}
	f.Var(&r.headroom, "headroom-rpm", "rpm that top gear keeps below the limiter; default 0, -1 = no rule")
	r.then = choice{value: string(gearing.OutLap), words: []string{string(gearing.OutLap)}, later: []string{"start", "restart"}}
	f.Var(&r.then, "then", "what decides the gears that the lap does not need")
}

// steps are the step limits as the set check takes them.
func (r *rules) steps() verify.Limits {
	return verify.Limits{StepMin: r.stepMin.value, StepMax: r.stepMax.value}
}

// finals are the final drives that may be chosen, at least one.
func (r *rules) finals(f *files) ([]*gearbox.Drive, error) {
	return pickDrives("--final-drive", "final drive", r.finalDrive, f.stock.Finals, f.box.FinalFixed)
}

// drops are the drop pairs that may be chosen; none when the stock has none.
func (r *rules) drops(f *files) ([]*gearbox.Drive, error) {
	if len(f.stock.Drops) == 0 {
		return nil, nil
	}
	want := finalFixed
	if r.finalDrive == finalAny {
		want = finalAny
	}
	return pickDrives("--final-drive", "drop pair", want, f.stock.Drops, f.box.FinalFixed)
}

// pickDrives finds the drives that are meant by a flag.
func pickDrives(flag, what, want string, all []gearbox.Drive, locked bool) ([]*gearbox.Drive, error) {
	var have []*gearbox.Drive
	var fitted *gearbox.Drive
	var names []string
	for i := range all {
		d := &all[i]
		names = append(names, d.Name)
		if d.Fitted {
			fitted = d
		}
		if d.Count > 0 {
			have = append(have, d)
		}
	}
	switch want {
	case finalAny:
		if locked {
			return nil, badInput("%s any: the gearbox file says that the %s is fixed for the event: leave the flag out", flag, what)
		}
		if len(have) == 0 {
			return nil, badInput("no %s in stock has a count above 0: correct the stock file", what)
		}
		return have, nil
	case finalFixed:
		if fitted != nil {
			return []*gearbox.Drive{fitted}, nil
		}
		if len(have) == 1 {
			return have, nil
		}
		if len(have) == 0 {
			return nil, badInput("the stock marks no %s as fitted in this car, and none is free: %s", what, strings.Join(names, ", "))
		}
		names = nil
		for _, d := range have {
			names = append(names, d.Name)
		}
		return nil, badInput("the stock marks no %s as fitted: name one with %s NAME, or any: %s", what, flag, strings.Join(names, ", "))
	}
	for i := range all {
		d := &all[i]
		if d.Name != want {
			continue
		}
		if d.Count < 1 && !d.Fitted && len(d.FittedIn) > 0 {
			return nil, badInput("%s %s: is fitted in car %s: name another one, or fit another one there first", flag, want, strings.Join(d.FittedIn, ", "))
		}
		if d.Count < 1 && !d.Fitted {
			if len(d.FittedIn) > 0 {
				return nil, badInput("%s %s: all there are stand in car %s", flag, want, strings.Join(d.FittedIn, ", "))
			}
			return nil, badInput("%s %s: none in the stock (count 0)", flag, want)
		}
		if locked && d != fitted {
			return nil, badInput("%s %s: the gearbox file says that the %s is fixed for the event: leave the flag out", flag, want, what)
		}
		return []*gearbox.Drive{d}, nil
	}
	return nil, badInput("%s: %q is not a %s of the stock%s", flag, want, what, meant(want, append(names, finalFixed, finalAny)))
}

// base is a set to start from, and where it comes from.
type base struct {
	set  *gearbox.Set
	name string
}

// ownSet builds the set of --set, else the fitted one; nil when neither is
// there. limits are the steps that it must keep.
func (r *rules) ownSet(f *files, limits verify.Limits) (*base, error) {
	words, name, flag := r.set.words, "--set", "--set"
	if len(words) == 0 {
		if len(f.stock.Fitted) == 0 {
			return nil, nil
		}
		words, name = f.stock.Fitted, "fitted set of "+f.stockName()
		flag = "fitted set of " + f.stockName()
	}
	if err := r.stepRange(f); err != nil {
		return nil, err
	}
	finals, err := r.finals(f)
	if err != nil {
		return nil, err
	}
	drops, err := r.drops(f)
	if err != nil {
		return nil, err
	}
	var drop *gearbox.Drive
	if len(drops) > 0 {
		drop = prefer(drops)
	}
	if limits.Waived == nil {
		limits.Waived = f.wanted.Waived
	}
	set, err := buildSet(f, words, prefer(finals), drop, limits)
	if err != nil {
		remedy := ""
		if strings.Contains(err.Error(), "due for inspection") || strings.Contains(err.Error(), "out of life") {
			remedy = "\nBook the inspection ('layshaft stock inspect'), take other pairs, or let a named person allow it (sheet --allow-due)"
		}
		return nil, badInput("%s: %s%s", flag, err, remedy)
	}
	return &base{set: set, name: name}, nil
}

// prefer takes the fitted drive where there is a choice, else the first.
func prefer(drives []*gearbox.Drive) *gearbox.Drive {
	for _, d := range drives {
		if d.Fitted {
			return d
		}
	}
	return drives[0]
}

// needSet is ownSet, with what to type when there is none.
func (r *rules) needSet(f *files) (*base, error) {
	limits := r.steps()
	if len(r.set.words) == 0 {
		// What is in the car can be asked about, due or not; what may be built
		// next is another matter, and is judged where a sheet is made.
		limits.Waived = inTheCar(f.stock)
	}
	b, err := r.ownSet(f, limits)
	if err == nil && b == nil {
		return nil, badInput("the stock %s names no fitted set for car %s: give one with --set 13/36,16/35,… (layshaft/mainshaft teeth, first gear first)", f.stockName(), f.use.inCar)
	}
	return b, err
}

// inTheCar lets the fitted pairs be a set to start from, whatever their state.
func inTheCar(s *gearbox.Stock) map[string]string {
	out := map[string]string{}
	for _, id := range s.Fitted {
		out[id] = "in the car"
	}
	return out
}

// stockName is the stock's file as people know it.
func (f *files) stockName() string { return f.nameOf("stock", f.stockRef) }

// boxName is the gearbox's file as people know it.
func (f *files) boxName() string { return f.nameOf("gearbox", f.box.Name) }

func (f *files) nameOf(role, otherwise string) string {
	for _, u := range f.used {
		if u.Role == role {
			return u.Name
		}
	}
	return otherwise
}

// free lists the gears that may change from the base, in gear order; nil when
// the user did not restrict them.
func (r *rules) free(gears int) ([]int, error) {
	if len(r.keep.list) > 0 && len(r.change.list) > 0 {
		return nil, badInput("--keep and --change say the same thing from two sides: give one of them")
	}
	for _, g := range append(append([]int(nil), r.keep.list...), r.change.list...) {
		if g > gears {
			return nil, badInput("gear %d: the box has %d gears", g, gears)
		}
	}
	listed := map[int]bool{}
	switch {
	case len(r.change.list) > 0:
		for _, g := range r.change.list {
			listed[g] = true
		}
	case len(r.keep.list) > 0:
		for g := 1; g <= gears; g++ {
			listed[g] = true
		}
		for _, g := range r.keep.list {
			delete(listed, g)
		}
	default:
		return nil, nil
	}
	var out []int
	for g := 1; g <= gears; g++ {
		if listed[g] {
			out = append(out, g)
		}
	}
	return out, nil
}

// stepRange refuses a range of ratio steps that is empty; a limit that is not
// given is the gearbox file's.
func (r *rules) stepRange(f *files) error {
	if r.stepMin.given && r.stepMax.given && r.stepMin.value > r.stepMax.value {
		return badInput("--step-min %s is above --step-max %s: swap them", &r.stepMin, &r.stepMax)
	}
	if !r.stepMin.given && r.stepMax.given && r.stepMax.value < f.box.StepMin {
		return badInput("--step-max %s is below the least step of the gearbox file %s, %s: ask for %s or more, or lower that with --step-min",
			&r.stepMax, f.boxName(), plain(f.box.StepMin), plain(f.box.StepMin))
	}
	if r.stepMin.given && !r.stepMax.given && r.stepMin.value > f.box.StepMax {
		return badInput("--step-min %s is above the greatest step of the gearbox file %s, %s: ask for %s or less, or raise that with --step-max",
			&r.stepMin, f.boxName(), plain(f.box.StepMax), plain(f.box.StepMax))
	}
	return nil
}

// limits are the rules of a search. b is the base set for --keep and
// --change; it may be nil when neither was given.
func (r *rules) limits(f *files, b *base) (gearing.Limits, error) {
	l := gearing.Limits{
		StepMin:        r.stepMin.value,
		StepMax:        r.stepMax.value,
		TopHeadroomRPM: r.headroom.value,
		Then:           gearing.Task(r.then.value),
		Allowed:        allowed(f.wanted.Waived),
	}
	err := r.stepRange(f)
	if err != nil {
		return l, err
	}
	if l.Finals, err = r.finals(f); err != nil {
		return l, err
	}
	if l.Drops, err = r.drops(f); err != nil {
		return l, err
	}
	free, err := r.free(f.box.Gears)
	if err != nil || free == nil {
		return l, err
	}
	if b == nil {
		return l, badInput("--keep and --change need a base: the stock %s names no fitted set, give one with --set", f.stockName())
	}
	l.Keep = map[int]string{}
	for g := 1; g <= f.box.Gears; g++ {
		l.Keep[g] = b.set.Pairs[g-1].ID
	}
	for _, g := range free {
		delete(l.Keep, g)
	}
	return l, nil
}

// gearWords writes "gear 6" or "gears 1, 2 and 6".
func gearWords(list []int) string {
	words := make([]string, len(list))
	for i, g := range list {
		words[i] = fmt.Sprint(g)
	}
	if len(words) == 1 {
		return "gear " + words[0]
	}
	return "gears " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
