// Command layshaft chooses the gear pairs of a sequential dog box for a
// circuit and prints the ratio sheet from which the cluster is built.
package main

import (
	"context"
	"os"

	"layshaft/cmd/layshaft/internal/cli"
)

func main() {
	os.Exit(cli.Main(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
