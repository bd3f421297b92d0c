package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// A sheet in canonical form that jumps at its seam, and the same put right.
const (
	jumping = "sheet wait\n  rig       quayfolk in \"quayfolk.motet\"\n  cycle     48f\n\ntrack hips\n  at      side\n  0f      2\n  24f     -2\n  48f     3.5\n"
	closing = "sheet wait\n  rig       quayfolk in \"quayfolk.motet\"\n  cycle     48f\n\ntrack hips\n  at      side\n  0f      2\n  24f     -2\n  48f     2\n"
	untidy  = "sheet wait\n rig quayfolk in \"quayfolk.motet\"\n cycle 48f\n\ntrack hips\n at side\n 0f 2\n 24f -2\n 48f 2\n"
)

// repository is a folder under git with the quay's rig, and what runs in it.
type repository struct {
	t      *testing.T
	folder string
}

func newRepository(t *testing.T) repository {
	t.Helper()
	reference.Program(t, "git")
	if runtime.GOOS == "windows" {
		t.Skip("the hooks are run by a shell of the Unix kind")
	}
	for _, name := range []string{"AUTHOR", "COMMITTER"} {
		t.Setenv("GIT_"+name+"_NAME", "quay")
		t.Setenv("GIT_"+name+"_EMAIL", "quay@localhost")
	}
	t.Setenv("GIT_CONFIG_NOSYSTEM", "1")
	r := repository{t, t.TempDir()}
	t.Setenv("HOME", r.folder)
	rig, err := os.ReadFile("../../testdata/quay/quayfolk.motet")
	require.NoError(t, err)
	r.write("quayfolk.motet", string(rig))
	r.must("git", "init", "-q")
	r.must("git", "add", ".")
	r.must("git", "commit", "-q", "-m", "the rig")
	return r
}

func (r repository) write(name, text string) {
	require.NoError(r.t, os.WriteFile(filepath.Join(r.folder, name), []byte(text), 0o777))
}

func (r repository) run(name string, args ...string) (string, error) {
	var out bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = r.folder, &out, &out
	err := cmd.Run()
	return out.String(), err
}

func (r repository) must(name string, args ...string) {
	r.t.Helper()
	out, err := r.run(name, args...)
	require.NoError(r.t, err, "%s", out)
}

// commit tries to commit a sheet.
func (r repository) commit(text string) (string, error) {
	r.write("wait.motet", text)
	r.must("git", "add", "wait.motet")
	return r.run("git", "commit", "-q", "-m", "the sheet")
}

// TestPreCommitHooks runs each hook as the framework does: its entry, with the names of the staged files that match.
func TestPreCommitHooks(t *testing.T) {
	text, err := os.ReadFile("../../.pre-commit-hooks.yaml")
	require.NoError(t, err)
	var hooks []struct {
		ID, Name, Description, Entry, Language, Files string
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	decoder.KnownFields(true)
	require.NoError(t, decoder.Decode(&hooks))
	refused := map[string]string{"motet-check": jumping, "motet-format": untidy}
	says := map[string]string{"motet-check": "error seam-gap", "motet-format": "wait.motet"}
	require.Len(t, hooks, len(refused))
	for _, hook := range hooks {
		t.Run(hook.ID, func(t *testing.T) {
			r := newRepository(t)
			assert.Equal(t, "golang", hook.Language)
			files := regexp.MustCompile(hook.Files)
			assert.True(t, files.MatchString("cast/wait.motet") && !files.MatchString("wait.motet.txt"))
			r.write(".git/hooks/pre-commit", "#!/bin/sh\ngit diff --cached --name-only --diff-filter=d | grep -E '"+hook.Files+"' | xargs "+hook.Entry+"\n")
			out, err := r.commit(refused[hook.ID])
			require.Error(t, err, "the hook refuses it")
			assert.Contains(t, out, says[hook.ID])
			out, err = r.commit(closing)
			require.NoError(t, err, "%s", out)
		})
	}
}

// TestCISnippet runs the lines that README.md has for a CI, as a step of one does: it ends at the first that fails.
func TestCISnippet(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(readme), "```sh ci\n")
	require.True(t, found, "README.md has a snippet for CI")
	snippet, _, _ := strings.Cut(rest, "```\n")
	r := newRepository(t)
	r.write("wait.motet", closing)
	out, err := r.run("sh", "-ec", snippet)
	require.NoError(t, err, "%s", out)
	log, err := os.ReadFile(filepath.Join(r.folder, "motet.xml"))
	require.NoError(t, err)
	assert.Contains(t, string(log), `<testsuite name="wait.motet" tests="1" failures="0" errors="0">`)
	for _, text := range []string{jumping, untidy} {
		r.write("wait.motet", text)
		_, err = r.run("sh", "-ec", snippet)
		require.Error(t, err, "%s", text)
	}
}
