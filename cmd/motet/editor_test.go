package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCommandWords(t *testing.T) {
	for command, want := range map[string][]string{
		"":                              nil,
		"  ":                            nil,
		"emacsclient -n +LINE FILE":     {"emacsclient", "-n", "+LINE", "FILE"},
		`"/the quay/edit" 'a b'FILE`:    {"/the quay/edit", "a bFILE"},
		`edit ""  x`:                    {"edit", "", "x"},
		"edit\tFILE;rm $HOME `x` | cat": {"edit", "FILE;rm", "$HOME", "`x`", "|", "cat"},
	} {
		got, err := commandWords(command)
		require.NoError(t, err, command)
		assert.Equal(t, want, got, command)
	}
	_, err := commandWords(`edit "FILE`)
	assert.EqualError(t, err, "a quote is not closed")
}

// TestAnEditorIsTold runs a command that writes down what it was told, with a file whose name would mean something to a shell.
func TestAnEditorIsTold(t *testing.T) {
	folder := t.TempDir()
	t.Chdir(folder)
	script := filepath.Join(folder, "an editor")
	require.NoError(t, os.WriteFile(script, []byte("#!/bin/sh\nprintf '%s|' \"$@\" > told.new && mv told.new told\n"), 0o755))
	open, err := editorOpener("'"+script+"' +LINE FILE", "vi")
	require.NoError(t, err)
	name := "keeper$(touch gone);`x` 'LINE.motet"
	require.NoError(t, open(name, 6))
	var told []byte
	require.Eventually(t, func() bool { told, err = os.ReadFile("told"); return err == nil }, time.Minute, 5*time.Millisecond)
	assert.Equal(t, "+7|"+filepath.Join(folder, name)+"|", string(told))
	assert.NoFileExists(t, "gone")
}

func TestWhichEditor(t *testing.T) {
	for _, usual := range []string{"", "vi", "nano", "/usr/bin/vim", "emacs -nw", `broken "`} {
		open, err := editorOpener("", "", usual)
		require.NoError(t, err)
		assert.Nil(t, open, usual)
	}
	for _, usual := range []string{"code", "/opt/bin/code --wait", "emacsclient"} {
		open, err := editorOpener("", "vi", usual)
		require.NoError(t, err)
		assert.NotNil(t, open, usual)
	}
	for asked, want := range map[string]string{
		"vi +LINE":            "--editor: `vi +LINE` does not say where the file goes; write FILE in its place, and LINE for the line, as in \"emacsclient -n +LINE FILE\"",
		"no-such-editor FILE": "--editor: there is no program `no-such-editor`",
		`edit "FILE`:          "--editor: a quote is not closed",
	} {
		_, err := editorOpener(asked)
		assert.EqualError(t, err, want)
	}
}
