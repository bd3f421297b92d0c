package main

import (
	"runtime"
	"runtime/debug"
	"sync"
)

// relaxedGC lets the heap grow to a few times what is in use before it is cleaned up. A check keeps a few megabytes, the
// rig and the sheets at work, and leaves a hundred times as much behind for every thousand sheets, so that cleaning up at
// twice what is in use, as Go does by itself, takes up to half of the time. At more than three times a family of a dozen
// takes longer, since memory has to come from the system first; so only where there are many files it grows to more, and
// what it took is used a hundred times.
const (
	relaxedGC = 250
	manyFiles = 100
	looseGC   = 1000
)

// inOrder does some work for each file, several at once, and gives the results in the files' own order, each as soon as
// it is there. Only a few wait at any time, so that memory does not grow with the number of files.
func inOrder[R any](files []string, work func(path string) R) func(yield func(int, R) bool) {
	return func(yield func(int, R) bool) {
		workers := min(runtime.GOMAXPROCS(0), len(files))
		if workers < 2 {
			// A single file, as an editor's save hook has it, needs no other threads to be started.
			for i, path := range files {
				if !yield(i, work(path)) {
					return
				}
			}
			return
		}
		defer debug.SetGCPercent(debug.SetGCPercent(relaxedGC))
		waiting := make(chan chan R, 8*workers)
		jobs := make(chan func())
		stop := make(chan struct{})
		var working sync.WaitGroup
		for range workers {
			working.Go(func() {
				for job := range jobs {
					job()
				}
			})
		}
		working.Go(func() {
			defer close(jobs)
			defer close(waiting)
			for _, path := range files {
				to := make(chan R, 1)
				select {
				case waiting <- to:
				case <-stop:
					return
				}
				jobs <- func() { to <- work(path) }
			}
		})
		defer working.Wait()
		defer close(stop)
		i := 0
		for to := range waiting {
			if !yield(i, <-to) {
				return
			}
			if i++; i == manyFiles {
				debug.SetGCPercent(looseGC)
			}
		}
	}
}
