package lint

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// ExampleRig is the rig that the rules' examples move.
const ExampleRig = `rig small
  height    100

joints
  joint           on              x       y       z       part
  hips            .               0       50      0       root
  spine           hips            0       25      0       spine
  head            spine           0       25      0       head
  arm.left        spine           12      20      0       arm
  arm.right       spine           -12     20      0       arm
  hand.left       arm.left        0       -30     0       hand
  hand.right      arm.right       0       -30     0       hand
  eye.left        head            3       5       5       eye

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  hips/drop               .               move.y          1       cm      -10..4      keep    "up"
  hips/tilt               .               turn.z          1       deg     -20..20     flip    "left hip up"
  spine/lean              .               turn.x          1       deg     -30..30     keep    "forward"
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
  head/turn               .               turn.y          1       deg     -70..70     flip    "to their left"
  arm.left/swing          .               turn.x          1       deg     -60..60     keep    "back"
  arm.right/swing         .               turn.x          1       deg     -60..60     keep    "back"
  eyes/side               eye.left        turn.y          1       deg     -35..35     flip    "to their left"
`

// ExampleBase is the sheet that the examples of variants are made from, on a figure that wears a coat.
const ExampleBase = `rig coated
  height    100

joints
  joint           on              x       y       z       part
  hips            .               0       50      0       root
  coat            hips            0       -5      0       other

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  coat/swing              .               turn.z          1       deg     -30..30     flip    "to their left"

sheet shore
  rig       coated
  rate      24 fps
  tempo     80 bpm
  cycle     4b

track hips
  at      side
  0b      2
  2b      -2

track coat
  at      swing
  0b      4
  2b      -4
`

// ExampleLimb is the rig of the examples about planted feet: one leg of 45 + 45 cm.
const ExampleLimb = `rig legged
  height    100

joints
  joint           on              x       y       z       part
  hips            .               0       92      0       root
  thigh.left      hips            8       0       0       leg
  shin.left       thigh.left      0       -45     0       leg
  ankle.left      shin.left       0       -45     0       foot

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -40..40     flip    "to their left"
  hips/drop               .               move.y          1       cm      -30..4      keep    "up"

chains
  goal            root            middle          end             bends
  foot.left       thigh.left      shin.left       ankle.left      +z
`

// exampleCast are the sheets of the examples about families and variants, all made from [ExampleBase].
var exampleCast = map[string]string{
	"cooper-wait.motet":     "sheet cooper-wait\n  from      shore in \"shore.motet\"\n",
	"pilot-wait.motet":      "sheet pilot-wait\n  from      shore in \"shore.motet\"\n\nchange\n  scale     hips    160%\n  delay     coat    9f\n",
	"ropewalker-wait.motet": "sheet ropewalker-wait\n  from      shore in \"shore.motet\"\n  tempo     60 bpm\n  phase     2b\n",
	"eelcatcher-wait.motet": "sheet eelcatcher-wait\n  from      shore in \"shore.motet\"\n  phase     2b\n",
	"jetty.motet":           "sheet jetty\n  from      shore in \"shore.motet\"\n\nchange\n  offset    hips/side 3\n",
	"pilot-glance.motet":    "sheet pilot-glance\n  rig       coated in \"shore.motet\"\n  tempo     80 bpm\n  span      2b\n",
}

const exampleHeader = `sheet example
  rig       small in "small.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

`

// ExampleSheet is an example as a whole sheet: blocks alone get a header of four beats of 18 frames.
func ExampleSheet(example string) string {
	if strings.HasPrefix(example, "sheet ") || strings.HasPrefix(example, "family ") {
		return example
	}
	return exampleHeader + example
}

// CheckExample judges an example.
func CheckExample(example string) []Finding { return Check(ResolveExample(example)) }

// ResolveExample resolves an example on [ExampleRig], with [ExampleBase] and [ExampleLimb] beside it.
func ResolveExample(example string) *motion.Motion {
	files := map[string]*grammar.File{}
	for path, text := range map[string]string{"small.motet": ExampleRig, "shore.motet": ExampleBase, "legged.motet": ExampleLimb} {
		files[path] = grammar.Parse(path, text)
	}
	for path, text := range exampleCast {
		files[path] = grammar.Parse(path, text)
	}
	names := slices.Collect(maps.Keys(files))
	trees := func(path string) (*grammar.File, error) {
		if file := files[path]; file != nil {
			return file, nil
		}
		return nil, errors.New("examples have no other files")
	}
	list := func(string) []string { return names }
	return motion.NewProject(trees).WithListing(list).Resolve(grammar.Parse("example.motet", ExampleSheet(example)))
}
