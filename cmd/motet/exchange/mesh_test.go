package exchange

import (
	"fmt"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// nodding is a keeper that bends at its spine and its head, by degrees a frame.
func nodding(spine, head func(f float64) float64) puppet {
	p := lampKeeper(60, 30)
	at := func(node int, angle func(f float64) float64) trackSpec {
		return baked(node, gltf.TRSRotation, 30, 0, 48, func(f float64) []float64 { return aboutAxis(0, angle(f)) })
	}
	p.clips = []clipSpec{{"Nod", []trackSpec{at(2, spine), at(3, head)}}}
	return p
}

// withDials is a rig's text with other dials.
func withDials(rig string, rows ...string) string {
	head, _, _ := strings.Cut(rig, "\nchannels\n")
	return pageOf(head + "\nchannels\n  channel joint drives gain\n  " + strings.Join(rows, "\n  ") + "\n").text("keeper-rig.motet")
}

// Of dials that share joints, the first in the table has what it moves most, and all of them add up to the clip.
func TestDialsThatShareJoints(t *testing.T) {
	files := map[string]puppet{"nod.glb": nodding(func(f float64) float64 { return wave(f, 48, 1, 6) }, func(f float64) float64 { return 4 + wave(f, 48, 2, 10) })}
	first, _ := importPuppets(t, files, []string{"nod.glb"}, AllOptions{Name: "keeper"})
	for name, c := range map[string]struct {
		rows   []string
		dials  int
		want   map[string]func(f float64) float64
		report string
	}{
		"two of two": {
			[]string{"spine/crane . turn.x 1", "spine/crane head turn.x -1", "head/nod . turn.x 0.7", "head/nod spine turn.x 0.3"},
			2,
			map[string]func(f float64) float64{
				"head/nod":    func(f float64) float64 { return 4 + wave(f, 48, 2, 10) + wave(f, 48, 1, 6) },
				"spine/crane": func(f float64) float64 { return wave(f, 48, 1, 6) - 0.3*(4+wave(f, 48, 2, 10)+wave(f, 48, 1, 6)) },
			},
			"with 2 of its 2 dials",
		},
		"one too many": {
			[]string{"spine/lean . turn.x 2", "spine/lean head turn.x 0.5", "head/nod . turn.x 1", "head/nod spine turn.x 0.1", "head/bow . turn.x 1", "head/bow spine turn.x 1"},
			3,
			map[string]func(f float64) float64{"spine/lean": func(f float64) float64 {
				return (wave(f, 48, 1, 6) - 0.1*(4+wave(f, 48, 2, 10)-wave(f, 48, 1, 1.5))/0.975) / 2
			}},
			"the dial head/bow stays at rest: dials before it in the rig's table can do what it does",
		},
		"one too few": {
			[]string{"spine/lean . turn.x 1", "spine/lean head turn.x 0.5"},
			2,
			map[string]func(f float64) float64{"spine/lean": func(f float64) float64 { return wave(f, 48, 1, 6) }},
			"1 dial is added to it, for what the clips move and it could not: head/nod",
		},
	} {
		t.Run(name, func(t *testing.T) {
			over := overRig(t, first.Rig.Name, withDials(first.Rig.Text, c.rows...))
			all, data := importPuppets(t, files, []string{"nod.glb"}, AllOptions{Over: over})
			r := withRig(all, &all.Clips[0])
			require.NoError(t, all.Clips[0].Err)
			assert.False(t, all.Clips[0].Outside)
			requireWithin(t, DefaultWithin(), compareNamed(t, r, data["nod.glb"], 0))
			m := resolve(t, r)
			require.Len(t, m.Rig.Channels, c.dials)
			for path, want := range c.want {
				rest := m.Channel(path)
				require.NotNil(t, rest, path)
				for f := 0.0; f < 48; f += 4 {
					assert.InDelta(t, want(f), rest.At(f), 0.4, "%s at %g", path, f)
				}
			}
			assert.Contains(t, strings.Join(all.Report, "\n"), c.report)
		})
	}
}

// Whatever dials a rig has, a clip comes over it as it is, by the witness, or the sheet says where it is not.
func TestClipsOverRandomRigs(t *testing.T) {
	handles := [][2]string{{"hips", "move.y"}, {"spine", "turn.x"}, {"spine", "turn.y"}, {"head", "turn.x"}, {"head", "turn.z"}, {"arm.left", "turn.y"}, {"spine", "scale.xyz"}}
	rapid.Check(t, func(r *rapid.T) {
		var rows []string
		for i := range rapid.IntRange(1, 6).Draw(r, "dials") {
			for range rapid.IntRange(1, 3).Draw(r, "drives") {
				h := rapid.SampledFrom(handles).Draw(r, "handle")
				gain := rapid.SampledFrom([]string{"1", "1", "-1", "0.5", "0.3", "2", "-0.7"}).Draw(r, "gain")
				rows = append(rows, fmt.Sprintf("dial/d%d %s %s %s", i, h[0], h[1], gain))
			}
		}
		frames := 16.0
		p := lampKeeper(60, 30)
		p.clips = []clipSpec{{"Any", nil}}
		for _, node := range []int{2, 3, 8} {
			size, axis := rapid.SampledFrom([]float64{0, 2, 25}).Draw(r, "size"), rapid.IntRange(0, 2).Draw(r, "axis")
			about := rapid.SampledFrom([]float64{0, 12}).Draw(r, "about")
			p.clips[0].tracks = append(p.clips[0].tracks, baked(node, gltf.TRSRotation, 30, 0, int(frames), func(f float64) []float64 {
				return aboutAxis(axis, about+wave(f, frames, 1, size))
			}))
		}
		files := map[string]puppet{"any.glb": p}
		first, _ := importPuppets(t, files, []string{"any.glb"}, AllOptions{Name: "keeper"})
		over := overRig(t, first.Rig.Name, withDials(first.Rig.Text, rows...))
		all, data := importPuppets(t, files, []string{"any.glb"}, AllOptions{Over: over})
		c := &all.Clips[0]
		require.NoError(t, c.Err)
		off := compareNamed(t, withRig(all, c), data["any.glb"], 0)
		if within := DefaultWithin(); c.Outside || off.turnDeg > within.TurnDeg || off.worldCM > within.WorldCM {
			r.Fatalf("off by %g° and %g cm, outside %v\n%s\n%s\n%s", off.turnDeg, off.worldCM, c.Outside, strings.Join(c.Report, "\n"), all.Rig.Text, c.SheetText)
		}
	})
}
