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
	texts := castTexts(t)
	for name, text := range texts {
		if grammar.Parse(name, text).First(grammar.SheetBlock) != nil {
			assert.Equal(t, text, retaken(t, texts, name, text).Text, name)
		}
	}
}

// A round of edits comes back as the change that a person would have made.
func TestOntoChangesWhatMoved(t *testing.T) {
	texts := castTexts(t)
	for _, c := range []struct {
		what, name string
		edits      []string
		lines      []string
	}{
		{"a cell", "keeper.motet", []string{"  2b      4^      9", "  2b      9^      9"}, []string{"-  2b      4^      9", "+  2b      9^      9"}},
		{"a pose", "keeper.motet", []string{"hips/side         5.4", "hips/side         7.4"}, []string{"-  hips/side         5.4", "+  hips/side         7.4"}},
		{"a pose and its mirror", "keeper.motet", []string{"wrist.left/turn   -14", "wrist.left/turn   -20"}, []string{"-  wrist.left/turn   -14", "+  wrist.left/turn   -20"}},
		{"a planted foot", "keeper.motet", []string{"  0b      -1      4       14", "  0b      -3      4       14"}, []string{"-  0b      -1      4       14", "+  0b      -3      4       14"}},
		{"a knee", "keeper.motet", []string{"  0b      -1      4       14", "  0b      -1      4       24"}, []string{"-  0b      -1      4       14", "+  0b      -1      4       24"}},
		{"an inherited channel that stands elsewhere", "tallywoman.motet", []string{"offset    arm.right/swing -8", "offset    arm.right/swing -11"}, []string{"-  offset    arm.right/swing -8", "+  offset    arm.right/swing -11"}},
		{"a cell of a layer", "tallywoman.motet", []string{"-58     -70", "-50     -70"}, []string{"-  2b      -58     -70     34", "+  2b      -50     -70     34"}},
		{"a pose that a variant swaps in", "pilot.motet", []string{"hips/side         0.5", "hips/side         -3"}, []string{"-  hips/side         0.5", "+  hips/side         -3"}},
		{"a hand on a hip", "cooper.motet", []string{"0b      -3.5    16.5    5.5     35", "0b      -3.5    18    5.5     35"}, []string{"-  0b      -3.5    16.5    5.5     35", "+  0b      -3.5    18      5.5     35"}},
		{"a key that is gone", "keeper.motet", []string{"  3b      .       10^\n", "", "  2b      4^      9\n", "  2b      4^      9.8\n"}, nil},
		{"what the head follows", "keeper.motet", []string{"nod       -0.7 of lean", "nod       0.7 of lean"}, nil},
		{"more restless wrists", "keeper.motet", []string{"wrist.*/turn      1.5", "wrist.*/turn      4"}, nil},
		{"one round of what comes twice", "ferrier.motet", []string{"-28     -6", "-20     -6"}, []string{"-  15/2b   -28     -6", "+  15/2b   -20     -6"}},
	} {
		old := texts[c.name]
		edited := replaced(t, old, c.edits...)
		r := retaken(t, texts, c.name, edited)
		t.Logf("%s\n%s\n%s", c.what, strings.Join(r.Report, "\n"), strings.Join(changedLines(old, r.Text), "\n"))
		if c.lines != nil {
			assert.Equal(t, c.lines, changedLines(old, r.Text), c.what)
		}
		assert.Zero(t, r.Short, c.what)
		assert.Equal(t, r.Text, grammar.Format(grammar.Parse(c.name, r.Text)), c.what)
		assert.LessOrEqual(t, r.WorldCM, DefaultWithin().WorldCM, c.what)
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
	texts := castTexts(t)
	name := "keeper.motet"
	edited := replaced(t, texts[name], "  2b      4^      9", "  5/2b      9^      6", "hips/side         5.4", "hips/side         8", "  3b      38", "  3b      30", "-0.8 of tilt", "-1.6 of tilt")
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
