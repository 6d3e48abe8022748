package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"
)

// isTerminal tells whether w is a terminal.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// canRedraw tells whether w is a terminal on which a line can be written over.
func canRedraw(w io.Writer) bool {
	return isTerminal(w) && os.Getenv("TERM") != "dumb"
}

// progress is one line on stderr that is written over and wiped at the end. It is
// written anew every so often, with the seconds since it began, so that it is
// seen to be alive while nothing changes.
type progress struct {
	w     io.Writer // nil = silent
	began time.Time
	stop  chan struct{}
	done  chan struct{}

	mu   sync.Mutex
	text string

	width int // columns of the line that stands there
}

// progressEvery is the time between two lines: soon enough to follow, too slow to
// flicker.
const progressEvery = 150 * time.Millisecond

// progress starts the line; wipe ends it.
func (a *app) progress(quiet bool) *progress {
	if quiet || !a.terminal {
		return &progress{}
	}
	return startProgress(a.stderr, progressEvery)
}

func startProgress(w io.Writer, every time.Duration) *progress {
	p := &progress{w: w, began: time.Now(), stop: make(chan struct{}), done: make(chan struct{})}
	go p.keep(every)
	return p
}

// set says what stands in the line from now on.
func (p *progress) set(text string) {
	p.mu.Lock()
	p.text = text
	p.mu.Unlock()
}

// keep writes the line until it is to stop, and then clears it.
func (p *progress) keep(every time.Duration) {
	defer close(p.done)
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			p.write()
		case <-p.stop:
			if p.width > 0 {
				_, _ = fmt.Fprintf(p.w, "\r%s\r", strings.Repeat(" ", p.width))
			}
			return
		}
	}
}

// lineColumns is what fits a terminal of 80 columns without a wrapped line.
const lineColumns = 79

// write replaces the line.
func (p *progress) write() {
	p.mu.Lock()
	text := p.text
	p.mu.Unlock()
	if text == "" {
		return
	}
	line := []rune(fmt.Sprintf("%.0f s %s", time.Since(p.began).Seconds(), text))
	line = line[:min(len(line), lineColumns)]
	_, _ = fmt.Fprintf(p.w, "\r%s%s", string(line), strings.Repeat(" ", max(0, p.width-len(line))))
	p.width = len(line)
}

// wipe ends the line, so that nothing is left of it on the terminal. More than once
// does no harm.
func (p *progress) wipe() {
	if p.w == nil {
		return
	}
	select {
	case <-p.stop:
	default:
		close(p.stop)
	}
	<-p.done
}
