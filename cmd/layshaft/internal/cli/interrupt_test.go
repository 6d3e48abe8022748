package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// An interrupt leaves the best set so far and exit code 3; that the search
// had no time at all is the hardest case.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, errs bytes.Buffer
	code := Main(ctx, []string{"sheet", "--quiet"}, strings.NewReader(""), &out, &errs)
	assert.Equal(t, exitUnproved, code, errs.String())
	assert.Contains(t, out.String(), "NOT PROVED")
	assert.Contains(t, errs.String(), "not proved: interrupted")
}
