package sheet

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTry(t *testing.T) {
	data, err := os.ReadFile("/tmp/h4demo.json")
	require.NoError(t, err)
	s := &Sheet{}
	require.NoError(t, json.Unmarshal(data, s))
	var b bytes.Buffer
	require.NoError(t, s.PDF(&b, PaperOptions{}))
	require.NoError(t, os.WriteFile("/tmp/h4demo.pdf", b.Bytes(), 0o644))
	b.Reset()
	require.NoError(t, s.PDF(&b, PaperOptions{Paper: Letter}))
	require.NoError(t, os.WriteFile("/tmp/h4demol.pdf", b.Bytes(), 0o644))
	b.Reset()
	in := fixture(8)
	lengthen(&in)
	require.NoError(t, mustBuild(t, in).PDF(&b, PaperOptions{}))
	require.NoError(t, os.WriteFile("/tmp/h4long.pdf", b.Bytes(), 0o644))
}
