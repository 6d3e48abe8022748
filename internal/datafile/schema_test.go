package datafile_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"layshaft/internal/datafile"
)

// carFile is a schema with every kind of field that schemas may have.
type carFile struct {
	Title  string `toml:"title"`
	Car    carTable
	Engine engineTable `toml:"engine"`
	Pair   []pairTable `toml:"pair"`
	Forks  [][]float64 `toml:"forks"`
	Wet    bool        `toml:"wet"`
	Spare  *pairTable  `toml:"spare"`
}

type carTable struct {
	MassKg      float64 `toml:"mass_kg"`
	TyreRadiusM float64 `toml:"tyre_radius_m"`
	Track       string  `toml:"track"`
}

type engineTable struct {
	InertiaKgm2 float64   `toml:"inertia_kgm2"`
	RPM         []float64 `toml:"torque_rpm"`
	TorqueNm    []float64 `toml:"torque_nm"`
	Place       string    `toml:"torque_place"`
}

type pairTable struct {
	Mark          string   `toml:"mark"`
	LayshaftTeeth float64  `toml:"layshaft_teeth"`
	Fits          []string `toml:"fits"`
}

// taggedCarFile carries the tag that carFile lacks for Car.
type taggedCarFile struct {
	Title  string      `toml:"title"`
	Car    carTable    `toml:"car"`
	Engine engineTable `toml:"engine"`
	Pair   []pairTable `toml:"pair"`
	Forks  [][]float64 `toml:"forks"`
	Wet    bool        `toml:"wet"`
	Spare  *pairTable  `toml:"spare"`
}

func decode(t *testing.T, text string) (*datafile.Doc, taggedCarFile) {
	t.Helper()
	var f taggedCarFile
	d, err := datafile.Decode(datafile.NewSource("my.toml", []byte(text)), &f)
	require.NoError(t, err)
	return d, f
}

// faultText decodes and returns everything that is wrong, as people see it.
func faultText(t *testing.T, text string) string {
	t.Helper()
	var f taggedCarFile
	d, err := datafile.Decode(datafile.NewSource("my.toml", []byte(text)), &f)
	if err == nil {
		err = d.Err()
	}
	if err == nil {
		return ""
	}
	return err.Error()
}
