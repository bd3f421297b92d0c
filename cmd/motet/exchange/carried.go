package exchange

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// A TextFile is a sheet or a rig by its name, which has no folder that leads out.
type TextFile struct{ Name, Text string }

// How far a clip may be from the sheet that it carries and still count as its motion: less than anybody moves a joint on
// purpose. An export keeps to a tenth of it.
const (
	carriedCM      = 0.1
	carriedDeg     = 0.15
	carriedPercent = 0.5 // of a morph target's weight
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
	l, err := d.likeness(performanceOf(m), clip, Rate{m.Sheet.Rate.Num(), m.Sheet.Rate.Den()})
	switch {
	case err != nil:
	case len(l.Respelled) > 0:
		err = fmt.Errorf("the joint %s is called %q now", l.Respelled[0][0], l.Respelled[0][1])
	case len(l.Lost) > 0:
		err = fmt.Errorf("the file has no node for the joint %s", l.Lost[0])
	case len(l.LostTargets) > 0:
		err = fmt.Errorf("the file has no morph target %s", l.LostTargets[0])
	case !l.Lasts(LikenessLimits{Frames: 0.01}):
		err = fmt.Errorf("it lasts %s s and not %s", number(l.ClipSeconds, 3), number(l.Seconds, 3))
	}
	if err != nil {
		return nil, fmt.Sprintf("the clip carries the sheet %s, but is not its motion any more (%s); it is fitted anew", files[0].Name, err)
	}
	place, turn, _, _ := l.Largest()
	offCM, offDeg := place.Largest, turn.Largest
	if offCM > carriedCM || offDeg > carriedDeg {
		return nil, fmt.Sprintf("the clip carries the sheet %s, but is not its motion any more (off by up to %s cm and %s°); it is fitted anew", files[0].Name, roundUp(offCM, 3), roundUp(offDeg, 3))
	}
	if weight, target := l.LargestWeight(); weight.Largest > carriedPercent {
		return nil, fmt.Sprintf("the clip carries the sheet %s, but is not its motion any more (the weight of %s is off by up to %s%%); it is fitted anew", files[0].Name, target, roundUp(weight.Largest, 3))
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
