package watch

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// TestTheBundleIsOfItsSource bundles model.js with the library anew, and holds the file that is kept to it.
func TestTheBundleIsOfItsSource(t *testing.T) {
	reference.Path(t, "esbuild")
	var made string
	reference.Ask(t, "bundle.mjs", struct{}{}, &made)
	if os.Getenv("MOTET_UPDATE") != "" {
		require.NoError(t, os.WriteFile("model.bundle.js", []byte(made), 0o666))
	}
	kept, err := os.ReadFile("model.bundle.js")
	require.NoError(t, err)
	assert.True(t, string(kept) == made, "model.bundle.js is not what model.js makes: MOTET_UPDATE=1 go test ./server/watch -run Bundle")
	assert.Less(t, len(kept), 800_000)
	assert.True(t, strings.Contains(string(kept), "Permission is hereby granted, free of charge"), "the library's licence stays with it")
}
