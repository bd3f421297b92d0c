package server

import (
	"math"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/grammar/sheets"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// crewRig is deckhandRig with a pair of arms, and a channel that does not rest at 0.
var crewRig = strings.Replace(deckhandRig, "\n\nchannels", `
  arm.left        hips            10      30      0       arm
  arm.right       hips            -10     30      0       arm

channels`, 1) + `  hips/swell              .               scale.xz        1       %       80..130     keep    "wider"
  arm.left/swing          .               turn.x          1       deg     -90..90     keep    "back"
  arm.left/out            .               turn.z          1       deg     -90..90     flip    "away from the body"
  arm.right/swing         .               turn.x          1       deg     -90..90     keep    "back"
  arm.right/out           .               turn.z          1       deg     -90..90     flip    "away from the body"
`

func TestRowsAndTracks(t *testing.T) {
	for _, row := range []struct{ name, text, title, want string }{
		{
			"a row between two, on the grid", "track hips\n  at      side\n‸  0b      1.5^\n  2b      2^\n", "add a row at 1b, where the curves pass",
			"track hips\n  at      side\n  0b      1.5^\n  1b      1.75\n  2b      2^\n",
		},
		{
			"a row before the end, in frames", "track hips\n  at      side    ease\n  0f      1^      .\n‸  70f     2^      .\n", "add a row at 71f, where the curves pass",
			"track hips\n  at      side    ease\n  0f      1^      .\n  70f     2^      .\n  71f     1.5     .\n",
		},
		{
			"rows later by the grid", "track hips\n  at      side\n  0b      1\n‸  1b      2       # up\n  3/2b‸    3\n  3b      1\n", "play the selected rows ½ beat later",
			"track hips\n  at      side\n  0b      1\n  3/2b    2       # up\n  2b      3\n  3b      1\n",
		},
		{
			"a row earlier by a frame", "track hips\n  at      side\n  0b      1\n‸  1b      2\n‸  3b      1\n", "play the selected row a frame earlier",
			"track hips\n  at      side\n  0b      1\n  1b-1f   2\n  3b      1\n",
		},
		{
			"rows of two tables, with the end of a hold", "blocking\n  at      pose            until\n‸  1b      a               2b\n\ntrack hips\n  at      side\n  0b      1\n  36f     2\n‸  3b      1\n\npose a\n  hips/side         2\n", "play the selected rows ½ beat later",
			"blocking\n  at      pose            until\n  3/2b    a               5/2b\n\ntrack hips\n  at      side\n  1/2b    1\n  45f     2\n  3b      1\n\npose a\n  hips/side         2\n",
		},
		{
			"rows on the grid", "track hips\n  at      side\n‸  0b      1\n  17f     2\n  2b+1f   3\n‸", "put the selected rows on the grid",
			"track hips\n  at      side\n  0b      1\n  18f     2\n  2b      3\n",
		},
		{
			"the other side", "‸track arm.left in fine # waves\n  at      swing   out     ease\n  # up\n  0b      1^      0.5     .\n  1b      -2@3,-1 .       linear\n\neases\n  linear    0,0,1,1\n", "mirror this track onto `arm.right`",
			"track arm.left in fine # waves\n  at      swing   out     ease\n  # up\n  0b      1^      0.5     .\n  1b      -2@3,-1 .       linear\n\ntrack arm.right in fine # waves\n  at      swing   out     ease\n  0b      1^      -0.5    .\n  1b      -2@3,-1 .       linear\n\neases\n  linear    0,0,1,1\n",
		},
		{
			"the other side, half a round later", "‸track arm.left\n  at      swing   out\n  0b      1^      0.5\n  3b      -2      -1@2\n  4b      1^      0.5\n", "mirror this track onto `arm.right`, half a round later",
			"track arm.left\n  at      swing   out\n  0b      1^      0.5\n  3b      -2      -1@2\n  4b      1^      0.5\n\ntrack arm.right\n  at      swing   out\n  1b      -2      1@-2\n  2b      1^      -0.5\n",
		},
		{
			"a channel of its own", "track hips every 2b\n  at      side    s‸well   ease\n  0b      1^      120     .\n  1/2b    .       90=     .\n  1b      2       100@4   linear\n\neases\n  linear    0,0,1,1\n", "split `swell` off into the layer `swell`",
			"track hips every 2b\n  at      side    ease\n  0b      1^      .\n  1b      2       linear\n\ntrack hips in swell every 2b\n  at      swell   ease\n  0b      20      .\n  1/2b    -10=    .\n  1b      0@4     linear\n\neases\n  linear    0,0,1,1\n",
		},
	} {
		t.Run(row.name, func(t *testing.T) { refactored(t, crewRig, row.text, row.title, row.want) })
	}
}

// What is not offered: times outside the round, at a moment that has a row or beyond it, and of the closing row; a row
// between two frames; a mirror of what stands in the middle, or has its track already; and a channel that moves by more
// than this track, plays late, or is followed.
func TestRowsAndTracksThatStay(t *testing.T) {
	for _, row := range []struct{ name, text, not string }{
		{"before the start", "track hips\n  at      side\n‸  0b      1\n‸  2b      2\n", "earlier"},
		{"onto another row", "track hips\n  at      side\n  0b      1\n‸  3/2b    3\n‸  2b      2\n", "½ beat later"},
		{"beyond another row", "track hips\n  at      side\n  0b      1\n‸  3/2b    3\n‸  31f     2\n", "½ beat later"},
		{"onto the end of the round", "track hips every 2b\n  at      side\n  0b      1\n‸  3/2b    3\n‸", "½ beat later"},
		{"the closing row", "track hips\n  at      side\n  0b      1\n  3/2b    3\n‸  4b      1\n‸", "the selected row"},
		{"on the grid already", "track hips\n  at      side\n‸  0b      1\n  3/2b    3\n‸", "on the grid"},
		{"without a selection", "track hips\n  at      side\n‸  1b      1\n", "the selected row"},
		{"neighbours", "track hips\n  at      side\n‸  1f      1\n  2f      3\n", "add a row"},
		{"in the middle", "‸track hips\n  at      side\n  1b      1\n", "mirror"},
		{"that is there", "‸track arm.left\n  at      swing\n  1b      1\n\ntrack arm.right\n  at      swing\n  1b      1\n", "mirror"},
		{"one channel", "track hips\n  at      s‸ide\n  1b      1\n", "split"},
		{"that poses key", "pose a\n  hips/side         2\n\nblocking\n  at      pose\n  0b      a\n\ntrack hips\n  at      s‸ide    swell\n  1b      1       110\n", "split"},
		{"that plays late", "overlap\n  hips      2f\n\ntrack hips\n  at      s‸ide    swell\n  0b      0       110\n  1b      1       110\n", "split"},
		{"that is followed", "follow head after hips\n  nod       0.5 of side\n\ntrack hips\n  at      s‸ide    swell\n  0b      0       110\n  1b      1       110\n", "split"},
		{"without a key", "track hips\n  at      s‸ide    swell\n  0b      .       110\n", "split"},
	} {
		t.Run(row.name, func(t *testing.T) {
			for _, title := range titlesOf(t, row.text) {
				require.NotContains(t, title, row.not)
			}
		})
	}
}

func titlesOf(t *testing.T, marked string) (titles []string) {
	header := "sheet wait\n  rig       deckhand in \"deckhand.motet\"\n  tempo     80 bpm\n  cycle     4b\n\n"
	snap := snapshotOf(t, quay(t, map[string]string{"deckhand.motet": crewRig}), "wait.motet", header+strings.ReplaceAll(marked, "‸", ""))
	start, end := len(header)+strings.Index(marked, "‸"), len(header)+strings.LastIndex(marked, "‸")
	if start < end {
		end -= len("‸")
	}
	for _, r := range snap.refactorings(start, end) {
		titles = append(titles, r.title)
	}
	return titles
}

// The other side goes as this one does, seen in a mirror: by the rig, `out` changes its sign and `swing` keeps it.
func TestAMirroredTrackIsTheMirror(t *testing.T) {
	const text = "sheet wait\n  rig       deckhand in \"deckhand.motet\"\n  tempo     80 bpm\n  cycle     4b\n\n" +
		"track arm.left\n  at      swing   out     ease\n  0b      1^      +0.5    .\n  7/4b    -20     .       0.3,0,0.1,1\n  5/2b    .       -12@3,-5 .\n  3b      8=      0>      .\n"
	address := quay(t, map[string]string{"deckhand.motet": crewRig})
	snap := snapshotOf(t, address, "wait.motet", text)
	done := 0
	for _, r := range snap.refactorings(strings.Index(text, "track"), strings.Index(text, "track")) {
		if !strings.HasPrefix(r.title, "mirror this track") {
			continue
		}
		done++
		after, err := grammar.Apply(text, r.edits)
		require.NoError(t, err)
		m := snapshotOf(t, address, "wait.motet", after).motion()
		require.Empty(t, m.Problems, after)
		for step := range 72 {
			frames, later := float64(step)+0.25, float64(step)+0.25
			if strings.HasSuffix(r.title, "later") {
				later = math.Mod(later+36, 72)
			}
			require.InDelta(t, m.Channel("arm.left/swing").At(frames), m.Channel("arm.right/swing").At(later), 1e-9, "%s at %g", after, frames)
			require.InDelta(t, m.Channel("arm.left/out").At(frames), -m.Channel("arm.right/out").At(later), 1e-9, "%s at %g", after, frames)
		}
	}
	require.Equal(t, 2, done)
}

// Whatever is offered about whatever text, its edits are apart from each other and can be made, no line that was read is a
// fault afterwards, and comments stay.
func TestRefactoringsOfAnyText(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": crewRig})
	offered := 0
	check := func(r interface{ Fatalf(string, ...any) }, text string, start, end int) {
		snap := snapshotOf(t, address, "wait.motet", strings.ToValidUTF8(text, "?"))
		for _, one := range snap.refactorings(min(start, len(snap.text)), min(end, len(snap.text))) {
			offered++
			after, err := grammar.Apply(snap.text, one.edits)
			if err != nil {
				r.Fatalf("%s: %v", one.title, err)
			}
			was, is := snap.tree(), grammar.Parse("wait.motet", after)
			if faults(was) < faults(is) {
				r.Fatalf("%s: a line can't be read any more:\n%s", one.title, after)
			}
			if strings.Count(snap.text, "#") > strings.Count(after, "#") && !strings.HasPrefix(one.title, "fold") {
				r.Fatalf("%s: a comment is lost:\n%s", one.title, after)
			}
			if m := snap.motion(); !one.moves && m.Whole() && len(m.Problems) == 0 && !sameMotion(m, snapshotOf(t, address, "wait.motet", after).motion()) {
				r.Fatalf("%s: something moves otherwise:\n%s\nwas\n%s", one.title, after, snap.text)
			}
		}
	}
	// What is drawn may have nothing on offer; this has.
	const sure = "sheet wait\n  rig deckhand in \"deckhand.motet\"\n  tempo 80 bpm\n  cycle 4b\n\ntrack arm.left\n  at swing out # of the left\n  0b 1^ 0.5\n  2b -20 3\n"
	check(t, sure, strings.Index(sure, "track"), strings.Index(sure, "track"))
	require.Positive(t, offered)
	rapid.Check(t, func(r *rapid.T) {
		text := sheets.DrawBroken(r)
		if rapid.Bool().Draw(r, "on the rig") {
			if rapid.Bool().Draw(r, "alone") {
				text = ""
			}
			text = "sheet wait\n  rig deckhand in \"deckhand.motet\"\n  tempo 80 bpm\n  cycle 4b\n\n" + drawTrack(r) + text
		}
		start := rapid.IntRange(0, len(text)).Draw(r, "start")
		end := rapid.IntRange(start, len(text)).Draw(r, "end")
		check(r, text, start, end)
	})
}

// drawTrack is a track on crewRig as hands write it: any rows, in any order, with comments and odd white space.
func drawTrack(r *rapid.T) string {
	pick := func(from ...string) string { return rapid.SampledFrom(from).Draw(r, "pick") }
	columns := pick("side swell", "swell side ease", "side", "ease side swell")
	control := "hips"
	if rapid.Bool().Draw(r, "arm") {
		control, columns = "arm.left", pick("swing out", "out ease swing")
	}
	end := pick("\n", "\r\n")
	var out strings.Builder
	out.WriteString("track " + control + pick("", "", " every 2b", " in fine") + pick("", "  # said so") + end + " at\t" + columns + pick("", " # columns") + end)
	for range rapid.IntRange(0, 6).Draw(r, "rows") {
		out.WriteString(pick("  ", "\t", " ") + pick("0b", "0", "1b", "1/2b", "7/3f", "2b+1f", "1.5s", "4b", "40f"))
		for _, column := range strings.Fields(columns) {
			cell := pick("1", "-2.5^", "+0", "3@-1,2", "0.0=", ".", "120>", "-0~")
			if column == "ease" {
				cell = pick(".", ".", "0.3,0,0.1,1")
			}
			out.WriteString(pick(" ", "      ", "\t") + cell)
		}
		out.WriteString(pick("", "", " # up", "  ") + end + pick("", "", end, "# between"+end))
	}
	return out.String() + end
}

func faults(f *grammar.File) (n int) {
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if b.Lines[i].Kind == grammar.BadLine {
				n++
			}
		}
	}
	return n
}
