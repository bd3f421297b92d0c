package watch

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAQuickSaveIsSeen saves a file twice at one moment of the disk's clock, with texts of one length.
func TestAQuickSaveIsSeen(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "crate.motet")
	save := func(text string, at time.Time) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o666))
		require.NoError(t, os.Chtimes(path, at, at))
	}
	var disk Disk
	read := func() string {
		tree, err := disk.Tree(folder, "crate.motet")
		require.NoError(t, err)
		again, err := disk.Tree(folder, "crate.motet")
		require.NoError(t, err)
		assert.Same(t, tree, again, "the same text is the same tree")
		return tree.Text
	}
	now := time.Now()
	save("pose a\n", now)
	assert.Equal(t, "pose a\n", read())
	save("pose b\n", now)
	assert.Equal(t, "pose b\n", read())
	// A file that has rested is not read again for each question.
	rested := now.Add(-time.Hour)
	save("pose c\n", rested)
	assert.Equal(t, "pose c\n", read())
	save("pose d\n", rested)
	assert.Equal(t, "pose c\n", read())
	disk.Forget(path)
	assert.Equal(t, "pose d\n", read())
}
