package main

import (
	"runtime"
	"sync"
)

// inOrder does some work for each file, several at once, and gives the results in the files' own order, each as soon as
// it is there. Only a few wait at any time, so that memory does not grow with the number of files.
func inOrder[R any](files []string, work func(path string) R) func(yield func(int, R) bool) {
	return func(yield func(int, R) bool) {
		workers := min(runtime.GOMAXPROCS(0), len(files))
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
			i++
		}
	}
}
