package sheet

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestReadGivesTheSameBytes(t *testing.T) {
	s := mustBuild(t, fixture(6))
	var first, second bytes.Buffer
	require.NoError(t, s.JSON(&first))
	back, err := Read("saved.json", first.Bytes())
	require.NoError(t, err)
	require.NoError(t, back.JSON(&second))
	require.Equal(t, first.String(), second.String())
}

func TestReadRefuses(t *testing.T) {
	s := mustBuild(t, fixture(6))
	var b bytes.Buffer
	require.NoError(t, s.JSON(&b))
	good := b.String()
	for name, c := range map[string]struct{ data, want string }{
		"empty":         {"", "is not JSON"},
		"cut":           {good[:len(good)/2], "is not JSON"},
		"another kind":  {`{"schema_version": 1, "items": []}`, "is not a saved ratio sheet"},
		"schema":        {strings.Replace(good, `"schema_version": 1`, `"schema_version": 9`, 1), "schema_version 9"},
		"wrong type":    {strings.Replace(good, `"lap_time_s": `, `"lap_time_s": "x", "old": `, 1), "lap_time_s holds a string"},
		"a list":        {"[]", "the file holds an array"},
		"escape code":   {strings.Replace(good, `"event": "`, `"event": "\u001b[2J`, 1), "cannot be printed"},
		"two":           {good + good, "after top-level value"},
		"tooth changed": {strings.Replace(good, `"layshaft_teeth": `, `"layshaft_teeth": 1`, 1), "was changed"},
	} {
		t.Run(name, func(t *testing.T) {
			require.NotEqual(t, good, c.data)
			got, err := Read("saved.json", []byte(c.data))
			require.Nil(t, got)
			require.ErrorContains(t, err, c.want)
			require.ErrorContains(t, err, "saved.json")
		})
	}
}

// savedFixture is a whole saved sheet.
func savedFixture(t testing.TB) []byte {
	t.Helper()
	s, err := Build(fixture(6))
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, s.JSON(&b))
	return b.Bytes()
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"schema_version": 1, "gears": [], "search": {}}`))
	f.Add([]byte("\xef\xbb\xbf{}"))
	f.Add(savedFixture(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("x.json", data)
		if err == nil {
			require.NoError(t, s.Check())
			c, err := BuildComparison(Compared{Sheet: s}, Compared{Sheet: s})
			require.NoError(t, err)
			require.True(t, c.Rebuild == nil || len(c.Rebuild.Off) == 0)
		}
	})
}
