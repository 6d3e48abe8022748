package cli

import (
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/cmd/layshaft/internal/sheet"
	"layshaft/internal/datafile"
	"layshaft/tracks"
)

// storeExt marks a stock that is a pair store: a database, whose bytes change
// without any pair of the sheet changing.
const storeExt = ".store"

// staleInputs holds the inputs that a sheet names against those that are at
// hand: the embedded ones against this program's, files against those of the
// same name in dir and in the current folder. It says, a sentence for each,
// which have changed since the sheet was made and which are not at hand; nil
// when all are as they were. A pair store is passed over.
func staleInputs(s *sheet.Sheet, dir string) []string {
	var out []string
	for _, in := range s.Inputs {
		if in.Role == "stock" && strings.HasSuffix(in.Name, storeExt) {
			continue
		}
		label := in.Role + " " + in.Name
		now, found := embeddedHash(in)
		if !in.Embedded {
			now, found = fileHash(in, dir)
		}
		switch {
		case !found && in.Embedded:
			out = append(out, label+": came with the program that made the sheet, but not with this one")
		case !found:
			out = append(out, label+": not found here, not checked")
		case now != in.SHA256:
			out = append(out, fmt.Sprintf("%s: changed since the sheet was made (sha256 now begins %s, on the sheet %s)", label, hashHead(now), hashHead(in.SHA256)))
		}
	}
	return out
}

// hashHead is as much of a hash as people compare.
func hashHead(h string) string { return h[:min(len(h), 12)] }

// embeddedHash is the hash of what this program carries under the name.
func embeddedHash(in sheet.InputRef) (string, bool) {
	var files fs.FS
	dir := ""
	switch in.Role {
	case "car":
		files, dir = cars.Embedded(), cars.ExampleDir
	case "track":
		files, dir = tracks.Embedded(), tracks.CircuitDir
	case "gearbox":
		files, dir = gearbox.Embedded(), gearbox.BoxDir
	case "stock":
		files, dir = gearbox.Embedded(), gearbox.StockDir
	default:
		return "", false
	}
	data, err := fs.ReadFile(files, path.Join(dir, in.Name))
	if err != nil {
		return "", false
	}
	return datafile.NewSource(in.Name, data).SHA256, true
}

// fileHash is the hash of the file of that name beside the sheet or in the
// current folder; of two different ones that which the sheet was made from.
func fileHash(in sheet.InputRef, dir string) (now string, found bool) {
	if in.Name != filepath.Base(in.Name) {
		return "", false // a sheet names base names; anything else leads elsewhere
	}
	for _, d := range []string{dir, "."} {
		data, err := readLimited(filepath.Join(d, in.Name), datafile.MaxBytes)
		if err != nil {
			continue
		}
		sum := datafile.NewSource(in.Name, data).SHA256
		if sum == in.SHA256 {
			return sum, true
		}
		if !found {
			now, found = sum, true
		}
	}
	return now, found
}

// readLimited reads a plain file of at most so many bytes.
func readLimited(name string, most int64) ([]byte, error) {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("is a folder: name a file in it")
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("is not a plain file")
	case info.Size() > most:
		return nil, fmt.Errorf("is larger than %d bytes: is it the right file?", most)
	}
	return os.ReadFile(name)
}
