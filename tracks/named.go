package tracks

import (
	"fmt"
	"slices"
	"strings"

	"layshaft/internal/datafile"
)

// Names that stand for many places at once, wherever a place is asked for by
// name. No place of a file may bear one.
const (
	Everywhere = "everywhere"
	Straights  = "straights" // every segment without curvature
)

func reserved(name string) bool { return name == Everywhere || name == Straights }

// Named tells whether the segment is called name: Everywhere, Straights, or
// one of its Places. A corner is called by its number ("T5") and its name, a
// straight by the corner before it ("after T5") and its own name if the file
// gives one, and both by every [[place]] of the file that they lie in.
func (g *Segment) Named(name string) bool {
	return name == Everywhere || name == Straights && g.K0 == 0 && g.K1 == 0 || slices.Contains(g.Places, name)
}

// PlaceNames are the names of all places in the order of the lap, each once.
func (t *Track) PlaceNames() []string {
	var names []string
	for i := range t.Segments {
		for _, name := range t.Segments[i].Places {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

// CheckPlace is an error, with the nearest name or with all of them, when no
// segment of the track is Named so.
func (t *Track) CheckPlace(name string) error {
	if reserved(name) {
		return nil
	}
	names := t.PlaceNames()
	if slices.Contains(names, name) {
		return nil
	}
	known := append([]string{Everywhere, Straights}, names...)
	meant := ""
	if near, ok := datafile.Nearest(name, known); ok {
		meant = fmt.Sprintf("did you mean %q? ", near)
	}
	return fmt.Errorf("%q is no place of track %s: %sknown are %s", name, t.Name, meant, strings.Join(known, ", "))
}

// name gives every segment the names that follow from the list of segments.
func (b *built) name() {
	last := len(b.t.Corners) - 1 // before the first corner comes the last one
	for i := range b.t.Segments {
		g, own := &b.t.Segments[i], b.pieces[b.from[i]].name
		if g.Corner >= 0 {
			last = g.Corner
			g.Places = append(g.Places, fmt.Sprintf("T%d", last+1))
		} else if last >= 0 {
			g.Places = append(g.Places, fmt.Sprintf("after T%d", last+1))
		}
		if own != "" && !slices.Contains(g.Places, own) {
			g.Places = append(g.Places, own)
		}
	}
}

// parsePlaces checks every [[place]]. placed tells whether t has its segments.
func parsePlaces(r rules, f *file, t *Track, placed bool) []Span {
	var places []Span
	taken := t.PlaceNames()
	for i, p := range f.Place {
		key := fmt.Sprintf("place[%d]", i+1)
		ok := r.Need(key+".name", key+".from_m", key+".to_m")
		if r.Has(key + ".name") {
			switch name := key + ".name"; {
			case strings.TrimSpace(p.Name) == "":
				r.Fault(name, "%q is blank; give the place a name", p.Name)
				ok = false
			case strings.Contains(p.Name, ","):
				r.Fault(name, "%q holds a comma, which parts the names in a list of places; leave it out", p.Name)
				ok = false
			case reserved(p.Name) || slices.Contains(taken, p.Name):
				r.Fault(name, "%q is taken by another place; give it a name of its own", p.Name)
				ok = false
			}
			taken = append(taken, p.Name)
		}
		if !ok || !placed {
			continue
		}
		const remedy = "measure it from the start line; a place over the line has from_m > to_m"
		ok = r.within(key+".from_m", p.FromM, 0, t.Length, remedy)
		ok = r.within(key+".to_m", p.ToM, 0, t.Length, remedy) && ok
		if ok && p.FromM == p.ToM {
			r.Fault(key+".to_m", "%s is also where the place begins; a place has a length", short(p.ToM))
			ok = false
		}
		if ok {
			places = append(places, Span{Name: p.Name, Start: p.FromM, End: p.ToM})
		}
	}
	return places
}

// named is the track with its segments cut at the ends of the places, and
// named after them.
func (t *Track) named(places []Span) *Track {
	for _, p := range places {
		t = t.SplitStraight(p.Start).SplitStraight(p.End)
		for i := range t.Segments {
			g := &t.Segments[i]
			if p.holds(g.Start + 0.5*g.Length) {
				// Both halves of a cut share one list: it must not grow in place.
				g.Places = append(slices.Clip(g.Places), p.Name)
			}
		}
	}
	return t
}

// holds tells whether s (m, inside the lap) lies in the span.
func (p Span) holds(s float64) bool {
	if p.Start <= p.End {
		return s >= p.Start && s < p.End
	}
	return s >= p.Start || s < p.End
}
