package exchange

import (
	"fmt"
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// proofSlack is by how much more than its share a joint may be off when the texts are read again: the import's own solver
// and the language's differ by rounding.
const proofSlack = 1.01

// proves tells whether a sheet with solved limbs, read as everybody reads it, is the clip's motion at every frame, and else
// what is off. An import fits with a solver of its own, and what is written is what counts.
func (f *figure) proves(r *Result, within Within, most float64) error {
	// The sheet names no other file than its rig, which may lie some folders above it.
	sheet := grammar.Parse(strings.Repeat("folder/", strings.Count(r.RigFile, "../"))+r.SheetFile, r.SheetText)
	trees := func(path string) (*grammar.File, error) { return grammar.Parse(path, r.RigText), nil }
	m := motion.NewProject(trees).Resolve(sheet)
	if !m.Whole() || len(m.Problems) > 0 || len(m.Rig.Joints) != len(f.skeleton.joints) {
		return fmt.Errorf("the sheet does not read as it was meant")
	}
	player := m.Player()
	joints := f.skeleton.joints
	for frame := range f.time.frames {
		step := frame * stepsPerFrame
		world := player.Figure(float64(frame)).World
		for i := range joints {
			if joints[i].absent {
				continue
			}
			own := linearOf(&world[i])
			if up := joints[i].parent; up >= 0 {
				above := linearOf(&world[up])
				own = above.inverse().times(own)
			}
			turned := own.turnOf().angleTo(joints[i].clip[step].turn) / within.TurnDeg
			moved := f.world[step][i].to(vec3(world[i].Position())) / within.WorldCM
			if off := math.Max(turned, moved); off > most {
				return fmt.Errorf("at frame %d %s would be %s times as far off as is allowed", frame, joints[i].name, number(off, 2))
			}
		}
	}
	return nil
}
