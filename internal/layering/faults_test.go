package layering_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Every rule is shown a deliberate fault, and something like it that is right.

func TestImportsSeesFaults(t *testing.T) {
	cases := []struct {
		name string
		p    pkg
		want string // part of the one complaint; "" = none
	}{
		{"down the arrows", pkg{ImportPath: "layshaft/sim", Imports: []string{"layshaft/cars", "math", "gonum.org/v1/gonum/floats"}}, ""},
		{"up the arrows", pkg{ImportPath: "layshaft/cars", Imports: []string{"layshaft/sim"}}, "cars imports sim against the arrows"},
		{"optimize knows no car", pkg{ImportPath: "layshaft/optimize", Imports: []string{"layshaft/cars"}}, "against the arrows"},
		{"gearing knows both", pkg{ImportPath: "layshaft/optimize/gearing", Imports: []string{"layshaft/optimize", "layshaft/sim"}}, ""},
		{"verify stands alone", pkg{ImportPath: "layshaft/cars/gearbox/verify", Imports: []string{"layshaft/internal/datafile"}}, "against the arrows"},
		{"sheet and chart are apart", pkg{ImportPath: "layshaft/cmd/layshaft/internal/sheet", Imports: []string{"layshaft/cmd/layshaft/internal/chart"}}, "against the arrows"},
		{"main knows only cli", pkg{ImportPath: "layshaft/cmd/layshaft", Imports: []string{"layshaft/sim"}}, "against the arrows"},
		{"package out of the table", pkg{ImportPath: "layshaft/web"}, "no entry"},
		{"toml outside datafile", pkg{ImportPath: "layshaft/cars", Imports: []string{"github.com/BurntSushi/toml"}}, "belongs only in internal/datafile"},
		{"toml in a test", pkg{ImportPath: "layshaft/cars", XTestImports: []string{"github.com/BurntSushi/toml"}}, "belongs only in internal/datafile"},
		{"cobra outside cli", pkg{ImportPath: "layshaft/cmd/layshaft/internal/sheet", Imports: []string{"github.com/spf13/cobra"}}, "belongs only in"},
		{"plot outside chart", pkg{ImportPath: "layshaft/cmd/layshaft/internal/cli", Imports: []string{"gonum.org/v1/plot/vg"}}, "belongs only in"},
		{"testify outside tests", pkg{ImportPath: "layshaft/cars", Imports: []string{"github.com/stretchr/testify/assert"}}, "outside tests"},
		{"testify in a test", pkg{ImportPath: "layshaft/cars", TestImports: []string{"github.com/stretchr/testify/assert"}}, ""},
		{"numtest outside tests", pkg{ImportPath: "layshaft/sim", Imports: []string{"layshaft/internal/numtest"}}, "outside tests"},
		{"testing outside tests", pkg{ImportPath: "layshaft/cars", Imports: []string{"testing"}}, "outside tests"},
		{"unknown library", pkg{ImportPath: "layshaft/cars", Imports: []string{"example.com/x"}}, "does not know"},
		{"unknown library in a test", pkg{ImportPath: "layshaft/cars", TestImports: []string{"example.com/x"}}, "does not know"},
		{"sim reads files", pkg{ImportPath: "layshaft/sim", Imports: []string{"os"}}, "do no I/O"},
		{"sim reads the clock", pkg{ImportPath: "layshaft/sim/air", Imports: []string{"time"}}, "do no I/O"},
		{"optimize has a net", pkg{ImportPath: "layshaft/optimize", Imports: []string{"net/http"}}, "do no I/O"},
		{"optimize on stdin", pkg{ImportPath: "layshaft/optimize/gearing", Imports: []string{"bufio"}}, "do no I/O"},
		{"old random source", pkg{ImportPath: "layshaft/optimize", Imports: []string{"math/rand"}}, "do no I/O"},
		{"a test of sim may", pkg{ImportPath: "layshaft/sim", TestImports: []string{"os", "time"}}, ""},
		{"cars may embed", pkg{ImportPath: "layshaft/cars", Imports: []string{"embed", "io/fs"}}, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { one(t, c.want, checkImports([]pkg{c.p})) })
	}
}

func TestStateSeesFaults(t *testing.T) {
	const table = "// days is read-only.\nvar days = []int{1, 2}\n"
	cases := []struct{ name, code, want string }{
		{"init", "func init() {}", "init function"},
		{"method named init", "type a int\nfunc (a) init() {}", ""},
		{"counter", "var calls int", "package variable calls"},
		{"cache", "var cache = map[string]int{}", "package variable cache"},
		{"table without a word", "var days = []int{1, 2}", "package variable days"},
		{"table that says so", table, ""},
		{"table that changes", table + "func f() { days[0] = 3 }", "days is changed"},
		{"table that grows", table + "func f() { days = append(days, 3) }", "days is changed"},
		{"table whose address leaves", table + "func f() *int { return &days[0] }", "days is changed"},
		{"element counted up", table + "func f() { days[1]++ }", "days is changed"},
		{"a local of the same name", table + "func f() { days := []int{1}; days[0] = 2 }", ""},
		{"a local var of the same name", table + "func f() { var days [2]int; days[0] = 2 }", ""},
		{"sentinel", "import \"errors\"\nvar ErrNone = errors.New(\"x\")", ""},
		{"sentinel by another name", "import \"errors\"\nvar none = errors.New(\"x\")", "package variable none"},
		{"expression", "import \"regexp\"\nvar word = regexp.MustCompile(`a`)", ""},
		{"embedded", "import \"embed\"\n//go:embed x\nvar files embed.FS", ""},
		{"assertion", "var _ error = (*e)(nil)\ntype e struct{ error }", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			one(t, c.want, checkState([]*source{parse(t, "cars/x.go", "package cars\n"+c.code+"\n")}))
			assert.Empty(t, checkState([]*source{parse(t, "cars/x_test.go", "package cars\n"+c.code+"\n")}), "tests are free")
		})
	}
	one(t, "days is changed", checkState([]*source{
		parse(t, "cars/a.go", "package cars\n"+table),
		parse(t, "cars/b.go", "package cars\nfunc f() { days = nil }\n"),
	}))
}

func TestCallsSeesFaults(t *testing.T) {
	cases := []struct{ name, file, code, want string }{
		{"exit in a library", "sim/x.go", "import \"os\"\nfunc f() { os.Exit(1) }", "only in main"},
		{"exit in main", "cmd/layshaft/main.go", "import \"os\"\nfunc f() { os.Exit(1) }", ""},
		{"print", "cars/x.go", "import \"fmt\"\nfunc f() { fmt.Println(1) }", "io.Writer"},
		{"print under another name", "cars/x.go", "import p \"fmt\"\nfunc f() { p.Println(1) }", "io.Writer"},
		{"builtin", "cars/x.go", "func f() { println(1) }", "debugging"},
		{"stderr in a library", "cars/x.go", "import \"os\"\nvar _ = os.Stderr", "never print"},
		{"stderr in main", "cmd/layshaft/main.go", "import \"os\"\nvar _ = os.Stderr", ""},
		{"global random source", "optimize/x.go", "import \"math/rand/v2\"\nvar _ = rand.IntN(3)", "global random source"},
		{"seeded source", "optimize/x.go", "import \"math/rand/v2\"\nvar _ = rand.New(rand.NewPCG(1, 2))", ""},
		{"a field named Println", "cars/x.go", "type t struct{ Println func() }\nfunc f(fmt t) { fmt.Println() }", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			one(t, c.want, checkCalls([]*source{parse(t, c.file, "package x\n"+c.code+"\n")}))
		})
	}
}

func TestKeysSeesFaults(t *testing.T) {
	cases := []struct{ name, field, want string }{
		{"unit", "A float64 `toml:\"mass_kg\"`", ""},
		{"no unit", "A float64 `toml:\"mass\"`", `toml key "mass"`},
		{"unit alone", "A float64 `toml:\"_kg\"`", `toml key "_kg"`},
		{"unknown unit", "A float64 `json:\"mass_stone,omitempty\"`", `json key "mass_stone"`},
		{"list", "A []float64 `csv:\"torque\"`", `csv key "torque"`},
		{"pointer to a named number", "A *speed `json:\"top\"`", `json key "top"`},
		{"one of two tags", "A int `toml:\"laps_count\" json:\"laps\"`", `json key "laps"`},
		{"plain key", "A int `json:\"gear\"`", ""},
		{"text", "A string `toml:\"title\"`", ""},
		{"table", "A struct{ B float64 `toml:\"b_m\"` } `toml:\"title\"`", ""},
		{"number inside a table", "A []struct{ B float64 `toml:\"b\"` } `toml:\"title\"`", `toml key "b"`},
		{"left out", "A float64 `json:\"-\"`", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			one(t, c.want, checkKeys([]*source{parse(t, "cars/x.go", "package cars\ntype speed float64\ntype s struct {\n"+c.field+"\n}\n")}))
		})
	}
}

func TestTreeSeesFaults(t *testing.T) {
	one(t, "top-level folder web", checkFolders([]string{"cmd", "web", ".git", "sim"}))

	doc := parse(t, "sim/doc.go", "// Package sim computes laps, and this comment is long enough.\npackage sim\n")
	one(t, "", checkFiles([]*source{doc}))
	one(t, "sim has no package comment in its doc.go", checkFiles([]*source{parse(t, "sim/a.go", "package sim\n")}))
	one(t, "has 601 lines", checkFiles([]*source{doc, parse(t, "sim/a.go", "package sim\n"+strings.Repeat("\n", 600))}))
	one(t, "", checkFiles([]*source{doc, parse(t, "sim/a.go", "package sim\n"+strings.Repeat("\n", 599))}))
	one(t, "says nothing", checkFiles([]*source{parse(t, "internal/util/doc.go",
		"// Package util holds all sorts of things, so it should not exist.\npackage util\n")}))

	one(t, "a.go:2: "+leftOvers[0], checkText("a.go", "x\n// "+leftOvers[0]+": more\n"))
	one(t, leftOvers[1], checkText("a.go", leftOvers[1]))
	one(t, "", checkText("a.md", leftOvers[1]))
	one(t, "a.md:1: path of somebody's machine", checkText("a.md", "see "+machinePaths[0]+"x"))
	one(t, "", checkText("a.md", "see frame"+machinePaths[0]+"x"))
}

// one asserts that exactly one complaint was made, and that it is the right
// one; with want "" that none was.
func one(t *testing.T, want string, complaints []string) {
	t.Helper()
	if want == "" {
		assert.Empty(t, complaints)
		return
	}
	if assert.Len(t, complaints, 1) {
		assert.Contains(t, complaints[0], want)
	}
}
