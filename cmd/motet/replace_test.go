package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAQuickChangeIsSeen has somebody change a file to one of the same size before the disk's clock has moved on.
func TestAQuickChangeIsSeen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.motet")
	require.NoError(t, os.WriteFile(path, []byte("pose a\n"), 0o666))
	old, err := readVersion(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte("pose b\n"), 0o666))
	require.NoError(t, os.Chtimes(path, old.info.ModTime(), old.info.ModTime()))
	require.ErrorIs(t, old.replace("pose c\n"), errChanged)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "pose b\n", string(text))
}
