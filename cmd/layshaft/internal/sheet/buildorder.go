package sheet

import (
	"slices"

	"layshaft/cars/gearbox"
)

// BuildStep is one line of the build order: one part that goes on.
type BuildStep struct {
	Step      int        `json:"step"` // from 1, first on first
	Part      string     `json:"part"`
	Shaft     string     `json:"shaft"`           // "layshaft", "mainshaft" or "both shafts"
	Positions []int      `json:"stack_positions"` // that it belongs to; empty for the ends of the shafts
	Gears     []StepGear `json:"gears"`           // carried by a gear or the layshaft, engaged by a hub or dog ring
	MarksFace string     `json:"marks_face"`      // "inner" or "outer"; "" = not stated
	Fork      *int       `json:"fork"`            // from 1; nil = none
	MustBeNew bool       `json:"must_be_new"`
	MakerNote *MakerNote `json:"maker_note"` // nil = none is quoted
	Text      string     `json:"text"`       // of the gearbox file
}

// StepGear is a gear of a build step. PairID, Teeth and Mark are of what the
// part carries; a hub or dog ring carries none, and reverse is not chosen.
type StepGear struct {
	Gear    int    `json:"gear"` // Reverse as -1
	PairID  string `json:"pair_id"`
	Teeth   *int   `json:"teeth_count"` // on this shaft
	Mark    string `json:"mark"`
	DogSide string `json:"dog_side"` // "" = not stated, or on the layshaft
}

// Bench is what a rebuild plan needs of the gearbox beside stack, forks and
// build order, so that two saved sheets are enough to plan one.
type Bench struct {
	Slots        []BenchSlot `json:"slots"`               // from the housing
	CarrierAfter int         `json:"carrier_after_count"` // stack positions before the bearing carrier; 0 = none
	OpeningMin   float64     `json:"opening_min"`
	DepthMin     []float64   `json:"depth_min"` // by number of stack positions opened, from 1
	PerPairMin   float64     `json:"per_pair_min"`
	ClosingMin   float64     `json:"closing_min"`
}

// BenchSlot is one place on the shafts.
type BenchSlot struct {
	Kind    string `json:"kind"`
	DogSide string `json:"dog_side"` // as the file states it; "" = not stated
	CutOn   bool   `json:"cut_on_layshaft"`
}

// minuteDecimals keep the minutes of a gearbox file through seconds and back.
const minuteDecimals = 6

func benchOf(b *gearbox.Box) *Bench {
	minutes := func(s float64) float64 { return roundTo(s/secondsPerMinute, minuteDecimals) }
	out := &Bench{
		CarrierAfter: b.Strip.CarrierAfter, OpeningMin: minutes(b.Strip.Opening), DepthMin: []float64{},
		PerPairMin: minutes(b.Strip.PerPair), ClosingMin: minutes(b.Strip.Closing), Slots: []BenchSlot{},
	}
	for _, s := range b.Slots {
		out.Slots = append(out.Slots, BenchSlot{Kind: s.Kind, DogSide: s.DogSide, CutOn: s.CutOn})
	}
	for _, v := range b.Strip.Depth {
		out.DepthMin = append(out.DepthMin, minutes(v))
	}
	return out
}

// buildSteps turns steps of the gearbox into those of a report.
func buildSteps(steps []gearbox.PlacedStep) []BuildStep {
	out := make([]BuildStep, len(steps))
	for i := range steps {
		out[i] = buildStep(&steps[i])
	}
	return out
}

func buildStep(s *gearbox.PlacedStep) BuildStep {
	out := BuildStep{
		Step: s.Number, Part: s.Part, Shaft: s.Shaft, Positions: append([]int{}, s.Positions...), Gears: []StepGear{},
		MarksFace: s.MarksFace, MustBeNew: s.MustBeNew, Text: s.Text,
	}
	if s.Fork > 0 {
		fork := s.Fork
		out.Fork = &fork
	}
	if s.Note != nil {
		note := MakerNote(*s.Note)
		out.MakerNote = &note
	}
	for _, g := range s.Gears {
		one := StepGear{Gear: g.Gear, DogSide: g.DogSide}
		if g.Pair != nil {
			teeth := g.Teeth
			one.PairID, one.Teeth, one.Mark = g.Pair.ID, &teeth, g.Pair.Mark
		}
		out.Gears = append(out.Gears, one)
	}
	return out
}

// asBuilt takes box and set back out of a checked sheet, as far as the bench
// needs them. It wants a sheet with Bench.
func (s *Sheet) asBuilt() (*gearbox.Box, *gearbox.Set) {
	b := &gearbox.Box{
		Name: s.Gearbox, Gears: len(s.Gears),
		Strip: gearbox.Strip{
			LastOnFirstOff: s.OpensAt, CarrierAfter: s.Bench.CarrierAfter,
			Opening: s.Bench.OpeningMin * secondsPerMinute, PerPair: s.Bench.PerPairMin * secondsPerMinute,
			Closing: s.Bench.ClosingMin * secondsPerMinute,
		},
	}
	for _, v := range s.Bench.DepthMin {
		b.Strip.Depth = append(b.Strip.Depth, v*secondsPerMinute)
	}
	for i, slot := range s.Bench.Slots {
		b.Slots = append(b.Slots, gearbox.Slot{Position: i + 1, Kind: slot.Kind, DogSide: slot.DogSide, CutOn: slot.CutOn})
	}
	c := gearbox.Cluster{Name: s.Cluster, Stack: slices.Clone(s.Stack)}
	for _, f := range s.Forks {
		c.Forks = append(c.Forks, slices.Clone(f))
	}
	b.Clusters = []gearbox.Cluster{c}
	if s.StepsStated {
		b.Steps = s.statedSteps()
	}
	set := &gearbox.Set{Cluster: &b.Clusters[0], Final: drive(&s.FinalDrive), Drop: drive(s.Drop)}
	for i := range s.Gears {
		g := &s.Gears[i]
		set.Pairs = append(set.Pairs, &gearbox.Pair{
			ID: g.PairID, Layshaft: g.LayshaftTeeth, Mainshaft: g.MainshaftTeeth, Mark: g.Mark, Group: g.Group,
		})
	}
	return b, set
}

func (s *Sheet) statedSteps() []gearbox.BuildStep {
	var out []gearbox.BuildStep
	for i := range s.BuildOrder {
		st := &s.BuildOrder[i]
		one := gearbox.BuildStep{
			Part: st.Part, Shaft: st.Shaft, Positions: st.Positions,
			MarksFace: st.MarksFace, MustBeNew: st.MustBeNew, Text: st.Text,
		}
		if st.MakerNote != nil {
			note := gearbox.MakerNote(*st.MakerNote)
			one.Note = &note
		}
		out = append(out, one)
	}
	return out
}

func drive(t *Teeth) *gearbox.Drive {
	if t == nil {
		return nil
	}
	return &gearbox.Drive{Name: t.Name, Teeth: gearbox.Teeth{Driving: t.DrivingTeeth, Driven: t.DrivenTeeth}}
}
