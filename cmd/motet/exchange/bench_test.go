package exchange

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// The longest real clip, 255 frames of 63 joints. The aim is under a second. The ratio is to what only decoding the file
// takes a library, in the same run.
func BenchmarkImportOfTheDance(b *testing.B) {
	path := emote(b, "dance.glb")
	data, err := os.ReadFile(path)
	require.NoError(b, err)
	read := func(string) ([]byte, error) { return data, nil }
	for b.Loop() {
		_, err := Import(Options{Path: path, ReadFile: read})
		require.NoError(b, err)
	}
	reportRatio(b, func() { readByLibrary(b, data) })
}
