//go:build unix

package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkManySheets measures `motet check` on folders of 1 000, 10 000 and 30 000 sheets with 100 keys each, which share
// one rig, as a whole process: the time, the most memory that it held, and how the time a sheet compares with that of the
// smallest folder in the same run, which tells whether the time grows with the number of sheets alone. The aim is under
// 3 s and 200 MB for 10 000 sheets on two cores that do nothing else. With -benchtime=1x each folder is checked once.
func BenchmarkManySheets(b *testing.B) {
	folder := b.TempDir()
	motet := filepath.Join(folder, "motet")
	build(b, motet, ".")
	var least time.Duration // a sheet, in the smallest folder
	for _, n := range []int{1_000, 10_000, 30_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			show := filepath.Join(folder, fmt.Sprint(n))
			if _, err := os.Stat(show); err != nil {
				writeSheets(b, show, n)
			}
			var took, spent time.Duration
			var most int64
			for b.Loop() {
				check := exec.Command(motet, "check", show)
				start := time.Now()
				out, err := check.CombinedOutput()
				took += time.Since(start)
				require.NoError(b, err, "%s", out)
				require.Contains(b, string(out), fmt.Sprintf("%d sheets with %d keys", n, 100*n))
				spent += check.ProcessState.UserTime() + check.ProcessState.SystemTime()
				most = max(most, check.ProcessState.SysUsage().(*syscall.Rusage).Maxrss)
			}
			each := spent / time.Duration(b.N*n)
			if least == 0 {
				least = each
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(took.Seconds()/float64(b.N), "s/check")
			b.ReportMetric(spent.Seconds()/float64(b.N), "cpu-s/check")
			b.ReportMetric(float64(most)/1024, "MB") // Linux tells it in KiB
			b.ReportMetric(each.Seconds()/least.Seconds(), "cpu-a-sheet/least")
		})
	}
}

// writeSheets makes a show of n sheets with 100 keys each on the quay's rig, a hundred sheets a folder.
func writeSheets(tb testing.TB, show string, n int) {
	tb.Helper()
	rig, err := os.ReadFile(filepath.Join("..", "..", "testdata", "quay", "quayfolk.motet"))
	require.NoError(tb, err)
	require.NoError(tb, os.MkdirAll(filepath.Join(show, ".git"), 0o777))
	require.NoError(tb, os.WriteFile(filepath.Join(show, "quayfolk.motet"), rig, 0o666))
	for i := range n {
		folder := filepath.Join(show, fmt.Sprintf("shot%03d", i/100))
		if i%100 == 0 {
			require.NoError(tb, os.MkdirAll(folder, 0o777))
		}
		require.NoError(tb, os.WriteFile(filepath.Join(folder, fmt.Sprintf("wait%02d.motet", i%100)), []byte(sheetOf100Keys(i)), 0o666))
	}
}

// sheetOf100Keys is an idle cycle of five tracks, each with four channels and five rows: swings on the beats, each with a
// size and a start of its own, so that no two sheets are alike.
func sheetOf100Keys(seed int) string {
	tracks := []struct{ control, channels string }{
		{"hips", "side ahead tilt twist"},
		{"spine", "lean tilt twist"},
		{"head", "nod turn tilt"},
		{"arm.left", "swing out twist bend"},
		{"arm.right", "swing out twist bend"},
		{"wrist.left", "flex tip"},
	}
	var text strings.Builder
	fmt.Fprintf(&text, "# Somebody waits on the quay.\nsheet wait-%d\n  rig       quayfolk in \"../quayfolk.motet\"\n  rate      24 fps\n  tempo     80 bpm\n  cycle     4b\n", seed)
	for t, track := range tracks {
		channels := strings.Fields(track.channels)
		fmt.Fprintf(&text, "\ntrack %s\n  at      %s\n", track.control, strings.Join(channels, "     "))
		for beat := range 5 {
			fmt.Fprintf(&text, "  %db     ", beat)
			for k := range channels {
				turn := float64(seed*7+t*5+k*3) * 0.7
				fmt.Fprintf(&text, " %.2f  ", 1.5*math.Sin(turn+float64(beat%4)*math.Pi/2))
			}
			text.WriteString("\n")
		}
	}
	return text.String()
}
