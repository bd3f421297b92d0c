package server

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
)

// hintSheet: at 24 frames a second and 80 beats a minute a beat is 18 frames. The head does what the hips do 4 frames
// later and turned round, so that the lag that is measured must be the one that is asked for.
const hintSheet = `sheet deckhand-wait
  rig       deckhand in "deckhand.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

track hips
  at      side
  0b      2.5^
  1b+3f   1
  2b      -2^     # the far side

follow head after hips
  lag       4f
  nod       -0.5 of side
`

func TestInlayHints(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	c := connect(t)
	c.open(uri, hintSheet)
	type hint struct {
		Position place
		Label    string
	}
	ask := func(r m) []hint {
		return parse[[]hint](t, c.call("textDocument/inlayHint", m{"textDocument": m{"uri": uri}, "range": r}))
	}
	require.Equal(t, []hint{
		{place{9, 11}, "21f"}, {place{10, 13}, "36f"}, {place{10, 13}, "4b 2.5"}, {place{13, 14}, "measured 4f"},
	}, ask(span(0, 0, 99, 0)))
	require.Equal(t, []hint{{place{9, 11}, "21f"}}, ask(span(9, 0, 9, 5)))
	c.change(uri, 2, part(10, 2, 10, 4, "4b"))
	require.NotContains(t, fmt.Sprint(ask(span(0, 0, 99, 0))), "4b 2.5", "the closing row is there")
}

// The measured lag of a copy is the copy's own delay, whatever curve is copied: here one of many harmonics.
func TestMeasuredLagOfACopy(t *testing.T) {
	for _, frames := range []float64{0, 1.5, 4, 9, -6} {
		text := strings.Replace(hintSheet, "lag       4f", fmt.Sprintf("lag       %gf", frames), 1)
		files := demoTrees(t)
		files["deckhand.motet"] = grammar.Parse("deckhand.motet", deckhandRig)
		files["wait.motet"] = grammar.Parse("wait.motet", text)
		m := resolved(files)["wait.motet"]
		require.Empty(t, m.Problems)
		lag, likeness, ok := measuredLag(m.Sheet, bonds(m, m.File.Blocks[2], -1))
		require.True(t, ok)
		require.InDelta(t, frames, lag, 0.02)
		require.InDelta(t, 1, likeness, 1e-6)
	}
}

func TestCodeLenses(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	c := connect(t)
	c.open(uri, hintSheet)
	type lens struct {
		Range   stretch
		Command struct{ Title string }
	}
	got := parse[[]lens](t, c.call("textDocument/codeLens", m{"textDocument": m{"uri": uri}}))
	// 4 beats of 18 frames are 72 frames, 3 seconds; 3 keys are one a second; within 24 frames from 0 lie those at 0 and 21.
	require.Equal(t, "3 s · 72 frames · 1 keys a second · the seam closes", got[0].Command.Title)
	require.Equal(t, "3 keys · 1 a second · busiest second: 2 of `side`", got[1].Command.Title)
	c.change(uri, 2, part(10, 2, 10, 13, "4b      2.3"))
	got = parse[[]lens](t, c.call("textDocument/codeLens", m{"textDocument": m{"uri": uri}}))
	require.Contains(t, got[0].Command.Title, "the seam gapes 0.2 cm in hips/side")
}

type tokenAnswer struct {
	ResultID string
	Data     []uint32
	Edits    []struct {
		Start, DeleteCount int
		Data               []uint32
	}
}

// changed are the tokens after an answer that says what changed, or all of them where it says all.
func (a tokenAnswer) changed(answer tokenAnswer) tokenAnswer {
	if answer.Data != nil {
		return answer
	}
	data := a.Data
	for _, e := range slices.Backward(answer.Edits) {
		data = slices.Concat(data[:e.Start], e.Data, data[e.Start+e.DeleteCount:])
	}
	return tokenAnswer{ResultID: answer.ResultID, Data: data}
}

// spelled writes tokens out as text and kind, one a line.
func spelled(text string, data []uint32) string {
	var out strings.Builder
	lines := strings.Split(text, "\n")
	line, column := 0, 0
	for i := 0; i < len(data); i += 5 {
		if data[i] > 0 {
			column = 0
		}
		line, column = line+int(data[i]), column+int(data[i+1])
		fmt.Fprintf(&out, "%s %s", lines[line][column:column+int(data[i+2])], tokenTypes[data[i+3]])
		if data[i+4] > 0 {
			out.WriteString(" declared")
		}
		out.WriteString("\n")
	}
	return out.String()
}

func TestSemanticTokens(t *testing.T) {
	text := "sheet wait  # 😀\n  tempo 80 bpm\n  view  side\n\npose a\n  hips/side 3\n\ntrack hips in fine # allow crowded: busy\n  at  side  ease\n  1b  2.5@1 heavy\n  2b  x y\n"
	c := connect(t, counts("utf-8"))
	c.open(sheetURI, text)
	full := parse[tokenAnswer](t, c.call("textDocument/semanticTokens/full", m{"textDocument": m{"uri": sheetURI}}))
	require.Equal(t, `sheet keyword
wait class declared
# 😀 comment
tempo keyword
80 number
bpm keyword
view keyword
side keyword
pose keyword
a enum declared
hips variable
side property
3 number
track keyword
hips variable
in keyword
fine interface
# allow  comment
crowded macro
: busy comment
at keyword
side property
ease keyword
1b label
2.5 number
@1 operator
heavy function
2b label
`, spelled(text, full.Data))
	part := parse[tokenAnswer](t, c.call("textDocument/semanticTokens/range", m{"textDocument": m{"uri": sheetURI}, "range": span(1, 0, 2, 3)}))
	require.Equal(t, "tempo keyword\n80 number\nbpm keyword\nview keyword\nside keyword\n", spelled(text, part.Data))
}

// After any edit, what changed applied to the old tokens gives those that a fresh server finds; and tokens follow each
// other without overlap, as the protocol wants it.
func TestTokenDeltasAddUp(t *testing.T) {
	address, sheets := demo(t)
	for _, units := range []string{"utf-8", "utf-16", "utf-32"} {
		t.Run(units, func(t *testing.T) {
			c := connect(t, counts(units))
			random := rand.New(rand.NewPCG(*seed, 3))
			uri, text := address("keeper.motet"), sheets["keeper.motet"]
			c.open(uri, text)
			have := parse[tokenAnswer](t, c.call("textDocument/semanticTokens/full", m{"textDocument": m{"uri": uri}}))
			for i := range 12 {
				at := random.IntN(len(text))
				cut := min(len(text), at+random.IntN(9))
				text = strings.ToValidUTF8(text[:at]+[]string{"", "\n", "😀 ", "3.5^ ", "# ", "\r"}[i%6]+text[cut:], "?")
				c.change(uri, i+2, whole(text))
				got := parse[tokenAnswer](t, c.call("textDocument/semanticTokens/full/delta", m{"textDocument": m{"uri": uri}, "previousResultId": have.ResultID}))
				require.Nil(t, got.Data, "the server knows the id")
				have = have.changed(got)
				again := address(fmt.Sprintf("again-%d.motet", i)) // another document, so that nothing is taken over
				c.open(again, text)
				want := parse[tokenAnswer](t, c.call("textDocument/semanticTokens/full", m{"textDocument": m{"uri": again}}))
				c.close(again)
				require.Equal(t, want.Data, have.Data, "%s, edit %d", units, i)
				for k := 5; k < len(have.Data); k += 5 {
					require.True(t, have.Data[k] > 0 || have.Data[k-3] <= have.Data[k+1], "tokens overlap at %d", k)
				}
			}
			require.NotEmpty(t, parse[tokenAnswer](t, c.call("textDocument/semanticTokens/full/delta", m{"textDocument": m{"uri": uri}, "previousResultId": "0"})).Data)
		})
	}
}
