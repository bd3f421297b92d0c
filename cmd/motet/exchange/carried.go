package exchange

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"path"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A TextFile is a sheet or a rig by its name, which has no folder that leads out.
type TextFile struct{ Name, Text string }

// How far a clip may be from the sheet that it carries and still count as its motion: less than anybody moves a joint on
// purpose. An export keeps to a tenth of it, but where nodes have scales that differ by axis, which a rig can't fold
// exactly, they stand up to half a millimetre from the sheet's own figure.
const (
	carriedCM  = 0.1
	carriedDeg = 0.15
)

// noteOf reads what an export left in the extras of an animation; nil where that is nothing of ours.
func noteOf(extras any) *ClipNote {
	if extras == nil {
		return nil
	}
	text, err := json.Marshal(extras)
	if err != nil {
		return nil
	}
	var holder struct {
		Motet *ClipNote `json:"motet"`
	}
	if json.Unmarshal(text, &holder) != nil || holder.Motet == nil || holder.Motet.Format != ClipFormat {
		return nil
	}
	return holder.Motet
}

// texts are the files that a note carries, the sheet's own first; false where one is missing, is not what its hash says,
// or would lie outside the sheet's folder.
func (n *ClipNote) texts() ([]TextFile, bool) {
	var out []TextFile
	seen := map[string]bool{}
	for _, file := range append([]ClipSource{{File: n.File, Hash: n.Hash, Text: n.Text}}, n.Sources...) {
		local := file.File != "" && filepath.IsLocal(filepath.FromSlash(file.File)) && path.Clean(file.File) == file.File && !strings.ContainsAny(file.File, "\\:\x00")
		if !local || !strings.HasSuffix(file.File, ".motet") || file.Text == "" || HashOf(file.Text) != file.Hash || seen[file.File] {
			return nil, false
		}
		seen[file.File] = true
		out = append(out, TextFile{file.File, file.Text})
	}
	return out, true
}

// carried gives the sheet that a clip carries, as its author wrote it, where the clip still is its motion. Otherwise it
// says in a line why it is not taken, or nothing where the clip carries none.
func (d *Document) carried(clip *Clip) (*Result, string) {
	if clip.note == nil || clip.note.Text == "" {
		return nil, ""
	}
	files, ok := clip.note.texts()
	if !ok {
		return nil, "the clip carries a sheet, but not with all its files as they were and in its own folder; it is fitted anew"
	}
	trees := func(name string) (*grammar.File, error) {
		for _, file := range files {
			if file.Name == name {
				return grammar.Parse(name, file.Text), nil
			}
		}
		return nil, fs.ErrNotExist
	}
	tree, _ := trees(files[0].Name) // it is the first of them
	m := motion.NewProject(trees).Resolve(tree)
	if checkExportable(m) != nil {
		return nil, "the clip carries a sheet that has no motion; it is fitted anew"
	}
	offCM, offDeg, err := d.apart(clip, m)
	switch {
	case err != nil:
		return nil, fmt.Sprintf("the clip carries the sheet %s, but is not its motion any more (%s); it is fitted anew", files[0].Name, err)
	case offCM > carriedCM || offDeg > carriedDeg:
		return nil, fmt.Sprintf("the clip carries the sheet %s, but is not its motion any more (off by up to %s cm and %s°); it is fitted anew", files[0].Name, roundUp(offCM, 3), roundUp(offDeg, 3))
	}
	r := &Result{SheetName: m.Sheet.Name, SheetFile: files[0].Name, SheetText: files[0].Text, RigName: m.Rig.Name, Off: Within{WorldCM: offCM, TurnDeg: offDeg}}
	for _, file := range files[1:] {
		if file.Name == m.Rig.File.Path {
			r.RigFile, r.RigText = file.Name, file.Text
		} else {
			r.Others = append(r.Others, file)
		}
	}
	r.Report = []string{fmt.Sprintf("%s, clip %q: it carries the sheet %s and still is its motion (off by at most %s cm and %s°), so that is written as it was", baseName(d.Path), clip.Name, files[0].Name, roundUp(offCM, 4), roundUp(offDeg, 4))}
	return r, ""
}

// apart is how far a clip is from a sheet at worst, at the sheet's frames: the places of joints in the world, and their
// own turns.
func (d *Document) apart(clip *Clip, m *motion.Motion) (cm, deg float64, err error) {
	rate := Rate{m.Sheet.Rate.Num(), m.Sheet.Rate.Den()}
	length := m.Sheet.Length.Float()
	// A little behind each frame, so that both sides of a jump are told apart in 32 bits too.
	const behind = 1e-3
	time := timing{rate: rate, frames: int(math.Round(length)), start: clip.Start + behind/rate.perSecond(), frame: 1 / rate.perSecond(), stretch: 1}
	if math.Abs(clip.Seconds()-length*time.frame) > time.frame/100 {
		return 0, 0, fmt.Errorf("it lasts %s s and not %s", number(clip.Seconds(), 3), number(length*time.frame, 3))
	}
	s, err := skeletonOf(d, clip, time)
	if err != nil {
		return 0, 0, err
	}
	known := modelOf(m.Rig)
	joints := make([]int, len(m.Rig.Joints))
	for i := range m.Rig.Joints {
		node, err := findNode(&known[i], d.nodes)
		if err == nil && node < 0 {
			err = fmt.Errorf("the file has no node %q", known[i].name)
		}
		if err != nil {
			return 0, 0, err
		}
		joints[i] = s.byNode[node]
	}
	player := m.Player()
	places, scratch := make([]vec3, len(s.joints)), make([]matrix, len(s.joints))
	var values []float64
	var poses []motion.JointPose
	solved := solvedJoints(m)
	for frame := range time.frames {
		at := float64(frame) + behind
		world := player.Figure(at).World
		values = m.Values(at, values)
		poses = m.Rig.Pose(values, poses)
		s.worldPlaces(frame*stepsPerFrame, places, scratch)
		for i, joint := range joints {
			if joint < 0 {
				continue // nothing of it or around it moves
			}
			cm = math.Max(cm, places[joint].to(vec3(world[i].Position())))
			if !solved[i] {
				turn := orderOf(&m.Rig.Joints[i]).quat(vec3(poses[i].Turn))
				deg = math.Max(deg, turn.angleTo(s.joints[joint].path[frame*stepsPerFrame].turn))
			}
		}
	}
	return cm, deg, nil
}

// solvedJoints are those that chains turn and what hangs on them, whose own turns the channels do not tell.
func solvedJoints(m *motion.Motion) []bool {
	out := make([]bool, len(m.Rig.Joints))
	for i := range m.Rig.Chains {
		if solvesChain(m, i) {
			out[m.Rig.Chains[i].Root] = true
		}
	}
	for i := range out {
		up := m.Rig.Joints[i].Parent
		out[i] = out[i] || up >= 0 && out[up]
	}
	return out
}
