package cli

import (
	"bytes"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/optimize/gearing"
)

// screen is a terminal of one line, which is all that progress may use.
type screen struct {
	mu   sync.Mutex
	line []rune
	at   int
	all  bytes.Buffer
	wide int
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all.Write(p)
	for _, r := range string(p) {
		if r == '\r' {
			s.at = 0
			continue
		}
		for len(s.line) <= s.at {
			s.line = append(s.line, ' ')
		}
		s.line[s.at] = r
		s.at++
		s.wide = max(s.wide, s.at)
	}
	return len(p), nil
}

func (s *screen) shows() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.TrimRight(string(s.line), " ")
}

func TestProgressLine(t *testing.T) {
	var s screen
	p := startProgress(&s, time.Millisecond)
	for _, text := range []string{"searching: " + strings.Repeat("a long line ", 20), "short"} {
		p.set(text)
		want := text[:min(len(text), 40)] // of a long one there is as much as fits
		require.Eventually(t, func() bool { return strings.HasPrefix(s.shows(), "0 s "+want) }, 10*time.Second, time.Millisecond)
	}
	require.Equal(t, "0 s short", s.shows(), "what stood there before is not gone")
	p.wipe()
	p.wipe()
	p.set("too late")
	assert.Empty(t, s.shows())
	assert.Equal(t, 0, s.at, "the cursor is not at the beginning of the line")
	assert.Equal(t, lineColumns, s.wide)
	assert.NotContains(t, s.all.String(), "\n")
}

func TestSearchLine(t *testing.T) {
	for want, at := range map[string]gearing.Progress{
		"preparing: best 87.147 s, none below 86.459 s, gap 688.3 ms":              {Phase: gearing.Preparing, Best: 87.1468, Bound: 86.4585},
		"searching: best 87.029 s, none below 87.010 s, gap 19.0 ms":               {Phase: gearing.Searching, Best: 87.029, Bound: 87.01},
		"out laps: best 86.991 s, none below 86.900 s, gap 91.0 ms":                {Phase: gearing.SearchingSecond, Best: 86.991, Bound: 86.9},
		"preparing out laps: best 486.991 s, none below 476.900 s, gap 10091.0 ms": {Phase: gearing.PreparingSecond, Best: 486.991, Bound: 476.9},
		"preparing": {Phase: gearing.Preparing, Best: math.Inf(1), Bound: 86.9},
		"checking":  {Phase: gearing.Checking, Best: 87, Bound: 87},
	} {
		assert.Equal(t, want, searchLine(at))
		assert.LessOrEqual(t, len("1234 s "+want), 80)
	}
}
