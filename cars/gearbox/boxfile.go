package gearbox

import (
	"fmt"
	"strings"

	"layshaft/internal/datafile"
)

const (
	minGears, maxGears = 4, 8
	secondsPerMinute   = 60.0 // exact
	secondsPerMilli    = 1e-3 // exact
	metresPerKm        = 1e3  // exact
)

// boxFile is the schema of a gearbox file. Slots stand in their order from the
// housing.
type boxFile struct {
	Name            string        `toml:"name"`
	Title           string        `toml:"title"`
	Gears           float64       `toml:"gears_count"`
	Neutral         string        `toml:"neutral"`
	NeighboursShare bool          `toml:"neighbours_share_fork"`
	Upshift         []float64     `toml:"upshift_ms"`
	Downshift       float64       `toml:"downshift_ms"`
	StepMin         float64       `toml:"step_min_ratio"`
	StepMax         float64       `toml:"step_max_ratio"`
	ToothSum        float64       `toml:"tooth_sum_teeth"`
	ToothSumSpread  float64       `toml:"tooth_sum_spread_teeth"`
	FinalFixed      bool          `toml:"final_drive_fixed"`
	Slots           []slotFile    `toml:"slot"`
	Clusters        []clusterFile `toml:"cluster"`
	Strip           stripFile     `toml:"strip"`
	MakerNotes      []noteFile    `toml:"maker_note"`
	Steps           []stepFile    `toml:"build_step"`
	CentreDistance  float64       `toml:"centre_distance_mm"`
	Damages         []damageFile  `toml:"damage"`
}

type slotFile struct {
	Kind    string `toml:"kind"`
	DogSide string `toml:"dog_side"`
	CutOn   bool   `toml:"cut_on_layshaft"`
}

type clusterFile struct {
	Name  string      `toml:"name"`
	Forks [][]float64 `toml:"forks"`
	Stack []float64   `toml:"stack"`
}

type stripFile struct {
	OpensAt      string    `toml:"opens_at"`
	CarrierAfter float64   `toml:"carrier_after_count"`
	Opening      float64   `toml:"opening_min"`
	Depth        []float64 `toml:"depth_min"`
	PerPair      float64   `toml:"per_pair_min"`
	Closing      float64   `toml:"closing_min"`
}

type noteFile struct {
	What   string `toml:"what"`
	Value  string `toml:"value"`
	Source string `toml:"source"`
}

const (
	neutralBelow   = "below first"
	neutralBetween = "between first and second"
)

// ParseBox reads a gearbox file. The error lists every fault with its place; a
// box is returned only when there is none, and then holds every rule that
// checkClusters and the file's own comments state.
func ParseBox(src datafile.Source) (*Box, error) {
	var f boxFile
	d, err := datafile.Decode(src, &f)
	if err != nil {
		return nil, err
	}
	d.Need("name", "gears_count", "neutral", "neighbours_share_fork", "upshift_ms", "downshift_ms",
		"step_min_ratio", "step_max_ratio", "slot", "cluster", "strip")
	b := &Box{
		Name:            f.Name,
		Title:           f.Title,
		NeighboursShare: f.NeighboursShare,
		NeutralBetween:  f.Neutral == neutralBetween,
		FinalFixed:      f.FinalFixed,
		StepMin:         f.StepMin,
		StepMax:         f.StepMax,
		DownshiftTime:   f.Downshift * secondsPerMilli,
	}
	needText(d, "name", f.Name)
	d.OneOf("neutral", f.Neutral, neutralBelow, neutralBetween)
	var gearsOK bool
	b.Gears, gearsOK = d.Whole("gears_count", f.Gears, minGears, maxGears)
	gearsOK = gearsOK && d.Has("gears_count")
	b.boxNumbers(d, &f, gearsOK)
	b.slots(d, f.Slots)
	if len(f.Clusters) == 0 && d.Has("cluster") {
		d.Fault("cluster", "no cluster is listed; list at least one [[cluster]] with name, forks and stack")
	}
	if gearsOK {
		b.clusters(d, f.Clusters)
	}
	b.strip(d, &f.Strip)
	b.damages(d, &f)
	for i, n := range f.MakerNotes {
		key := fmt.Sprintf("maker_note[%d]", i+1)
		d.Need(key+".what", key+".value", key+".source")
		needText(d, key+".source", n.Source)
		b.MakerNotes = append(b.MakerNotes, MakerNote(n))
	}
	b.steps(d, f.Steps)
	if err := d.Err(); err != nil {
		return nil, err
	}
	return b, nil
}

// needText faults a key that is written but empty.
func needText(d *datafile.Doc, key, v string) {
	if d.Has(key) && strings.TrimSpace(v) == "" {
		d.Fault(key, "is empty; write a text")
	}
}

// boxNumbers checks times, steps and tooth sums.
func (b *Box) boxNumbers(d *datafile.Doc, f *boxFile, gearsOK bool) {
	for i, v := range f.Upshift {
		d.NonNegative(fmt.Sprintf("upshift_ms[%d]", i+1), v)
	}
	if n := len(f.Upshift); gearsOK && d.Has("upshift_ms") {
		switch n {
		case 1, b.Gears - 1:
			for i := range b.Gears - 1 {
				b.UpshiftTime = append(b.UpshiftTime, f.Upshift[min(i, n-1)]*secondsPerMilli)
			}
		default:
			d.Fault("upshift_ms", "holds %d values; write one for all upshifts or %d, one for each", n, b.Gears-1)
		}
	}
	d.NonNegative("downshift_ms", f.Downshift)
	stepMin := d.Between("step_min_ratio", f.StepMin, 1, 3)
	stepMax := d.Between("step_max_ratio", f.StepMax, 1, 5)
	if stepMin && stepMax && d.Has("step_min_ratio") && d.Has("step_max_ratio") {
		if f.StepMin <= 1 {
			d.Fault("step_min_ratio", "%g is not > 1: neighbouring gears must differ", f.StepMin)
		}
		if f.StepMax < f.StepMin {
			d.Fault("step_max_ratio", "%g is below step_min_ratio %g", f.StepMax, f.StepMin)
		}
	}
	if d.Has("tooth_sum_teeth") {
		b.ToothSum, _ = d.Whole("tooth_sum_teeth", f.ToothSum, 20, 400)
		b.ToothSumSpread = defaultToothSumSpread
	}
	if d.Has("tooth_sum_spread_teeth") {
		b.ToothSumSpread, _ = d.Whole("tooth_sum_spread_teeth", f.ToothSumSpread, 0, 20)
		if !d.Has("tooth_sum_teeth") {
			d.Fault("tooth_sum_spread_teeth", "stands without tooth_sum_teeth; write both or neither")
		}
	}
}

func (b *Box) slots(d *datafile.Doc, slots []slotFile) {
	for i, s := range slots {
		key := fmt.Sprintf("slot[%d]", i+1)
		d.Need(key + ".kind")
		needText(d, key+".kind", s.Kind)
		if d.Has(key + ".dog_side") {
			d.OneOf(key+".dog_side", s.DogSide, Inner, Outer)
		}
		b.Slots = append(b.Slots, Slot{Position: i + 1, Kind: s.Kind, DogSide: s.DogSide, CutOn: s.CutOn})
	}
}

func (b *Box) strip(d *datafile.Doc, s *stripFile) {
	if !d.Has("strip") {
		return
	}
	d.Need("strip.opens_at", "strip.opening_min", "strip.depth_min", "strip.per_pair_min", "strip.closing_min")
	d.OneOf("strip.opens_at", s.OpensAt, OpensOuter, OpensHousing)
	d.NonNegative("strip.opening_min", s.Opening)
	d.NonNegative("strip.per_pair_min", s.PerPair)
	d.NonNegative("strip.closing_min", s.Closing)
	for i, v := range s.Depth {
		if d.NonNegative(fmt.Sprintf("strip.depth_min[%d]", i+1), v) && i > 0 && v < s.Depth[i-1] {
			d.Fault(fmt.Sprintf("strip.depth_min[%d]", i+1), "%g is below %g of the layer before; a deeper layer cannot take less", v, s.Depth[i-1])
		}
		b.Strip.Depth = append(b.Strip.Depth, v*secondsPerMinute)
	}
	// After its items: a fault on a list hides those on what stands in it.
	if d.Has("strip.depth_min") && len(s.Depth) != len(b.Slots) {
		d.Fault("strip.depth_min", "holds %d times; write %d, one for every number of stack positions opened", len(s.Depth), len(b.Slots))
	}
	b.Strip.LastOnFirstOff = s.OpensAt
	b.Strip.Opening = s.Opening * secondsPerMinute
	b.Strip.PerPair = s.PerPair * secondsPerMinute
	b.Strip.Closing = s.Closing * secondsPerMinute
	if d.Has("strip.carrier_after_count") && len(b.Slots) > 1 {
		b.Strip.CarrierAfter, _ = d.Whole("strip.carrier_after_count", s.CarrierAfter, 0, len(b.Slots)-1)
		b.carrierClear(d)
	}
}

// carrierClear faults a fork whose dog ring would stand where the carrier sits.
func (b *Box) carrierClear(d *datafile.Doc) {
	for i := range b.Clusters {
		c := &b.Clusters[i]
		for _, f := range c.Forks {
			if len(f) == 2 && b.carrierBetween(c, f[0], f[1]) {
				d.Fault("strip.carrier_after_count", "%d puts the bearing carrier between the gears of fork %s of cluster %s, where its dog ring slides",
					b.Strip.CarrierAfter, f, c.Name)
			}
		}
	}
}
