package gearbox

import (
	"fmt"
	"slices"
	"strings"

	"layshaft/internal/datafile"
)

// stepFile is one [[build_step]] of a gearbox file.
type stepFile struct {
	Part      string    `toml:"part"`
	Shaft     string    `toml:"shaft"`
	Positions []float64 `toml:"stack_positions"`
	Cluster   string    `toml:"cluster"`
	MarksFace string    `toml:"marks_face"`
	New       bool      `toml:"new"`
	MakerNote string    `toml:"maker_note"`
	Text      string    `toml:"text"`
}

// steps converts and checks the steps table. The rules that hold the table
// against stack and forks come last, and only where the rest of the file holds:
// on a faulty stack they would say the same fault over and over.
func (b *Box) steps(d *datafile.Doc, files []stepFile) {
	if d.Has("build_step") && len(files) == 0 {
		d.Fault("build_step", "is empty; leave it out or list one [[build_step]] for every part, first on first")
	}
	for i := range files {
		b.Steps = append(b.Steps, b.step(d, fmt.Sprintf("build_step[%d]", i+1), &files[i]))
	}
	if len(files) == 0 || d.Err() != nil {
		return
	}
	for i := range b.Clusters {
		b.stepsOfCluster(d, &b.Clusters[i])
	}
}

func (b *Box) step(d *datafile.Doc, key string, f *stepFile) BuildStep {
	d.Need(key+".part", key+".shaft")
	s := BuildStep{Part: f.Part, Shaft: f.Shaft, Cluster: f.Cluster, MarksFace: f.MarksFace, MustBeNew: f.New, Text: f.Text}
	partOK := d.OneOf(key+".part", f.Part, stepParts()...) && d.Has(key+".part")
	for i, v := range f.Positions {
		if n, ok := d.Whole(fmt.Sprintf("%s.stack_positions[%d]", key, i+1), v, 1, max(1, len(b.Slots))); ok {
			s.Positions = append(s.Positions, n)
		}
	}
	slices.Sort(s.Positions)
	if partOK {
		b.stepShape(d, key, f, &s)
	}
	if d.Has(key+".cluster") && b.Cluster(f.Cluster) == nil {
		var names []string
		for i := range b.Clusters {
			names = append(names, b.Clusters[i].Name)
		}
		d.OneOf(key+".cluster", f.Cluster, names...)
	}
	if d.Has(key + ".marks_face") {
		d.OneOf(key+".marks_face", f.MarksFace, Inner, Outer)
	}
	if d.Has(key + ".maker_note") {
		s.Note = b.noteOf(d, key+".maker_note", f.MakerNote)
	}
	needText(d, key+".text", f.Text)
	return s
}

// stepShape checks shaft, number of stack positions and marks by kind of part.
func (b *Box) stepShape(d *datafile.Doc, key string, f *stepFile, s *BuildStep) {
	shafts := []string{OnLayshaft, OnMainshaft}
	least, most := 0, 2
	switch s.Part {
	case GearStep:
		least, most = 1, 1
		d.Need(key + ".marks_face")
	case LayshaftStep:
		shafts, most = []string{OnLayshaft}, 0
	case HubStep, RingStep:
		shafts, least = []string{OnMainshaft}, 1
	case CarrierStep:
		shafts, most = []string{OnBoth}, 0
	}
	d.OneOf(key+".shaft", f.Shaft, shafts...)
	at := key + ".stack_positions"
	switch n := len(f.Positions); {
	case n > most && most == 0:
		d.Fault(at, "a %s takes none: slots and strip say where it is", s.Part)
	case n > most && most == 1:
		d.Fault(at, "holds %d places; a %s stands at one", n, s.Part)
	case n > most:
		d.Fault(at, "holds %d places; write one, or two that lie side by side", n)
	case n < least && most == 1:
		d.Fault(at, "write the one stack position at which the %s stands, 1 at the housing", s.Part)
	case n < least:
		d.Fault(at, "write the one or two stack positions that the %s serves, 1 at the housing", s.Part)
	case len(s.Positions) == 2 && s.Positions[1]-s.Positions[0] != 1:
		d.Fault(at, "%d and %d do not lie side by side", s.Positions[0], s.Positions[1])
	}
	if d.Has(key+".marks_face") && s.Part != GearStep && s.Part != LayshaftStep {
		d.Fault(key+".marks_face", "only a gear or a layshaft carries the marks of a pair; a %s does not", s.Part)
	}
}

// noteOf finds the quoted note by its subject.
func (b *Box) noteOf(d *datafile.Doc, key, what string) *MakerNote {
	var known []string
	for i := range b.MakerNotes {
		if b.MakerNotes[i].What == what {
			return &b.MakerNotes[i]
		}
		known = append(known, b.MakerNotes[i].What)
	}
	if len(known) == 0 {
		d.Fault(key, "%q is quoted, but the file has no [[maker_note]]; write one with what, value and source", what)
		return nil
	}
	d.OneOf(key, what, known...)
	return nil
}

// stepsOfCluster holds the steps against one cluster: everything that stack,
// forks and strip name is there once, and on each shaft the order runs from the
// end that is built first to the end at which the box opens.
func (b *Box) stepsOfCluster(d *datafile.Doc, c *Cluster) {
	k := &stepCheck{b: b, d: d, c: c, in: ""}
	if len(b.Clusters) > 1 {
		k.in = " in cluster " + c.Name
	}
	for i := range b.Steps {
		if s := &b.Steps[i]; s.Cluster == "" || s.Cluster == c.Name {
			k.at = append(k.at, i)
		}
	}
	for p := 1; p <= len(b.Slots); p++ {
		if b.Slots[p-1].CutOn {
			k.once(0, fmt.Sprintf("gear on the layshaft at stack position %d, where the slot has cut_on_layshaft", p), isGear(OnLayshaft, p))
		} else {
			k.once(1, fmt.Sprintf("gear on the layshaft at stack position %d", p), isGear(OnLayshaft, p))
		}
		k.once(1, fmt.Sprintf("gear on the mainshaft at stack position %d", p), isGear(OnMainshaft, p))
	}
	k.shaftAndCarrier()
	k.rings()
	k.order(OnLayshaft)
	k.order(OnMainshaft)
}

// stepCheck holds the steps of one cluster, by their index in Box.Steps.
type stepCheck struct {
	b  *Box
	d  *datafile.Doc
	c  *Cluster
	in string // " in cluster X" where there is more than one
	at []int
}

func (k *stepCheck) fault(i int, format string, args ...any) {
	k.d.Fault(fmt.Sprintf("build_step[%d]", i+1), "%s%s", fmt.Sprintf(format, args...), k.in)
}

func isGear(shaft string, position int) func(*BuildStep) bool {
	return func(s *BuildStep) bool {
		return s.Part == GearStep && s.Shaft == shaft && s.Positions[0] == position
	}
}

func isPart(part string) func(*BuildStep) bool {
	return func(s *BuildStep) bool { return s.Part == part }
}

// once wants so many steps (0 or 1) of a kind and returns the place in k.at of
// the first, -1 without one. Missing ones are faults of the table as a whole.
func (k *stepCheck) once(want int, what string, is func(*BuildStep) bool) int {
	first, n := -1, 0
	for j, i := range k.at {
		if !is(&k.b.Steps[i]) {
			continue
		}
		if n++; n > want {
			if want == 0 {
				k.fault(i, "there is no loose %s", what)
			} else {
				k.fault(i, "the %s goes on twice", what)
			}
		}
		if first < 0 {
			first = j
		}
	}
	if n < want {
		k.missing(what)
	}
	return first
}

// missing faults the file as a whole: a fault on the table itself would hide
// those on its steps.
func (k *stepCheck) missing(what string) {
	k.d.Fault("", "build_step: no step puts on the %s%s", what, k.in)
}

// shaftAndCarrier: the layshaft stands before every gear that it carries, so
// that it comes out with all of them off; the carrier is there if the box has one.
func (k *stepCheck) shaftAndCarrier() {
	want := 0
	if slices.ContainsFunc(k.b.Slots, func(s Slot) bool { return s.CutOn }) {
		want = 1
	}
	shaft := -1
	if want == 1 || slices.ContainsFunc(k.b.Steps, func(s BuildStep) bool { return s.Part == LayshaftStep }) {
		shaft = k.once(1, "layshaft", isPart(LayshaftStep))
	}
	for j, i := range k.at {
		if s := &k.b.Steps[i]; j < shaft && (s.Part == CarrierStep || s.Part == GearStep && s.Shaft == OnLayshaft) {
			k.fault(k.at[shaft], "the layshaft stands after a %s (build_step[%d]); it goes in before all that it carries", s.Part, i+1)
			break
		}
	}
	if k.b.Strip.CarrierAfter > 0 {
		k.once(1, "bearing carrier", isPart(CarrierStep))
		return
	}
	for _, i := range k.at {
		if k.b.Steps[i].Part == CarrierStep {
			k.fault(i, "a bearing carrier, but strip.carrier_after_count names none")
		}
	}
}

// rings: every fork has one dog ring, at the stack positions of its gears and
// between them; hubs stand where a ring does.
func (k *stepCheck) rings() {
	wanted := map[string]string{} // places -> fork
	for _, f := range k.c.Forks {
		var at []int
		for _, g := range f {
			if p := k.c.Position(g); p > 0 {
				at = append(at, p)
			}
		}
		if len(at) == 0 {
			continue
		}
		slices.Sort(at)
		places := placesText(at)
		wanted[places] = f.String()
		j := k.once(1, fmt.Sprintf("dog ring of fork %s at stack position %s", f, places), func(s *BuildStep) bool {
			return s.Part == RingStep && placesText(s.Positions) == places
		})
		if j >= 0 && len(at) == 1 {
			k.singleRing(j, at[0])
		}
	}
	for _, i := range k.at {
		s := &k.b.Steps[i]
		if s.Part != RingStep && s.Part != HubStep {
			continue
		}
		if _, ok := wanted[placesText(s.Positions)]; !ok {
			k.fault(i, "a %s at stack position %s, but no fork moves a ring there", s.Part, placesText(s.Positions))
		}
	}
}

// singleRing: the ring of a fork of one gear stands on the slot's dog side.
func (k *stepCheck) singleRing(ring, position int) {
	side := k.b.Slots[position-1].DogSide
	gear := slices.IndexFunc(k.at, func(i int) bool { return isGear(OnMainshaft, position)(&k.b.Steps[i]) })
	if side == "" || gear < 0 {
		return
	}
	if after := (side == Outer) == (k.b.buildDirection() > 0); after != (ring > gear) {
		k.fault(k.at[ring], "the dog ring stands on the wrong side of its gear; slot %d states dog_side %q", position, side)
	}
}

// placesText writes stack positions: "3", "3 and 4".
func placesText(at []int) string {
	parts := make([]string, len(at))
	for i, p := range at {
		parts[i] = fmt.Sprint(p)
	}
	return strings.Join(parts, " and ")
}

// order: in the direction of building no step belongs further back than one
// before it. A part between two positions counts as half way.
func (k *stepCheck) order(shaft string) {
	dir := k.b.buildDirection()
	last, lastAt := 0, -1
	for _, i := range k.at {
		s := &k.b.Steps[i]
		if !s.onShaft(shaft) {
			continue
		}
		twice := 0 // twice the place, whole
		switch {
		case s.Part == CarrierStep:
			twice = 2*k.b.Strip.CarrierAfter + 1
		case len(s.Positions) == 0:
			continue
		default:
			twice = s.Positions[0] + s.Positions[len(s.Positions)-1]
		}
		if lastAt >= 0 && dir*(twice-last) < 0 {
			k.fault(i, "the %s on the %s belongs before build_step[%d]: this box opens at the %s, so that it is built from %s",
				s.Part, shaft, lastAt+1, k.opens(), k.builtFrom())
			continue
		}
		last, lastAt = twice, i
	}
}

func (k *stepCheck) opens() string {
	if k.b.buildDirection() < 0 {
		return "housing"
	}
	return "outer end"
}

func (k *stepCheck) builtFrom() string {
	if k.b.buildDirection() < 0 {
		return fmt.Sprintf("stack position %d towards the housing", len(k.b.Slots))
	}
	return "stack position 1 outward"
}
