package gearbox

import (
	"embed"
	"io/fs"
)

// Folders of Embedded, for datafile.Read.
const (
	BoxDir   = "boxes"
	StockDir = "stocks"
)

// embedded is read-only.
//
//go:embed boxes/*.toml stocks/*.toml
var embedded embed.FS

// Embedded holds the invented examples: BoxDir/*.toml and StockDir/*.toml.
func Embedded() fs.FS { return embedded }
