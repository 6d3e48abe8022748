package cli

import (
	"path/filepath"
	"slices"
	"strings"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/cars/gearbox/store"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"
	"layshaft/tracks"

	"github.com/spf13/cobra"
)

// fileExt is the extension of every input file.
const fileExt = ".toml"

// The embedded demonstration, with which every command runs.
const (
	defaultCar   = "wren"
	defaultTrack = "harrowdale"
	defaultStock = "wren"
)

// files names the inputs and holds what was read from them.
type files struct {
	carRef, trackRef, stockRef, boxRef string

	car   *cars.Car
	track *tracks.Track
	stock *gearbox.Stock
	box   *gearbox.Box

	use
	named  *pairList       // of --set; nil where there is no such flag
	store  *store.Snapshot // nil when the stock is a file
	wanted gearbox.Use

	used     []sheet.InputFile
	warnings []string
}

// roleStock is the stock's part among the inputs.
const roleStock = "stock"

func (f *files) carFlags(c *cobra.Command) {
	f.carRef = defaultCar
	c.Flags().Var(&textValue{&f.carRef, "CAR"}, "car", "embedded car, or a file")
	c.Flags().Var(&textValue{&f.boxRef, "BOX"}, "gearbox", "embedded gearbox, or a file; default the one that the car file names")
}

func (f *files) trackFlag(c *cobra.Command) {
	f.trackRef = defaultTrack
	c.Flags().Var(&textValue{&f.trackRef, "TRACK"}, "track", "embedded track, or a file")
}

func (f *files) stockFlag(c *cobra.Command) {
	c.Flags().Var(&textValue{&f.stockRef, "STOCK"}, "stock", "embedded stock of pairs, a stock file, or a pair store ("+store.Ext+"); default the one named as the car, else "+defaultStock)
	f.use.flags(c)
}

// note keeps a file for the list of what the answer rests on.
func (f *files) note(role string, src datafile.Source) {
	f.used = append(f.used, sheet.InputFile{Role: role, Name: src.Name, SHA256: src.SHA256, Embedded: src.Embedded})
}

// loadCar reads the car and its gearbox.
func (f *files) loadCar() error {
	src, err := datafile.Read(f.carRef, cars.Embedded(), cars.ExampleDir, fileExt)
	if err != nil {
		return badInput("--car: %s", err)
	}
	f.note("car", src)
	if f.car, err = cars.Parse(src); err != nil {
		return asInput(err)
	}
	ref, flag := f.boxRef, "--gearbox"
	if ref == "" {
		ref, flag = boxPath(f.car.BoxRef, f.carRef, src.Embedded), "gearbox of car "+src.Name
	}
	src, err = datafile.Read(ref, gearbox.Embedded(), gearbox.BoxDir, fileExt)
	if err != nil {
		return badInput("%s: %s", flag, err)
	}
	f.note("gearbox", src)
	if f.box, err = gearbox.ParseBox(src); err != nil {
		return asInput(err)
	}
	if err := f.car.Attach(f.box); err != nil {
		return asInput(err)
	}
	f.warnings = append(f.warnings, f.car.Warnings...)
	return nil
}

// boxPath takes a gearbox file's name, as a car file gives it, relative to the
// folder of that car file. An embedded name stays a name.
func boxPath(ref, car string, embedded bool) string {
	isName := !strings.ContainsAny(ref, `/\`) && !strings.HasSuffix(ref, fileExt)
	if embedded || isName || filepath.IsAbs(ref) {
		return ref
	}
	path := filepath.Join(filepath.Dir(car), ref)
	if !strings.ContainsAny(path, `/\`) {
		path = "." + string(filepath.Separator) + path
	}
	return path
}

func (f *files) loadTrack() error {
	src, err := datafile.Read(f.trackRef, tracks.Embedded(), tracks.CircuitDir, fileExt)
	if err != nil {
		return badInput("--track: %s", err)
	}
	f.note("track", src)
	if f.track, err = tracks.Parse(src); err != nil {
		return asInput(err)
	}
	f.warnings = append(f.warnings, f.track.Warnings...)
	return nil
}

func (f *files) loadStock() error {
	if f.stockRef == "" {
		f.stockRef = defaultStock
		if slices.Contains(datafile.Names(gearbox.Embedded(), gearbox.StockDir, fileExt), f.carRef) {
			f.stockRef = f.carRef
		}
	}
	if isStore(f.stockRef) {
		return f.loadStore()
	}
	src, err := datafile.Read(f.stockRef, gearbox.Embedded(), gearbox.StockDir, fileExt)
	if err != nil {
		return badInput("--stock: %s", err)
	}
	f.note(roleStock, src)
	plain, err := gearbox.ParseStock(src)
	if err != nil {
		return asInput(err)
	}
	if f.wanted, err = f.use.wanted(plain.Dated()); err != nil {
		return err
	}
	if err := f.holdWaivers(plain); err != nil {
		return err
	}
	f.nameWanted()
	if plain.HasCards() {
		f.stock = plain.Kinds(f.wanted) // an export: each pair by itself
	} else {
		f.stock = plain.For(f.wanted)
	}
	return nil
}

// loadAll reads car, gearbox, track and stock.
func (f *files) loadAll() error {
	for _, load := range []func() error{f.loadCar, f.loadTrack, f.loadStock} {
		if err := load(); err != nil {
			return err
		}
	}
	// A box that states its usual tooth sum warns of the pairs that are really
	// chosen (oddSums, gearbox.SetWarnings): a line for every odd pair of the
	// stock on every run would be read once and never again. Without a stated
	// sum the stock's own lines are all there is.
	if f.box.ToothSum == 0 {
		f.warnings = append(f.warnings, f.stock.Warnings...)
	}
	return nil
}

// baseName is a file's name without its folder, with either slash.
func baseName(path string) string { return path[strings.LastIndexAny(path, `/\`)+1:] }

// oddSums warns of the pairs whose tooth sum is unusual for the box, each once.
func (f *files) oddSums(pairs ...*gearbox.Pair) {
	for _, p := range pairs {
		if w := f.box.ToothSumWarning(p); w != "" && !slices.Contains(f.warnings, w) {
			f.warnings = append(f.warnings, w)
		}
	}
}
