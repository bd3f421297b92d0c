package editors

import (
	"bytes"
	"fmt"
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

// debian13 is a machine with Debian 13 and its newer editors: a folder that is made once, and kept in MOTET_EDITORS or in
// the user's cache. It takes minutes and root, so its editors run where somebody asks for them.
func debian13(t *testing.T) machine {
	t.Helper()
	if os.Getenv("MOTET_DEBIAN13") == "" {
		t.Skip("the editors of Debian 13 are run where MOTET_DEBIAN13=1 is set")
	}
	kept := os.Getenv("MOTET_EDITORS")
	if kept == "" {
		cache, err := os.UserCacheDir()
		require.NoError(t, err)
		kept = filepath.Join(cache, "motet-editors")
	}
	root := filepath.Join(kept, "trixie")
	out, err := exec.Command("bash", "debian13.sh", root).CombinedOutput()
	require.NoError(t, err, string(out))
	return machine{root}
}

// files are copies of editors' folders that the machine sees.
func (m machine) files(t *testing.T, names ...string) string {
	t.Helper()
	folder := m.folder(t)
	for _, name := range names {
		require.NoError(t, os.CopyFS(filepath.Join(folder, name), os.DirFS(name)))
	}
	return folder
}

func TestDebian13Neovim(t *testing.T) {
	m := debian13(t)
	m.work(t, m.files(t, "neovim", "vim"), []string{"attached", "colours", "diagnostics", "hover", "completion", "format", "mend"}, mended, nil, "nvim",
		"--headless", "--clean", "-n", "--cmd", "set runtimepath^=vim", "-u", "neovim/motet.lua", "-S", "neovim/check.lua")
}

func TestDebian13Emacs(t *testing.T) {
	m := debian13(t)
	m.work(t, m.files(t, "emacs"), []string{"mode", "colours", "indentation", "attached", "diagnostics", "hover", "completion", "format", "mend"}, mended,
		[]string{"MOTET_CLIENT=eglot"}, "emacs", "--batch", "-Q", "-L", "emacs", "-l", "motet", "-l", "emacs/check.el")
}

// formatted is the sheet once it is formatted and its seam gap is left.
var formatted = strings.Replace(mended, "  4b      1.5     4\n", "  4b      1.5     2\n", 1)

// Kakoune has no language server here, since Debian packs none of its clients: colours, lint and format go by the command.
func TestDebian13Kakoune(t *testing.T) {
	m := debian13(t)
	from := m.files(t, "kakoune")
	m.work(t, from, []string{"colours", "lint", "format"}, formatted, []string{"MOTET_EDITORS_FOLDER=" + m.inside(from)}, "sh", "kakoune/check.sh")
}

// screen is a terminal without a screen that tmux keeps.
type screen struct {
	t    *testing.T
	name string
}

func (s screen) tmux(args ...string) string {
	s.t.Helper()
	run := exec.Command("tmux", append([]string{"-L", s.name, "-u"}, args...)...)
	run.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	out, err := run.CombinedOutput()
	require.NoError(s.t, err, string(out))
	return string(out)
}

// keys presses keys by tmux's names; text types letters.
func (s screen) keys(names ...string) {
	for _, name := range names {
		s.tmux("send-keys", "-t", "x", name)
		time.Sleep(150 * time.Millisecond)
	}
}

func (s screen) text(letters string) { s.tmux("send-keys", "-t", "x", "-l", letters) }

// sees waits until the screen shows something, in colours' escape sequences too.
func (s screen) sees(what string, shown func(plain, coloured string) bool) {
	s.t.Helper()
	plain := ""
	ok := assert.Eventually(s.t, func() bool {
		plain = s.tmux("capture-pane", "-p", "-t", "x")
		return shown(plain, s.tmux("capture-pane", "-e", "-p", "-t", "x"))
	}, 20*time.Second, 100*time.Millisecond, what)
	require.True(s.t, ok, "%s:\n%s", what, plain)
	s.t.Log("ok " + what)
}

func (s screen) shows(what string, words ...string) {
	s.t.Helper()
	s.sees(what, func(plain, _ string) bool {
		for _, w := range words {
			if !strings.Contains(plain, w) {
				return false
			}
		}
		return true
	})
}

// Helix has no way to be told what to do but its keys, so a person's are pressed, and the screen is read.
func TestDebian13Helix(t *testing.T) {
	m := debian13(t)
	reference.Program(t, "tmux")
	d := m.setUp(t)
	config := filepath.Join(d.home, ".config", "helix")
	require.NoError(t, os.CopyFS(filepath.Join(config, "runtime"), os.DirFS("helix/runtime")))
	languages, err := os.ReadFile("helix/languages.toml")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(config, "languages.toml"), languages, 0o600))
	shown := "[editor]\nend-of-line-diagnostics = \"hint\"\n[editor.inline-diagnostics]\ncursor-line = \"hint\"\nother-lines = \"hint\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(config, "config.toml"), []byte(shown), 0o600))
	// `hx --grammar build` does this, with a compiler.
	grammars := filepath.Join(config, "runtime", "grammars")
	require.NoError(t, os.MkdirAll(grammars, 0o700))
	out, err := exec.Command("cc", "-shared", "-fPIC", "-O1", "-Itree-sitter-motet/src", "-o", filepath.Join(grammars, "motet.so"), "tree-sitter-motet/src/parser.c").CombinedOutput()
	require.NoError(t, err, string(out))

	s := screen{t, fmt.Sprint("motet", os.Getpid())}
	t.Cleanup(func() { _ = exec.Command("tmux", "-L", s.name, "kill-server").Run() })
	words := m.command(filepath.Dir(d.file), append(d.env, "COLORTERM=truecolor", "TERM=tmux-256color"), "hx", "wait.motet")
	s.tmux(append([]string{"new-session", "-d", "-s", "x", "-x", "130", "-y", "34"}, words...)...)
	s.shows("diagnostics", "head/nod turns at frame 24", "head/turn is 2° at the end, but 4° at the start")
	s.sees("colours", func(_, coloured string) bool {
		// A keyword of the language has a colour of its own, and a title another.
		return strings.Contains(coloured, "mtrack\x1b[") && strings.Contains(coloured, "mhead\x1b[") && !strings.Contains(coloured, "track head")
	})
	s.text("/3       -6")
	s.keys("Enter", "Space", "k")
	s.shows("hover", "head/turn -6°", "the rig allows -40° to 40°")
	s.keys("Escape", "Escape")
	s.text("/track h")
	s.keys("Enter", "a", "C-x")
	s.shows("completion", "head variable")
	s.keys("C-c", "Escape", "Escape")
	s.text(":format")
	s.keys("Enter")
	s.shows("format", "4b      1.5     2")
	s.text("/1.5     2")
	s.keys("Enter", "g", "l", "Space", "a")
	s.shows("menu of mends", "end where the cycle starts", "start where the cycle ends")
	s.keys("Enter")
	s.sees("mend", func(plain, _ string) bool {
		return strings.Contains(plain, "4b      1.5     4") && !strings.Contains(plain, "at the start")
	})
	s.keys("Escape")
	s.text(":w")
	s.keys("Enter")
	s.shows("saved", "written")
	d.saved(t, mended)
	s.text(":q!")
	s.keys("Enter")
}

// Kate's own engine colours the demo by the definition, and has nothing to complain of.
func TestDebian13Kate(t *testing.T) {
	m := debian13(t)
	home, folder := m.folder(t), m.folder(t)
	require.NoError(t, os.CopyFS(folder, os.DirFS("../testdata/quay")))
	syntax := filepath.Join(home, ".local", "share", "org.kde.syntax-highlighting", "syntax")
	require.NoError(t, os.MkdirAll(syntax, 0o700))
	definition, err := os.ReadFile("kate/motet.xml")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(syntax, "motet.xml"), definition, 0o600))
	words := m.command(folder, []string{"PATH=/usr/bin:/bin", "HOME=" + m.inside(home), "QT_QPA_PLATFORM=offscreen", "LC_ALL=C.UTF-8"},
		"kate-syntax-highlighter", "keeper.motet")
	run := exec.Command(words[0], words[1:]...)
	var complaints bytes.Buffer
	run.Stderr = &complaints
	html, err := run.Output()
	require.NoError(t, err, complaints.String())
	require.Empty(t, complaints.String())
	for _, word := range []string{">track<", ">sheet<", ">  rig<", ">keeper-wait<", ">in<", ">&quot;quayfolk.motet&quot;<"} {
		require.Contains(t, string(html), word, "a word of its own colour")
	}
}

// The parser that is committed is the one that Debian 13's tree-sitter makes of the grammar. It runs here, by the other
// machine's loader, since it asks Node for the grammar.
func TestDebian13TreeSitter(t *testing.T) {
	m := debian13(t)
	node := reference.Program(t, "node")
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS("tree-sitter-motet")))
	require.NoError(t, os.RemoveAll(filepath.Join(folder, "src")))
	libraries := m.root + "/lib/x86_64-linux-gnu:" + m.root + "/usr/lib/x86_64-linux-gnu"
	run := exec.Command(m.root+"/lib64/ld-linux-x86-64.so.2", "--library-path", libraries, m.root+"/usr/bin/tree-sitter",
		"generate", "--no-bindings", "--js-runtime", node)
	run.Dir = folder
	run.Env = append(os.Environ(), "HOME="+folder)
	out, err := run.CombinedOutput()
	require.NoError(t, err, string(out))
	for _, name := range []string{"parser.c", "grammar.json", "node-types.json"} {
		want, err := os.ReadFile(filepath.Join("tree-sitter-motet", "src", name))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(folder, "src", name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, got), "%s is not what tree-sitter makes of the grammar", name)
	}
}
