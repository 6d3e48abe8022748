//go:build ignore

// Checksheet reads the program's JSON from stdin for .ci/run, which may not
// rely on any tool but Go.
//
//	checksheet names        prints the name of each item of a list
//	checksheet proved 0.001 ends non-zero unless a sheet is proved to that gap, in s
package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strconv"
)

func main() {
	if err := run(os.Args[1:], os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "checksheet:", err)
		os.Exit(1)
	}
}

func run(args []string, in io.Reader, out io.Writer) error {
	data, err := io.ReadAll(in)
	if err != nil {
		return err
	}
	switch {
	case len(args) == 1 && args[0] == "names":
		return names(data, out)
	case len(args) == 2 && args[0] == "proved":
		gap, err := strconv.ParseFloat(args[1], 64)
		if err != nil {
			return err
		}
		return proved(data, gap)
	}
	return fmt.Errorf("usage: checksheet names | proved GAP")
}

func names(data []byte, out io.Writer) error {
	var list struct {
		Items []struct {
			Name string `json:"name"`
		} `json:"items"`
	}
	if err := json.Unmarshal(data, &list); err != nil {
		return err
	}
	if len(list.Items) == 0 {
		return fmt.Errorf("no items in the list")
	}
	for _, item := range list.Items {
		if item.Name == "" {
			return fmt.Errorf("an item without a name")
		}
		fmt.Fprintln(out, item.Name)
	}
	return nil
}

func proved(data []byte, limit float64) error {
	var sheet struct {
		LapTime *float64 `json:"lap_time_s"`
		Search  struct {
			Status string   `json:"status"`
			Gap    *float64 `json:"gap_s"`
		} `json:"search"`
	}
	if err := json.Unmarshal(data, &sheet); err != nil {
		return err
	}
	switch {
	case sheet.LapTime == nil || !(*sheet.LapTime > 0):
		return fmt.Errorf("no lap time")
	case sheet.Search.Status != "proved":
		return fmt.Errorf("status is %q, want \"proved\"", sheet.Search.Status)
	case sheet.Search.Gap == nil:
		return fmt.Errorf("no gap")
	case !(*sheet.Search.Gap >= 0 && *sheet.Search.Gap <= limit):
		return fmt.Errorf("gap is %g s, want 0 to %g", *sheet.Search.Gap, limit)
	}
	return nil
}
