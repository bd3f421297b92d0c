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
	c, _ = patternCard(m, "face/smile")
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

// A morph target is found and renamed wherever its rig names it, and goes on being the same one of the character's file.
func TestRenamingAMorphTarget(t *testing.T) {
	for _, row := range []struct{ name, rows, to, want, refusal string }{
		{
			"the file's own name is kept beside it", "face/smile . morph.smile\nface/wide . morph.smile # half\n", "grin",
			"face/smile . morph.grin  # target \"smile\"\nface/wide . morph.grin # half\n", "",
		},
		{
			"where a comment says it, nothing is added", "face/smile . morph.smile\nface/wide . morph.smile # target \"Mouth Smile\"\n", "grin",
			"face/smile . morph.grin\nface/wide . morph.grin # target \"Mouth Smile\"\n", "",
		},
		{
			"a comment about something else goes on behind it", "face/smile . morph.smile # half of it\n", "grin",
			"face/smile . morph.grin # target \"smile\": half of it\n", "",
		},
		{"a row that allows a rule has no room", "face/smile . morph.smile # allow unused-name: later\n", "grin", "", "no row has room"},
		{"an axis is no name", "face/smile . morph.smile\n", "xz", "", "along an axis"},
		{"a word that is there", "face/smile . morph.smile\nface/grin . morph.grin\n", "grin", "", "there is a morph target `grin` already"},
		{"the same word", "face/smile . morph.smile\n", "smile", "face/smile . morph.smile\n", ""},
		{"no word", "face/smile . morph.smile\n", "two words", "", "is no name for a morph target"},
	} {
		t.Run(row.name, func(t *testing.T) {
			head := "rig mask\n\nchannels\n  channel joint drives\n"
			text := head + "  " + strings.TrimSuffix(strings.ReplaceAll(row.rows, "\n", "\n  "), "  ")
			f := grammar.Parse("mask.motet", text)
			at, ok := mentionAt(f, strings.Index(text, "morph.smile")+len("morph."))
			require.True(t, ok)
			edits, err := renaming(&kin{files: []*grammar.File{f}}, f, at, row.to)
			if row.refusal != "" {
				require.ErrorContains(t, err, row.refusal)
				return
			}
			require.NoError(t, err)
			after := renamedFiles(t, map[string]*grammar.File{"mask.motet": f}, edits)["mask.motet"]
			require.Equal(t, head+"  "+strings.TrimSuffix(strings.ReplaceAll(row.want, "\n", "\n  "), "  "), after.Text)
			targets := func(f *grammar.File) (out []motion.ModelTarget) {
				for _, m := range motion.NewProject(func(string) (*grammar.File, error) { return nil, fs.ErrNotExist }).Resolve(f).Rig.Morphs {
					out = append(out, m.Target)
				}
				return out
			}
			require.Equal(t, targets(f), targets(after))
		})
	}
}

func TestNavigatingMorphTargets(t *testing.T) {
	texts := map[string]string{"mask.motet": morphSheet}
	address := quay(t, texts)
	c := connect(t, counts("utf-8"), symbolTrees)
	c.open(address("mask.motet"), morphSheet)
	_, line, character := cursor(t, strings.Replace(morphSheet, "morph.smile  0.5", "morph.smi‸le  0.5", 1))
	here := at(address("mask.motet"), line, character)
	for method, want := range map[string]string{
		"textDocument/definition": "mask.motet:9 smile",
		"textDocument/references": "mask.motet:9 smile, mask.motet:11 smile",
	} {
		var got []string
		for _, l := range parse[[]location](t, c.call(method, with(here, "context", m{"includeDeclaration": true}))) {
			got = append(got, stands(address, texts, l))
		}
		require.Equal(t, want, strings.Join(got, ", "))
	}
	require.Len(t, parse[[]any](t, c.call("textDocument/documentHighlight", here)), 2)
	type prepared struct {
		Range       stretch
		Placeholder string
	}
	require.Equal(t, prepared{stretch{place{10, 27}, place{10, 32}}, "smile"}, parse[prepared](t, c.call("textDocument/prepareRename", here)))
}
