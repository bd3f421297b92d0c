package exchange

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// A clip that comes later finds its face among the dials of the rig that there is; what none of them can do is named.
func TestFacesOverARig(t *testing.T) {
	first, _ := importFile(t, smiling(t), Options{})
	over := overRig(t, first.RigFile, strings.Replace(first.RigText, "mouth/smile ", "head/smile  ", 2))
	doc := smiling(t)
	data := glb(t, doc)
	all, err := ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: over, Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": data})}})
	require.NoError(t, err)
	require.NoError(t, all.Clips[0].Err)
	assert.Equal(t, over.Text, all.Rig.Text, "it needs nothing more")
	r := withRig(all, &all.Clips[0])
	m := resolve(t, r)
	requireWeights(t, m, data, 0, 0.5)
	assert.Equal(t, 1, strings.Count(r.SheetText, "track head\n"), "joints and targets of one control share a track")
	assert.NotContains(t, strings.Join(all.Report, "\n"), "morph target")

	// Without its pout, and with the beard on a dial that moves the mouth otherwise: they get dials more, in the rig's own
	// words, and the same clip again needs no other.
	less := ""
	for line := range strings.Lines(over.Text) {
		if !strings.Contains(line, "morph.pout ") {
			less += line
		}
	}
	less = strings.Replace(less, "morph.Beard.Smile 1", "morph.Beard.Smile 0.5", 1)
	require.Contains(t, less, "morph.Beard.Smile 0.5")
	for range 2 {
		all, err = ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: overRig(t, over.File, less), Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": data})}})
		require.NoError(t, err)
		assert.False(t, all.Clips[0].Outside)
		requireWeights(t, resolve(t, withRig(all, &all.Clips[0])), data, 0, 0.5)
		less = all.Rig.Text
	}
	assert.Contains(t, plainLines(less), "face/beard-smile . morph.Beard.Smile 1 % keep")
	assert.Contains(t, plainLines(less), "face/pout . morph.pout 1 % keep")
	assert.NotContains(t, strings.Join(all.Report, "\n"), "added")
}

// Dials that share morph targets, with each other and with joints, add up to what the clip does.
func TestSharedFacesOverARig(t *testing.T) {
	first, _ := importFile(t, smiling(t), Options{})
	data := glb(t, smiling(t))
	again := func(rig string) *AllResult {
		rig = grammar.Format(grammar.Parse(first.RigFile, rig))
		all, err := ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: overRig(t, first.RigFile, rig), Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": data})}})
		require.NoError(t, err)
		require.NoError(t, all.Clips[0].Err)
		assert.False(t, all.Clips[0].Outside)
		requireWeights(t, resolve(t, withRig(all, &all.Clips[0])), data, 0, 0.5)
		return all
	}
	row := "  face/pout               .               morph.pout      1"
	require.Contains(t, first.RigText, row)
	smile := smileWord(t, first.RigText)
	beard := "  face/both . morph.Beard.Smile -0.5\n"
	for _, both := range []string{
		"  face/both . " + smile + " -0.5 % keep\n",
		// One that pouts too is all that the pout needs, less what the pout's own dial rests at.
		"  face/both . morph.pout 2 % keep\n  face/both . " + smile + " -0.5\n" + beard,
		"  face/both . morph.pout 2 % keep . 20\n  face/both . " + smile + " -0.5\n" + beard,
		// Rows of one dial and target add up, in whatever order.
		"  face/both . " + smile + " -0.5 % keep . 20\n  face/both . morph.pout -3\n  face/both . morph.pout 5\n" + beard,
	} {
		// One of the dials is left without anything of its own: this one, or that of the pout.
		shared := strings.Replace(first.RigText, row, both+row, 1)
		// Where the pout's own dial rests at what the clip has, and where the other has to give the difference.
		elsewhere := regexp.MustCompile(`(?m)^(  face/pout .*)30$`).ReplaceAllString(shared, "${1}10")
		require.NotEqual(t, shared, elsewhere)
		for _, rig := range []string{shared, elsewhere} {
			all := again(rig)
			assert.Contains(t, strings.Join(all.Report, "\n"), "stays at rest: dials before it in the rig's table can do what it does")
			assert.Equal(t, strings.Count(rig, "\n"), strings.Count(all.Rig.Text, "\n"), "it needs no dial more")
		}
	}
	// One that nods as well.
	nods := ""
	for line := range strings.Lines(first.RigText) {
		if fields := strings.Fields(line); nods == "" && len(fields) > 3 && strings.HasPrefix(fields[2], "turn.") {
			nods = fields[0]
			first.RigText = strings.Replace(first.RigText, line, line+"  "+nods+" . morph.pout 0.3\n", 1)
		}
	}
	require.NotEmpty(t, nods)
	again(first.RigText)
}

// A dial that has for its own a target that the clip's file lacks stays at rest, and those that share its other targets allow
// for what it gives there.
func TestSharedFacesOverARigWithTargetsMore(t *testing.T) {
	first, _ := importFile(t, smiling(t), Options{})
	row := "  face/pout               .               morph.pout      1"
	require.Contains(t, first.RigText, row)
	rig := strings.Replace(first.RigText, row, "  face/snarl . morph.snarl 2 % keep . 20\n  face/snarl . morph.pout 1\n"+row, 1)
	over := overRig(t, first.RigFile, grammar.Format(grammar.Parse(first.RigFile, rig)))
	all, err := ImportAll(AllOptions{Paths: []string{"lamp.glb"}, Over: over, Options: Options{ReadFile: inMemory(map[string][]byte{"lamp.glb": glb(t, smiling(t))})}})
	require.NoError(t, err)
	require.NoError(t, all.Clips[0].Err)
	assert.Equal(t, over.Text, all.Rig.Text, "it needs no dial more")
	m := resolve(t, withRig(all, &all.Clips[0]))
	for frame := range int(m.Sheet.Length.Float()) {
		weights := m.Rig.Weights(m.Values(float64(frame), nil), nil)
		// The clip keeps the pout at 0.3: see [smiling].
		require.InDelta(t, 0.3, weights[m.Rig.MorphIndex("pout")], 0.005, "at frame %d", frame)
		require.InDelta(t, 0.4, weights[m.Rig.MorphIndex("snarl")], 1e-9, "2 × 20 %% at frame %d", frame)
	}
}

// smileWord is what a rig drives for the mouth's smile.
func smileWord(t *testing.T, rig string) string {
	t.Helper()
	for line := range strings.Lines(rig) {
		if fields := strings.Fields(line); len(fields) > 2 && fields[0] == "mouth/smile" {
			return fields[2]
		}
	}
	t.Fatal("there is no smile")
	return ""
}
