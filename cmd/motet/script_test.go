package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"motet": main})
}

// TestScripts runs the terminal sessions in testdata/script. Besides testscript's own commands they have
//
//	exitcode N COMMAND…      run a command, which must end with exit code N
//	crlf FILE…               give files the line ends of Windows
//	bytes FILE TEXT          write a file from a Go string, escapes and all
//	rows FILE N              write a sheet with N rows on the quay's rig
//
// and find the demo in $QUAY, all of testdata in $TESTDATA, and a clip in sway.gltf.
func TestScripts(t *testing.T) {
	testdata, err := filepath.Abs("../../testdata")
	require.NoError(t, err)
	clip := swayClip(t)
	for _, name := range []string{"git", "patch"} { // without which a script leaves some of itself out
		if _, err := exec.LookPath(name); err != nil && reference.Required() {
			reference.Program(t, name)
		}
	}
	folder, files := filepath.Join(testdata, "script"), []string(nil)
	if testing.Short() {
		for _, name := range concurrent {
			files = append(files, filepath.Join(folder, name+".txtar"))
		}
		folder = ""
	}
	testscript.Run(t, testscript.Params{
		Dir:                 folder,
		Files:               files,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("MOTET_UPDATE") != "",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exitcode": exitcode, "crlf": crlf, "bytes": writeBytes, "rows": rows,
		},
		Condition: func(name string) (bool, error) {
			if name == "root" {
				return os.Geteuid() == 0, nil
			}
			return false, errors.New("no such condition")
		},
		Setup: func(env *testscript.Env) error {
			env.Setenv("QUAY", filepath.Join(testdata, "quay"))
			env.Setenv("TESTDATA", testdata)
			return os.WriteFile(filepath.Join(env.WorkDir, "sway.gltf"), clip, 0o666)
		},
	})
}

// concurrent are the sessions whose commands do several things at a time, which a short run is about: many sheets are checked,
// mended and written, films are drawn, and what is unfinished is looked after. Clips are read and written several at a time too;
// the tests of cmd/motet/exchange see to that.
var concurrent = []string{"check_diff", "check_fix", "check_fix_order", "check_paths", "check_since", "format_write", "review"}

func exitcode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exitcode N COMMAND…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		got = exit.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

func crlf(ts *testscript.TestScript, _ bool, args []string) {
	for _, name := range args {
		text := strings.ReplaceAll(ts.ReadFile(name), "\n", "\r\n")
		ts.Check(os.WriteFile(ts.MkAbs(name), []byte(text), 0o666))
	}
}

func writeBytes(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: bytes FILE TEXT")
	}
	text, err := strconv.Unquote(`"` + args[1] + `"`)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o666))
}

func rows(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: rows FILE N")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	var text strings.Builder
	text.WriteString("sheet long\n  rig       quayfolk in \"quayfolk.motet\"\n  cycle     " + args[1] + "f\n\ntrack hips\n  at      side\n")
	for i := range n {
		text.WriteString("  " + strconv.Itoa(i) + "f      0\n")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text.String()), 0o666))
}
