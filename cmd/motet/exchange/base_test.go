package exchange

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// An effect is what lines of change do to a channel: its size about the base's mean, how far it stands elsewhere, and by
// how many frames it is late.
type effect struct{ gain, shift, late float64 }

// effectsOf adds up what lines do to the channels of a variant that has none yet, by the arithmetic of LANGUAGE.md.
func effectsOf(t require.TestingT, m *motion.Motion, lines []string) (out map[string]effect, whole []string) {
	out = map[string]effect{}
	for i := range m.Channels {
		out[m.Channels[i].Dial.Path] = effect{gain: 1}
	}
	for _, line := range lines {
		words := strings.Fields(line)
		if len(words) < 3 {
			whole = append(whole, strings.Join(words, " "))
			continue
		}
		if words[0] == "start" || words[0] == "mirror" {
			whole = append(whole, strings.Join(words, " "))
			continue
		}
		by, err := strconv.ParseFloat(strings.TrimRight(words[2], "%fb"), 64)
		require.NoError(t, err, line)
		for i := range m.Channels {
			c := &m.Channels[i]
			if !grammar.MatchPattern(words[1], c.Dial.Path) && !grammar.MatchPattern(words[1], c.Dial.Control) {
				continue
			}
			mean := c.Dial.Rest
			if c.Base != nil {
				mean = c.Base.Curve.Mean()
			}
			e := out[c.Dial.Path]
			switch words[0] {
			case "amplify":
				e.gain, e.shift = e.gain*by/100, e.shift*by/100
			case "scale":
				e.gain, e.shift = e.gain*by/100, e.shift*by/100+(by/100-1)*(mean-c.Dial.Rest)
			case "offset":
				e.shift += by
			case "delay":
				e.late += by
			}
			out[c.Dial.Path] = e
		}
	}
	return out, whole
}

// asVariant imports the clip of a variant with the base that it is made from.
func asVariant(t require.TestingT, texts map[string]string, name string) *BaseResult {
	m := motion.NewProject(treesOf(texts)).Resolve(grammar.Parse(name, texts[name]))
	require.NotNil(t, m.Base, name)
	o := BaseOptions{Path: "clip.glb", ReadFile: clipOf(t, texts, name), Base: m.Base.File, Trees: treesOf(texts), Folder: path.Dir(name)}
	if m.Rig.File != m.Base.Rig.File {
		o.Rig = m.Rig.File
	}
	r, err := ImportBase(o)
	require.NoError(t, err, name)
	return r
}

// changeOf are the lines of a sheet's change that say how it moves, of the kinds that an import looks for.
func changeOf(f *grammar.File) []string {
	var out []string
	if b := f.First(grammar.ChangeBlock); b != nil {
		for i, stmt := range b.Entries() {
			switch stmt.(type) {
			case *grammar.AmplifyLine, *grammar.ScaleLine, *grammar.OffsetLine, *grammar.DelayLine, *grammar.MirrorLine, *grammar.ReverseLine, *grammar.StartLine:
				out = append(out, b.RefLine(i).Text())
			}
		}
	}
	return out
}

// sameEffects holds the lines that were found to those that were written: sizes within 2 %, places within what the import
// allows, delays within a quarter of a frame. What does not move shows no size and no delay.
func sameEffects(t require.TestingT, plain *motion.Motion, written, found []string) {
	want, wantWhole := effectsOf(t, plain, written)
	got, gotWhole := effectsOf(t, plain, found)
	if slices.Contains(wantWhole, "mirror") {
		// Then sizes are about the other side's mean, and what sways evenly may come half a round later instead; that the
		// motion is the same is held to besides.
		require.LessOrEqual(t, len(found), len(written)+4, "%s", strings.Join(found, "\n"))
		return
	}
	require.Equal(t, wantWhole, gotWhole, "%s", strings.Join(found, "\n"))
	limits := gearsOf(plain.Rig, DefaultWithin()).limits
	for i := range plain.Channels {
		c := &plain.Channels[i]
		w, g := want[c.Dial.Path], got[c.Dial.Path]
		if math.IsInf(limits[i], 1) {
			continue
		}
		var values []float64
		for k := range 200 {
			values = append(values, c.At(plain.Sheet.Length.Float()*float64(k)/200))
		}
		moves := rangeOf(values) / limits[i]
		if w.gain != 1 && moves > 40 {
			require.InDelta(t, w.gain, g.gain, 0.02, "%s: size", c.Dial.Path)
		}
		apart := w.shift - g.shift
		if c.Dial.Unit == "deg" {
			apart = math.Remainder(apart, 360) // a clip does not tell half a turn one way from half a turn the other way
		}
		require.InDelta(t, 0, apart, 2*limits[i], "%s: place", c.Dial.Path)
		if moves*w.gain > 40 { // what moves less is inside the limits a frame sooner or later
			require.InDelta(t, w.late, g.late, 0.25, "%s: delay", c.Dial.Path)
		}
	}
}

// plainVariant is a variant's own header with some lines of change and nothing else.
func plainVariant(f *grammar.File, lines []string) string {
	var out strings.Builder
	for _, line := range f.First(grammar.SheetBlock).Lines {
		if line.Kind != grammar.CommentLine && line.Kind != grammar.BlankLine {
			out.WriteString(line.Text + "\n")
		}
	}
	if len(lines) > 0 {
		out.WriteString("\nchange\n  " + strings.Join(lines, "\n  ") + "\n")
	}
	return grammar.Format(grammar.Parse(f.Path, out.String()))
}

// What the demo's variants do to their base by lines of change is found again in their clips, line by line, tempo and rig
// included, and nothing else needs to be written.
func TestBaseFindsTheLinesOfTheCast(t *testing.T) {
	long(t)
	texts := castTexts(t)
	held := 0
	for name, text := range texts {
		f := grammar.Parse(name, text)
		sheet := f.First(grammar.SheetBlock)
		written := changeOf(f)
		if sheet == nil || len(written) == 0 || strings.Contains(name, "/") {
			continue
		}
		texts := with(texts, name, plainVariant(f, written))
		r := asVariant(t, texts, name)
		var found []string
		for _, line := range r.Lines {
			found = append(found, line.Text)
		}
		t.Logf("%s\n%s\n%s", name, strings.Join(written, "\n"), strings.Join(r.Report, "\n"))
		plain := motion.NewProject(treesOf(with(texts, name, plainVariant(f, nil)))).Resolve(grammar.Parse(name, plainVariant(f, nil)))
		t.Run(name, func(t *testing.T) { sameEffects(t, plain, written, found) })
		assert.Zero(t, r.Short, name)
		held++
	}
	assert.GreaterOrEqual(t, held, 6)
}

// Any lines of change on the pier's sheet are found again in the clip, and the variant that is written moves as the one
// that was exported.
func TestBaseFindsAnyLines(t *testing.T) {
	long(t)
	texts := pier()
	head := "sheet pier-other\n  from      pier-wait in \"wait.motet\"\n"
	rapid.Check(t, func(r *rapid.T) {
		var lines []string
		if rapid.IntRange(0, 4).Draw(r, "mirror") == 0 {
			lines = append(lines, "mirror")
		}
		for _, control := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"hips", "chest", "head", "arm.left"}), 0, 2, rapid.ID[string]).Draw(r, "late") {
			if frames := rapid.IntRange(-6, 9).Draw(r, "frames"); frames != 0 {
				lines = append(lines, fmt.Sprintf("delay %s %df", control, frames))
			}
		}
		paths := []string{"hips/side", "chest/lean", "head/nod", "head/turn", "arm.left/swing", "arm.right/swing", "arm.left/bend", "arm.right/bend"}
		for _, path := range rapid.SliceOfNDistinct(rapid.SampledFrom(paths), 0, 3, rapid.ID[string]).Draw(r, "sized") {
			lines = append(lines, fmt.Sprintf("amplify %s %d%%", path, rapid.SampledFrom([]int{40, 55, 70, 130, 160, 200}).Draw(r, "size")))
		}
		for _, path := range rapid.SliceOfNDistinct(rapid.SampledFrom(paths), 0, 3, rapid.ID[string]).Draw(r, "moved") {
			lines = append(lines, fmt.Sprintf("offset %s %d", path, rapid.SampledFrom([]int{-9, -4, -2, 2, 5, 12}).Draw(r, "by")))
		}
		text := head
		if tempo := rapid.SampledFrom([]int{60, 80, 96}).Draw(r, "bpm"); tempo != 80 {
			text += fmt.Sprintf("  tempo     %d bpm\n", tempo)
		}
		plain := text
		if len(lines) > 0 {
			text += "\nchange\n  " + strings.Join(lines, "\n  ") + "\n"
		}
		texts := with(texts, "other.motet", text)
		made := asVariant(r, texts, "other.motet")
		var found []string
		for _, line := range made.Lines {
			found = append(found, line.Text)
		}
		sameEffects(r, motion.NewProject(treesOf(texts)).Resolve(grammar.Parse("other.motet", plain)), lines, found)
		require.Zero(r, made.Short)
		require.Equal(r, made.Text, grammar.Format(grammar.Parse(made.SheetFile, made.Text)))
		got := motion.NewProject(treesOf(with(texts, made.SheetFile, made.Text))).Resolve(grammar.Parse(made.SheetFile, made.Text))
		require.Empty(r, got.Problems)
		want := motion.NewProject(treesOf(texts)).Resolve(grammar.Parse("other.motet", text))
		require.Equal(r, want.Sheet.Length, got.Sheet.Length)
		for frame := 0.0; frame < want.Sheet.Length.Float(); frame++ {
			theirs, ours := want.World(frame), got.World(frame)
			for i := range theirs {
				require.LessOrEqual(r, vec3(theirs[i].Position()).to(vec3(ours[i].Position())), DefaultWithin().WorldCM)
			}
		}
		sum := made.BaseShare
		for _, line := range made.Lines {
			sum += line.Share
		}
		require.InDelta(r, made.ChangeShare, sum, 1e-9)
	})
}

// The mirror of one control is found where the rest of the body goes as the base does.
func TestBaseFindsTheMirrorOfOneControl(t *testing.T) {
	long(t)
	for _, control := range []string{"head", "arm.*"} {
		// Arms that go alike half a round later would explain a mirror as well as that delay.
		texts := with(pier(), "wait.motet", replaced(t, pierWait, "  hips/side         -2.1\n", "  hips/side         -2.1\n  arm.left/bend     40\n"))
		texts = with(texts, "other.motet", "sheet pier-other\n  from      pier-wait in \"wait.motet\"\n\nchange\n  mirror    "+control+"\n")
		r := asVariant(t, texts, "other.motet")
		require.Len(t, r.Lines, 1, strings.Join(r.Report, "\n"))
		assert.Equal(t, "mirror "+control, r.Lines[0].Text)
		assert.Zero(t, r.Short)
		assert.InDelta(t, 1, r.ChangeShare, 1e-4)
	}
}

// A longer clip goes through the base several times; what no line says is amended, or put into a layer, and the shares
// that are told add up to the whole.
func TestBaseWritesTheRest(t *testing.T) {
	texts := with(pier(), "other.motet", `sheet pier-other
  from      pier-wait in "wait.motet"
  tempo     100 bpm
  cycle     8b

change
  amplify   hips/side   140%

track head in glance
  at      turn
  5b      0^
  11/2b   14^
  7b      0^
`)
	r := asVariant(t, texts, "other.motet")
	assert.Contains(t, r.Text, "  tempo     100 bpm\n  cycle     8b\n")
	require.Len(t, r.Lines, 1)
	assert.Equal(t, "amplify hips/side 140%", r.Lines[0].Text)
	require.Len(t, r.Changes, 1)
	assert.Equal(t, "head/turn", r.Changes[0].Path)
	assert.Zero(t, r.Short)
	assert.Contains(t, r.Text, "track head in retouch\n  at      turn\n")
	assert.Less(t, r.ChangeShare, 1.0)
	t.Log(strings.Join(r.Report, "\n"), "\n", r.Text)
}

// What is no variant is refused.
func TestBaseRefusesWhatIsNoVariant(t *testing.T) {
	texts := with(pier(), "long.motet", "sheet long\n  rig       pier in \"rig.motet\"\n  cycle     2000f\n\ntrack hips\n  at      side\n  0f      1\n  9f      2\n")
	_, err := ImportBase(BaseOptions{Path: "clip.glb", ReadFile: clipOf(t, texts, "long.motet"), Base: grammar.Parse("wait.motet", texts["wait.motet"]), Trees: treesOf(texts), Folder: "."})
	require.ErrorContains(t, err, "no variant of wait.motet")
	require.ErrorContains(t, err, "which no tempo makes up for; import the clip on its own")
	_, err = ImportBase(BaseOptions{Path: "clip.glb", ReadFile: clipOf(t, texts, "long.motet"), Base: grammar.Parse("rig.motet", texts["rig.motet"]), Trees: treesOf(texts), Folder: "."})
	require.ErrorContains(t, err, "rig.motet has no sheet")
}

// Played by three, a member of the cast and the variant that is made of her clip put every joint in the same place, her
// own tracks and layers included.
func TestBasePlaysAsTheClip(t *testing.T) {
	long(t)
	texts := castTexts(t)
	m := sheetOf(t, texts, "tallywoman.motet")
	_, clip := exported(t, TakeWish{}, m)
	r := asVariant(t, texts, "tallywoman.motet")
	assert.Contains(t, r.Text, "tempo     90 bpm")
	take, err := NewTake(sheetOf(t, with(texts, r.SheetFile, r.Text), r.SheetFile), TakeWish{})
	require.NoError(t, err)
	place, _ := playedOff(t, playing{take, clip, 0, same})
	assert.LessOrEqual(t, place[0], DefaultWithin().WorldCM/100)
	t.Logf("off by %.4f m\n%s", place[0], strings.Join(r.Report, "\n"))
}

// Hands that a member of the cast plants and the base leaves free, on the hips, on a thigh, on the chest, on the head and in
// the world, are planted in the variant that is made of the clip, where the sheet has them, and then lines of change
// explain what no turns of an arm could.
func TestBasePlantsWhatTheBaseLeavesFree(t *testing.T) {
	long(t)
	texts := castTexts(t)
	for _, name := range []string{"clerk.motet", "catfeeder.motet", "ferrier.motet", "chandler.motet", "pilot.motet", "cooper.motet"} {
		r := asVariant(t, texts, name)
		assert.Zero(t, r.Short, "%s: %s", name, strings.Join(r.Report, "\n"))
		assert.LessOrEqual(t, r.WorldCM, DefaultWithin().WorldCM, name)
		plants := func(m *motion.Motion) (out []string) {
			for _, p := range m.Plants {
				if m.Rig.Joints[p.Joint].Part != "foot" { // the base's own
					out = append(out, fmt.Sprint(p.Goal, p.On, p.From, p.To))
				}
			}
			slices.Sort(out)
			return out
		}
		assert.Equal(t, plants(sheetOf(t, texts, name)), plants(sheetOf(t, with(texts, r.SheetFile, r.Text), r.SheetFile)), name)
		t.Logf("%s: %s of it by lines; a turn is off by %.3f°, a place by %.3f cm", name, percent(r.ChangeShare), r.TurnDeg, r.WorldCM)
	}
}
