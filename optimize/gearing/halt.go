package gearing

// A search may be ended at any moment, also while its tables are made. Work on a
// frame then leaves off at the next job or lap and panics with halted, which
// guard catches: half a table is of no use to anybody, and so no function in
// between has to know.

// halted is what ended work panics with; it never leaves the package.
type halted struct{}

// check leaves the work on the frame when the search is to stop. Only for the
// goroutine that guard runs in.
func (f *frame) check() {
	if f.ended != nil && f.ended() {
		panic(halted{})
	}
}

// parallel is the function of that name, left as soon as the search is to stop.
func (f *frame) parallel(workers, n int, do func(i int)) {
	parallel(workers, n, func(i int) {
		if f.ended == nil || !f.ended() {
			do(i)
		}
	})
	f.check()
}

// guard does the work and says whether it came to its end.
func guard(work func()) (done bool) {
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(halted); !ok {
				panic(r)
			}
		}
	}()
	work()
	return true
}
