package exchange

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// The warden of the quay chats: a nodding head, and a face of morph targets, of which one is blended in by two dials, one
// has two of its own and one moves the jaw too.
const wardenRig = `rig warden

joints
  joint           on              x       y       z       part
  hips            .               0       90      0       root
  head            hips            0       60      0       head
  jaw             head            0       4       5       face

channels
  channel                 joint           drives          gain    unit    range       mirror  positive        rest
  head/nod                .               turn.x          1       deg
  face/smile              .               morph.smile     1       %       0..100      keep    "wider"         10
  face/smile              .               morph.cheek     0.5
  face/pout               .               morph.pout      1       %       0..100      keep    "more"          30
  brow.left/raise         .               morph.browUpLeft 1      %       0..100      keep    "up"
  brow.right/raise        .               morph.browUpRight 1     %       0..100      keep    "up"
  jaw/open                jaw             turn.x          0.2     deg     0..60       keep    "down"          5
  jaw/open                .               morph.jawOpen   2
`

const wardenChat = `sheet warden-chat
  rig       warden in "rig.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

track head
  at      nod
  0b      0
  1b      6
  2b      1
  3b      9

track face
  at      smile   pout
  0b      10      30
  1b      44      30
  3/2b    30      52
  5/2b    22      35
  3b      38      30

track brow.left
  at      raise
  0b      5
  1/2b    30
  2b      12
  3b      22

track brow.right
  at      raise
  0b      8
  1b      12
  2b      36
  7/2b    10

track jaw
  at      open
  0b      8
  1b      20
  2b      12
  5/2b    26
  3b      10
`

func warden() map[string]string {
	return map[string]string{"rig.motet": wardenRig, "chat.motet": wardenChat}
}

// wardenVariant is a variant of the warden's chat with some lines of change.
func wardenVariant(lines ...string) string {
	return "sheet warden-other\n  from      warden-chat in \"chat.motet\"\n\nchange\n  " + strings.Join(lines, "\n  ") + "\n"
}

// What a variant does to a face is found again in its clip line by line, and nothing is left to be amended.
func TestBaseFindsWhatAFaceDoes(t *testing.T) {
	for name, written := range map[string][]string{
		"smaller":           {"amplify face/smile 60%"},
		"all of it":         {"amplify face 50%"},
		"late":              {"delay brow.left 3f"},
		"early":             {"delay face -4f"},
		"elsewhere":         {"offset face/pout -12", "offset brow.right/raise 9"},
		"a dial of a joint": {"amplify jaw/open 70%", "offset jaw/open 4"},
		"everything":        {"delay face 2f", "amplify face/smile 140%", "offset face/smile 8", "amplify brow.right/raise 60%", "delay head 4f"},
		"still":             {"amplify face/pout 0%"},
		"one brow":          {"mirror brow.*"},
		"later as a whole":  {"start 1b"},
	} {
		t.Run(name, func(t *testing.T) {
			texts := with(warden(), "other.motet", wardenVariant(written...))
			r := asVariant(t, texts, "other.motet")
			var found []string
			for _, line := range r.Lines {
				found = append(found, strings.Join(strings.Fields(line.Text), " "))
			}
			said := strings.Join(r.Report, "\n")
			assert.Empty(t, r.Changes, said)
			assert.Zero(t, r.Short)
			assert.Greater(t, r.ChangeShare, 0.999, said)
			plainText := strings.SplitN(wardenVariant("x"), "\nchange", 2)[0]
			sameEffects(t, motion.NewProject(treesOf(texts)).Resolve(grammar.Parse("other.motet", plainText)), written, found)
			assert.LessOrEqual(t, len(found), len(written), said)
		})
	}
}

// A face of its own on top of the base, as a wink, is amended, and the lines of the rest stay as they were.
func TestBaseAmendsAFace(t *testing.T) {
	text := wardenVariant("amplify face/smile 60%", "delay brow.right 3f") + "\ntrack brow.left in wink\n  at      raise\n  1b      0^\n  5/4b    25^\n  3/2b    0^\n"
	r := asVariant(t, with(warden(), "other.motet", text), "other.motet")
	said := strings.Join(r.Report, "\n")
	var found []string
	for _, line := range r.Lines {
		found = append(found, strings.Join(strings.Fields(line.Text), " "))
	}
	assert.Equal(t, []string{"delay brow.right 3f", "amplify face/smile 60%"}, found, said)
	require.Len(t, r.Changes, 1, said)
	assert.Equal(t, "brow.left/raise", r.Changes[0].Path)
	assert.Zero(t, r.Short, said)
}

// Any lines of change on a face are found again, and the variant's weights are those of the clip at every frame.
func TestBaseFindsAnyLinesOfAFace(t *testing.T) {
	long(t)
	paths := []string{"face/smile", "face/pout", "brow.left/raise", "brow.right/raise", "jaw/open"}
	rapid.Check(t, func(r *rapid.T) {
		var lines []string
		for _, control := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"head", "face", "brow.left", "brow.right", "jaw"}), 0, 2, rapid.ID[string]).Draw(r, "late") {
			if frames := rapid.IntRange(-6, 9).Draw(r, "frames"); frames != 0 {
				lines = append(lines, fmt.Sprintf("delay %s %df", control, frames))
			}
		}
		for _, path := range rapid.SliceOfNDistinct(rapid.SampledFrom(paths), 0, 3, rapid.ID[string]).Draw(r, "sized") {
			lines = append(lines, fmt.Sprintf("amplify %s %d%%", path, rapid.SampledFrom([]int{40, 55, 70, 130, 160}).Draw(r, "size")))
		}
		for _, path := range rapid.SliceOfNDistinct(rapid.SampledFrom(paths), 0, 3, rapid.ID[string]).Draw(r, "moved") {
			lines = append(lines, fmt.Sprintf("offset %s %d", path, rapid.SampledFrom([]int{-9, -4, 5, 12}).Draw(r, "by")))
		}
		if len(lines) == 0 {
			lines = append(lines, "delay face 1f")
		}
		text := wardenVariant(lines...)
		texts := with(warden(), "other.motet", text)
		made := asVariant(r, texts, "other.motet")
		require.Zero(r, made.Short)
		require.Greater(r, made.ChangeShare, 0.98, "%s\n%s", strings.Join(lines, "\n"), strings.Join(made.Report, "\n"))
		got := motion.NewProject(treesOf(with(texts, made.SheetFile, made.Text))).Resolve(grammar.Parse(made.SheetFile, made.Text))
		want := motion.NewProject(treesOf(texts)).Resolve(grammar.Parse("other.motet", text))
		require.Equal(r, want.Sheet.Length, got.Sheet.Length)
		for frame := 0.0; frame < want.Sheet.Length.Float(); frame++ {
			theirs, ours := want.Rig.Weights(want.Values(frame, nil), nil), got.Rig.Weights(got.Values(frame, nil), nil)
			for i := range theirs {
				require.InDelta(r, 100*theirs[i], 100*ours[i], DefaultWithin().WeightPercent, "%s at frame %g", want.Rig.Morphs[i].Word, frame)
			}
		}
	})
}
