package lint

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

// worldRig has two controls that turn the head, and two legs whose goals may be keyed or planted.
const worldRig = `rig small
  height    100

joints
  joint           on              x       y       z       part
  hips            .               0       92      0       root
  spine           hips            0       25      0       spine
  head            spine           0       25      0       head
  arm.left        spine           12      20      0       arm
  hand.left       arm.left        0       -30     0       hand
  eye.left        head            3       5       5       eye
  thigh.left      hips            8       0       0       leg
  shin.left       thigh.left      0       -45     0       leg
  ankle.left      shin.left       0       -45     0       foot

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  hips/drop               .               move.y          1       cm      -10..4      keep    "up"
  hips/tilt               .               turn.z          1       deg     -20..20     flip    "left hip up"
  spine/lean              .               turn.x          1       deg     -30..30     keep    "forward"
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
  head/turn               .               turn.y          1       deg     -70..70     flip    "to their left"
  neck/twist              head            turn.y          0.5     deg     -70..70     flip    "to their left"
  arm.left/swing          .               turn.x          1       deg     -60..60     keep    "back"
  hand.left/bend          .               turn.x          1       deg     -60..60     keep    "back"
  eyes/side               eye.left        turn.y          1       deg     -35..35     flip    "to their left"
  foot.left/side          .               goal.x          1       cm      -40..40     flip    "to their left"
  lamp/glow               .               .               .       %       0..100      keep    "brighter"

chains
  goal            root            middle          end             bends
  foot.left       thigh.left      shin.left       ankle.left      +z
`

// worldSheet has something that each rule with facts of its own has an answer to.
const worldSheet = `sheet quay
  rig       small in "small.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

track hips
  at      side    drop    tilt
  0b      3       -1      .
  1b      2.1     .       0.5
  5/2b    -3      -2      -0.5

# a clip that was read in
track spine
  at      lean
  0f      8
  4f      7.2
  8f      5.9
  12f     3.7
  16f     1
  20f     -2
  24f     -4.5
  45f     -8
  50.5f   -7.6

track head
  at      nod     turn
  0b      5       -20>
  1b      5       .
  2b      5       20>
  2b+1f   8.6     .
  3b      0       10

track neck
  at      twist
  0b+3f   3@20
  1b+3f   4@-20
  5/2b    -6

track arm.left
  at      swing
  0b      3=
  2b      -3
  3b      -3

track hand.left
  at      bend
  0b      3
  2b      -3

overlap
  head      2f
  hips      4f
`

// worldVariant is made from worldSheet.
const worldVariant = `sheet quay
  from      quay in "base.motet"
  cycle     8b

change
  amplify   hips        60%
  delay     head        2f

amend head
  at      nod
  1b      2.2

track arm.left
  at      swing
  0b      3
  5b      -3.5
`

// worldLayers move the channels of worldSheet by more than their own keys.
const worldLayers = `
follow arm.left after spine
  lag       2f
  swing     0.8 of lean

layer fine
  adds
  strength  80%

track hips in fine
  at      side
  0b      0
  3b      4

quiver hands in fine every 2b
  band              0.6..2.5 Hz
  seed              7
  hand.left/bend    2
`

// worldBlocks are written into sheets.
var worldBlocks = []string{
	"track lamp every 2b\n  at      glow\n  0f      0\n  2f      1\n  4f      2\n  6f      3\n  8f      4\n  10f     5\n  12f     6\n  14f     7\n  16f     8\n  18f     9\n  20f     10\n  22f     11\n" +
		"  24f     12\n  25f     12.5\n  26f     13\n  27f     13.5\n  28f     14\n  29f     14.5\n  30f     15\n  31f     15.5\n  32f     16\n  33f     16.5\n  34f     17\n  35f     9\n",
	"layer fine\n  adds\n  strength  80%\n", "layer over\n  replaces\n  strength  50%\n",
	"track spine in fine every 2b\n  at      lean\n  0b      0\n  1b      3\n", "track head in over\n  at      nod\n  0b      2\n  2b      -2\n",
	"track eyes every 2b\n  at      side\n  0b      -6=\n  1b      4=\n", "track foot.left\n  at      side\n  0b      0\n  2b      4\n",
	"track hand.left\n  at      bend\n  0b      3\n  2b      -3\n", "track lamp\n  at      glow\n  0b      0\n  2b      100\n",
	"quiver hands every 2b\n  band              0.6..2.5 Hz\n  seed              7\n  hand.left/bend    0.4\n",
	"breath calm\n  count             2\n  spine/lean        -0.6\n", "follow neck after head\n  lag       2f\n  twist     0.5 of turn\n",
	"overlap\n  spine     2f\n  arm.*     5f\n", "plant\n  foot.left     0b..2b\n", "eases\n  heavy     0.3,0,0.1,1\n",
	"pose over\n  hips/side         3\n  spine/lean        2\n\npose back mirrors over\n\nblocking\n  at      pose            until   drift   ease\n  0b      over            1b      12%     .\n  9/4b    back            .       .       .\n",
	"change\n  amplify   hips        60%\n  delay     head        2f\n  offset    spine/lean  2\n", "amend head\n  at      nod\n  1b      2.2\n",
	"notes\n  at      status  control         note\n  2b      open    head            \"early\"\n",
	"house\n  rule            level   limit\n  off-beat        warning 1f\n  lead-order      note    0.1s\n",
}

// worldLines are written in the place of header lines that begin with the same word, or below the opening line.
var worldLines = []string{
	`rig       small in "small.motet"`, `rig       small in "other.motet"`, `from      quay in "base.motet"`, "rate      24 fps", "rate      30 fps",
	"rate      24000/1001 fps", "tempo     80 bpm", "tempo     72 bpm", "beat      18f", "cycle     4b", "cycle     8b", "cycle     72f", "span      4b",
	"advance   hips/side 20", "advance   lamp/glow 5", "advance   spine/lean 0", "grid      1/4b", "grid      1b", "phase     1b", "view      side", "",
}

// worldEdits change a text in one place, or as a whole.
var worldEdits = []func(t *rapid.T, text string) string{
	func(t *rapid.T, text string) string { // a slip in a line
		return atLine(t, text, func(line string) string { return rapid.SampledFrom(slips).Draw(t, "slip")(t, line) })
	},
	func(t *rapid.T, text string) string { // another number
		return atLine(t, text, func(line string) string {
			digits := []int{}
			for i := range line {
				if '0' <= line[i] && line[i] <= '9' {
					digits = append(digits, i)
				}
			}
			if len(digits) == 0 {
				return line
			}
			at := rapid.SampledFrom(digits).Draw(t, "digit")
			return line[:at] + rapid.StringMatching("[0-9]").Draw(t, "number") + line[at+1:]
		})
	},
	func(t *rapid.T, text string) string { // another shape at a line's end
		return atLine(t, text, func(line string) string {
			return strings.TrimRight(line, "~^>=") + rapid.SampledFrom([]string{"", "~", "^", ">", "=", "@3", "@-2,4"}).Draw(t, "mark")
		})
	},
	func(t *rapid.T, text string) string { // rows that move, or are set otherwise
		return atLine(t, text, func(line string) string {
			return rapid.SampledFrom([]func() string{
				func() string { return "  # meanwhile\n" + line }, func() string { return line + "  # meanwhile" }, func() string { return line + "\n" },
				func() string { return strings.Replace(line, "  ", "    ", 2) }, func() string { return line + " " },
			}).Draw(t, "comment")()
		})
	},
	func(t *rapid.T, text string) string { // an allowance
		rule := rapid.SampledFrom(Rules()).Draw(t, "rule").Name
		return atLine(t, text, func(line string) string { return line + "  # allow " + rule + ": the gull screams" })
	},
	func(t *rapid.T, text string) string { // a line of the header
		line := rapid.SampledFrom(worldLines).Draw(t, "header")
		lines := strings.Split(text, "\n")
		for i := range lines {
			if word, _, _ := strings.Cut(line, " "); line != "" && strings.HasPrefix(lines[i], "  "+word) {
				lines[i] = "  " + line
				return strings.Join(lines, "\n")
			}
		}
		return strings.Join(slices.Insert(lines, min(1, len(lines)), "  "+line), "\n")
	},
	func(t *rapid.T, text string) string { // a word of an opening line
		return atLine(t, text, func(line string) string {
			if !strings.HasPrefix(line, "track ") {
				return line
			}
			return rapid.SampledFrom([]string{line + " every 2b", line + " in fine", strings.TrimSuffix(line, " every 2b"), strings.TrimSuffix(line, " in fine"), "amend" + line[len("track"):]}).Draw(t, "opening")
		})
	},
	func(t *rapid.T, text string) string { // a block more
		blocks := strings.Split(text, "\n\n")
		at := rapid.IntRange(1, len(blocks)).Draw(t, "at")
		return strings.Join(slices.Insert(blocks, at, rapid.SampledFrom(worldBlocks).Draw(t, "block")), "\n\n")
	},
	func(t *rapid.T, text string) string { // two blocks in each other's place
		blocks := strings.Split(text, "\n\n")
		a, b := rapid.IntRange(0, len(blocks)-1).Draw(t, "one"), rapid.IntRange(0, len(blocks)-1).Draw(t, "other")
		blocks[a], blocks[b] = blocks[b], blocks[a]
		return strings.Join(blocks, "\n\n")
	},
	func(t *rapid.T, text string) string { // a block less, or twice
		blocks := strings.Split(text, "\n\n")
		at := rapid.IntRange(0, len(blocks)-1).Draw(t, "at")
		if rapid.Bool().Draw(t, "twice") {
			return strings.Join(slices.Insert(blocks, at, blocks[at]), "\n\n")
		}
		return strings.Join(slices.Delete(blocks, at, at+1), "\n\n")
	},
	func(t *rapid.T, text string) string { // how the file is written
		return rapid.SampledFrom([]func() string{
			func() string { return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\n", "\r\n") },
			func() string { return strings.ReplaceAll(text, "\r\n", "\n") },
			func() string { return strings.TrimSuffix(text, "\n") },
			func() string { return strings.TrimPrefix(text, "\ufeff") },
			func() string { return "\ufeff" + text },
			func() string { return grammar.Format(grammar.Parse("a.motet", text)) },
			func() string { return "" },
		}).Draw(t, "form")()
	},
}

// atLine changes a line of a text, and leaves its end.
func atLine(t *rapid.T, text string, change func(line string) string) string {
	lines := strings.Split(text, "\n")
	at := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
	line, end := strings.CutSuffix(lines[at], "\r")
	if lines[at] = change(line); end {
		lines[at] += "\r"
	}
	return strings.Join(lines, "\n")
}

// drawHouse is a house with rows of some rules, whose limits are their usual ones times something.
func drawHouse(t *rapid.T) string {
	var out strings.Builder
	out.WriteString("house\n  rule            level   limit\n")
	for range rapid.IntRange(0, 3).Draw(t, "rows") {
		rule := rapid.SampledFrom(Rules()).Draw(t, "rule")
		limit := "."
		if len(rule.Limits) > 0 {
			l := rapid.SampledFrom(rule.Limits).Draw(t, "limit")
			limit = fmt.Sprintf("%v%s", l.Value*rapid.SampledFrom([]float64{0.2, 1, 3}).Draw(t, "times"), l.Unit)
		}
		fmt.Fprintf(&out, "  %-15s %-7s %s\n", rule.Name, rapid.SampledFrom(levelNames[:]).Draw(t, "level"), limit)
	}
	return out.String()
}

// TestEditsOfAllFilesOfAFolder edits a sheet, its rig, its base and its house, and goes back to what stood there before; now
// and then a version is not checked, or not even resolved. What is taken over is what somebody finds who knows nothing.
func TestEditsOfAllFilesOfAFolder(t *testing.T) {
	other := strings.Replace(strings.Replace(worldRig, "1       cm      -12..12", "2       cm      -20..20", 1), "turn.x          1", "turn.z          1", 2)
	require.NotEqual(t, worldRig, other)
	rapid.Check(t, func(t *rapid.T) {
		const main = "quay.motet"
		begin := rapid.SampledFrom([]string{worldSheet, worldSheet + "\n" + worldBlocks[0], worldVariant, worldSheet + worldLayers}).Draw(t, "begin")
		w := newWorld(map[string]string{"small.motet": worldRig, "other.motet": other, "base.motet": worldSheet, main: begin})
		past := map[string][]string{}
		for range rapid.IntRange(2, 10).Draw(t, "edits") {
			name := rapid.SampledFrom([]string{main, main, main, main, main, "small.motet", "other.motet", "base.motet", "house.motet"}).Draw(t, "file")
			text, there := w.texts[name]
			before := past[name]
			past[name] = append(before, text)
			switch {
			case len(before) > 0 && rapid.IntRange(0, 3).Draw(t, "back") == 0:
				w.write(name, rapid.SampledFrom(before).Draw(t, "before"))
			case name == "house.motet" && there && rapid.IntRange(0, 3).Draw(t, "gone") == 0:
				w.remove(name)
			case name == "house.motet":
				w.write(name, drawHouse(t))
			default:
				w.write(name, rapid.SampledFrom(worldEdits).Draw(t, "edit")(t, text))
			}
			switch rapid.IntRange(0, 7).Draw(t, "looked at") {
			case 0:
				continue
			case 1:
				w.resolve(main)
				continue
			}
			if again, anew := w.check(t, main); again != anew {
				t.Fatalf("%s\nchecked again:\n%s\nchecked anew:\n%s", w.texts[main], again, anew)
			}
		}
	})
}
