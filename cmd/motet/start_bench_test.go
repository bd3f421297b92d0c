package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkStart measures `motet check` on one small sheet as a whole process, beside a Go program that does nothing,
// built (as README.md says) and run in the same way. Runs of the two take turns, so that what else the machine does falls on both. The aim
// is under 15 ms a check on a machine that is doing nothing else.
func BenchmarkStart(b *testing.B) {
	motet, nothing := buildBoth(b)
	sheet, err := filepath.Abs("../../testdata/quay/keeper.motet")
	require.NoError(b, err)

	var check, empty time.Duration
	for b.Loop() {
		check += processTime(b, motet, "check", sheet)
		empty += processTime(b, nothing)
	}
	b.ReportMetric(0, "ns/op") // of both together, which says nothing
	b.ReportMetric(check.Seconds()*1000/float64(b.N), "ms/check")
	b.ReportMetric(empty.Seconds()*1000/float64(b.N), "ms/nothing")
	b.ReportMetric(check.Seconds()/empty.Seconds(), "check/nothing")
}

// buildBoth builds motet, and a program that does nothing.
func buildBoth(b *testing.B) (motet, nothing string) {
	b.Helper()
	folder := b.TempDir()
	motet, nothing = filepath.Join(folder, "motet"), filepath.Join(folder, "nothing")
	require.NoError(b, os.WriteFile(filepath.Join(folder, "nothing.go"), []byte("package main\n\nfunc main() {}\n"), 0o666))
	build(b, motet, ".")
	build(b, nothing, filepath.Join(folder, "nothing.go"))
	return motet, nothing
}

func build(b *testing.B, to, what string) {
	b.Helper()
	out, err := exec.Command("go", "build", "-tags", "netgo,osusergo", "-o", to, what).CombinedOutput()
	require.NoError(b, err, "%s", out)
}

func processTime(b *testing.B, name string, args ...string) time.Duration {
	start := time.Now()
	out, err := exec.Command(name, args...).CombinedOutput()
	took := time.Since(start)
	require.NoError(b, err, "%s", out)
	return took
}
