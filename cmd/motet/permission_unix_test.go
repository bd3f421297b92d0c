//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// TestWhatAUserMayNotTouch runs motet as a user without rights, since root, as whom CI runs, may do anything.
func TestWhatAUserMayNotTouch(t *testing.T) {
	folder, err := os.MkdirTemp("", "motet-rights")
	require.NoError(t, err)
	defer func() { _ = os.RemoveAll(folder) }()
	require.NoError(t, os.Chmod(folder, 0o755))
	motet := filepath.Join(folder, "motet") // the name makes the test binary be motet; see TestMain
	copyTestBinary(t, motet)

	const loose = "pose a\n  hips/side 2\n"
	shut, secret := filepath.Join(folder, "shut"), filepath.Join(folder, "secret")
	for _, sub := range []string{shut, secret} {
		require.NoError(t, os.Mkdir(sub, 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(sub, "a.motet"), []byte(loose), 0o666))
	}
	hidden := filepath.Join(folder, "hidden.motet")
	require.NoError(t, os.WriteFile(hidden, []byte(loose), 0o000))
	require.NoError(t, os.Chmod(filepath.Join(shut, "a.motet"), 0o666))
	require.NoError(t, os.Chmod(shut, 0o555))
	require.NoError(t, os.Chmod(secret, 0o000))
	defer func() { _ = os.Chmod(shut, 0o755); _ = os.Chmod(secret, 0o755) }()

	asNobody := func(args ...string) (code int, stdout, stderr string) {
		var out, complaints bytes.Buffer
		cmd := exec.Command(motet, args...)
		cmd.Dir, cmd.Stdout, cmd.Stderr = folder, &out, &complaints
		if os.Geteuid() == 0 {
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		err := cmd.Run()
		var exit *exec.ExitError
		if err != nil && !errors.As(err, &exit) {
			reference.Lacks(t, fmt.Sprintf("this system can't run a program as another user: %v", err))
		}
		return cmd.ProcessState.ExitCode(), out.String(), complaints.String()
	}

	code, stdout, stderr := asNobody("format", "shut")
	assert.Equal(t, exitFailed, code)
	assert.Empty(t, stdout)
	assert.Equal(t, "motet: shut/a.motet: this user may not write into its folder, so nothing is changed\n", stderr)
	left, err := os.ReadFile(filepath.Join(shut, "a.motet"))
	require.NoError(t, err)
	assert.Equal(t, loose, string(left))

	for _, name := range []string{"keeper.motet", "quayfolk.motet"} {
		text, err := os.ReadFile(filepath.Join("../../testdata/quay", name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), text, 0o666))
	}
	for out, flag := range map[string]string{"shut/k.svg": "plot --out", "shut/k.html": "review --out", "shut/k.png": "review --png", "shut/film": "review --frames"} {
		command, flag, _ := strings.Cut(flag, " ")
		code, stdout, stderr = asNobody(command, "keeper.motet", flag, out)
		assert.Equal(t, exitFailed, code)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr, out+": this user may not write into its folder, so nothing is changed\n")
	}

	code, stdout, stderr = asNobody("check", ".")
	assert.Equal(t, exitFailed, code)
	assert.True(t, strings.HasPrefix(stdout, "shut/a.motet:"), "the rest is checked: %s", stdout)
	assert.Equal(t, "motet: secret: this user may not read or write it\nmotet: hidden.motet: this user may not read or write it\n", stderr)
}

func copyTestBinary(t *testing.T, to string) {
	t.Helper()
	path, err := os.Executable()
	require.NoError(t, err)
	from, err := os.Open(path)
	require.NoError(t, err)
	defer func() { _ = from.Close() }()
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE, 0o755)
	require.NoError(t, err)
	_, err = io.Copy(file, from)
	require.NoError(t, err)
	require.NoError(t, file.Close())
}

// TestWhatIsNoFileIsWrittenInto holds that a pipe, as a device, takes what is written and is not replaced by a file of its
// name; for root there would be no /dev/null left.
func TestWhatIsNoFileIsWrittenInto(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	read := make(chan string)
	go func() {
		text, err := os.ReadFile(pipe)
		if err != nil {
			text = []byte(err.Error())
		}
		read <- string(text)
	}()
	require.NoError(t, writeAtomically(pipe, "sheet\n", 0, func() error { return nil }))
	require.Equal(t, "sheet\n", <-read)
	info, err := os.Stat(pipe)
	require.NoError(t, err)
	require.NotZero(t, info.Mode()&os.ModeNamedPipe)
}
