package cli

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"layshaft/cars/gearbox/store"

	"github.com/stretchr/testify/require"
)

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

// Who is told only that the output could not be written books the run twice.
func TestALostReceiptSaysThatItIsBooked(t *testing.T) {
	path := filepath.Join(t.TempDir(), "team.store")
	var out, said bytes.Buffer
	run := func(args ...string) int {
		said.Reset()
		return Main(context.Background(), append(args, "--who", "Ada"), strings.NewReader(""), full{}, &said)
	}
	require.Equal(t, exitDone, Main(context.Background(), []string{"stock", "new", path, "--who", "Ada", "-q"}, strings.NewReader(""), &out, &said))
	require.Equal(t, exitFailed, run("stock", "book", "--km", "40", "--stock", path))
	require.Contains(t, said.String(), "entry 2 is booked, do not book it again; only its receipt failed: no space left on device")
	all, err := store.History(path)
	require.NoError(t, err)
	require.Len(t, all, 2)
}
