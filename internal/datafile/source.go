package datafile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
)

// MaxBytes is the largest input file that is read: a million bytes is a
// hundred times any honest car or track file, and small enough that no nesting
// of brackets can exhaust the stack of the TOML decoder.
const MaxBytes = 1 << 20

// Source is one input file as read.
type Source struct {
	Name     string // base name, as shown to people
	Data     []byte
	SHA256   string // hex, of Data
	Embedded bool   // an example that comes with the program
}

// NewSource makes a Source of bytes that are already at hand.
func NewSource(name string, data []byte) Source {
	sum := sha256.Sum256(data)
	return Source{Name: name, Data: data, SHA256: hex.EncodeToString(sum[:])}
}

// Read fetches an embedded example or a file of the user. A ref with a slash,
// a backslash or the extension ext (".toml") is a path; anything else is the
// name of a file dir/name+ext in embedded. Nothing is converted.
//
// Errors: an unknown name (with the names that exist and the nearest of them),
// a file that cannot be opened (the cause can be unwrapped), a folder, a file
// of more than MaxBytes.
func Read(ref string, embedded fs.FS, dir, ext string) (Source, error) {
	if strings.TrimSpace(ref) == "" {
		return Source{}, fmt.Errorf("no name and no file given; built in: %s", list(Names(embedded, dir, ext)))
	}
	if isPath(ref, ext) {
		return readPath(ref)
	}
	if fs.ValidPath(ref) {
		data, err := fs.ReadFile(embedded, path.Join(dir, ref+ext))
		if err == nil {
			src := NewSource(ref+ext, data)
			src.Embedded = true
			return src, nil
		}
	}
	return Source{}, unknownName(ref, Names(embedded, dir, ext), ext)
}

// Names lists the embedded examples in dir that end in ext, without the
// extension, sorted. A folder that does not exist has none.
func Names(embedded fs.FS, dir, ext string) []string {
	if embedded == nil {
		return nil
	}
	entries, err := fs.ReadDir(embedded, dir)
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), ext); ok && !e.IsDir() {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

func isPath(ref, ext string) bool {
	return strings.ContainsAny(ref, `/\`) || ext != "" && strings.HasSuffix(strings.ToLower(ref), ext)
}

func readPath(ref string) (Source, error) {
	f, err := os.Open(ref)
	if err != nil {
		return Source{}, openError(ref, err)
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.IsDir() {
		return Source{}, fmt.Errorf("%s: is a folder; give a file inside it", ref)
	}
	data, err := io.ReadAll(io.LimitReader(f, MaxBytes+1))
	if err != nil {
		return Source{}, openError(ref, err)
	}
	if len(data) > MaxBytes {
		return Source{}, fmt.Errorf("%s: is larger than 1 MB (%d bytes), which no input file needs; is it the right file?", ref, MaxBytes)
	}
	return NewSource(baseName(ref), data), nil
}

// openError puts the ordinary causes into plain words; the cause itself stays
// wrapped.
func openError(ref string, err error) error {
	var pe *fs.PathError
	cause := err
	if errors.As(err, &pe) {
		cause = pe.Err
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no such file; check the path and the folder that you are in (%w)", ref, cause)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: may not be read; change its permissions (%w)", ref, cause)
	}
	return fmt.Errorf("%s: cannot be read: %w", ref, cause)
}

// baseName cuts the folders off, also those of a Windows path that was typed
// elsewhere.
func baseName(ref string) string {
	if i := strings.LastIndexAny(ref, `/\`); i >= 0 && i < len(ref)-1 {
		return ref[i+1:]
	}
	return ref
}

// UnknownNameError says that an embedded example does not exist.
type UnknownNameError struct {
	Ref     string
	Names   []string // those that exist
	Nearest string   // "" = none comes close
	Ext     string
}

// Error lists what exists and how a file of one's own is given.
func (e *UnknownNameError) Error() string {
	msg := fmt.Sprintf("%q is not built in", e.Ref)
	if e.Nearest != "" {
		msg += fmt.Sprintf("; did you mean %q?", e.Nearest)
	} else {
		msg += "."
	}
	return msg + fmt.Sprintf(" Built in: %s. A file of your own is given with its folder or extension: ./%s%s",
		list(e.Names), e.Ref, e.Ext)
}

func unknownName(ref string, names []string, ext string) error {
	near, _ := Nearest(ref, names)
	return &UnknownNameError{Ref: ref, Names: names, Nearest: near, Ext: ext}
}

func list(names []string) string {
	if len(names) == 0 {
		return "nothing"
	}
	return strings.Join(names, ", ")
}
