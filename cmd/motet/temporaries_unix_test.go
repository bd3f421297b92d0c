//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStoppedInTheMiddle holds that motet, stopped while it writes, leaves the folder as it was, and ends as a stopped
// program does.
func TestStoppedInTheMiddle(t *testing.T) {
	motet := filepath.Join(t.TempDir(), "motet") // the name makes the test binary be motet; see TestMain
	copyTestBinary(t, motet)
	// A film that takes minutes, of which only the beginning is awaited.
	sheets := t.TempDir()
	rig, err := os.ReadFile("../../testdata/quay/quayfolk.motet")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(sheets, "quayfolk.motet"), rig, 0o666))
	sheet := filepath.Join(sheets, "wait.motet")
	require.NoError(t, os.WriteFile(sheet, []byte("sheet wait\n  rig       quayfolk in \"quayfolk.motet\"\n  cycle     5000f\n\ntrack hips\n  at      side\n  0f      2\n  2500f   -2\n"), 0o666))
	// What a test is started to ignore, as by nohup or in the background of a script, its children ignore too, unless it listens.
	signals := []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}
	heard := make(chan os.Signal, 1)
	for _, s := range signals {
		signal.Notify(heard, s)
	}
	defer signal.Stop(heard)
	for _, s := range signals {
		t.Run(s.String(), func(t *testing.T) {
			folder := t.TempDir()
			film := filepath.Join(folder, "film")
			require.NoError(t, os.Mkdir(film, 0o777))
			require.NoError(t, os.WriteFile(filepath.Join(film, "00000.png"), []byte("of an earlier film"), 0o666))
			var said bytes.Buffer
			cmd := exec.Command(motet, "review", sheet, "--frames", film, "--force", "--size", "1280x1280")
			cmd.Stdout, cmd.Stderr = &said, &said
			require.NoError(t, cmd.Start())
			defer func() { _ = cmd.Process.Kill() }()
			written := filepath.Join(folder, ".motet-*.tmp", "*.png")
			require.Eventually(t, func() bool {
				found, err := filepath.Glob(written)
				return err == nil && len(found) > 0
			}, time.Minute, 5*time.Millisecond, "the first frame")
			require.NoError(t, cmd.Process.Signal(s))
			require.Error(t, cmd.Wait())
			status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus)
			require.True(t, ok)
			assert.True(t, status.Signaled() && status.Signal() == s, "it ended with %v", status)
			assert.Empty(t, said.String())
			left, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Len(t, left, 1)
			assert.FileExists(t, filepath.Join(film, "00000.png"))
		})
	}
}
