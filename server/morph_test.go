package server

import (
	"io/fs"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/stretchr/testify/require"
)

const morphSheet = `rig mask

joints
  joint  on  x  y  z
  head   .   0  0  0

channels
  channel     joint  drives       gain  unit
  face/smile  .      morph.smile  1     %      # target "Mouth Smile" on node 4 "Face"
  face/smile  .      morph.cheek  0.4
  face/grin   .      morph.smile  0.5

sheet mask-wait
  rig       mask
  cycle     2s

track face
  at      smile   grin
  0       20^     .
  1s      60^     40
`

func TestMorphTargetsInAnEditor(t *testing.T) {
	for over, want := range map[string]string{
		"morph.smile  1": "morph.smile  the morph target “Mouth Smile” of the node “Face”\n" +
			"▁▁▁▁▂▂▂▃▃▄▄▅▅▆▆▇▇▇████████▇▇▇▆▆▅▅▄▄▃▃▂▂▂▁▁▁\n" +
			"`face/smile` gives 0.01 a per cent\n`face/grin` gives 0.005 a per cent\nits weight goes from 0.4 to 0.8 here",
		"morph.cheek": "",
	} {
		tree := grammar.Parse("mask.motet", morphSheet)
		at := refAt(tree, strings.Index(morphSheet, over)+3)
		c, ok := cardAt(motion.NewProject(func(string) (*grammar.File, error) { return nil, fs.ErrNotExist }).Resolve(tree), at.Block, at.Line, at.Span.Start)
		require.True(t, ok)
		if want == "" {
			require.Contains(t, c.plain(), "from 0.08 to 0.24 here")
			continue
		}
		lines := strings.Split(c.plain(), "\n")
		require.Len(t, lines, 5)
		lines[1] = strings.Split(want, "\n")[1] // the bars have a test of their own
		require.Equal(t, want, strings.Join(lines, "\n"))
	}

	tree := grammar.Parse("mask.motet", morphSheet)
	at := refAt(tree, strings.Index(morphSheet, "grin\n"))
	m := motion.NewProject(func(string) (*grammar.File, error) { return nil, fs.ErrNotExist }).Resolve(tree)
	c, ok := cardAt(m, at.Block, at.Line, at.Span.Start)
	require.True(t, ok)
	require.Contains(t, c.plain(), "\nblends in the morph target “Mouth Smile”\n")
	c, _ = patternCard(m, at.Block, "face/smile")
	require.Contains(t, c.plain(), "\nblends in the morph targets “Mouth Smile”, “cheek”\n")

	address := quay(t, map[string]string{})
	client := connect(t, takesSnippets)
	text, line, character := cursor(t, strings.Replace(morphSheet, "face/grin   .      morph.smile", "face/grin   .      mor‸", 1))
	client.open(address("mask.motet"), text)
	got := labels(client.complete(address("mask.motet"), line, character))
	require.Contains(t, got, "goal.swivel | . | morph.smile | morph.cheek | morph.NAME")
	for _, item := range client.complete(address("mask.motet"), line, character) {
		if item.Label == "morph.NAME" {
			require.Equal(t, "morph.${1:smile}", item.TextEdit.NewText)
		}
	}
}

func TestAMorphTargetHasTheColourOfAName(t *testing.T) {
	kinds := map[string]tokenKind{}
	for _, text := range []string{"morph.smile", "move.x"} {
		paintAtom(func(span grammar.Span, kind tokenKind, _ uint32) { kinds[text[span.Start:span.End]] = kind }, text, grammar.Span{End: len(text)}, grammar.Word, choiceToken)
	}
	require.Equal(t, map[string]tokenKind{"morph.smile": controlToken, "move.x": choiceToken}, kinds)
}
