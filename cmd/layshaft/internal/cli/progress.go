package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

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

// progress is one line on stderr that is written over and wiped at the end.
type progress struct {
	mu    sync.Mutex
	w     io.Writer // nil = silent
	width int       // of the line that stands there
}

func (a *app) progress(quiet bool) *progress {
	if quiet || !a.terminal {
		return &progress{}
	}
	return &progress{w: a.stderr}
}

// show replaces the line.
func (p *progress) show(format string, args ...any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.w == nil {
		return
	}
	line := fmt.Sprintf(format, args...)
	blank := max(0, p.width-len([]rune(line)))
	_, _ = fmt.Fprintf(p.w, "\r%s%s", line, strings.Repeat(" ", blank))
	p.width = len([]rune(line))
}

// wipe clears the line, so that nothing is left on the terminal.
func (p *progress) wipe() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.w == nil || p.width == 0 {
		return
	}
	_, _ = fmt.Fprintf(p.w, "\r%s\r", strings.Repeat(" ", p.width))
	p.width = 0
}
