package store

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"layshaft/cars/gearbox"

	"github.com/stretchr/testify/require"
)

// writerEnv makes this test binary a writer instead: path, first number, last
// number. It books its number of metres on pair P0001 and tells each booking
// that is safe.
const writerEnv = "STORE_TEST_WRITER"

func TestMain(m *testing.M) {
	if job := os.Getenv(writerEnv); job != "" {
		os.Exit(writer(job))
	}
	os.Exit(m.Run())
}

func writer(job string) int {
	words := strings.Split(job, "\n")
	first, _ := strconv.Atoi(words[1])
	last, _ := strconv.Atoi(words[2])
	for n := first; n <= last; n++ {
		_, err := Update(words[0], by("book"), func(e *Edit) error {
			return e.Book(&Run{Car: gearbox.DefaultCar, Distance: float64(n), Day: 20000})
		})
		if err != nil {
			fmt.Println("error", err)
			return 1
		}
		fmt.Println(n)
	}
	return 0
}

// booked reads the numbers that were booked out of the history.
func booked(t *testing.T, path string) (numbers []int, metres float64) {
	t.Helper()
	all, err := History(path)
	require.NoError(t, err)
	for _, e := range all {
		if e.What == "book" {
			before, after := runOf(t, e, "P0001")
			numbers = append(numbers, int(after-before))
		}
	}
	return numbers, pairOf(t, path, "P0001").RunM
}

func runOf(t *testing.T, e Entry, id string) (before, after float64) {
	t.Helper()
	for _, c := range e.Changes {
		if c.Table == bucketPairs && c.Key == id {
			s := &Snapshot{builtFrom: map[string]string{}}
			require.NoError(t, s.decode(c.Table, c.Key, c.Before))
			require.NoError(t, s.decode(c.Table, c.Key, c.After))
			return s.Stock.Pairs[0].RunM, s.Stock.Pairs[1].RunM
		}
	}
	t.Fatalf("entry %d does not touch %s", e.Number, id)
	return 0, 0
}

// TestKilledWriter kills a process that books 500 runs, at random moments, with a
// signal that no program can catch, and goes on with the next number: after each
// kill the store is whole, every booking that was confirmed is in it, none is in
// it twice or in halves, and at most the one that was being written came on top.
func TestKilledWriter(t *testing.T) {
	writes := 500
	if testing.Short() {
		writes = 60
	}
	path := made(t, 40)
	start := pairOf(t, path, "P0001").RunM
	rng := rand.New(rand.NewPCG(5, 7))
	next, kills := 1, 0
	for next <= writes {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n%d\n%d", writerEnv, path, next, writes))
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		// Some of the moments lie before the first write, some between two,
		// most in the middle of one.
		wait := time.Duration(rng.Int64N(int64(60 * time.Millisecond)))
		timer := time.AfterFunc(wait, func() { _ = cmd.Process.Kill() })
		safe := next - 1
		for lines := bufio.NewScanner(out); lines.Scan(); {
			n, err := strconv.Atoi(lines.Text())
			require.NoError(t, err, lines.Text())
			safe = n
		}
		if err := cmd.Wait(); err != nil {
			kills++
		}
		timer.Stop()

		require.NoError(t, Check(path), "after kill %d", kills)
		numbers, metres := booked(t, path)
		require.GreaterOrEqual(t, len(numbers), safe, "a confirmed booking is lost")
		require.LessOrEqual(t, len(numbers), safe+1, "more was booked than one that was not confirmed")
		want := start
		for i, n := range numbers {
			require.Equal(t, i+1, n, "bookings are in order, each once")
			want += float64(n)
		}
		require.Equal(t, want, metres, "the card is the sum of its history")
		next = len(numbers) + 1
	}
	t.Logf("%d writes, %d kills", writes, kills)
	require.Greater(t, kills, 4, "hardly a kill: the test tested nothing")
}

// TestTwoProcesses lets two processes book at once: nothing is lost.
func TestTwoProcesses(t *testing.T) {
	path := made(t, 40)
	start := pairOf(t, path, "P0001").RunM
	const each = 60
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			cmd := exec.CommandContext(ctx, os.Args[0])
			cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n1\n%d", writerEnv, path, each))
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Errorf("%v: %s", err, out)
			}
		})
	}
	// A reader in between sees whole states only.
	for range 20 {
		s, err := Read(path)
		require.NoError(t, err)
		fitted := s.Fitted(gearbox.DefaultCar)
		for i, p := range fitted {
			require.Equal(t, fitted[0].RunM-float64(1000*0), p.RunM-float64(1000*i), "half a booking is seen")
		}
		time.Sleep(20 * time.Millisecond)
	}
	wg.Wait()
	require.NoError(t, Check(path))
	numbers, metres := booked(t, path)
	require.Len(t, numbers, 2*each)
	require.Equal(t, start+float64(each*(each+1)), metres)
}
