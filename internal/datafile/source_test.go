package datafile_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

func examples() fs.FS {
	return fstest.MapFS{
		"data/bramble.toml":   {Data: []byte("abc")},
		"data/anvil.toml":     {Data: []byte("title = 'x'\n")},
		"data/notes.txt":      {Data: []byte("n")},
		"data/sub/other.toml": {Data: []byte("n")},
	}
}

func TestNames(t *testing.T) {
	assert.Equal(t, []string{"anvil", "bramble"}, datafile.Names(examples(), "data", ".toml"))
	assert.Empty(t, datafile.Names(examples(), "elsewhere", ".toml"))
	assert.Empty(t, datafile.Names(nil, "data", ".toml"))
}

func TestReadEmbedded(t *testing.T) {
	src, err := datafile.Read("bramble", examples(), "data", ".toml")
	require.NoError(t, err)
	assert.Equal(t, datafile.Source{
		Name: "bramble.toml",
		Data: []byte("abc"),
		// SHA-256 of "abc": FIPS 180-4 as published with its examples by NIST
		// (one-block message sample).
		SHA256:   "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
		Embedded: true,
	}, src)
}

func TestReadUnknownName(t *testing.T) {
	_, err := datafile.Read("Brambel", examples(), "data", ".toml")
	var ue *datafile.UnknownNameError
	require.ErrorAs(t, err, &ue)
	assert.EqualError(t, err, `"Brambel" is not built in; did you mean "bramble"? Built in: anvil, bramble. `+
		`A file of your own is given with its folder or extension: ./Brambel.toml`)
	_, err = datafile.Read(" ", examples(), "data", ".toml")
	assert.ErrorContains(t, err, "anvil, bramble")
	_, err = datafile.Read("zzzzzzzzz", examples(), "data", ".toml")
	assert.EqualError(t, err, `"zzzzzzzzz" is not built in. Built in: anvil, bramble. `+
		`A file of your own is given with its folder or extension: ./zzzzzzzzz.toml`)
}

func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "my.toml")
	require.NoError(t, os.WriteFile(file, []byte("abc"), 0o600))
	src, err := datafile.Read(file, examples(), "data", ".toml")
	require.NoError(t, err)
	assert.Equal(t, "my.toml", src.Name, "the folder is not shown")
	assert.Equal(t, []byte("abc"), src.Data)
	assert.False(t, src.Embedded)

	t.Chdir(dir)
	src, err = datafile.Read("my.toml", examples(), "data", ".toml")
	require.NoError(t, err, "the extension makes it a path")
	assert.Equal(t, "my.toml", src.Name)

	_, err = datafile.Read("bramble.toml", examples(), "data", ".toml")
	assert.ErrorContains(t, err, "bramble.toml: there is no such file")
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, err = datafile.Read(`C:\cars\my.toml`, examples(), "data", ".toml")
	assert.ErrorIs(t, err, fs.ErrNotExist, "a backslash makes it a path")
	_, err = datafile.Read(dir, examples(), "data", ".toml")
	assert.ErrorContains(t, err, "is a folder")

	require.NoError(t, os.WriteFile(file, make([]byte, datafile.MaxBytes+1), 0o600))
	_, err = datafile.Read(file, examples(), "data", ".toml")
	assert.ErrorContains(t, err, "larger than 1 MB")
}

func TestNearest(t *testing.T) {
	known := []string{"mass_kg", "tyre_radius_m", "torque_nm", "torque_rpm"}
	cases := map[string]string{
		"mas_kg": "mass_kg", "masS_kg": "mass_kg", "amss_kg": "mass_kg", "tyre_radius": "tyre_radius_m",
		"torque_nm_": "torque_nm", "tire_radius_m": "tyre_radius_m", "torque_mn": "torque_nm",
		"colour": "", "": "", "x": "",
	}
	for word, want := range cases {
		got, ok := datafile.Nearest(word, known)
		assert.Equal(t, want != "", ok, word)
		assert.Equal(t, want, got, word)
	}
}
