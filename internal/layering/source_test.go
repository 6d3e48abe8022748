package layering_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "layshaft"

// source is one Go file of the repository.
type source struct {
	path string // from the repository's root, with slashes
	text string
	ast  *ast.File
	set  *token.FileSet
}

// dir is the folder of the package, "" for the root.
func (s *source) dir() string {
	if d := path.Dir(s.path); d != "." {
		return d
	}
	return ""
}

func (s *source) isTest() bool { return strings.HasSuffix(s.path, "_test.go") }

// at is "file:line" of a node.
func (s *source) at(n ast.Node) string {
	return s.set.Position(n.Pos()).String()
}

func parse(t *testing.T, file, text string) *source {
	t.Helper()
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, text, parser.ParseComments)
	require.NoError(t, err)
	return &source{path: file, text: text, ast: tree, set: set}
}

// root is the folder that holds go.mod.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		require.NotEqual(t, dir, up, "no go.mod above the test")
		dir = up
	}
}

// files calls visit with every file of the repository outside hidden folders.
func files(t *testing.T, visit func(name string)) {
	t.Helper()
	require.NoError(t, fs.WalkDir(os.DirFS(root(t)), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != "." && strings.HasPrefix(d.Name(), "."):
			return fs.SkipDir
		case !d.IsDir():
			visit(name)
		}
		return nil
	}))
}

// repository parses every Go file of the repository.
func repository(t *testing.T) []*source {
	t.Helper()
	var all []*source
	files(t, func(name string) {
		if !strings.HasSuffix(name, ".go") || strings.Contains(name, "testdata/") {
			return
		}
		text, err := os.ReadFile(filepath.Join(root(t), filepath.FromSlash(name)))
		require.NoError(t, err)
		all = append(all, parse(t, name, string(text)))
	})
	require.Greater(t, len(all), 20, "the walk found next to nothing: is the root right?")
	return all
}

// none reports every complaint of a rule.
func none(t *testing.T, complaints []string) {
	t.Helper()
	for _, c := range complaints {
		t.Error(c)
	}
}
