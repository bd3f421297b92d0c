package grammar

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestEditedRowsTakeNoMoreRoom edits each row of a table by itself, as an animator does in an hour: the tree that is left takes
// about the room of one that is parsed at once, and so holds on to nothing that it was before.
func TestEditedRowsTakeNoMoreRoom(t *testing.T) {
	const rows = 600
	columns := strings.Fields("a b c d e f g h i j k l")
	lines := make([]string, rows)
	for i := range lines {
		lines[i] = fmt.Sprintf("  %df %s", i, strings.Repeat(" 1.5", len(columns)))
	}
	text := func() string {
		return "track hips\n  at " + strings.Join(columns, " ") + "\n" + strings.Join(lines, "\n") + "\n"
	}
	f := Parse("a.motet", text())
	for i := range lines {
		lines[i] = strings.Replace(lines[i], "1.5", "2.5", 1)
		f = Reparse(f, "a.motet", text())
	}
	require.True(t, f.Blocks[0].Plain)
	with := heapInUse()
	edited := f.Text
	f = nil
	without := heapInUse()
	f = Parse("a.motet", edited)
	anew := heapInUse() - without
	require.Less(t, with-without, anew*5/4, "bytes")
	runtime.KeepAlive(f)
}

func heapInUse() int64 {
	runtime.GC()
	runtime.GC()
	var memory runtime.MemStats
	runtime.ReadMemStats(&memory)
	return int64(memory.HeapAlloc)
}
