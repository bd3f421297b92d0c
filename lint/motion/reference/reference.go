// Package reference lets tests ask independent implementations and other programs, and open real clips. It is used from
// tests only.
//
// Where a program or an npm package is missing a test that asks is skipped with one plain line, so that `go test ./...` works
// with Go alone; with MOTET_REFERENCE=require in the environment it fails instead, so that CI can't skip in silence.
package reference

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// folder is where the scripts and their packages lie, below the module's root.
const folder = ".ci/reference"

// Ask runs a script of .ci/reference, such as "easing.mjs", with the request as JSON on its standard input, and decodes
// the JSON on its standard output into answer.
func Ask(t testing.TB, script string, request, answer any) {
	t.Helper()
	node := Program(t, "node")
	root := installed(t)
	input, err := json.Marshal(request)
	if err != nil {
		t.Fatalf("writing the request of %s: %v", script, err)
	}
	var output, trouble bytes.Buffer
	run := exec.CommandContext(t.Context(), node, filepath.Join(root, script))
	run.Stdin, run.Stdout, run.Stderr = bytes.NewReader(input), &output, &trouble
	if err := run.Run(); err != nil {
		t.Fatalf("running %s: %v\n%s", script, err, trouble.String())
	}
	if err := json.Unmarshal(output.Bytes(), answer); err != nil {
		t.Fatalf("reading the answer of %s: %v", script, err)
	}
}

// Path returns the path of a file inside an installed npm package, such as
// Path(t, "@dcl/wearable-preview", "emotes", "idle.glb").
func Path(t testing.TB, elements ...string) string {
	t.Helper()
	path := filepath.Join(installed(t), "node_modules", filepath.Join(elements...))
	if _, err := os.Stat(path); err != nil {
		Lacks(t, "no "+filepath.Join(elements...)+" among the installed npm packages")
	}
	return path
}

// installed returns the folder of the scripts once their packages are there.
func installed(t testing.TB) string {
	t.Helper()
	root, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			break
		}
		parent := filepath.Dir(root)
		if parent == root {
			t.Fatal("the test does not run inside the module: no go.mod above it")
		}
		root = parent
	}
	scripts := filepath.Join(root, folder)
	if _, err := os.Stat(filepath.Join(scripts, "node_modules")); err != nil {
		Lacks(t, "the npm packages are not installed: npm install --ignore-scripts in "+folder)
	}
	return scripts
}

// Program finds a program that a test runs, such as an editor, a browser or git.
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Lacks(t, name+" is not installed")
	}
	return path
}

// Required tells whether nothing may be left out, as in CI.
func Required() bool { return os.Getenv("MOTET_REFERENCE") == "require" }

// Lacks ends a test for want of something that Go alone does not bring: it is skipped, or it fails where it is required.
func Lacks(t testing.TB, what string) {
	t.Helper()
	if Required() {
		t.Fatalf("required, but %s", what)
	}
	t.Skip("left out: " + what)
}
