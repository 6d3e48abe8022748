package cli

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"layshaft/cars/gearbox/store"

	"github.com/stretchr/testify/require"
)

// program makes a command that runs this test binary as the program.
func program(t *testing.T, dir string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	// testscript.Main runs the command that it is called by.
	link := filepath.Join(dir, name)
	if _, err := os.Lstat(link); err != nil {
		require.NoError(t, os.Symlink(self, link))
	}
	cmd := exec.Command(link, args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), whoEnv+"=Ada", "GORACE=atexit_sleep_ms=0") // else a race build idles a second at its end
	return cmd
}

// bookings counts the runs in the history, and the metres on a fitted card.
func bookings(t *testing.T, path string) (n int, metres float64) {
	t.Helper()
	all, err := store.History(path)
	require.NoError(t, err)
	for _, e := range all {
		if e.What == "book" {
			n++
		}
	}
	now, err := store.Read(path)
	require.NoError(t, err)
	p, err := now.Pair("17/36")
	require.NoError(t, err)
	return n, p.RunM
}

// TestKilledProgram kills 'stock book' at a random moment of 500 bookings, with
// the signal that no program can catch. After each the store is whole; what was
// confirmed is in it, and every booking is in it whole or not at all.
func TestKilledProgram(t *testing.T) {
	writes := 500
	if testing.Short() {
		writes = 40
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "team.store")
	require.NoError(t, program(t, dir, "stock", "new", path, "-q").Run())
	// The moments reach half as far again as a booking that is left alone takes.
	span := time.Hour
	for range 3 {
		began := time.Now()
		require.NoError(t, program(t, dir, "stock", "book", "--km", "1", "--stock", path).Run())
		span = min(span, time.Since(began)*3/2)
	}
	first, start := bookings(t, path)
	start -= 1000 * float64(first)
	rng := rand.New(rand.NewPCG(11, 3))
	kept, lost := first, 0
	for i := range writes {
		cmd := program(t, dir, "stock", "book", "--km", "1", "--stock", path)
		require.NoError(t, cmd.Start())
		timer := time.AfterFunc(time.Duration(rng.Int64N(int64(span))), func() { _ = cmd.Process.Kill() })
		confirmed := cmd.Wait() == nil
		timer.Stop()
		if i%10 == 0 {
			require.NoError(t, store.Check(path), "after write %d", i+1)
		}
		n, metres := bookings(t, path)
		if confirmed {
			require.Equal(t, kept+1, n, "a confirmed booking is lost")
		}
		require.Contains(t, []int{kept, kept + 1}, n)
		require.Equal(t, start+1000*float64(n), metres)
		if n == kept {
			lost++
		}
		kept = n
	}
	require.NoError(t, store.Check(path))
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	require.NoError(t, err)
	require.Len(t, left, 2, "the store and the program, no rests: %v", left)
	t.Logf("%d bookings: %d kept, %d killed before they were", writes, kept, lost)
	require.Positive(t, lost, "none was killed in time: the test tested nothing")
	require.Greater(t, kept, first)
}

// TestTwoPrograms lets several programs book at once: none of it is lost.
func TestTwoPrograms(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "team.store")
	require.NoError(t, program(t, dir, "stock", "new", path, "-q").Run())
	_, start := bookings(t, path)
	const each = 12
	var wg sync.WaitGroup
	for who := range 2 {
		wg.Go(func() {
			for range each {
				cmd := program(t, dir, "stock", "book", "--km", fmt.Sprint(1+who), "--stock", path)
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, out)
				}
			}
		})
	}
	wg.Wait()
	require.NoError(t, store.Check(path))
	n, metres := bookings(t, path)
	require.Equal(t, 2*each, n)
	require.Equal(t, start+each*3000, metres)
}

// A store that somebody holds is waited for, then named.
func TestLockedStore(t *testing.T) {
	if testing.Short() {
		t.Skip("waits five seconds")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "team.store")
	require.NoError(t, program(t, dir, "stock", "new", path, "-q").Run())
	held := make(chan error)
	release := make(chan struct{})
	go func() {
		_, err := store.Update(path, store.By{Who: "Ada", What: "hold"}, func(*store.Edit) error {
			held <- nil
			<-release
			return nil
		})
		held <- err
	}()
	require.NoError(t, <-held)
	cmd := program(t, dir, "stock", "book", "--km", "1", "--stock", path)
	out, err := cmd.CombinedOutput()
	close(release)
	require.NoError(t, <-held)
	require.Error(t, err)
	require.Equal(t, exitFailed, cmd.ProcessState.ExitCode())
	require.Contains(t, strings.ReplaceAll(string(out), "\n", " "), "another program has it open")
}
