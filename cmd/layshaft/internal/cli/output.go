package cli

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

// answer is buffered stdout whose first write error is kept: a full disk must
// not end with 0.
type answer struct{ buffer *bufio.Writer }

func newAnswer(w io.Writer) *answer { return &answer{bufio.NewWriter(w)} }

func (a *answer) Write(p []byte) (int, error) { return a.buffer.Write(p) }

// Flush writes what is left and tells of any error since the start.
func (a *answer) Flush() error { return a.buffer.Flush() }

// toStdout is the --output that means standard output.
const toStdout = "-"

// output says where the answer goes.
type output struct {
	path  string
	force bool
}

func (o *output) flags(c *cobra.Command) {
	c.Flags().VarP(&textValue{&o.path, "FILE"}, "output", "o", "write the answer to `FILE` instead of standard output (-)")
	c.Flags().BoolVar(&o.force, "force", false, "let --output replace an existing file")
}

// onStdout tells whether the answer goes to standard output.
func (o *output) onStdout() bool { return o.path == "" || o.path == toStdout }

// check refuses at once, before any work, what could not be written later.
func (o *output) check() error {
	if o.onStdout() {
		return nil
	}
	info, err := os.Stat(o.path)
	switch {
	case err == nil && info.IsDir():
		return badInput("--output %s: is a folder: name a file in it", o.path)
	case err == nil && !info.Mode().IsRegular():
		return badInput("--output %s: is not a plain file: use --output - and let the shell redirect", o.path)
	case err == nil && !o.force:
		return badInput("--output %s: the file exists: choose another name, or add --force to replace it", o.path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return badInput("--output %s: %s", o.path, plainOS(err))
	}
	dir := filepath.Dir(o.path)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return badInput("--output %s: there is no folder %s: make it first", o.path, dir)
	}
	return nil
}

// write makes the whole answer in memory, then puts it where it belongs:
// whole or not at all.
func (o *output) write(c *cobra.Command, fill func(w io.Writer) error) error {
	var text bytes.Buffer
	if err := fill(&text); err != nil {
		return err
	}
	if o.onStdout() {
		if _, err := c.OutOrStdout().Write(text.Bytes()); err != nil {
			return fmt.Errorf("cannot write to standard output: %w: free some room or choose another place", plainOS(err))
		}
		return nil
	}
	if err := replaceFile(o.path, text.Bytes(), o.force); err != nil {
		return fmt.Errorf("cannot write %s: %w: the answer was not saved", o.path, plainOS(err))
	}
	return nil
}

// replaceFile writes a file beside the target and renames it: nobody ever sees
// half of it. An existing file keeps its permissions, a link keeps pointing to
// what it points to. Without force an existing file is never replaced, even
// one that appeared after the check.
func replaceFile(path string, data []byte, force bool) (err error) {
	mode := fs.FileMode(0o666)
	if target, e := filepath.EvalSymlinks(path); e == nil {
		path = target
		if info, e := os.Stat(path); e == nil {
			mode = info.Mode().Perm()
		}
	}
	// Opened with the mode, so that the umask applies to a new file.
	temp, err := createBeside(path, mode)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(temp.Name())
		}
	}()
	if _, err = temp.Write(data); err != nil {
		_ = temp.Close()
		return err
	}
	if err = temp.Sync(); err != nil {
		_ = temp.Close()
		return err
	}
	if err = temp.Close(); err != nil {
		return err
	}
	if !force {
		if err = os.Link(temp.Name(), path); err == nil {
			return os.Remove(temp.Name())
		} else if errors.Is(err, fs.ErrExist) {
			return err
		} // file systems without hard links: the check at the start has to do
	}
	return os.Rename(temp.Name(), path)
}

// createBeside opens a new file in the target's folder.
func createBeside(path string, mode fs.FileMode) (*os.File, error) {
	for i := range 1000 {
		f, err := os.OpenFile(fmt.Sprintf("%s.%d.part", path, i), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, errors.New("too many unfinished .part files stand beside it: remove them")
}

// textValue is a free text flag with its own placeholder.
type textValue struct {
	p    *string
	kind string
}

// Set refuses the empty text, which is mostly a shell variable without value,
// and what would break a line of a sheet or of the history.
func (t *textValue) Set(s string) error {
	if s == "" {
		return errors.New("the value is empty: leave the flag out or give it a value")
	}
	switch {
	case strings.TrimSpace(s) == "":
		return fmt.Errorf("%q is blank: leave the flag out or give it a value", s)
	case strings.ContainsFunc(s, unicode.IsControl), !utf8.ValidString(s):
		return fmt.Errorf("%q holds a character that cannot be printed, such as the end of a line: write it on one line", s)
	}
	*t.p = s
	return nil
}

func (t *textValue) String() string {
	if t == nil || t.p == nil {
		return ""
	}
	return *t.p
}

// Type is the placeholder in the help.
func (t *textValue) Type() string { return t.kind }
