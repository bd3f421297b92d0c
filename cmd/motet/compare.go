package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/rogpeppe/go-internal/diff"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

const compareHelp = `
motet compare [FLAGS] OLD NEW
motet compare [FLAGS] SHEET|CLIP.glb CLIP.glb
motet compare --text FILE

Tells what differs between two sheets as motion, not as text: lengths, beats,
and for each channel the largest and the mean difference, with the moment of
the largest, the keys that came and went, and the gap at the seam before and
after. Of two with as many beats at different tempos, equal beats are compared,
and else equal seconds.

With a clip (.glb or .gltf), tells whether it still is the sheet's motion, or
another clip's, after an engine or a build has had it in hand: for each joint
how far it is from its place in the world and turned away there, at most and in
the mean, when, and how far the seam gapes. Joints find their nodes by name, or
by its letters and digits. Other units and axes of the file are taken off. The
weights of morph targets are held to the sheet's in the same way. Where the clip
says from which version of the sheet it was made, that is told too.

  --clip NAME      which clip of NEW, where it has several; the one that is
                   called as the sheet when left out
  --old-clip NAME  which clip of OLD; the one of --clip when left out
  --within LIMITS  how far off a clip may be (default 1deg,0.5cm,2%,0.5f:
                   the turn and the place of a joint in the world, the weight of
                   a morph target, and how many frames longer or shorter it may
                   last)
  --json           print JSON instead (shape: cmd/motet/compare_json.go, and for
                   clips cmd/motet/compare_clip.go)
  --text           print one sheet's motion as text, a line for each key as it
                   plays: what git shows the difference of as a textconv

It also takes the seven arguments that git gives to an external diff. Rigs and
bases are then those that are there now. Files without a sheet, and sheets that
do not play, are compared as text.

  git config diff.motet.command "motet compare"
  echo "*.motet diff=motet" >>.gitattributes

exit codes:
  0  done; of sheets whether or not anything differs, and a clip still is the
     motion
  1  the clip is not the motion any more
  2  a file could not be read, or has no motion to compare
`

type compareFlags struct {
	Files   []string `arg:"" optional:"" name:"file"`
	Clip    string
	OldClip string
	Within  string
	JSON    bool
	Text    bool
}

func (f *compareFlags) run(c *console) int {
	all, err := newProjects()
	if err != nil {
		c.complain("the current folder can't be found: %s", plainIO(err))
		return exitFailed
	}
	switch n := len(f.Files); {
	case f.Text && n == 1:
		return playedText(c, all, f.Files[0])
	case f.Text:
		c.complain("--text takes one FILE; `motet compare --help` tells how to use it")
		return exitFailed
	case n == 7 || n == 9: // two more where git found the file under another name
		return externalDiff(c, all, f.Files, f.JSON)
	case n != 2:
		c.complain("OLD and NEW are what is compared; `motet compare --help` tells how to use it")
		return exitFailed
	case isClip(f.Files[0]) || isClip(f.Files[1]):
		return f.compareClips(c)
	}
	if err := f.clipFlagsAlone(); err != nil {
		c.complain("%s", err)
		return exitFailed
	}
	var sides [2]*side
	for i, path := range f.Files {
		if sides[i], err = readSide(all, path, path); err == nil && !sides[i].motion.Whole() {
			err = fmt.Errorf("it has %s", motionless(sides[i].motion, path, "compare"))
		}
		if err != nil {
			c.complain("%s: %s", path, plainIO(err))
			return exitFailed
		}
	}
	printComparison(c, f.Files[0], f.Files[1], motion.Compare(sides[0].motion, sides[1].motion), f.JSON)
	return exitClean
}

// side is one of the two that are compared.
type side struct {
	text   string
	motion *motion.Motion
}

// readSide reads a file that stands for the one at path, whose neighbours count.
func readSide(all *projects, file, path string) (*side, error) {
	text, err := readFile(file)
	if err != nil {
		return nil, err
	}
	p, name := all.of(path)
	return &side{text, p.Resolve(grammar.Parse(name, text))}, nil
}

// externalDiff takes what git gives: path, old file, hex and mode, new file, hex and mode, and for a file that was renamed
// its new path. A file that is new or gone is the null device on one side.
func externalDiff(c *console, all *projects, args []string, asJSON bool) int {
	path, newPath := args[0], args[0]
	if len(args) == 9 {
		newPath = args[7]
	}
	old, err := gitSide(all, args[1], path)
	if err == nil {
		var now *side
		if now, err = gitSide(all, args[4], newPath); err == nil {
			if old.motion != nil && now.motion != nil && old.motion.Whole() && now.motion.Whole() {
				printComparison(c, "a/"+path, "b/"+newPath, motion.Compare(old.motion, now.motion), asJSON)
				return exitClean
			}
			_, _ = c.out.Write(diff.Diff("a/"+path, []byte(old.text), "b/"+newPath, []byte(now.text)))
			return exitClean
		}
	}
	c.complain("%s: %s", path, plainIO(err))
	return exitFailed
}

func gitSide(all *projects, file, path string) (*side, error) {
	if file == os.DevNull || file == "/dev/null" {
		return &side{}, nil
	}
	return readSide(all, file, path)
}

func printComparison(c *console, oldPath, newPath string, found *motion.Comparison, asJSON bool) {
	if asJSON {
		text, err := json.MarshalIndent(comparisonJSON(oldPath, newPath, found), "", " ")
		if err != nil {
			panic(err) // Numbers, strings and lists of them always encode.
		}
		c.print(string(text) + "\n")
		return
	}
	c.print(comparisonText(oldPath, newPath, found))
}

// playedText prints a sheet's motion, or the file as it is where it has none: what is shown then is the text's difference.
func playedText(c *console, all *projects, file string) int {
	s, err := readSide(all, file, file)
	if err == nil && !s.motion.Whole() {
		if place := placeOfCopy(all, file); place != "" {
			s, err = readSide(all, file, place)
		}
	}
	if err != nil {
		c.complain("%s: %s", file, plainIO(err))
		return exitFailed
	}
	if !s.motion.Whole() {
		c.print(s.text)
		return exitClean
	}
	c.print(motionText(s.motion))
	return exitClean
}
