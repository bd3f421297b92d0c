package exchange

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// castTexts are the files of the demo by their names.
func castTexts(t testing.TB) map[string]string {
	t.Helper()
	texts := map[string]string{}
	require.NoError(t, filepath.WalkDir(quay, func(full string, entry os.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(full, ".motet") {
			var text []byte
			text, err = os.ReadFile(full)
			name, _ := filepath.Rel(quay, full)
			texts[filepath.ToSlash(name)] = string(text)
		}
		return err
	}))
	return texts
}

// treesOf gives the trees of some texts.
func treesOf(texts map[string]string) motion.Trees {
	return func(path string) (*grammar.File, error) {
		text, ok := texts[path]
		if !ok {
			return nil, os.ErrNotExist
		}
		return grammar.Parse(path, text), nil
	}
}

// with is some texts with another one in the place of the name's.
func with(texts map[string]string, name, text string) map[string]string {
	out := map[string]string{name: text}
	for path, other := range texts {
		if path != name {
			out[path] = other
		}
	}
	return out
}

// replaced makes some replacements in a text, each of which must be found.
func replaced(t testing.TB, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, text, pairs[i])
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// onto brings a clip file back into a sheet of some texts.
func onto(t require.TestingT, texts map[string]string, name, clip string) *OntoResult {
	r, err := Onto(OntoOptions{Path: clip, ReadFile: os.ReadFile, Sheet: grammar.Parse(name, texts[name]), Trees: treesOf(texts)})
	require.NoError(t, err)
	return r
}

// clipOf is the clip that a sheet of some texts is exported as, in memory.
func clipOf(t require.TestingT, texts map[string]string, name string) func(string) ([]byte, error) {
	m := motion.NewProject(treesOf(texts)).Resolve(grammar.Parse(name, texts[name]))
	take, err := NewTake(m, TakeWish{Bare: true})
	require.NoError(t, err)
	data, err := WriteGLB([]*Take{take})
	require.NoError(t, err)
	return func(string) ([]byte, error) { return data, nil }
}

// retaken is the sheet after somebody has edited it elsewhere, exported it, and the clip has come back into it.
func retaken(t require.TestingT, texts map[string]string, name, edited string) *OntoResult {
	read := clipOf(t, with(texts, name, edited), name)
	r, err := Onto(OntoOptions{Path: "clip.glb", ReadFile: read, Sheet: grammar.Parse(name, texts[name]), Trees: treesOf(texts)})
	require.NoError(t, err)
	return r
}

// changedLines are the lines of a diff that go and come.
func changedLines(old, text string) []string {
	var out []string
	for _, line := range strings.Split(string(diff.Diff("old", []byte(old), "new", []byte(text))), "\n") {
		if (strings.HasPrefix(line, "+") || strings.HasPrefix(line, "-")) && !strings.HasPrefix(line, "+++") && !strings.HasPrefix(line, "---") {
			out = append(out, line)
		}
	}
	return out
}

// The clip of an unchanged sheet changes no byte of it: of any of the cast, variants and spans too.
func TestOntoUnchanged(t *testing.T) {
	long(t)
	texts := castTexts(t)
	for name, text := range texts {
		if grammar.Parse(name, text).First(grammar.SheetBlock) != nil {
			assert.Equal(t, text, retaken(t, texts, name, text).Text, name)
		}
	}
}

// nudged adds to one number of a sheet: that of a word in the block of a name (`pose on-left`, `hips/side`), or that in a
// column of the row at a time (`track head`, `2b nod`).
func nudged(t testing.TB, name, text, block, what string, by float64) string {
	t.Helper()
	f := grammar.Parse(name, text)
	row, column, isCell := strings.Cut(what, " ")
	for _, b := range f.Blocks {
		if strings.Join(strings.Fields(b.Lines[b.Open].Text[:b.Lines[b.Open].Content().End]), " ") != block {
			continue
		}
		for i := range b.Lines {
			l := &b.Lines[i]
			var span grammar.Span
			switch {
			case isCell && l.Kind == grammar.RowLine && l.CellText(0) == row:
				span = l.Cells[b.ColumnIndex(column)].Span
			case !isCell && strings.Contains(l.Text, what+" "):
				span = l.Content()
				span.Start += strings.LastIndex(l.Text[span.Start:span.End], " ") + 1
			default:
				continue
			}
			old := l.Text[span.Start:span.End]
			end := len(old) - len(strings.TrimLeft(old, "+-.0123456789"))
			value, err := strconv.ParseFloat(old[:end], 64)
			require.NoError(t, err, "%s %s", block, what)
			at, _ := f.Locate(b.Ref(i, grammar.Span{Start: span.Start, End: span.Start + end}))
			out, err := grammar.Apply(text, []grammar.Edit{{Span: at, Text: number(value+by, 3)}})
			require.NoError(t, err)
			return grammar.Format(grammar.Parse(name, out))
		}
	}
	require.Fail(t, "no such number", "%s: %s %s", name, block, what)
	return ""
}

// A number that somebody changes comes back as that number, and nothing else of the text changes: of cells, poses, mirrored
// poses, planted feet and hands, layers, and of offsets and swapped poses of variants.
func TestOntoFindsTheNumberThatChanged(t *testing.T) {
	long(t)
	texts := castTexts(t)
	for _, c := range []struct {
		name, block, what string
		by                float64
	}{
		{"keeper.motet", "track head", "2b nod", 5},
		{"keeper.motet", "track lids", "3b close", -6},
		{"keeper.motet", "pose on-left", "hips/side", 2},
		{"keeper.motet", "pose on-left", "wrist.left/turn", -6},
		{"keeper.motet", "pose on-right mirrors on-left", "hips/side", -1},
		{"keeper.motet", "track foot.right", "0b side", -2},
		{"keeper.motet", "track foot.right", "0b knee", 10},
		{"tallywoman.motet", "change", "arm.right/swing", -3},
		{"tallywoman.motet", "track arm.right in count every 3b", "2b swing", 6},
		{"ferrier.motet", "track head in weather", "15/2b turn", 7},
		{"pilot.motet", "pose braced from on-left", "hips/side", -3},
		{"cooper.motet", "track hand.left", "0b lift", 1.5},
	} {
		edited := nudged(t, c.name, texts[c.name], c.block, c.what, c.by)
		r := retaken(t, texts, c.name, edited)
		assert.Equal(t, changedLines(texts[c.name], edited), changedLines(texts[c.name], r.Text), "%s: %s %s\n%s", c.name, c.block, c.what, strings.Join(r.Report, "\n"))
		assert.Zero(t, r.Short)
	}
}

// What other lines of a sheet say, such as a follow or a quiver, stays, and keys make up for what has changed.
func TestOntoMakesUpForTheRest(t *testing.T) {
	texts := pier()
	for _, c := range []struct{ what, old, new string }{
		{"a key less", "  1b      .       14^\n", ""},
		{"a key later", "  1b      .       14^\n", "  3/2b    .       14^\n"},
		{"a key held", "  1b      .       14^\n", "  1b      .       14=\n"},
		{"a follow the other way", "0.8 of lean", "-0.8 of lean"},
		{"another lag", "arrives 7f", "arrives 11f"},
		{"a larger quiver", "0.4\n", "2\n"},
		{"deeper breath", "-0.6", "-3"},
		{"later still", "head      3f", "head      6f"},
		{"a softer easing", "0.3,0,0.1,1", "0.6,0,0.4,1"},
		{"a shorter hold", "on-left         1b", "on-left         1/2b"},
		{"a new key", "  2b      3       -3      # nothing", "  3/2b    .       20\n  2b      3       -3      # nothing"},
	} {
		edited := replaced(t, pierWait, c.old, c.new)
		r := retaken(t, texts, "wait.motet", edited)
		assert.Zero(t, r.Short, "%s\n%s", c.what, strings.Join(r.Report, "\n"))
		assert.NotEqual(t, pierWait, r.Text, c.what)
		assert.Equal(t, r.Text, grammar.Format(grammar.Parse("wait.motet", r.Text)), c.what)
		assert.LessOrEqual(t, r.WorldCM, DefaultWithin().WorldCM, c.what)
		t.Logf("%s\n%s\n%s", c.what, strings.Join(r.Report, "\n"), strings.Join(changedLines(pierWait, r.Text), "\n"))
	}
}

// pierRig and pierWait hold one of everything that moves a channel.
const pierRig = `rig pier

joints
  joint           on              x       y       z       part
  hips            .               0       90      0       root
  chest           hips            0       30      0       spine
  head            chest           0       25      0       head
  arm.left        chest           18      20      0       arm
  forearm.left    arm.left        2       -28     0       arm
  hand.left       forearm.left    1       -25     3       hand
  arm.right       chest           -18     20      0       arm
  forearm.right   arm.right       -2      -28     0       arm
  hand.right      forearm.right   -1      -25     3       hand

channels
  channel                 joint           drives          gain    unit    mirror  positive
  hips/side               .               move.x          1       cm      flip    "to their left"
  hips/drop               .               move.y          1       cm      keep    "up"
  chest/lean              .               turn.x          1       deg     keep    "forward"
  chest/turn              .               turn.y          1       deg     flip    "to their left"
  head/nod                .               turn.x          0.7     deg     keep    "down"
  head/nod                chest           turn.x          0.3
  head/turn               .               turn.y          1       deg     flip    "to their left"
  arm.left/swing          .               turn.x          1       deg     keep    "back"
  arm.left/bend           forearm.left    turn.x          -1      deg     keep    "bent"
  arm.right/swing         .               turn.x          1       deg     keep    "back"
  arm.right/bend          forearm.right   turn.x          -1      deg     keep    "bent"
`

const pierWait = `# The net-maker's boy waits on the pier.
sheet pier-wait
  rig       pier in "rig.motet"
  tempo     80 bpm
  cycle     4b

pose on-left
  hips/side         3.2
  hips/drop         -1.4
  arm.left/swing    -2          # it hangs
  arm.left/bend     12
  arm.right/swing   3
  arm.right/bend    8

pose on-right mirrors on-left
  hips/side         -2.1

blocking
  at      pose            until   drift
  0b      on-left         1b      12%
  2b      on-right        3b      10%

# He looks out for the boat.
track head
  at      nod     turn
  0b      1.5^    2
  1b      .       14^
  2b      3       -3      # nothing yet
  3b      2.4     -6

track chest every 2b
  at      lean    ease
  0b      2       .
  1b      5^      0.3,0,0.1,1

track chest in fine
  at      turn
  1b      -2
  3b      2

overlap
  head      3f

follow arm.* after chest
  spring    arrives 7f overshoot 15%
  swing     0.8 of lean

quiver arms in fine
  band              0.6..2.5 Hz
  seed              7
  arm.*/swing       0.4

breath calm
  count             1
  head/nod          -0.6
`

func pier() map[string]string { return map[string]string{"rig.motet": pierRig, "wait.motet": pierWait} }

// numberSpots are the numbers of a sheet's poses and tracks, with their values.
func numberSpots(f *grammar.File) (spots []grammar.Span, values []float64) {
	add := func(b *grammar.Block, line int, span grammar.Span) {
		text := b.Lines[line].Text[span.Start:span.End]
		end := len(text) - len(strings.TrimLeft(text, "+-.0123456789"))
		if value, err := strconv.ParseFloat(text[:end], 64); err == nil {
			at, _ := f.Locate(b.Ref(line, grammar.Span{Start: span.Start, End: span.Start + end}))
			spots, values = append(spots, at), append(values, value)
		}
	}
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if entry, ok := b.Lines[i].Stmt.(*grammar.PoseEntry); ok {
				add(b, i, entry.Value.Where())
			}
			if b.Kind == grammar.TrackBlock && b.Lines[i].Kind == grammar.RowLine {
				for n, cell := range b.Lines[i].Cells {
					if b.Columns[n].Kind == grammar.ValueColumn && cell.Class != grammar.Dot {
						add(b, i, cell.Span)
					}
				}
			}
		}
	}
	return spots, values
}

// Whatever numbers somebody changes, the sheet that comes back moves as theirs, in the canonical form and without a slip;
// what was not touched keeps its lines, and a second time nothing changes.
func TestOntoTakesOverAnyNumbers(t *testing.T) {
	long(t)
	texts := pier()
	require.Equal(t, pierWait, grammar.Format(grammar.Parse("wait.motet", pierWait)))
	f := grammar.Parse("wait.motet", pierWait)
	spots, values := numberSpots(f)
	rapid.Check(t, func(r *rapid.T) {
		var edits []grammar.Edit
		for _, n := range rapid.SliceOfNDistinct(rapid.IntRange(0, len(spots)-1), 1, 4, rapid.ID[int]).Draw(r, "spots") {
			value := values[n] + float64(rapid.IntRange(-80, 80).Draw(r, "by"))/10
			edits = append(edits, grammar.Edit{Span: spots[n], Text: fmt.Sprint(round(value, 1))})
		}
		edited, err := grammar.Apply(pierWait, edits)
		require.NoError(r, err)
		made := retaken(r, texts, "wait.motet", edited)
		got := motion.NewProject(treesOf(with(texts, "wait.motet", made.Text))).Resolve(grammar.Parse("wait.motet", made.Text))
		require.Empty(r, got.Problems)
		require.Zero(r, made.Short, "%s", strings.Join(made.Report, "\n"))
		require.Equal(r, made.Text, grammar.Format(grammar.Parse("wait.motet", made.Text)))
		for _, comment := range []string{"# it hangs", "# nothing yet", "# He looks out", "# The net-maker's"} {
			require.Contains(r, made.Text, comment)
		}
		want := motion.NewProject(treesOf(with(texts, "wait.motet", edited))).Resolve(grammar.Parse("wait.motet", edited))
		for frame := range 72 {
			theirs, ours := want.World(float64(frame)), got.World(float64(frame))
			for i := range theirs {
				require.LessOrEqual(r, vec3(theirs[i].Position()).to(vec3(ours[i].Position())), DefaultWithin().WorldCM)
			}
		}
		again := retaken(r, with(texts, "wait.motet", made.Text), "wait.motet", made.Text)
		require.Equal(r, made.Text, again.Text)
	})
}

// Played by three, the clip that somebody has edited and the sheet that has taken it over put every joint in the same
// place, to within what the import allows.
func TestOntoPlaysAsTheClip(t *testing.T) {
	long(t)
	texts := castTexts(t)
	name := "keeper.motet"
	edited := texts[name]
	for block, what := range map[string]string{"track head": "2b nod", "pose on-left": "hips/side", "track lids": "3b close", "track foot.right": "0b side"} {
		edited = nudged(t, name, edited, block, what, -3)
	}
	edited = replaced(t, edited, "\n  out       -0.8 of tilt", "\n  out       -1.6 of tilt")
	_, clip := exported(t, TakeWish{Bake: Rate{30, 1}}, sheetOf(t, with(texts, name, edited), name))
	r := onto(t, texts, name, clip)
	take, err := NewTake(sheetOf(t, with(texts, name, r.Text), name), TakeWish{})
	require.NoError(t, err)
	place, _ := playedOff(t, playing{take, clip, 0, same})
	assert.LessOrEqual(t, place[0], DefaultWithin().WorldCM/100)
	old, err := NewTake(sheetOf(t, texts, name), TakeWish{})
	require.NoError(t, err)
	before, _ := playedOff(t, playing{old, clip, 0, same})
	assert.Greater(t, before[0], 0.02, "else there was nothing to bring back")
	t.Logf("off by %.4f m before, %.4f m after\n%s", before[0], place[0], strings.Join(r.Report, "\n"))
}

// A text that is not in the canonical form keeps its own: only cells and rows that change do, line ends and all.
func TestOntoKeepsTheAuthorsLayout(t *testing.T) {
	texts := pier()
	own := replaced(
		t, pierWait,
		"  1b      .       14^\n", "\t1b   .\t 14^   # there!\n",
		"  3b      2.4     -6\n", "  3b      2.4     -6\n  4b  1.5^  2\n\n\n",
		"pose on-left\n", "# She leans.\npose   on-left\n",
	)
	own = strings.TrimSuffix(strings.ReplaceAll(own, "\n", "\r\n"), "\r\n")
	texts["wait.motet"] = own
	require.NotEqual(t, own, grammar.Format(grammar.Parse("wait.motet", own)))
	edited := replaced(t, own, "14^   #", "19^   #", "1.5^    2\r\n", "-4^    2\r\n", "4b  1.5^", "4b  -4^", "arm.left/bend     12", "arm.left/bend     30")
	r := retaken(t, texts, "wait.motet", edited)
	assert.Equal(t, edited, replaced(t, r.Text, "-4^     2", "-4^    2", "4b  -4^   2", "4b  -4^  2"), "the second number of a row stays where it stood")
	assert.Equal(t, own, retaken(t, texts, "wait.motet", own).Text)
}

// What a clip asks for in only one round of a table that comes again goes into a layer on top, and the table stays.
func TestOntoPutsOneRoundIntoALayer(t *testing.T) {
	texts := pier()
	edited := replaced(t, pierWait, "track chest in fine\n  at      turn\n", "track chest in fine\n  at      turn    lean\n", "  1b      -2\n", "  1b      -2      0^\n", "  3b      2\n", "  2b      .       6^\n  3b      2       0^\n")
	r := retaken(t, texts, "wait.motet", edited)
	assert.Contains(t, r.Text, "track chest every 2b\n  at      lean    ease\n  0b      2       .\n  1b      5^      0.3,0,0.1,1\n")
	assert.Zero(t, r.Short)
	t.Log(strings.Join(append(r.Report, changedLines(pierWait, r.Text)...), "\n"))
}

// What does not fit a sheet is refused by name.
func TestOntoRefusesWhatIsNoTake(t *testing.T) {
	texts := pier()
	read := clipOf(t, texts, "wait.motet")
	try := func(texts map[string]string, name string) string {
		_, err := Onto(OntoOptions{Path: "clip.glb", ReadFile: read, Sheet: grammar.Parse(name, texts[name]), Trees: treesOf(texts)})
		require.Error(t, err)
		return err.Error()
	}
	assert.Contains(t, try(with(texts, "wait.motet", replaced(t, pierWait, "80 bpm", "60 bpm")), "wait.motet"), "it lasts 3 s and the sheet 4 (96 frames at 24 fps); change the sheet's length or tempo first")
	assert.Contains(t, try(with(texts, "rig.motet", replaced(t, pierRig, "  head            chest", "  brow            chest", "  head/nod                .", "  head/nod                brow", "  head/turn               .", "  head/turn               brow")), "wait.motet"), "the file has no node \"brow\", which is the joint `brow` of the rig `pier`")
	assert.Contains(t, try(texts, "rig.motet"), "rig.motet has no sheet")
	assert.Contains(t, try(with(texts, "wait.motet", replaced(t, pierWait, "rig.motet", "gig.motet")), "wait.motet"), "no rig")
}

// A clip that was baked at another rate, which the sheet's length is no whole number of frames of, is read on its own
// frames: between them it cuts corners that nobody has moved.
func TestOntoReadsABakedClipOnItsOwnFrames(t *testing.T) {
	own := replaced(t, pierWait, "tempo     80 bpm", "tempo     70 bpm")
	texts := with(pier(), "wait.motet", own)
	for _, edited := range []string{own, nudged(t, "wait.motet", own, "track head", "2b turn", 6)} {
		m := sheetOf(t, with(texts, "wait.motet", edited), "wait.motet")
		_, clip := exported(t, TakeWish{Bake: Rate{30, 1}}, m)
		r := onto(t, texts, "wait.motet", clip)
		assert.Equal(t, changedLines(own, edited), changedLines(own, r.Text), strings.Join(r.Report, "\n"))
	}
}
