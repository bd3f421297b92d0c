package exchange

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// dockerClips is a file of several clips of one docker: one stands on both feet, one holds only its left foot, one swings its
// legs in the air, and one nods only.
func dockerClips() puppet {
	standing := docker{frames: 48, hips: sway(48), ankle: onGround}
	half := docker{frames: 36, hips: sway(36), ankle: func(side int, f float64) (up, ahead float64) {
		if up, ahead = onGround(side, f); side == 1 {
			up, ahead = up+0.04+wave(f, 36, 1, 0.03), ahead+wave(f, 36, 2, 0.05)
		}
		return up, ahead
	}}
	free := docker{frames: 30, hips: sway(30), ankle: func(side int, f float64) (up, ahead float64) {
		return 0.15 + wave(f, 30, 1+float64(side), 0.05), wave(f, 30, 1, 0.1)
	}}
	p := standing.puppet()
	p.clips[0].name = "Stand"
	for name, d := range map[string]docker{"Half": half, "Swing": free} {
		clip := d.puppet().clips[0]
		clip.name = name
		p.clips = append(p.clips, clip)
	}
	if p.clips[1].name != "Half" {
		p.clips[1], p.clips[2] = p.clips[2], p.clips[1]
	}
	nod := docker{frames: 24, hips: func(float64) (up, ahead float64) { return 0.84, 0 }, chestDeg: func(f float64) float64 { return wave(f, 24, 1, 8) }}.puppet().clips[0]
	nod.name = "Nod"
	p.clips = append(p.clips, nod)
	return p
}

// Ends that stand in some of several clips are planted there, over one rig that has their chains once; in the other clips
// their limbs turn by dials of their own, and are not solved.
func TestPlantsOfSeveralClips(t *testing.T) {
	all, data := importPuppets(t, map[string]puppet{"docker.glb": dockerClips()}, []string{"docker.glb"}, AllOptions{})
	require.Len(t, all.Clips, 4)
	assert.Equal(t, 1, strings.Count(all.Rig.Text, "chains\n"))
	want := map[string][]PlantReport{
		"stand": {{Goal: "foot.left", From: 0, To: 48}, {Goal: "foot.right", From: 0, To: 48}},
		"half":  {{Goal: "foot.left", From: 0, To: 36}},
	}
	for i, c := range all.Clips {
		require.NoError(t, c.Err)
		assert.False(t, c.Outside, strings.Join(c.Report, "\n"))
		assert.Equal(t, want[c.SheetName], c.Plants, c.SheetName)
		requireWithin(t, DefaultWithin(), compare(t, c.Result, data["docker.glb"], i))
		m := resolve(t, c.Result)
		assert.Len(t, m.Rig.Chains, 2)
		for n := range m.Rig.Chains {
			planted := false
			for _, p := range c.Plants {
				planted = planted || p.Goal == m.Rig.Chains[n].Goal
			}
			assert.Equal(t, planted, solvesChain(m, n), "%s: %s", c.SheetName, m.Rig.Chains[n].Goal)
		}
		for _, p := range c.Plants {
			requireStands(t, m, p.Goal, float64(p.From), float64(p.To))
		}
		assert.Positive(t, c.Baked, c.SheetName)
	}
	assert.Contains(t, strings.Join(all.Clips[0].Report, "\n"), "planted, since it stands still: foot.left 0f..48f, foot.right 0f..48f; ")

	// As its author may want it.
	all, data = importPuppets(t, map[string]puppet{"docker.glb": dockerClips()}, []string{"docker.glb"}, AllOptions{Options: Options{NoPlants: true}})
	assert.NotContains(t, all.Rig.Text, "chains")
	for i, c := range all.Clips {
		assert.Empty(t, c.Plants)
		requireWithin(t, DefaultWithin(), compare(t, c.Result, data["docker.glb"], i))
	}
}

// Whatever feet do in several clips, each sheet over their rig is the clip, by the witness, and stands where it says so.
func TestPlantsOfSeveralRandomClips(t *testing.T) {
	planted := 0
	rapid.Check(t, func(r *rapid.T) {
		var p puppet
		for i := range rapid.IntRange(2, 3).Draw(r, "clips") {
			frames := rapid.IntRange(10, 30).Draw(r, "frames")
			var lifts [2]float64
			for side := range lifts {
				lifts[side] = rapid.SampledFrom([]float64{0, 0, 0.05}).Draw(r, "lift")
			}
			tilt := rapid.Float64Range(0, 5).Draw(r, "tilt")
			d := docker{frames: frames, hips: sway(frames), ankle: func(side int, f float64) (up, ahead float64) {
				up, ahead = onGround(side, f)
				return up + lifts[side] + wave(f, float64(frames), 1, lifts[side]), ahead + wave(f, float64(frames), 2, lifts[side])
			}, chestDeg: func(f float64) float64 { return wave(f, float64(frames), 1, tilt) }}
			one := d.puppet()
			one.clips[0].name = string(rune('a' + i))
			if p.nodes == nil {
				p = one
			} else {
				p.clips = append(p.clips, one.clips[0])
			}
		}
		all, data := importPuppets(t, map[string]puppet{"docker.glb": p}, []string{"docker.glb"}, AllOptions{})
		for i, c := range all.Clips {
			if c.Err != nil || c.Outside {
				r.Fatalf("%s: %v, outside %v\n%s", c.Clip, c.Err, c.Outside, strings.Join(c.Report, "\n"))
			}
			planted += len(c.Plants)
			off := compare(t, c.Result, data["docker.glb"], i)
			if within := DefaultWithin(); off.turnDeg > within.TurnDeg || off.worldCM > within.WorldCM {
				r.Fatalf("%s is off by %g° and %g cm\n%s\n%s", c.Clip, off.turnDeg, off.worldCM, c.RigText, c.SheetText)
			}
		}
	})
	assert.Positive(t, planted)
}
