package server

import (
	"errors"
	"regexp"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/stretchr/testify/require"
)

// hoverSheet has 24 frames a second and 80 beats a minute: 18 frames a beat, 72 a cycle. The numbers below follow by
// hand: from 2 to -2 in 36 frames is -4/36 cm a frame, -2.67 cm/s and -2 cm a beat; between two keys at rest a curve is
// the Hermite cubic 3u²-2u³ of its way; and the bars come from those two forms sampled by a script apart from this code.
const hoverSheet = `sheet deckhand-wait                # allow uneven-beat: the sea keeps its own time
  rig       deckhand in "deckhand.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b
  grid      1/2b
  phase     1b

pose on-left
  hips/side         3.2
  head/nod          -2

pose on-right mirrors on-left

track hips
  at      side
  0b      2>
  2b      -2>
  4b      2>

track head
  at      nod
  0b      1.5^
  1b+5f   4^
  3b      .
  63f     -3.5=

track head in glance every 2b
  at      nod
  0b      0
  1b      10^

overlap
  head    3f

plant
  hips    1b..7/2b
`

func TestHover(t *testing.T) {
	for _, row := range []struct {
		name, at string // what stands under the cursor, which is at ‸
		over     string // the text that the hover is about
		want     string
	}{
		{"a time on the grid", "\n  ‸2b      -2>", "2b", `
2b  frame 36 · 1.5 s · beat 2
on the grid of ½ beat
50 % of the cycle`},
		{"behind a time", "\n  2b‸      -2>", "2b", `
2b  frame 36 · 1.5 s · beat 2
on the grid of ½ beat
50 % of the cycle`},
		{"a time off the grid, played late", "\n  1b‸+5f   4^", "1b+5f", `
1b+5f  frame 23 · 0.958 s · beat 1.278
4 frames before a line of the grid of ½ beat, beat 1½
31.9 % of the cycle
plays 3 frames later, at frame 26`},
		{"the closing row", "\n  4‸b      2>", "4b", `
4b  frame 72 · 3 s · beat 4
on the grid of ½ beat
the end of the cycle, where frame 0 comes again`},
		{"a length", "cycle     4‸b", "4b", "4b  72 frames · 3 s · 4 beats"},
		{"a short length", "head    ‸3f", "3f", "3f  3 frames · 0.125 s · ⅙ beat\n4.2 % of the cycle"},
		{"a phase, which is a moment", "phase     ‸1b", "1b", "1b  frame 18 · 0.75 s · beat 1\non the grid of ½ beat\n25 % of the cycle"},
		{"a period", "every ‸2b", "2b", "2b  36 frames · 1.5 s · 2 beats\n50 % of the cycle"},
		{"the start of a range", "hips    ‸1b..7/2b", "1b", "1b  frame 18 · 0.75 s · beat 1\non the grid of ½ beat\n25 % of the cycle"},
		{"the end of a range", "hips    1b..7‸/2b", "7/2b", "7/2b  frame 63 · 2.625 s · beat 3½\non the grid of ½ beat\n87.5 % of the cycle"},
		{"a key between straight ways", "2b      ‸-2>", "-2>", `
hips/side  -2 cm, goes straight on, plus is “to their left”
-2 cm ███▇▇▆▆▆▅▅▄▄▄▃▃▂▂▂▁▁[▁]▁▂▂▂▃▃▄▄▄▅▅▆▆▆▇▇███ 2 cm
arrives at -2.67 cm/s, leaves at 2.67 cm/s (-2 and 2 a beat)
before: 2 cm at beat 0, 36 frames ago · after: 2 cm at beat 0, in 36 frames
moves from -2 cm to 2 cm; the rig allows -12 cm to 12 cm`},
		{"a key that rests, played late, under a layer", "1b+5f   ‸4^", "4^", `
head/nod  4°, rests, plus is “down”
-3.5° ▆▆▆▆▇▇▇█████[█]█████▇▇▆▆▅▅▄▄▃▃▂▂▁▁▁▁▁▁▁▁▁▁ 4°
stands still
before: 1.5° at beat 0, 23 frames ago · after: -3.5° at beat 3½, in 40 frames
moves from -3.5° to 4°; the rig allows -40° to 40°
plays 3 frames later, at frame 26
with all that moves it: 9.83°`},
		{"a cell without a key", "3b      ‸.", ".", `
head/nod  no key here, passes -2.532°, plus is “down”
-3.5° ▆▆▆▆▇▇▇███████████▇▇▆▆▅▅▄▄▃▃▂▂[▂]▁▁▁▁▁▁▁▁▁ 4°
speed -4.71°/s, -3.531 a beat
before: 4° at beat 1.278, 31 frames ago · after: -3.5° at beat 3½, in 9 frames
moves from -3.5° to 4°; the rig allows -40° to 40°
plays 3 frames later, at frame 57
with all that moves it: 6.727°`},
		{"a key of a layer, which comes again", "1b      ‸10^", "10^", `
head/nod  10°, rests, plus is “down”
0° ▁▁▂▃▄▅▆▇██[█]█▇▆▅▄▃▂▁▁▁▁▂▃▄▅▆▇████▇▆▅▄▃▂▁▁ 10°
stands still
before: 0° at beat 0, 18 frames ago · after: 0° at beat 0, in 18 frames
moves from 0° to 10°; the rig allows -40° to 40°
with all that moves it: 13.303°`},
		{"a column", "track hips\n  at      s‸ide", "side", `
hips/side  centimetres, plus is “to their left”
███▇▇▆▆▆▅▅▄▄▃▃▃▂▂▁▁▁▁▁▁▂▂▃▃▃▄▄▅▅▆▆▆▇▇███
the rig allows -12 cm to 12 cm, rests at 0 cm
2 keys, from -2 cm to 2 cm`},
		{"a control", "track ‸hips", "hips", "hips  1 channel\n`hips/side` centimetres, plus is “to their left”"},
		{"a value of a pose", "  hips/side         3‸.2", "hips/side         3.2", `
hips/side  3.2 cm
-2 cm ███▇▇▆▆▆▅▅▄▄▃▃▃▂▂▁▁▁▁▁▁▂▂▃▃▃▄▄▅▅▆▆▆▇▇███ 2 cm
centimetres, plus is “to their left”
moves from -2 cm to 2 cm; the rig allows -12 cm to 12 cm`},
		{"a pose", "pose ‸on-right", "on-right", "on-right  pose of 2 channels\n`hips/side` -3.2 cm\n`head/nod` -2°"},
		{"the tempo", "tem‸po", "tempo     80 bpm", "tempo  18 frames a beat at 24 fps · 0.75 s"},
		{"the rate", "rate      2‸4", "rate      24 fps", "rate  24 frames a second · a frame is 41.667 ms"},
		{"the rig", "rig       ‸deckhand", `rig       deckhand in "deckhand.motet"`, "rig  deckhand\n100 cm tall · 2 joints · 2 channels\ncontrols: hips head"},
		{"nothing", "deckhand-wait ‸ ", "", ""},
		{"a comment", "the sea ‸keeps", "", ""},
		{"an empty line", "fps\n  tempo     80 bpm\n  cycle     4b\n  grid      1/2b\n  phase     1b\n‸\n", "", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			before, after, _ := strings.Cut(row.at, "‸")
			require.Equal(t, 1, strings.Count(hoverSheet, before+after), "the place is in the sheet, once")
			offset := strings.Index(hoverSheet, before+after) + len(before)
			c, over := hoverOf(t, hoverSheet, offset)
			require.Equal(t, row.over, over)
			require.Equal(t, strings.TrimPrefix(row.want, "\n"), c)
		})
	}
}

// hoverOf is what a hover says in plain text, and what it is about.
func hoverOf(t *testing.T, sheet string, offset int) (says, over string) {
	t.Helper()
	tree := grammar.Parse("wait.motet", sheet)
	m := motion.NewProject(func(path string) (*grammar.File, error) {
		if path != "deckhand.motet" {
			return nil, errors.New("there is no such file")
		}
		return grammar.Parse(path, deckhandRig), nil
	}).Resolve(tree)
	at := refAt(tree, offset)
	c, ok := cardAt(m, at.Block, at.Line, at.Span.Start)
	if !ok {
		return "", ""
	}
	return c.plain(), at.Block.Ref(at.Line, c.span).Text()
}

// Frames a beat are rate × 60 ÷ tempo (film click-track arithmetic, common practice): 24 × 60 ÷ 100 is 14.4, which lies
// between 14 frames, 102.857 bpm, and 15 frames, 96 bpm.
func TestHoverOfATempoBetweenFrames(t *testing.T) {
	says, _ := hoverOf(t, "sheet a\n  tempo     100 bpm\n  cycle     4b\n", 12)
	require.Equal(t, "tempo  14⅖ frames a beat at 24 fps · 0.6 s\n100 bpm falls between frames; 96 bpm makes it 15 frames, 102.857 bpm makes it 14 frames", says)
	says, _ = hoverOf(t, "sheet a\n  rate      23.976 fps\n  cycle     4b\n", 12)
	require.Equal(t, "rate  24000/1001 (23.976) frames a second · a frame is 41.708 ms", says)
}

// Wherever the cursor is, in whatever is half-typed, a hover is about a place that holds the cursor.
func TestHoverAtEveryPlaceOfEveryPrefix(t *testing.T) {
	for end := 0; end <= len(hoverSheet); end += 7 {
		text := hoverSheet[:end]
		tree := grammar.Parse("wait.motet", text)
		m := motion.NewProject(func(path string) (*grammar.File, error) { return grammar.Parse(path, deckhandRig), nil }).Resolve(tree)
		for offset := max(0, end-60); offset <= end; offset++ {
			at := refAt(tree, offset)
			if at.IsZero() {
				continue
			}
			c, ok := cardAt(m, at.Block, at.Line, at.Span.Start)
			if ok {
				require.True(t, c.span.Contains(at.Span.Start), "%q at %d: %q", text, offset, c.plain())
				require.NotEmpty(t, c.plain())
			}
		}
	}
}

// Numbers at the edge of what can be kept exactly, and times that make no sense, are told about or not, but never fail.
func TestHoverOfNumbersAtTheEdge(t *testing.T) {
	rates := []string{"24 fps", "9223372036854775807 fps", "1/9223372036854775807 fps", "0.000000000001 fps", "23.976 fps"}
	tempos := []string{"80 bpm", "0.0000000000001 bpm", "9223372036854775807 bpm", "7/3 bpm", "0 bpm", "99999999999999999999 bpm"}
	lengths := []string{"4b", "1/9223372036854775807b", "9223372036854775807b", "-1b", "0", "3/7s+1/11b-5f"}
	for _, rate := range rates {
		for _, tempo := range tempos {
			for _, length := range lengths {
				text := "sheet a\n  rig       deckhand in \"deckhand.motet\"\n  rate      " + rate + "\n  tempo     " + tempo +
					"\n  cycle     " + length + "\n  grid      " + length + "\n\ntrack head\n  at      nod\n  0b      1\n  " + length + "      99999999999999999999^\n"
				for _, place := range regexp.MustCompile(`[^ \n]+`).FindAllStringIndex(text, -1) {
					says, _ := hoverOf(t, text, place[0])
					require.NotContains(t, says, "NaN")
				}
			}
		}
	}
}

// manyWays has whatever makes one control depend on another: followers of followers, layers of both kinds in an order
// that shows, a quiver, and a track before its rig.
const manyWays = `sheet deckhand-wait
  rig       deckhand in "deckhand.motet"
  tempo     80 bpm
  cycle     4b

pose over
  hips/side         3

blocking
  at      pose            until   drift
  0b      over            1b      10%
  2b      over

track hips in glance
  at      side
  0b      1
  1b      4

track head in nods every 2b
  at      nod
  0b      1
  1b      6^

layer nods
  replaces
  strength  50%

track hips
  at      side
  0b      2^
  3b      -2

track head
  at      nod
  0b      1.5^
  1b      4^

follow head after hips
  lag       2f
  nod       0.5 of side

quiver restless
  band              0.4..2 Hz
  seed              7
  head/nod          0.5
`

// A hover right after a keystroke is told from a part of the sheet, and must say what the whole sheet would.
func TestHoverFromAPartOfTheSheetSaysTheSame(t *testing.T) {
	_, sheets := demo(t)
	sheets["many.motet"], sheets["deckhand.motet"] = manyWays, deckhandRig
	sheets["busy.motet"] = busySheet(160)
	trees := func(path string) (*grammar.File, error) {
		if text, ok := sheets[path]; ok {
			return grammar.Parse(path, text), nil
		}
		return nil, errors.New("there is no such file")
	}
	said, less := 0, 0
	for name, text := range sheets {
		tree := grammar.Parse(name, text)
		whole := motion.NewProject(trees).Resolve(tree)
		whatStands := regexp.MustCompile(`[^ \n]+`).FindAllStringIndex(text, -1)
		for i := 0; i < len(whatStands); i += slow {
			at := refAt(tree, whatStands[i][0])
			control, narrow := subjectOf(at.Block, at.Line)
			part, ok := narrowed(tree, control)
			if !narrow || !ok {
				continue
			}
			if len(part.Blocks) < len(tree.Blocks) {
				less++
			}
			want, wantOK := cardAt(whole, at.Block, at.Line, at.Span.Start)
			got, gotOK := cardAt(motion.NewProject(trees).Resolve(part), at.Block, at.Line, at.Span.Start)
			require.Equal(t, wantOK, gotOK)
			require.Equal(t, len(want.shows), len(got.shows))
			want.shows, got.shows = nil, nil // functions can't be compared; pictures are drawn from the whole
			require.Equal(t, want, got)
			if gotOK {
				said++
			}
		}
	}
	require.Less(t, 500/slow, said)
	require.Less(t, 500/slow, less)
}

func TestHoverOverTheWire(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	type hover struct {
		Contents struct{ Kind, Value string }
		Range    stretch
	}
	sheet := "# 😀 é\n" + strings.Replace(deckhandSheet, "0b      1.5^", "0b      1.5^   # 😀", 1)
	for _, row := range []struct {
		name   string
		client m
		kind   string
		first  string
	}{
		{"plain text is what a client that says nothing gets", m{}, "plaintext", "head/nod  1.5°, rests, plus is “down”"},
		{"plain text for a client that shows nothing else", m{"textDocument": m{"hover": m{"contentFormat": []string{"plaintext"}}}}, "plaintext", "head/nod  1.5°, rests, plus is “down”"},
		{"Markdown", markdown, "markdown", "`head/nod` 1.5°, rests, plus is “down”"},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t, row.client)
			c.open(address("wait.motet"), sheet)
			got := parse[hover](t, c.call("textDocument/hover", at(address("wait.motet"), 14, 11)))
			require.Equal(t, row.kind, got.Contents.Kind)
			require.Equal(t, row.first, strings.Split(got.Contents.Value, "\n")[0])
			require.Equal(t, stretch{place{14, 10}, place{14, 14}}, got.Range)
			require.JSONEq(t, "null", string(c.call("textDocument/hover", at(address("wait.motet"), 0, 4))))
			require.JSONEq(t, "null", string(c.call("textDocument/hover", at(address("wait.motet"), 99, 99))))
		})
	}
}

// Names may hold characters that Markdown reads as markup.
func TestCardsInMarkdown(t *testing.T) {
	c := card{title: "left_arm", tells: "goes *up* & away", curve: "▁[▂]", lines: []string{"in `a_b` [x](y)", "1 < 2"}}
	require.Equal(t, "`left_arm` goes \\*up\\* \\& away\n\n```text\n▁[▂]\n```\n\nin `a_b` \\[x\\]\\(y\\)  \n1 \\< 2", c.markdown())
	require.Equal(t, "left_arm  goes *up* & away\n▁[▂]\nin `a_b` [x](y)\n1 < 2", c.plain())
}

func TestSparklines(t *testing.T) {
	rising := func(frames float64) float64 { return frames }
	for _, row := range []struct {
		name    string
		at      func(float64) float64
		columns int
		marked  float64
		want    string
	}{
		{"a rise, each eighth a bar", rising, 8, -1, "▁▂▃▄▅▆▇█"},
		{"the start marked", rising, 8, 0, "[▁]▂▃▄▅▆▇█"},
		{"the middle marked", rising, 4, 4, "▁▃[▅]█"},
		{"the end marked", rising, 4, 8, "▁▃▅[█]"},
		{"a time outside", rising, 4, 8.5, "▁▃▆█"},
		{"a constant", func(float64) float64 { return 3 }, 4, -1, "▁▁▁▁"},
		{"a constant but for rounding", func(f float64) float64 { return 3 + f*1e-15 }, 4, -1, "▁▁▁▁"},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.Equal(t, row.want, sparkline(row.at, 8, row.columns, row.marked))
		})
	}
	require.Empty(t, sparkline(rising, 0, 8, 0), "no time, no curve")
}
