package main

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// headroom is by how much a server's heap may grow before it is cleaned up, in bytes. Go lets it grow to twice what is in use:
// that is too little for a small document, which is then cleaned up after every few edits, each of which waits, and too much
// for a large one, since a server lives as long as its editor, and its memory is the animator's. So a heap may grow to
// wholeHeap, and by headroom where more is in use. With this a document of 1 000 keys takes 45 MiB at most, one of 10 000 takes
// 76 to 82, and one of 50 000 takes 93 to 96 (resident, one machine).
const (
	headroom  = 24 << 20
	wholeHeap = 48 << 20
)

// Between these the heap grows at least and at most, in per cent of what is in use.
const leastGrowth, mostGrowth = 60, 600

// keepHeadroom sets the garbage collector by what is in use, anew after each time that it has cleaned up.
func keepHeadroom() {
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(live)
	growth := mostGrowth
	if live[0].Value.Kind() == metrics.KindUint64 {
		used := int(live[0].Value.Uint64())
		growth = 100 * max(headroom, wholeHeap-used) / max(used, 1)
	}
	debug.SetGCPercent(min(max(growth, leastGrowth), mostGrowth))
	// What nobody holds is finalized once it is collected, which is when this is to be asked again.
	runtime.SetFinalizer(&struct{ _ [16]byte }{}, func(any) { keepHeadroom() })
}
