package layering_test

import (
	"encoding/json"
	"fmt"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// pkg is what `go list` tells of a package.
type pkg struct {
	ImportPath   string
	Imports      []string // of the package itself
	TestImports  []string // of its tests inside the package
	XTestImports []string // of its tests outside
}

// arrows lists, per package or tree of packages, what it may import of this
// module. The longest entry that fits the package counts; an entry allows the
// packages below it too. Arrows point down:
// cli -> sheet, chart -> optimize/gearing -> optimize, sim -> cars, tracks ->
// cars/gearbox -> internal. Tests may reach anywhere.
var arrows = map[string][]string{
	"cmd/layshaft": {"cmd/layshaft/internal/cli"},
	"cmd/layshaft/internal/cli": {"cmd/layshaft/internal/sheet", "cmd/layshaft/internal/chart",
		"optimize", "sim", "cars", "tracks", "internal"},
	"cmd/layshaft/internal/sheet": {"optimize", "sim", "cars", "tracks", "internal"},
	"cmd/layshaft/internal/chart": {"optimize", "sim", "cars", "tracks", "internal"},
	"optimize/gearing":            {"optimize", "sim", "cars", "tracks", "internal"},
	"optimize":                    {"internal"}, // knows only an abstract space
	"sim":                         {"sim", "cars", "tracks", "internal"},
	"sim/air":                     {"internal"}, // a closed topic: the air needs no car
	"cars":                        {"cars/gearbox", "internal"},
	"tracks":                      {"tracks", "internal"},
	"cars/gearbox":                {"cars/gearbox", "internal"},
	// The second opinion on a set shares the types with the rest, nothing else.
	"cars/gearbox/verify": {"cars/gearbox", "internal/units"},
	"internal":            {"internal"},
}

// libraries lists the modules from outside and where they may appear, tests
// included. testOnly ones must not reach the program.
var libraries = []struct {
	prefix   string
	where    []string // packages or trees
	testOnly bool
}{
	{prefix: "github.com/BurntSushi/toml", where: []string{"internal/datafile"}},
	{prefix: "go.etcd.io/bbolt", where: []string{"cars/gearbox/store"}},
	{prefix: "github.com/spf13/cobra", where: []string{"cmd/layshaft/internal/cli"}},
	{prefix: "github.com/spf13/pflag", where: []string{"cmd/layshaft/internal/cli"}},
	{prefix: "golang.org/x/term", where: []string{"cmd/layshaft/internal/cli"}},
	{prefix: "golang.org/x/text", where: []string{"internal", "cmd"}},
	{prefix: "gonum.org/v1/plot", where: []string{"cmd/layshaft/internal/chart"}},
	{prefix: "codeberg.org/go-fonts/liberation", where: []string{"cmd/layshaft/internal/chart", "cmd/layshaft/internal/sheet"}},
	{prefix: "codeberg.org/go-pdf/fpdf", where: []string{"cmd/layshaft/internal/chart", "cmd/layshaft/internal/sheet"}},
	{prefix: "gonum.org/v1/gonum", where: []string{"cmd", "sim", "optimize", "cars", "tracks", "internal"}},
	{prefix: "github.com/stretchr/testify", where: []string{"cmd", "sim", "optimize", "cars", "tracks", "internal"}, testOnly: true},
	{prefix: "pgregory.net/rapid", where: []string{"cmd", "sim", "optimize", "cars", "tracks", "internal"}, testOnly: true},
	{prefix: "github.com/rogpeppe/go-internal", where: []string{"cmd"}, testOnly: true},
	{prefix: "layshaft/internal/numtest", where: []string{"cmd", "sim", "optimize", "cars", "tracks", "internal"}, testOnly: true},
	{prefix: "layshaft/internal/layering", testOnly: true},
}

// pure are the trees that do no I/O and read no clock, environment or global
// random source; pureStd is all of the standard library that they may import.
// It is a list of what is allowed, so that nothing new slips in: add a package
// here only if it cannot reach outside the process.
var (
	pure    = []string{"sim", "optimize"}
	pureStd = []string{
		"cmp", "container/heap", "container/list", "container/ring", "context", "encoding/binary",
		"encoding/hex", "errors", "fmt", "hash", "hash/fnv", "hash/maphash", "iter", "maps", "math", "math/big",
		"math/bits", "math/cmplx", "reflect", "runtime", "slices", "sort", "strconv", "strings",
		"sync", "sync/atomic", "unicode", "unicode/utf8",
		// state_test.go sees to it that only seeded sources of it are used.
		"math/rand/v2",
	}
)

// within tells whether the package is the tree or lies below it.
func within(importPath, tree string) bool {
	return importPath == tree || strings.HasPrefix(importPath, tree+"/")
}

func inAny(importPath string, trees []string) bool {
	return slices.ContainsFunc(trees, func(tree string) bool { return within(importPath, tree) })
}

// arrowsOf finds the entry for a package.
func arrowsOf(dir string) (allowed []string, found bool) {
	longest := -1
	for tree, list := range arrows {
		if within(dir, tree) && len(tree) > longest {
			allowed, found, longest = list, true, len(tree)
		}
	}
	return allowed, found
}

func isStd(importPath string) bool {
	first, _, _ := strings.Cut(importPath, "/")
	return !strings.Contains(first, ".") && first != module
}

// checkImports is the rule on imports.
func checkImports(packages []pkg) (complaints []string) {
	complain := func(format string, args ...any) { complaints = append(complaints, fmt.Sprintf(format, args...)) }
	for _, p := range packages {
		dir := strings.TrimPrefix(strings.TrimPrefix(p.ImportPath, module), "/")
		allowed, found := arrowsOf(dir)
		if !found {
			complain("%s has no entry in the table of arrows", p.ImportPath)
			continue
		}
		for _, imp := range p.Imports {
			checkImport(dir, imp, allowed, false, complain)
		}
		for _, imp := range slices.Concat(p.TestImports, p.XTestImports) {
			checkImport(dir, imp, allowed, true, complain)
		}
	}
	return complaints
}

func checkImport(dir, imp string, allowed []string, test bool, complain func(string, ...any)) {
	for _, lib := range libraries {
		if !within(imp, lib.prefix) {
			continue
		}
		switch {
		case lib.testOnly && !test:
			complain("%s imports %s outside tests", dir, imp)
		case !inAny(dir, lib.where):
			complain("%s imports %s, which belongs only in %s", dir, imp, strings.Join(lib.where, ", "))
		}
		return
	}
	own, isOwn := strings.CutPrefix(imp, module+"/")
	switch {
	case test: // tests may reach anywhere in this module and the standard library
		if !isOwn && !isStd(imp) {
			complain("a test of %s imports %s, which the table of libraries does not know", dir, imp)
		}
	case isOwn:
		if !inAny(own, allowed) {
			complain("%s imports %s against the arrows; it may import %s", dir, own, strings.Join(allowed, ", "))
		}
	case !isStd(imp):
		complain("%s imports %s, which the table of libraries does not know", dir, imp)
	case imp == "testing" && dir != "internal/numtest":
		complain("%s imports testing outside tests", dir)
	case inAny(dir, pure) && !slices.Contains(pureStd, imp):
		complain("%s imports %s: %s do no I/O and read no clock, environment or global random source",
			dir, imp, strings.Join(pure, " and "))
	}
}

func TestImports(t *testing.T) {
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports,TestImports,XTestImports", "./...")
	cmd.Dir = root(t)
	out, err := cmd.Output()
	require.NoError(t, err)
	var packages []pkg
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		err := d.Decode(&p)
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		packages = append(packages, p)
	}
	require.Greater(t, len(packages), 8)
	none(t, checkImports(packages))
}
