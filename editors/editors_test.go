// Package editors holds what editors need to work with motion sheets, one folder an editor. Its test runs those lines in
// the real editors.
package editors

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const rig = `rig small
  height    100

joints
  joint           on              x       y       z
  head            .               0       50      0

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
`

const sheet = `sheet wait
  rig       small in "rig.motet"
  tempo     80 bpm
  cycle     4b

track head
  at      nod
  0b      1,5
  2b      -3
`

// editor finds an editor's program, or skips the test in one plain line; where the reference checks are required, as in
// CI, a missing editor fails the test.
func editor(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("MOTET_REFERENCE") == "require" {
		require.NoError(t, err)
	}
	if err != nil {
		t.Skip(name + " is not installed")
	}
	return path
}

// workplace is a folder with a sheet that has one fault, and an environment in which `motet` is the binary of this tree.
func workplace(t *testing.T) (file string, env []string) {
	t.Helper()
	folder := t.TempDir()
	for name, text := range map[string]string{"rig.motet": rig, "wait.motet": sheet} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	bin := filepath.Join(folder, "bin")
	build := exec.Command("go", "build", "-o", filepath.Join(bin, "motet"), "../cmd/motet")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	file = filepath.Join(folder, "wait.motet")
	return file, append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"),
		"MOTET_FILE="+file, "HOME="+folder, "XDG_STATE_HOME="+folder)
}

func TestNeovim(t *testing.T) {
	program := editor(t, "nvim")
	_, env := workplace(t)
	run := exec.Command(program, "--headless", "--clean", "-n", "-u", "neovim/motet.lua", "-S", "neovim/check.lua")
	run.Env = env
	out, err := run.CombinedOutput()
	require.NoError(t, err, string(out))
	for _, want := range []string{"attached", "diagnostics", "mended as typed", "hover", "format"} {
		assert.Contains(t, string(out), "ok "+want)
	}
	assert.NotContains(t, string(out), "FAIL", strings.TrimSpace(string(out)))
	t.Log(string(out))
}
