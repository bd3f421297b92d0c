package motion

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
)

func TestFlattenGivesTheSameMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.SampledFrom([]string{
			"", "change\n  mirror\n", "change\n  reverse\n", "change\n  start  3/2b\n", "change\n  amplify  * 150%\n  delay  wrist.* 2f\n",
			"change\n  offset  head 3\n  reseed  9\n", "amend head\n  at  tilt\n  2b  4\n",
			"track head in glance\n  at  tilt\n  1b  0\n  2b  5^\n",
		}).Draw(t, "first")
		second := rapid.SampledFrom([]string{"", "change\n  mirror\n", "change\n  scale  hips 80%\n", "track hips every 1b\n  at  twist\n  0b  1\n  1/2b  -1>\n"}).Draw(t, "second")
		m := chain(t, randomBase(t), first, second)
		text, err := Flatten(m)
		if err != nil {
			t.Fatal(err)
		}
		files := map[string]string{"rig.motet": limbRig, m.File.Path: text}
		trees := inMemory(files)
		file, _ := trees(m.File.Path)
		flat := NewProject(trees).Resolve(file)
		for _, p := range flat.Problems {
			t.Fatalf("%s\n%s", p.Message, text)
		}
		require.Nil(t, flat.Sheet.From)
		sameMotion(t, m, flat, itself)
		for frame := 0.0; frame < 72; frame += 9 {
			world, other := m.World(frame), flat.World(frame)
			for i := range world {
				if d := length(minus(world[i].Position(), other[i].Position())); d > 1e-7 {
					t.Fatalf("%s is %g cm away at %g", m.Rig.Joints[i].Name, d, frame)
				}
			}
		}
	})
}

func TestTraceEndsInTheValue(t *testing.T) {
	m := chain(t, baseSheet, "change\n  offset  hips/side 2\n", "change\n  scale  hips/side 50%\n")
	for i := range m.Channels {
		c := &m.Channels[i]
		for frame := 0.0; frame < 72; frame += 4.5 {
			steps := c.Trace(frame)
			assert.InDelta(t, c.At(frame), steps[len(steps)-1].Value, 1e-12, c.Dial.Path)
		}
	}
	var told []string
	for _, s := range m.Channel("hips/side").Trace(0) {
		told = append(told, s.What)
	}
	assert.Equal(t, []string{"pose at frame 0", "offset  hips/side 2", "scale  hips/side 50%", "the curve through its keys"}, told)
	assert.Equal(t, 3.0, m.Channel("hips/side").Trace(0)[0].Value)
}

func TestSpansMeetTheirIdle(t *testing.T) {
	files := map[string]string{
		"rig.motet": limbRig, "base.motet": baseSheet,
		"sheet.motet": "sheet glance\n  rig      figure in \"rig.motet\"\n  tempo    80 bpm\n  span     2b\n  leaves   base in \"base.motet\" at 1b\n  rejoins  base in \"base.motet\" at 36f\n",
	}
	m := resolved(t, files)
	require.Empty(t, m.Problems)
	require.Len(t, m.Joins, 2)
	idle, when := m.Joins[0].Idle()
	require.NotNil(t, idle)
	assert.Equal(t, []any{"base", 18.0, 0.0}, []any{idle.Sheet.Name, when, m.Joins[0].Own})
	_, when = m.Joins[1].Idle()
	assert.Equal(t, []float64{36, 36}, []float64{when, m.Joins[1].Own})

	// Two spans that name each other are no cycle to get lost in.
	files["base.motet"] = "sheet base\n  rig      figure in \"rig.motet\"\n  span     2b\n  leaves   glance in \"sheet.motet\" at 1b\n"
	m = resolved(t, files)
	idle, _ = m.Joins[0].Idle()
	require.NotNil(t, idle)
}

func TestFilesAreNamedFromTheSheetsFolder(t *testing.T) {
	for _, c := range [][3]string{
		{"a.motet", "b.motet", "b.motet"},
		{"cast/a.motet", "cast/b.motet", "b.motet"},
		{"cast/a.motet", "rigs/b.motet", "../rigs/b.motet"},
		{"x/y/a.motet", "x/b.motet", "../b.motet"},
		{"a.motet", "x/b.motet", "x/b.motet"},
	} {
		assert.Equal(t, c[2], relativePath(c[0], c[1]))
	}
}

func TestFormattingChangesNoMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := randomBase(t)
		plain := chain(t, text)
		tidy := chain(t, grammar.Format(grammar.Parse("v0.motet", text)))
		for i := range plain.Channels {
			for frame := 0.0; frame < 72; frame += 1.75 {
				if a, b := plain.Channels[i].At(frame), tidy.Channels[i].At(frame); a != b {
					t.Fatalf("%s at %g is %g, and %g when formatted", plain.Channels[i].Dial.Path, frame, a, b)
				}
			}
		}
	})
}

func TestFlattenedNumbersAreNoLongerThanTheyNeedToBe(t *testing.T) {
	for value, want := range map[float64]string{2.1667333333333334: "2.166733333", 0.1 + 0.2: "0.3", -1e-12: "0", 36: "36", 1e15 + 0.5: "1000000000000000.5"} {
		assert.Equal(t, want, decimal(value))
	}
}

// An offset of a channel whose column in the base has no key fills that column, and does not begin a second one.
func TestFlattenWritesAChannelOnce(t *testing.T) {
	trees := inMemory(map[string]string{
		"rig.motet":   limbRig,
		"base.motet":  "sheet base\n  rig    figure in \"rig.motet\"\n  tempo  80 bpm\n  cycle  4b\n\ntrack head\n  at  tilt\n",
		"sheet.motet": "sheet v\n  from  base in \"base.motet\"\n\nchange\n  offset  head 3\n",
	})
	file, err := trees("sheet.motet")
	require.NoError(t, err)
	m := NewProject(trees).Resolve(file)
	assert.InDelta(t, 3, m.Channel("head/tilt").At(7), 1e-12)
	text, err := Flatten(m)
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(text, "tilt"))
}
