package store

import "testing"

// BenchmarkRead reads a store of a thousand pairs, which every command does.
func BenchmarkRead(b *testing.B) {
	path := made(b, 1000)
	for b.Loop() {
		if _, err := Read(path); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/read")
}

// BenchmarkBook books a run in a store of a thousand pairs, to the disk.
func BenchmarkBook(b *testing.B) {
	path := made(b, 1000)
	for b.Loop() {
		if _, err := Update(path, by("book"), func(e *Edit) error { return e.Book(&Run{Car: "1", Distance: 1}) }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/booking")
}
