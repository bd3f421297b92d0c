package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
)

const exportHelp = `
motet export SHEET --out CLIP.glb [FLAGS]

Writes a sheet as a clip that animation packages and engines read: glTF 2.0,
with the rig's joints as nodes and one animation. Where a joint's motion is the
sheet's own cubics it is written so, key for key; everything else gets the
fewest keys that keep every joint in its place. A cycle's last key is its first,
to the bit. The animation's extras say which sheet it came from, with its hash.

  --out FILE        where to write; a file that is there is replaced only when
                    it is a .glb that motet made
  --clip NAME       the clip's name; the sheet's when left out
  --within LIMITS   how far a joint's own turn, its own move and its place in
                    the world may be from the sheet's at any moment (default
                    0.05deg,0.01cm; the place may be off as far as the move, or
                    say, as in 0.05deg,0.01cm,0.1cm-world)
  --bake RATE       a key of everything at that rate, such as 30fps, straight
                    lines between
  --force           replace any file

exit codes:
  0  written
  2  not done, and nothing was written
`

type exportFlags struct {
	Sheet  string `arg:"" name:"sheet"`
	Out    string
	Clip   string
	Within string
	Bake   string
	Force  bool
}

func (f *exportFlags) run(c *console) int {
	if err := f.export(c); err != nil {
		c.complain("%v", err)
		return exitFailed
	}
	return exitClean
}

func (f *exportFlags) export(c *console) error {
	if f.Out == "" {
		return errors.New("nothing says where to write; add, say, --out clip.glb")
	}
	if !strings.HasSuffix(strings.ToLower(f.Out), ".glb") {
		return fmt.Errorf("--out: `%s` does not end in .glb, the form that is written", f.Out)
	}
	wish, err := f.wish()
	if err != nil {
		return err
	}
	take, err := takeOf(f.Sheet, wish)
	if err != nil {
		return err
	}
	data, err := exchange.WriteGLB([]*exchange.Take{take})
	if err != nil {
		return err
	}
	if err := writeAtomically(f.Out, string(data), 0, f.free); err != nil {
		return fmt.Errorf("%s: %s", f.Out, plainIO(err))
	}
	c.print(take.Report() + "\n")
	c.print("wrote " + f.Out + "\n")
	return nil
}

func (f *exportFlags) wish() (exchange.TakeWish, error) {
	wish := exchange.TakeWish{Name: f.Clip}
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

// takeOf works out one sheet, unless something in it can't be read: what is written must be the motion that was meant.
func takeOf(path string, wish exchange.TakeWish) (*exchange.Take, error) {
	m, _, _, err := resolveSheet(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainIO(err))
	}
	if err := sound(m); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return exchange.NewTake(m, wish)
}

// free tells whether what is to be written may take the place of what is there: nothing, or a clip that motet made.
func (f *exportFlags) free() error {
	info, err := os.Stat(f.Out)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case info.IsDir():
		return errors.New("a folder of that name is in the way")
	case f.Force:
		return nil
	}
	if data, err := readClip(f.Out); err == nil && exchange.IsOurs(data) {
		return nil
	}
	return errors.New("it is there already, and motet did not make it; --force replaces it")
}
