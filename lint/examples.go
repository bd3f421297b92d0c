package lint

import (
	"errors"
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
  eye.left        head            3       5       5       eye

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  hips/drop               .               move.y          1       cm      -10..4      keep    "up"
  spine/lean              .               turn.x          1       deg     -30..30     keep    "forward"
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
  head/turn               .               turn.y          1       deg     -70..70     flip    "to their left"
  arm.left/swing          .               turn.x          1       deg     -60..60     keep    "back"
  arm.right/swing         .               turn.x          1       deg     -60..60     keep    "back"
  eyes/side               eye.left        turn.y          1       deg     -35..35     flip    "to their left"
`

const exampleHeader = `sheet example
  rig       small in "small.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

`

// ExampleSheet is an example as a whole sheet: blocks alone get a header of four beats of 18 frames.
func ExampleSheet(example string) string {
	if strings.HasPrefix(example, "sheet ") {
		return example
	}
	return exampleHeader + example
}

// CheckExample judges an example on [ExampleRig].
func CheckExample(example string) []Finding {
	trees := func(path string) (*grammar.File, error) {
		if path != "small.motet" {
			return nil, errors.New("examples have no other files")
		}
		return grammar.Parse(path, ExampleRig), nil
	}
	file := grammar.Parse("example.motet", ExampleSheet(example))
	return Check(motion.NewProject(trees).Resolve(file))
}
