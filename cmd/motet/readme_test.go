package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestReadmeTellsTheTruth goes through README.md as its reader does: it writes each file that a fence with a file's name
// holds, runs each command of the console fences in order, and compares what is printed. MOTET_UPDATE=1 writes what is
// printed into README.md instead.
func TestReadmeTellsTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("runs one program after the other")
	}
	if runtime.GOOS == "windows" {
		t.Skip("README.md's commands are for a shell of the Unix kind")
	}
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	path := filepath.Join(root, "README.md")
	readme, err := os.ReadFile(path)
	require.NoError(t, err)

	r := reader{t: t, root: root, folder: t.TempDir()}
	require.NoError(t, os.CopyFS(filepath.Join(r.folder, "testdata", "quay"), os.DirFS(filepath.Join(root, "testdata", "quay"))))
	t.Setenv("HOME", r.folder)
	got := r.read(string(readme))
	require.Greater(t, r.commands, 10, "README.md shows commands")
	if os.Getenv("MOTET_UPDATE") != "" {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o666))
		return
	}
	require.Equal(t, string(readme), got, "README.md shows what motet printed before; MOTET_UPDATE=1 go test ./cmd/motet brings it up to date")
}

// reader is somebody who does what README.md says.
type reader struct {
	t        *testing.T
	root     string // of the project
	folder   string // where the reader is
	commands int
}

// read gives the text with what each command prints now.
func (r *reader) read(text string) string {
	var out strings.Builder
	kind, body := "", ""
	for line := range strings.Lines(text) {
		switch {
		case kind == "" && strings.HasPrefix(line, "```"):
			kind, body = strings.TrimSpace(strings.TrimPrefix(line, "```")), ""
			out.WriteString(line)
		case kind != "" && line == "```\n":
			out.WriteString(r.fence(kind, body) + line)
			kind = ""
		case kind != "":
			body += line
		default:
			out.WriteString(line)
		}
	}
	return out.String()
}

func (r *reader) fence(kind, body string) string {
	if name, ok := strings.CutPrefix(kind, "motet "); ok {
		require.NoError(r.t, os.WriteFile(filepath.Join(r.folder, name), []byte(body), 0o666))
		return body
	}
	if kind != "console" {
		return body
	}
	var out strings.Builder
	for line := range strings.Lines(body) {
		command, ok := strings.CutPrefix(line, "$ ")
		if !ok {
			continue // What was printed when README.md was written.
		}
		out.WriteString(line + r.run(strings.TrimSpace(command)))
	}
	return out.String()
}

// run runs one command and gives what it prints.
func (r *reader) run(command string) string {
	r.commands++
	switch command {
	case "go test ./...":
		return "" // That is what is running now.
	case "go install -tags netgo,osusergo ./cmd/motet":
		return "" // TestMain has put motet into the path.
	}
	if folder, ok := strings.CutPrefix(command, "cd "); ok {
		r.folder = filepath.Join(r.folder, folder)
		require.DirExists(r.t, r.folder)
		return ""
	}
	command = strings.Replace(command, "go run ./cmd/motet ", "motet ", 1)
	var out bytes.Buffer
	cmd := exec.Command("sh", "-c", command)
	cmd.Dir, cmd.Stdout, cmd.Stderr = r.folder, &out, &out
	if err := cmd.Run(); err != nil {
		require.NotEqual(r.t, exitFailed, cmd.ProcessState.ExitCode(), "%s: %v\n%s", command, err, out.String())
	}
	return out.String()
}
