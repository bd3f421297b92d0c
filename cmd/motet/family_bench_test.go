package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkFamily measures `motet check` on families cut from one base, as whole processes beside a Go program that
// does nothing: a dozen members of 20 000 keys together, and half and twice as many, whose times tell whether a member
// more costs the same as the one before. The aim is under 0.3 s for the dozen on two cores.
func BenchmarkFamily(b *testing.B) {
	motet, nothing := buildBoth(b)
	for _, members := range []int{6, 12, 24} {
		folder := b.TempDir()
		writeFamily(b, folder, members)
		b.Run(fmt.Sprintf("%d members", members), func(b *testing.B) {
			var check, empty time.Duration
			for b.Loop() {
				check += processTime(b, motet, "check", folder)
				empty += processTime(b, nothing)
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(check.Seconds()*1000/float64(b.N), "ms/check")
			b.ReportMetric(check.Seconds()*1000/float64(b.N*members), "ms/member")
			b.ReportMetric(check.Seconds()/empty.Seconds(), "check/nothing")
		})
	}
}

// writeFamily writes a base of some 1 680 keys over the rig of the demo, with planted feet, and variants of it that
// differ as people do: in size, in time and in side.
func writeFamily(b *testing.B, folder string, members int) {
	b.Helper()
	rig, err := os.ReadFile("../../testdata/quay/quayfolk.motet")
	require.NoError(b, err)
	write := func(name, text string) {
		require.NoError(b, os.WriteFile(filepath.Join(folder, name+".motet"), []byte(text), 0o666))
	}
	write("quayfolk", string(rig))
	write("cast", "family cast\n  members   \"*-wait.motet\"\n")
	write("base-wait", baseSheet())
	for i := 1; i < members; i++ {
		write(fmt.Sprintf("person%d-wait", i), fmt.Sprintf(`sheet person%d-wait
  from      base-wait in "base-wait.motet"
  phase     %db

change
  amplify   head    %d%%
  amplify   arm.*   %d%%
  offset    spine/lean %d
  delay     spine   %df
`, i, 2*i, 60+7*i, 150-5*i, i%5, i%4))
	}
}

func baseSheet() string {
	const beats = 60
	tracks := []struct {
		control  string
		channels []string
		size     float64
	}{
		{"hips", []string{"side", "drop"}, 1.5},
		{"spine", []string{"lean", "tilt", "twist"}, 4},
		{"head", []string{"nod", "turn", "tilt"}, 8},
		{"arm.left", []string{"swing", "out", "bend"}, 9},
		{"arm.right", []string{"swing", "out", "bend"}, 9},
	}
	draw := rand.New(rand.NewPCG(7, 11)) // the same sheet on every run
	var out strings.Builder
	fmt.Fprintf(&out, "sheet base-wait\n  rig       quayfolk in \"quayfolk.motet\"\n  rate      24 fps\n  tempo     80 bpm\n  cycle     %db\n  grid      1/2b\n", beats)
	for _, t := range tracks {
		fmt.Fprintf(&out, "\ntrack %s\n  at %s\n", t.control, strings.Join(t.channels, " "))
		for half := range 2 * beats {
			fmt.Fprintf(&out, "  %d/2b", half)
			for range t.channels {
				// Every key turns the curve, so that none is spare.
				fmt.Fprintf(&out, " %.2f", (1-2*float64(half%2))*t.size*(0.5+draw.Float64()/2))
			}
			out.WriteString("\n")
		}
	}
	fmt.Fprintf(&out, "\nplant\n  foot.left   0b..%db\n  foot.right  0b..%db\n", beats, beats)
	return out.String()
}
