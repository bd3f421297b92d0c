package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
)

const importHelp = `
motet import [FLAGS] CLIP.glb
motet import --all [FLAGS] CLIP.glb...
motet import CLIP.glb --onto SHEET [--diff] [--within LIMITS]
motet import CLIP.glb --base SHEET [--rig FILE] [--out FOLDER]

Makes a rig and a sheet of a looping clip: glTF 2.0, as .glb or as .gltf with
its buffers. It keeps the motion within limits that you set with the fewest
keys, merges what moves together into one dial, and says how close the sheet is.
Weights of morph targets become dials as well, one a name: ` + "`face/smile`" + `.
A clip whose ends do not meet is written as a span, and the output says so.

  --out FOLDER      where to write; the current folder when left out
  --clip NAME       which clip, of a file with several
  --list            only list the clips: seconds, rate, moving joints, how far
                    each is from a loop
  --within LIMITS   how far a joint's own turn and move may be from the clip's
                    at any frame (default 0.25deg,0.05cm); its place in the
                    world may be off ten times as far, or say, as in
                    0.25deg,0.05cm,0.3cm-world; weights of morph targets
                    by half a per cent, or say, as in 0.2%-weight
  --cycle           write a cycle even where the ends do not meet;
                    ` + "`motet check`" + ` then shows the gap
  --rate FPS        frames a second, such as 24 or 24000/1001; as the clip's
                    keys are spaced when left out
  --tempo BPM       beats a minute; found in the body's sway when left out
  --anew            fit the clip anew even where it carries the sheet that it
                    was exported from, and still is its motion; without this,
                    that sheet is written as its author wrote it
  --no-plants       leave every limb to the turns of its joints; without this,
                    a foot or hand that stands still gets a chain and a plant
                    where that keeps the clip within the limits
  --still 3mm       plant also a foot or hand that stays that near to a place
                    and would take its limb out of the limits, as captured
                    feet do near a straight knee; the limits hold for the clip
                    with that foot held, and the output says how far off the
                    clip itself that is
  --force           replace files that are there already

With --all, all clips of a file, or of several files with the same skeleton,
become sheets over one rig: a dial means the same in all of them, and they rest
alike. What a clip holds still elsewhere is one key of its sheet. Where any clip
has a foot or a hand that stands, the rig gets its chain, once; that clip plants
it, and in the others the limb keeps the turns of its joints. A clip that
carries its sheet comes back as that. One that can't be imported is told, and
the others are written.

  --all             all clips; --clip 'walk*' takes those of such names
  --rig FILE        a rig that is there already, such as one that you wrote: its
                    dials and its rest stay, and what a clip moves that no dial
                    does becomes a dial more at the end of its table

Where several dials of that rig move one number, as two that bend the neck do,
they add up to the clip: in the order of the table, each has the number that it
moves most of those that no dial before it has, and one for which none is left
stays at rest. A chain of the rig is solved where its end stands, and then
planted; and where the clip turns a limb as no dial does and the chain's goal
has dials. The output names the dials that it adds, and those that it leaves at
rest with the reason.

With --onto, a clip of a sheet comes back into that sheet, as after a round of
edits in an animation package. Only what has moved changes: single cells, and
rows only where the motion needs them; layout, comments, poses and times stay.
Weights of morph targets come back like all else; where several meshes have one,
the mesh that somebody has changed counts.

  --onto SHEET      the sheet to change, of the clip's rig and length
  --diff            print what --onto would change, and write nothing

With --base, a clip becomes a variant of a sheet: the tempo, delays, sizes,
places, mirror and start that explain most of it become lines of ` + "`change`" + `,
what is left is amended, and the output says how much each line explains: how
much less of the channels' departures from rest is left, squared and each in its
own limits. A hand or a foot that the clip holds all the time and the base does
not is planted first.

  --base SHEET      the sheet that the clip is a variant of
  --rig FILE        the variant's own rig, where it is not the base's

exit codes:
  0  written; with --list, listed; with --diff, printed
  1  written, but not within the limits everywhere (--onto, --base, --all), or
     not all of the clips (--all)
  2  not done, and nothing was written
`

type importFlags struct {
	Clips    []string `arg:"" name:"clip"`
	Out      string   `default:"."`
	ClipName string   `name:"clip"`
	All      bool
	List     bool
	Within   string
	Cycle    bool
	Anew     bool
	NoPlants bool
	Still    string
	Rate     string
	Tempo    string
	Force    bool
	Onto     string
	Diff     bool
	Base     string
	Rig      string
}

func (f *importFlags) run(c *console) int {
	if err := f.agree(); err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	switch {
	case f.List:
		return f.list(c)
	case f.All:
		return f.importAll(c)
	case f.Onto != "":
		return f.report(c, f.takeOver(c))
	case f.Base != "":
		return f.report(c, f.asVariant(c))
	}
	options, err := f.options()
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	made, err := exchange.Import(options)
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	written, err := f.write(made)
	if err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	for _, line := range made.Report {
		c.print(line + "\n")
	}
	for _, path := range written {
		c.print("wrote " + path + "\n")
	}
	return exitClean
}

func (f *importFlags) list(c *console) int {
	code := exitClean
	for _, path := range f.Clips {
		document, err := exchange.Read(path, readClip)
		if err == nil && len(document.Clips) == 0 {
			err = fmt.Errorf("%s: the file has no animation", path)
		}
		if err != nil {
			c.complain("%v", err)
			code = exitFailed
			continue
		}
		if len(f.Clips) > 1 {
			c.print(path + ":\n")
		}
		for _, clip := range exchange.List(document) {
			c.print(clip.String() + "\n")
		}
	}
	return code
}

func (f *importFlags) options() (exchange.Options, error) {
	o := exchange.Options{Path: f.Clips[0], ReadFile: readClip, Clip: f.ClipName, Cycle: f.Cycle, Anew: f.Anew, NoPlants: f.NoPlants}
	var err error
	if o.Within, err = f.within(); err != nil {
		return o, err
	}
	if o.StillCM, err = f.still(); err != nil {
		return o, err
	}
	if f.Rate != "" {
		if o.Rate, err = exchange.ParseRate(f.Rate); err != nil {
			return o, fmt.Errorf("--rate: %w", err)
		}
	}
	if f.Tempo != "" {
		bpm := strings.TrimSpace(strings.TrimSuffix(strings.ToLower(f.Tempo), "bpm"))
		if o.TempoBPM, err = strconv.ParseFloat(bpm, 64); err != nil || o.TempoBPM == 0 {
			return o, fmt.Errorf("--tempo: `%s` is no number of beats a minute; write, say, --tempo 80", f.Tempo)
		}
	}
	return o, nil
}

// farthestStill is the most that --still takes, in centimetres: what moves farther does not stand.
const farthestStill = 5

// still reads how far an end may get and still be held, in centimetres; 0 when it is left out.
func (f *importFlags) still() (float64, error) {
	if f.Still == "" {
		return 0, nil
	}
	digits, unit := strings.CutSuffix(strings.ToLower(strings.TrimSpace(f.Still)), "mm")
	perUnit := 0.1
	if !unit {
		digits, perUnit = strings.TrimSuffix(digits, "cm"), 1
	}
	size, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if err != nil || !(size > 0) || size*perUnit > farthestStill {
		return 0, fmt.Errorf("--still: `%s` is no distance up to %d cm; write, say, --still 3mm", f.Still, farthestStill)
	}
	return size * perUnit, nil
}

// within reads the limits; none when they are left out.
func (f *importFlags) within() (w exchange.Within, err error) {
	if f.Within == "" {
		return w, nil
	}
	if w, err = exchange.ParseWithin(f.Within); err != nil {
		return w, fmt.Errorf("--within: %w", err)
	}
	return w, nil
}

// write puts the files of an import into the folder, or none of them where something is in the way of one.
func (f *importFlags) write(made *exchange.Result) (paths []string, err error) {
	return f.writeTexts(made.Files())
}

func (f *importFlags) writeTexts(texts []exchange.TextFile) (paths []string, err error) {
	for _, text := range texts {
		folder := filepath.Dir(f.pathOf(text))
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return nil, fmt.Errorf("%s: the folder can't be made: %s", folder, plainIO(err))
		}
	}
	if err := f.allFree(texts); err != nil {
		return nil, err
	}
	for _, text := range texts {
		path := f.pathOf(text)
		if err := writeAtomically(path, text.Text, 0, f.free(path, text.Text)); err != nil {
			return paths, fmt.Errorf("%s: %s", path, plainIO(err))
		}
		paths = append(paths, path)
	}
	return paths, nil
}

// pathOf is where a text is written.
func (f *importFlags) pathOf(text exchange.TextFile) string {
	return filepath.Join(f.Out, filepath.FromSlash(text.Name))
}

// allFree tells of the first text that may not be written.
func (f *importFlags) allFree(texts []exchange.TextFile) error {
	for _, text := range texts {
		path := f.pathOf(text)
		if err := f.free(path, text.Text)(); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	return nil
}

// free tells whether a text may be written to a path: nothing else may be lost by it unless --force says so.
func (f *importFlags) free(path, text string) func() error {
	return func() error {
		info, err := os.Stat(path)
		switch {
		case err != nil:
			return nil
		case info.IsDir():
			return errors.New("a folder of that name is in the way")
		case f.Force:
			return nil
		}
		if old, err := readFile(path); err == nil && old == text {
			return nil
		}
		return errors.New("it is there already, and may hold somebody's work; --force replaces it, --out writes elsewhere")
	}
}

// largestClip is the most bytes that are read of a clip or of one of its buffers.
const largestClip = 1 << 30

// readClip reads a clip or one of its buffers.
func readClip(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
	case info.IsDir():
		err = errors.New("it is a folder; name a file")
	case !info.Mode().IsRegular():
		err = errNoFile
	case info.Size() > largestClip:
		err = fmt.Errorf("it has %d bytes; a clip has at most %d", info.Size(), int64(largestClip))
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainIO(err))
	}
	return data, nil
}
