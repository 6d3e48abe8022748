package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// small are the flags of a search that takes parts of a second.
func small() []string {
	return []string{"sheet", "--stock", "testdata/small/twenty.toml", "--track", "testdata/small/kite.toml"}
}

// found is what the tests read of a sheet.
type found struct {
	Lap    float64 `json:"lap_time_s"`
	Gears  []struct{}
	Search struct {
		Status string
		Open   *string  `json:"open_because"`
		Gap    *float64 `json:"gap_s"`
	}
}

// whole reads a sheet, which must be one complete JSON object.
func whole(t *testing.T, data []byte) found {
	t.Helper()
	var f found
	require.NoError(t, json.Unmarshal(data, &f), "half an answer")
	require.Len(t, f.Gears, 6)
	require.NotNil(t, f.Search.Gap)
	return f
}

// Before there is a set an interrupt leaves nothing.
func TestInterruptedAtOnce(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, errs bytes.Buffer
	code := Main(ctx, small(), strings.NewReader(""), &out, &errs)
	assert.Equal(t, exitInterrupted, code, errs.String())
	assert.Empty(t, out.String())
	assert.Equal(t, "layshaft: interrupted before there was an answer\n", errs.String())
}

// TestInterruptedAnyTime interrupts the program at thirty moments of its run: there
// is nothing, or a whole sheet whose gap covers what the best set is faster by.
func TestInterruptedAnyTime(t *testing.T) {
	args := append(small(), "--format", "json")
	var out, errs bytes.Buffer
	began := time.Now()
	require.Equal(t, exitDone, Main(context.Background(), args, strings.NewReader(""), &out, &errs), errs.String())
	took := time.Since(began)
	proved := whole(t, out.Bytes())
	require.Equal(t, "proved", proved.Search.Status)
	moments := 30
	if testing.Short() {
		moments = 6
	}
	codes := map[int]int{}
	for i := range moments {
		ctx, cancel := context.WithCancel(context.Background())
		timer := time.AfterFunc(took*time.Duration(i)/time.Duration(moments), cancel)
		var out, errs bytes.Buffer
		code := Main(ctx, args, strings.NewReader(""), &out, &errs)
		timer.Stop()
		cancel()
		codes[code]++
		switch code {
		case exitInterrupted:
			assert.Empty(t, out.String())
		case exitUnproved:
			f := whole(t, out.Bytes())
			assert.Equal(t, "stopped", f.Search.Status)
			require.NotNil(t, f.Search.Open)
			assert.Equal(t, "interrupted", *f.Search.Open)
			// Both laps are rounded to the microsecond.
			assert.LessOrEqual(t, f.Lap-*f.Search.Gap, proved.Lap+2e-6)
			assert.Contains(t, errs.String(), ": interrupted; the sheet shows the best set so far")
		case exitDone:
			f := whole(t, out.Bytes())
			assert.Equal(t, proved, f)
		default:
			t.Errorf("exit code %d: %s", code, errs.String())
		}
	}
	t.Logf("exit codes %v in %v", codes, took)
	assert.NotZero(t, codes[exitUnproved], "never interrupted while there was a set")
}

// TestSignal sends Ctrl-C to the program itself: the file of --output is whole, or
// not there, and nothing else is left beside it.
func TestSignal(t *testing.T) {
	if testing.Short() {
		t.Skip("searches the whole stock")
	}
	for wait := 50 * time.Millisecond; ; wait *= 2 {
		require.Less(t, wait, 20*time.Second, "never interrupted while there was a set")
		dir := t.TempDir()
		file := filepath.Join(dir, "sheet.json")
		// TestMain put the program into the path.
		cmd := exec.Command(name, "sheet", "--track", "quayside", "--format", "json", "--output", file)
		require.NoError(t, cmd.Start())
		time.Sleep(wait)
		require.NoError(t, cmd.Process.Signal(os.Interrupt))
		_ = cmd.Wait()
		code := cmd.ProcessState.ExitCode()
		left, err := os.ReadDir(dir)
		require.NoError(t, err)
		if code == exitInterrupted || code == -1 {
			// -1: so early that the program did not listen yet.
			assert.Empty(t, left)
			continue
		}
		require.Equal(t, exitUnproved, code, "the search of the whole stock takes longer than %v", wait)
		require.Len(t, left, 1)
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, "stopped", whole(t, data).Search.Status)
		return
	}
}
