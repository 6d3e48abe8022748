package chart

import (
	"io"
	"slices"
	"testing"
)

// Each picture beyond the making of the model: half a second is the most that a
// person at the screen should wait.
func BenchmarkFigures(b *testing.B) {
	d := newDemo(b, "harrowdale")
	figures := d.figures(b, Frame{Title: "Title", Caption: "Caption"})
	var kinds []string
	for kind := range figures {
		kinds = append(kinds, kind)
	}
	slices.Sort(kinds)
	for _, kind := range kinds {
		for _, form := range Formats() {
			b.Run(kind+"/"+string(form), func(b *testing.B) {
				for b.Loop() {
					f := figures[kind]
					if kind == "choice" { // its laps belong to it
						f = d.choice(b, Frame{Title: "Title"}, 4)
					}
					if err := Write(io.Discard, f, form); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/picture")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}
