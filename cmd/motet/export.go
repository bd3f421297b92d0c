package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/lint/motion"
)

const exportHelp = `
motet export SHEET --out CLIP.glb [FLAGS]
motet export SHEET --into CHARACTER.glb [FLAGS]
motet export --all FOLDER --out FOLDER|CLIPS.glb [FLAGS]

Writes a sheet as a clip that animation packages and engines read: glTF 2.0,
with the rig's joints as nodes and one animation. Where a joint's motion is the
sheet's own cubics it is written so, key for key; everything else gets the
fewest keys that keep every joint in its place. A cycle's last key is its first,
to the bit. The animation's extras say which sheet it came from, with its hash.
Weights of morph targets go, with --into, to every mesh that has a target so
called; a clip of its own carries them on a triangle of no size that no player
draws, under their names.

  --out FILE        where to write; a file that is there is replaced only when
                    it is a .glb that motet made
  --into FILE       add the clip to the animator's own .glb or .gltf, or put it
                    in the place of the clip of its name, or of the one that an
                    import gave the sheet's name; everything else in the file
                    stays as it is. With --out, the file is read only
  --all FOLDER      all sheets of a folder: into a folder, one file each, with a
                    manifest.json that tells of them; or as the clips of one
                    file, with the manifest beside it. Sheets of several rigs
                    become a file a rig, --out cast.glb then cast-RIG.glb
  --clip NAME       the clip's name; the sheet's when left out
  --within LIMITS   how far a joint's own turn, its own move and its place in
                    the world may be from the sheet's at any moment (default
                    0.05deg,0.01cm; the place may be off as far as the move, or
                    say, as in 0.05deg,0.01cm,0.1cm-world); weights of morph
                    targets by 0.05%-weight
  --bake RATE       a key of everything at that rate, such as 30fps, straight
                    lines between
  --bare            leave the texts of the sheet and its rig out of the clip;
                    an import restores them as long as it is their motion
  --csv FILE        write the channels' values too, a row a frame
  --json FILE       write all joints' places in the world too, frame by frame,
                    and the weights of morph targets
  --force           replace any file

exit codes:
  0  written
  2  not done, and nothing was written
`

type exportFlags struct {
	Sheet  string `arg:"" optional:"" name:"sheet"`
	Out    string
	Into   string
	All    string
	Clip   string
	Within string
	Bake   string
	Bare   bool
	CSV    string `name:"csv"`
	JSON   string `name:"json"`
	Force  bool

	members *motion.Family `kong:"-"` // of --all
	remarks []string       `kong:"-"` // on what is written
}

// output is a file that an export is going to write.
type output struct {
	path string
	data []byte
	// replaces is the file as it was read, which it takes the place of; nil for a new one.
	replaces *fileVersion
}

func (f *exportFlags) run(c *console) int {
	if err := f.export(c); err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	return exitClean
}

func (f *exportFlags) export(c *console) error {
	if err := f.agree(); err != nil {
		return err
	}
	wish, err := f.wish()
	if err != nil {
		return err
	}
	takes, err := f.takes(wish)
	if err != nil {
		return err
	}
	outputs, err := f.outputs(takes)
	if err != nil {
		return err
	}
	if err := f.write(outputs); err != nil {
		return err
	}
	for _, take := range takes {
		c.print(take.Report() + "\n")
	}
	for _, line := range f.remarks {
		c.print(line + "\n")
	}
	for _, o := range outputs {
		c.print("wrote " + o.path + "\n")
	}
	return nil
}

// agree tells which flags do not go together.
func (f *exportFlags) agree() error {
	isGLB := func(path string) bool { return strings.HasSuffix(strings.ToLower(path), ".glb") }
	switch {
	case f.Sheet == "" && f.All == "":
		return errors.New("nothing says what to write; name a sheet, or a folder with --all")
	case f.Sheet != "" && f.All != "":
		return fmt.Errorf("`%s` and --all %s both say what to write; leave one out", f.Sheet, f.All)
	case f.All != "" && (f.Clip != "" || f.CSV != "" || f.JSON != ""):
		return errors.New("--clip, --csv and --json are for one sheet, and --all is for many; export that sheet alone")
	case f.All != "" && f.Out == "" && f.Into == "":
		return errors.New("nothing says where to write; add, say, --out clips")
	case f.Out == "" && f.Into == "" && f.CSV == "" && f.JSON == "":
		return errors.New("nothing says where to write; add, say, --out clip.glb")
	case f.All == "" && f.Into == "" && f.Out != "" && !isGLB(f.Out):
		return fmt.Errorf("--out: `%s` does not end in .glb, the form that is written", f.Out)
	case f.Into != "" && f.Out != "" && !strings.EqualFold(filepath.Ext(f.Out), filepath.Ext(f.Into)):
		return fmt.Errorf("--out: `%s` and --into: `%s` are of two kinds; a file that a clip is put into keeps its kind", f.Out, f.Into)
	}
	return nil
}

func (f *exportFlags) wish() (exchange.TakeWish, error) {
	wish := exchange.TakeWish{Name: f.Clip, Bare: f.Bare}
	var err error
	if f.Within != "" {
		if wish.Within, err = exchange.ParseExportWithin(f.Within); err != nil {
			return wish, fmt.Errorf("--within: %w", err)
		}
	}
	if f.Bake != "" {
		if wish.Bake, err = exchange.ParseRate(f.Bake); err != nil {
			return wish, fmt.Errorf("--bake: %w", err)
		}
	}
	return wish, nil
}

// takes works out the sheets that are asked for. One that can't be read as it was meant stops the whole: what is
// written must be the motion that somebody wrote.
func (f *exportFlags) takes(wish exchange.TakeWish) ([]*exchange.Take, error) {
	if f.All != "" {
		var err error
		if f.members, err = findFamily(f.All); err != nil {
			return nil, fmt.Errorf("%s: %s", f.All, plainIO(err))
		}
		all, err := newProjects(f.All)
		if err != nil {
			return nil, fmt.Errorf("the current folder can't be found: %w", err)
		}
		p, _ := all.of(filepath.Join(f.All, "family"+sheetSuffix))
		return allTakes(f.members, wish, all.naming(p))
	}
	m, all, p, err := resolveSheet(f.Sheet)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", f.Sheet, plainIO(err))
	}
	if err := sound(m, all.naming(p)); err != nil {
		return nil, err
	}
	take, err := exchange.NewTake(m, wish)
	if err != nil {
		return nil, err
	}
	return []*exchange.Take{take}, nil
}

// exportClip is an export that an editor asks for: of a sheet as it stands there, into one file, under the rules of the
// command line. It gives the line that says what was written, and writes nothing once ctx has ended.
func exportClip(ctx context.Context, m *motion.Motion, path string, tell func(step string)) (report string, err error) {
	f := exportFlags{Sheet: m.File.Path, Out: path}
	if err := f.agree(); err != nil {
		return "", err
	}
	// What is in the way is told before the work, and looked at again after it.
	if err := f.free(path)(); errors.Is(err, errInTheWay) {
		return "", fmt.Errorf("%s: %w; write under another name", path, errInTheWay)
	} else if err != nil {
		return "", fmt.Errorf("%s: %s", path, plainIO(err))
	}
	tell("reading the sheet")
	if err := sound(m, nil); err != nil {
		return "", fmt.Errorf("nothing was written: %w", err)
	}
	tell("fitting keys")
	take, err := exchange.NewTake(m, exchange.TakeWish{Stop: ctx.Err})
	if err != nil {
		return "", err
	}
	tell("writing " + filepath.Base(path))
	outputs, err := f.outputs([]*exchange.Take{take})
	if err != nil {
		return "", err
	}
	if err := ctx.Err(); err != nil {
		return "", err
	}
	return take.Report(), f.write(outputs)
}

// outputs makes the files, all of them before any is written.
func (f *exportFlags) outputs(takes []*exchange.Take) ([]output, error) {
	var out []output
	switch {
	case f.Into != "":
		into, err := f.into(takes)
		if err != nil {
			return nil, err
		}
		out = append(out, into)
	case f.All != "":
		return f.family(takes)
	case f.Out != "":
		data, err := exchange.WriteGLB(takes)
		if err != nil {
			return nil, err
		}
		out = append(out, output{path: f.Out, data: data})
	}
	if f.CSV != "" {
		out = append(out, output{path: f.CSV, data: exchange.WriteCSV(takes[0].Motion)})
	}
	if f.JSON != "" {
		data, err := exchange.WritePlaces(takes[0].Motion)
		if err != nil {
			return nil, err
		}
		out = append(out, output{path: f.JSON, data: data})
	}
	return out, nil
}

// into puts the takes into the animator's own file.
func (f *exportFlags) into(takes []*exchange.Take) (output, error) {
	out := output{path: f.Into}
	target, err := filepath.EvalSymlinks(f.Into)
	if err != nil {
		return out, fmt.Errorf("%s: %s", f.Into, plainIO(err))
	}
	info, err := os.Stat(target)
	if err != nil {
		return out, fmt.Errorf("%s: %s", f.Into, plainIO(err))
	}
	if out.data, err = readClip(f.Into); err != nil {
		return out, err
	}
	for _, take := range takes {
		uneven, err := exchange.UnevenNodes(out.data, take)
		if err == nil && len(uneven) > 0 {
			f.remarks = append(f.remarks, fmt.Sprintf("%s: the scale of %s differs by axis, and the rig does not know: what it carries stands only nearly where the sheet has it; import the rig from the file", take.Name, someNames(uneven)))
		}
	}
	var lines []string
	if out.data, lines, err = exchange.IntoAll(f.Into, out.data, takes); err != nil {
		return out, err
	}
	f.remarks = append(f.remarks, lines...)
	if f.Out != "" {
		out.path = f.Out
		return out, nil
	}
	out.replaces = &fileVersion{path: target, info: info}
	return out, nil
}

// write puts all files in their places, or none where one is in the way.
func (f *exportFlags) write(outputs []output) error {
	taken := map[string]bool{}
	for _, o := range outputs {
		if info, err := os.Stat(o.path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
			continue // into a pipe or a device goes one after the other
		}
		if full, err := filepath.Abs(o.path); err == nil && taken[full] {
			return fmt.Errorf("%s: two files would be written under this name; give each its own", o.path)
		} else if err == nil {
			taken[full] = true
		}
	}
	for _, o := range outputs {
		if o.replaces == nil {
			if err := f.free(o.path)(); err != nil {
				return fmt.Errorf("%s: %w", o.path, err)
			}
		}
	}
	for _, o := range outputs {
		var err error
		if o.replaces != nil {
			err = o.replaces.replace(string(o.data))
		} else {
			err = writeAtomically(o.path, string(o.data), 0, f.free(o.path))
		}
		if err != nil {
			return fmt.Errorf("%s: %s", o.path, plainIO(err))
		}
	}
	return nil
}

// free tells whether what is to be written may take the place of what is there.
func (f *exportFlags) free(path string) func() error {
	return free(path, f.Force, func(path string) bool {
		data, err := readClip(path)
		return err == nil && exchange.IsOurs(data)
	})
}
