//go:build unix

package store

import (
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Opening a pipe waits for a writer, for ever.
func TestAPipeIsNoStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe"+Ext)
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Skip("no pipes here:", err)
	}
	done := make(chan error, 1)
	go func() { _, err := Read(path); done <- err }()
	select {
	case err := <-done:
		require.ErrorIs(t, err, ErrNotStore)
	case <-time.After(5 * time.Second):
		t.Fatal("waits for the pipe")
	}
}
