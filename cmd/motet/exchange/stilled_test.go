package exchange

import (
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// jittering is a docker whose feet jitter by so much about where they stand, and perhaps lift the left one for a while.
func jittering(sizeCM float64, steps bool) docker {
	noise := rand.New(rand.NewPCG(3, 5))
	var off [2][73][2]float64
	for side := range off {
		for f := range off[side] {
			off[side][f] = [2]float64{sizeCM / 100 * (2*noise.Float64() - 1), sizeCM / 100 * (2*noise.Float64() - 1)}
		}
	}
	return docker{frames: 72, hips: sway(72), ankle: func(side int, f float64) (up, ahead float64) {
		up, ahead = onGround(side, f)
		jitter := off[side][int(f)%72]
		if steps && side == 0 && f > 24 && f < 44 {
			u := (f - 24) / 20
			up += 0.08 * 16 * u * u * (1 - u) * (1 - u)
		}
		return up + jitter[0], ahead + jitter[1]
	}}
}

// Feet that a capture lets jitter by more than their knees can bear are planted where that is asked for. The sheet is
// within the limits of the clip with these feet held, and how far it is from the clip itself, by an evaluation that shares
// nothing with the importer, is what the report says.
func TestStillFeetArePlantedWhereThatIsAskedFor(t *testing.T) {
	for name, steps := range map[string]bool{"standing": false, "stepping": true} {
		t.Run(name, func(t *testing.T) {
			p := jittering(0.1, steps).puppet()
			plain, data := importPuppet(t, p, Options{})
			requireWithin(t, DefaultWithin(), compare(t, plain, data, 0))
			assert.Empty(t, plain.Plants)

			r, data := importPuppet(t, p, Options{StillCM: 0.2})
			want := []PlantReport{{Goal: "foot.left", From: 0, To: 72}, {Goal: "foot.right", From: 0, To: 72}}
			if steps {
				want[0].From, want[0].To = 43, 97
			}
			requirePlants(t, want, r.Plants, 3)
			off := compare(t, r, data, 0)
			assert.InDelta(t, off.turnDeg, r.Off.TurnDeg, 0.03)
			assert.InDelta(t, off.worldCM, r.Off.WorldCM, 0.05)
			assert.Greater(t, off.turnDeg, DefaultWithin().TurnDeg)
			said := strings.Join(r.Report, "\n")
			assert.Contains(t, said, "held still where it stays within 0.2 cm: foot.left ")
			assert.Contains(t, said, "own turn "+roundUp(r.Off.TurnDeg, 3)+"°")
			assert.NotContains(t, said, "NOT within")
			assert.Contains(t, r.SheetText, "within 0.25deg,0.05cm of it, with what stays within 0.2 cm held still.\n")
			assert.Less(t, r.Keys, plain.Keys)
			t.Logf("%d keys, %d with the jitter; off by %.2f°, %.2f cm\n%s", r.Keys, plain.Keys, off.turnDeg, off.worldCM, strings.Join(r.Report[4:8], "\n"))
			edited := offHips(t, r, "hips/up", -1)
			for _, p := range r.Plants {
				requireStands(t, edited, p.Goal, float64(p.From), float64(p.To))
			}
			// The feet are not farther from where the capture has them than was asked, but for what the curves are off.
			assert.LessOrEqual(t, footOff(t, r, data, want), 0.2+DefaultWithin().WorldCM)
		})
	}
}

// footOff is the farthest that a planted foot is from its place in the clip.
func footOff(t *testing.T, r *Result, data []byte, stands []PlantReport) (far float64) {
	t.Helper()
	d, err := Read("folk/lamp.glb", inMemory(map[string][]byte{"folk/lamp.glb": data}))
	require.NoError(t, err)
	f, err := figureOf(d, &d.Clips[0], Options{Within: DefaultWithin()})
	require.NoError(t, err)
	m := resolve(t, r)
	player := m.Player()
	for _, p := range stands {
		joint := m.Rig.JointIndex(p.Goal)
		for frame := p.From; frame <= p.To; frame++ {
			at := player.Figure(float64(frame % 72)).World[joint].Position()
			far = max(far, f.world[frame%72*stepsPerFrame][joint].to(vec3(at)))
		}
	}
	return far
}

// Nothing is bent for nothing: what slides, and what moves farther than was asked, is left as it is, and a clip without
// jitter is the same with it.
func TestWhatMovesIsNotHeldStill(t *testing.T) {
	slides := docker{frames: 72, hips: sway(72), ankle: func(side int, f float64) (up, ahead float64) {
		up, ahead = onGround(side, f)
		return up, ahead + wave(f, 72, 1, 0.02)
	}}
	plain, _ := importPuppet(t, slides.puppet(), Options{})
	r, _ := importPuppet(t, slides.puppet(), Options{StillCM: 0.3})
	assert.Equal(t, plain.SheetText, r.SheetText)
	assert.Equal(t, plain.Report, r.Report)

	plain, _ = importPuppet(t, jittering(0.1, false).puppet(), Options{})
	r, _ = importPuppet(t, jittering(0.1, false).puppet(), Options{StillCM: 0.03})
	assert.Equal(t, plain.SheetText, r.SheetText)

	d := docker{frames: 72, hips: sway(72), ankle: onGround}
	plain, _ = importPuppet(t, d.puppet(), Options{})
	r, data := importPuppet(t, d.puppet(), Options{StillCM: 0.3})
	assert.Equal(t, plain.Plants, r.Plants)
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
}

// A captured clip keeps what its report says, by an evaluation of its own.
func TestARealClipHeldStillIsAsFarOffAsItSays(t *testing.T) {
	path := emote(t, "wave.glb")
	r, err := Import(Options{Path: path, ReadFile: os.ReadFile, StillCM: 0.3})
	require.NoError(t, err)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	off := compare(t, r, data, 0)
	assert.InDelta(t, off.turnDeg, r.Off.TurnDeg, 0.03)
	assert.InDelta(t, off.worldCM, r.Off.WorldCM, 0.1)
	assert.Contains(t, strings.Join(r.Report, "\n"), "held still where it stays within 0.3 cm: foot.right")
}
