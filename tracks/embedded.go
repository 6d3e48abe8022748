package tracks

import (
	"embed"
	"io/fs"
)

// CircuitDir is the folder of Embedded that holds the circuits, for
// datafile.Read.
const CircuitDir = "circuits"

// embedded is read-only.
//
//go:embed circuits/*.toml
var embedded embed.FS

// Embedded holds the invented example circuits, CircuitDir/*.toml.
func Embedded() fs.FS { return embedded }
