// Package editors holds what editors need to work with motion sheets, one folder an editor. Its tests run those files in
// the real editors.
package editors

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

const rig = `rig small
  height    100

joints
  joint           on              x       y       z
  head            .               0       50      0

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
  head/turn               .               turn.y          1       deg     -40..40     flip    "to their left"
`

// sheet has a seam gap in its last row, an accent off the beat, and a row that is not tidy.
const sheet = `sheet wait
  rig       small in "rig.motet"
  tempo     80 bpm
  cycle     4b

track head
  at      nod     turn
  0b      1.5     4
  4/3b    5^      .
  2b      3       -6
  4b  1.5  2
`

// mended is the sheet once it is formatted and its seam gap is mended by the first of the two mends.
const mended = `sheet wait
  rig       small in "rig.motet"
  tempo     80 bpm
  cycle     4b

track head
  at      nod     turn
  0b      1.5     4
  4/3b    5^      .
  2b      3       -6
  4b      1.5     4
`

// editor finds an editor's program, or skips the test in one plain line; where the reference checks are required, as in
// CI, a missing editor fails the test.
func editor(t *testing.T, name string) string {
	t.Helper()
	if testing.Short() {
		t.Skip("left out of short runs")
	}
	return reference.Program(t, name)
}

// machine is where editors run: this one, or one whose root is a folder.
type machine struct{ root string }

// folder is a new folder that the machine sees, for as long as the test takes.
func (m machine) folder(t *testing.T) string {
	t.Helper()
	if m.root == "" {
		return t.TempDir()
	}
	folder, err := os.MkdirTemp(filepath.Join(m.root, "tmp"), "motet-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

// inside is what the machine calls a path.
func (m machine) inside(path string) string { return strings.TrimPrefix(path, m.root) }

// command is a program on the machine, started in a folder of this one.
func (m machine) command(folder string, env []string, program string, args ...string) []string {
	if m.root == "" {
		return append(append([]string{"/usr/bin/env", "--chdir=" + folder}, env...), append([]string{program}, args...)...)
	}
	words := []string{
		"unshare", "-mpf", "--kill-child", "--mount-proc=" + m.root + "/proc", "chroot", m.root,
		"/usr/bin/env", "-i", "--chdir=" + m.inside(folder), "TERM=xterm-256color",
	}
	return append(append(words, env...), append([]string{program}, args...)...)
}

// desk is a folder with the sheet in it and `motet` on the path.
type desk struct {
	machine
	file, home string   // as this machine calls them
	env        []string // as the other one calls things
}

// setUp makes a desk: the binary of this tree, the sheet and its rig, and a home of its own.
func (m machine) setUp(t *testing.T) desk {
	t.Helper()
	folder := m.folder(t)
	for name, text := range map[string]string{"rig.motet": rig, "wait.motet": sheet} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	bin, home := filepath.Join(folder, "bin"), m.folder(t)
	out, err := exec.Command("go", "build", "-o", filepath.Join(bin, "motet"), "../cmd/motet").CombinedOutput()
	require.NoError(t, err, string(out))
	d := desk{machine: m, file: filepath.Join(folder, "wait.motet"), home: home}
	path := os.Getenv("PATH")
	if m.root != "" {
		path = "/usr/local/bin:/usr/bin:/bin"
	}
	d.env = []string{
		"PATH=" + m.inside(bin) + ":" + path, "MOTET_FILE=" + m.inside(d.file), "MOTET_OUT=" + m.inside(filepath.Join(home, "out")),
		"HOME=" + m.inside(home), "XDG_STATE_HOME=" + m.inside(home), "LC_ALL=C.UTF-8",
	}
	return d
}

// saved holds the file on the desk to what it should have become.
func (d desk) saved(t *testing.T, want string) {
	t.Helper()
	got, err := os.ReadFile(d.file)
	require.NoError(t, err)
	assert.Equal(t, want, string(got))
}

// work has an editor open the sheet in a folder of its own, where `motet` is the binary of this tree, and holds it to what
// it should have seen and to the text that it should have saved.
func work(t *testing.T, seen []string, env []string, program string, args ...string) {
	t.Helper()
	machine{}.work(t, ".", seen, mended, env, program, args...)
}

// work does so on a machine, from a folder that holds the editors' files.
func (m machine) work(t *testing.T, from string, seen []string, want string, env []string, program string, args ...string) {
	t.Helper()
	d := m.setUp(t)
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
	defer cancel()
	words := m.command(from, append(d.env, env...), program, args...)
	run := exec.CommandContext(ctx, words[0], words[1:]...)
	run.WaitDelay = 5 * time.Second
	out, err := run.CombinedOutput()
	written, _ := os.ReadFile(filepath.Join(d.home, "out")) // Vim writes one, the others print.
	said := string(written) + string(out)
	require.NoError(t, err, said)
	for _, want := range seen {
		assert.Contains(t, said, "ok "+want)
	}
	assert.NotContains(t, said, "FAIL", said)
	d.saved(t, want)
	t.Log(strings.TrimSpace(said))
}

func TestNeovim(t *testing.T) {
	work(t, []string{"attached", "colours", "diagnostics", "hover", "completion", "format", "mend"}, nil, editor(t, "nvim"),
		"--headless", "--clean", "-n", "--cmd", "set runtimepath^=vim", "-u", "neovim/motet.lua", "-S", "neovim/check.lua")
}

func TestVim(t *testing.T) {
	program := editor(t, "vim")
	if _, err := os.Stat("/usr/share/vim-ale"); err != nil {
		reference.Lacks(t, "ALE is not installed where Debian's vim-ale puts it")
	}
	work(t, []string{"colours", "diagnostics", "hover", "completion", "format", "mend", "compiler"}, nil, program,
		"-Nu", "NONE", "-n", "-es", "-T", "dumb", "--not-a-term", "--cmd", "set runtimepath^=vim packpath+=/usr/share/vim/vimfiles", "-S", "vim/check.vim")
}

func TestEmacs(t *testing.T) {
	program := editor(t, "emacs")
	for client, library := range map[string]string{"eglot": "eglot", "lsp-mode": "lsp-mode"} {
		t.Run(client, func(t *testing.T) {
			found, _ := filepath.Glob("/usr/share/emacs/site-lisp/elpa*/" + library + "-*")
			if len(found) == 0 {
				reference.Lacks(t, client+" is not installed where Debian's elpa-"+library+" puts it")
			}
			work(t, []string{"mode", "colours", "indentation", "attached", "diagnostics", "hover", "completion", "format", "mend"},
				[]string{"MOTET_CLIENT=" + client}, program, "--batch", "-Q", "-L", "emacs", "-l", "motet", "-l", "emacs/check.el")
		})
	}
}

// TestVSCode takes minutes and installs VS Code itself, so it is run where somebody asks for it.
func TestVSCode(t *testing.T) {
	if os.Getenv("MOTET_VSCODE") == "" {
		t.Skip("VS Code is run where MOTET_VSCODE=1 is set")
	}
	out, err := exec.Command("bash", "vscode/test.sh").CombinedOutput()
	require.NoError(t, err, string(out))
	for _, want := range []string{"diagnostics", "status item", "colours", "hover", "figure", "mend", "completion", "format and save", "check task", "clip", "walkthrough"} {
		assert.Contains(t, string(out), "ok "+want)
	}
	t.Log(string(out))
}
