package cli

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the README's examples anew")

const readme = "../../../../README.md"

// nothing is what an example shows whose output is left out altogether.
const nothing = "nothing"

// shown finds an example in the README: which sections of the output it shows,
// the command, and the output.
var shown = regexp.MustCompile("(?s)<!-- shown: ([^\n]*) -->\n```console\n\\$ go run ./cmd/layshaft ((?:[^\n]*\\\\\n)*[^\n]*)\n(.*?)```\n")

// What the README shows is what the program prints.
func TestReadme(t *testing.T) {
	page, err := filepath.Abs(readme)
	require.NoError(t, err)
	data, err := os.ReadFile(page)
	require.NoError(t, err)
	t.Chdir(t.TempDir()) // the examples of one page build on one another
	examples := shown.FindAllStringSubmatch(string(data), -1)
	require.NotEmpty(t, examples, "the way to find the examples is wrong")
	text := string(data)
	for _, ex := range examples {
		t.Run(ex[2], func(t *testing.T) {
			if testing.Short() && strings.HasPrefix(ex[2], "sheet") && !strings.Contains(ex[2], "--set") {
				t.Skip("searches the whole stock")
			}
			code, out, errs := run(append(shellWords(strings.ReplaceAll(ex[2], "\\\n", " ")), "--quiet")...)
			require.Zero(t, code, errs)
			want, err := sections(out, ex[1])
			require.NoError(t, err)
			if *update {
				text = strings.Replace(text, ex[2]+"\n"+ex[3], ex[2]+"\n"+want, 1)
				return
			}
			assert.Equal(t, want, ex[3], "run the test with -update")
		})
	}
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(text), 0o644))
	}
}

// cutMark stands where output was left out.
const cutMark = "[...]\n"

// sections picks parts of an output by the first words of their headings, in
// the order of the output. "head" is what stands before the first heading;
// ":n" after a name keeps n lines.
func sections(out, names string) (string, error) {
	if names == nothing {
		return "", nil
	}
	parts, heads := []string{""}, []string{"head"}
	lines := strings.SplitAfter(out, "\n")
	for i, line := range lines {
		if i+1 < len(lines) && strings.HasPrefix(lines[i+1], "-----") {
			parts, heads = append(parts, ""), append(heads, line)
		}
		parts[len(parts)-1] += line
	}
	wanted := strings.Split(names, "; ")
	var b strings.Builder
	cut := false
	for i, part := range parts {
		at := slices.IndexFunc(wanted, func(w string) bool {
			name, _, _ := strings.Cut(w, ":")
			return strings.HasPrefix(heads[i], name)
		})
		if at < 0 {
			cut = true
			continue
		}
		if cut {
			b.WriteString(cutMark + "\n")
		}
		_, keep, some := strings.Cut(wanted[at], ":")
		wanted = slices.Delete(wanted, at, at+1)
		cut = false
		if some {
			n, err := strconv.Atoi(keep)
			if err != nil {
				return "", err
			}
			kept := strings.SplitAfterN(part, "\n", n+1)
			if cut = len(kept) > n; cut {
				part = strings.Join(kept[:n], "")
			}
		}
		b.WriteString(part)
	}
	if cut {
		b.WriteString(cutMark)
	}
	if len(wanted) > 0 {
		return "", fmt.Errorf("no such section: %s", strings.Join(wanted, "; "))
	}
	return b.String(), nil
}
