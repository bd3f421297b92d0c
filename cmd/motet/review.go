package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/server/watch"
)

const reviewHelp = `
motet review FOLDER [FLAGS]

Writes one file for whoever gives notes: everybody in the folder moving, each
with its facts, what the check finds and its open notes. It opens from disk, in
any browser, and needs nothing else. Notes that are written there, each tied to
a member and a beat, are saved as notes.txt; --take writes them into the sheets.
The next round shows them again, until their status is done, and with --since
tells of each member what has changed. FOLDER may be a single sheet too.

  motet review testdata/quay --out review.html
  motet review testdata/quay --take notes.txt
  motet review testdata/quay --since review.html --out second.html

  --out FILE    where to write the page, FILE.html; the sheets travel in it
  --since ROUND tell what has changed since an earlier page, or since a revision
                under git, such as HEAD or main~3
  --take NOTES  write the notes of a file into the sheets of the folder: a line
                each, as in: keeper.motet 3/2b the weight arrives late
  --png FILE    draw a contact sheet: everybody at their accents
  --frames DIR  draw numbered frames for an encoder of video: exactly one round
                of a cycle, without a closing frame that would show the first
                one twice; a folder below DIR for each of several sheets
  --size WxH    pixels of the frames; 720x720 when left out
  --view VIEW   front, side or three-quarter, for drawings; each sheet's own
                when left out
  --scale N     pixels a point of the contact sheet; 2 when left out
  --dark        draw for a dark screen
  --force       replace any file, and frames of any program; without it, only a
                review, and pictures that motet drew

exit codes:
  0  done
  1  done, but a line of a sheet or of what it rests on could not be read
  2  not done; of the notes, none was written
`

type reviewFlags struct {
	Folder string `arg:""`
	Out    string
	Since  string
	Take   string
	PNG    string `name:"png"`
	Frames string
	Size   string `default:"720x720"`
	View   string
	Scale  float64 `default:"2"`
	Dark   bool
	Force  bool

	drawn drawn `kong:"-"`
}

func (f *reviewFlags) run(c *console) int {
	if err := f.review(c); err != nil {
		c.complain("%s", plainIO(err))
		return exitFailed
	}
	return f.drawn.tell(c)
}

func (f *reviewFlags) review(c *console) error {
	if err := f.understood(); err != nil {
		return err
	}
	if f.Take != "" {
		return f.take(c)
	}
	// What is in the way is told before the work, and looked at again after it.
	for path, ours := range map[string]func(string) bool{f.Out: isOurReview, f.PNG: isOurPicture} {
		if path == "" {
			continue
		}
		if err := free(path, f.Force, ours)(); err != nil {
			return fmt.Errorf("%s: %s", path, plainIO(err))
		}
	}
	sheets, err := f.sheets()
	if err != nil {
		return err
	}
	if err := f.count(sheets); err != nil {
		return err
	}
	for _, do := range []struct {
		asked bool
		do    func(*console, []watch.Sheet) error
	}{{f.Out != "", f.page}, {f.PNG != "", f.contact}, {f.Frames != "", f.film}} {
		if do.asked {
			if err := do.do(c, sheets); err != nil {
				return err
			}
		}
	}
	return nil
}

// understood tells what is wrong with the flags.
func (f *reviewFlags) understood() error {
	asked := f.Out != "" || f.PNG != "" || f.Frames != ""
	switch {
	case !asked && f.Take == "":
		return errors.New("nothing says what to do; add --out review.html, --png FILE, --frames DIR, or --take notes.txt")
	case asked && f.Take != "":
		return errors.New("--take and what is written for others are two things; do one after the other")
	case f.Since != "" && f.Out == "":
		return errors.New("--since says what the page compares with; add --out review.html")
	case f.Out != "" && !mayHoldReview(f.Out):
		return fmt.Errorf("--out: `%s` does not end in .html; a review is a page", f.Out)
	case f.View != "" && !slices.Contains([]string{"front", "side", "three-quarter"}, f.View):
		return fmt.Errorf("--view: there is no view `%s`; write front, side or three-quarter", f.View)
	case f.PNG != "" && strings.ToLower(filepath.Ext(f.PNG)) != ".png":
		return fmt.Errorf("--png: `%s` does not end in .png", f.PNG)
	case !(f.Scale > 0) || f.Scale > 32:
		return fmt.Errorf("--scale: `%g` is not above 0 and up to 32", f.Scale)
	}
	_, _, err := f.pixels()
	return err
}

// sheets are those of the folder. One that can't be read is an error, since nobody would miss it on the page.
func (f *reviewFlags) sheets() ([]watch.Sheet, error) {
	files, problems := findFiles([]string{f.Folder})
	for _, p := range problems {
		return nil, fmt.Errorf("%s: %s", p.path, plainIO(p.err))
	}
	for _, path := range files {
		if _, err := readFile(path); err != nil {
			return nil, fmt.Errorf("%s: %s", path, plainIO(err))
		}
	}
	sheets, _, err := watched([]string{f.Folder})
	return sheets, err
}

// count counts what could not be read in the sheets.
func (f *reviewFlags) count(sheets []watch.Sheet) error {
	all, err := newProjects()
	if err != nil {
		return err
	}
	for i := range sheets {
		root := sheets[i].Root
		f.drawn.add(sheets[i].Motion, func(name string) string { return all.shown(&project{root: root}, name) })
	}
	return nil
}

// title is what the folder or the sheet is called.
func (f *reviewFlags) title() string {
	full, err := filepath.Abs(f.Folder)
	if err != nil {
		full = f.Folder
	}
	return strings.TrimSuffix(filepath.Base(full), sheetSuffix)
}

func (f *reviewFlags) scheme() draw.Scheme {
	if f.Dark {
		return draw.Dark()
	}
	return draw.Light()
}

// page writes the review itself.
func (f *reviewFlags) page(c *console, sheets []watch.Sheet) error {
	o := watch.ReviewOptions{Title: f.title()}
	if f.Since != "" {
		var err error
		if o.Earlier, err = f.earlier(); err != nil {
			return fmt.Errorf("--since: %w", err)
		}
	}
	var page bytes.Buffer
	if err := watch.Review(&page, sheets, o); err != nil {
		return err
	}
	return f.write(c, f.Out, page.String(), isOurReview)
}

func isOurReview(path string) bool {
	old, err := readClip(path)
	return err == nil && watch.IsReview(string(old))
}

// mayHoldReview tells whether a review can be written under a name: it ends as pages do, or is no file but a pipe or a
// device.
func mayHoldReview(path string) bool {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return true
	}
	return slices.Contains([]string{".html", ".htm"}, strings.ToLower(filepath.Ext(path)))
}

func (f *reviewFlags) write(c *console, path, text string, ours func(path string) bool) error {
	if err := writeAtomically(path, text, 0, free(path, f.Force, ours)); err != nil {
		return fmt.Errorf("%s: %s", path, plainIO(err))
	}
	c.print(fmt.Sprintf("wrote %s (%.2f MB)\n", path, float64(len(text))/1e6))
	return nil
}

// whole are the motions that can be drawn; it is an error if one can't.
func whole(sheets []watch.Sheet) ([]*motion.Motion, error) {
	var out []*motion.Motion
	for i := range sheets {
		if !sheets[i].Motion.Whole() {
			return nil, fmt.Errorf("%s has %s", sheets[i].Path, motionless(sheets[i].Motion, sheets[i].Path, "draw"))
		}
		out = append(out, sheets[i].Motion)
	}
	return out, nil
}

// contact draws everybody at their accents.
func (f *reviewFlags) contact(c *console, sheets []watch.Sheet) error {
	members, err := whole(sheets)
	if err != nil {
		return fmt.Errorf("--png: %w", err)
	}
	picture := draw.Contact(members, draw.ContactOptions{Title: f.title(), View: f.View, Height: 150, Width: 1000})
	var out bytes.Buffer
	if err := picture.PNG(&out, f.scheme(), f.Scale); err != nil {
		return err
	}
	return f.write(c, f.PNG, string(markPNG(out.Bytes())), isOurPicture)
}
