package layering_test

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// topFolders are all the visible folders that the root may have.
var topFolders = []string{"cmd", "sim", "optimize", "tracks", "cars", "testdata", "internal"}

// emptyNames say nothing about what a package is for.
var emptyNames = []string{"util", "utils", "common", "helper", "helpers", "types", "models", "manager", "misc", "base"}

const maxLines = 600

// The words are put together here, so that this file does not complain of
// itself.
var (
	leftOvers    = []string{"TO" + "DO", "FIX" + "ME"}
	machinePaths = []string{"/wo" + "rk/", "/ho" + "me/", "/ro" + "ot/", "/tm" + "p/", ".lib" + "rary/"}
)

func checkFolders(names []string) (complaints []string) {
	for _, name := range names {
		if !strings.HasPrefix(name, ".") && !slices.Contains(topFolders, name) {
			complaints = append(complaints, fmt.Sprintf("top-level folder %s; the layout knows only %s", name, strings.Join(topFolders, ", ")))
		}
	}
	return complaints
}

// checkFiles is the rule on length and names of Go files and packages.
func checkFiles(sources []*source) (complaints []string) {
	documented := map[string]bool{}
	folders := map[string]string{}
	for _, s := range sources {
		if n := strings.Count(s.text, "\n"); n > maxLines {
			complaints = append(complaints, fmt.Sprintf("%s has %d lines; split it (%d at most)", s.path, n, maxLines))
		}
		if slices.Contains(emptyNames, s.ast.Name.Name) {
			complaints = append(complaints, fmt.Sprintf("%s: package name %s says nothing", s.path, s.ast.Name.Name))
		}
		if s.isTest() {
			continue
		}
		folders[s.dir()] = s.ast.Name.Name
		home := path.Base(s.path) == "doc.go" || s.ast.Name.Name == "main"
		if home && len(s.ast.Doc.Text()) > 40 {
			documented[s.dir()] = true
		}
	}
	for dir := range folders {
		if !documented[dir] {
			complaints = append(complaints, dir+" has no package comment in its doc.go")
		}
	}
	slices.Sort(complaints)
	return complaints
}

// checkText is the rule on what no text file may hold.
func checkText(name, text string) (complaints []string) {
	for i, line := range strings.Split(text, "\n") {
		if strings.HasSuffix(name, ".go") {
			for _, w := range leftOvers {
				if strings.Contains(line, w) {
					complaints = append(complaints, fmt.Sprintf("%s:%d: %s left over", name, i+1, w))
				}
			}
		}
		for _, p := range machinePaths {
			if at := strings.Index(line, p); at >= 0 && (at == 0 || strings.ContainsAny(line[at-1:at], " \"'`=(:,<")) {
				complaints = append(complaints, fmt.Sprintf("%s:%d: path of somebody's machine: %s", name, i+1, p))
			}
		}
	}
	return complaints
}

func TestFolders(t *testing.T) {
	entries, err := os.ReadDir(root(t))
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		if e.IsDir() {
			names = append(names, e.Name())
		}
	}
	none(t, checkFolders(names))
}

func TestFiles(t *testing.T) { none(t, checkFiles(repository(t))) }

func TestText(t *testing.T) {
	checked := 0
	files(t, func(name string) {
		// Fuzz corpora are made by machine; what is not UTF-8 is no text.
		if strings.Contains(name, "testdata/fuzz/") {
			return
		}
		text, err := os.ReadFile(filepath.Join(root(t), filepath.FromSlash(name)))
		require.NoError(t, err)
		if len(text) > 1<<20 || !utf8.Valid(text) {
			return
		}
		checked++
		none(t, checkText(name, string(text)))
	})
	require.Greater(t, checked, 30)
}
