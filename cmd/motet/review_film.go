package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/server/watch"
)

// The frames' least and greatest size in pixels, and how many there may be of one sheet.
const (
	leastPixels, mostFramePixels = 16, 4096
	mostFrames                   = 20_000
)

// pixels is the size of the frames. Encoders of video store colours for two by two pixels together, so both are even.
func (f *reviewFlags) pixels() (wide, tall int, err error) {
	first, second, _ := strings.Cut(f.Size, "x")
	wide, errWide := strconv.Atoi(first)
	tall, errTall := strconv.Atoi(second)
	switch {
	case errWide != nil || errTall != nil:
		return 0, 0, fmt.Errorf("--size: `%s` is no size; write one such as 1280x720", f.Size)
	case min(wide, tall) < leastPixels || max(wide, tall) > mostFramePixels:
		return 0, 0, fmt.Errorf("--size: `%s` is not from %d to %d pixels", f.Size, leastPixels, mostFramePixels)
	case wide%2 != 0 || tall%2 != 0:
		return 0, 0, fmt.Errorf("--size: `%s` is odd, which video can't be; make both numbers even", f.Size)
	}
	return wide, tall, nil
}

// reel is the frames of one sheet, and the folder that they go to.
type reel struct {
	motion *motion.Motion
	folder string
	count  int
	step   float64 // in frames of the sheet
}

// newReel plans a film: of a cycle, one round in the whole number of frames that is nearest to it, so that the last one
// goes on into the first; of a span, its end too.
func newReel(m *motion.Motion, folder string) reel {
	steps := max(1, m.Sheet.Length.Round())
	r := reel{m, folder, int(min(steps, mostFrames+1)), m.Sheet.Length.Float() / float64(steps)}
	if !m.Sheet.Closed {
		r.count++
	}
	return r
}

// film draws frames of every sheet.
func (f *reviewFlags) film(c *console, sheets []watch.Sheet) error {
	members, err := whole(sheets)
	if err != nil {
		return fmt.Errorf("--frames: %w", err)
	}
	var reels []reel
	files := map[string]string{}
	for i, m := range members {
		folder := filepath.Clean(f.Frames) // without the slash that a shell's completion adds
		if len(members) > 1 {
			name := m.Sheet.Name
			if first, taken := files[name]; taken {
				return fmt.Errorf("--frames: the sheets in %s and %s are both called `%s`, and the folders go by that name; rename one", first, sheets[i].Path, name)
			}
			files[name], folder = sheets[i].Path, filepath.Join(f.Frames, name)
		}
		r := newReel(m, folder)
		if r.count > mostFrames {
			return fmt.Errorf("--frames: %s is longer than %d frames, which is no idle", sheets[i].Path, mostFrames)
		}
		if err := f.vacant(folder); err != nil {
			return fmt.Errorf("--frames: %s: %w", folder, err)
		}
		reels = append(reels, r)
	}
	for i := range reels {
		if err := f.shoot(&reels[i]); err != nil {
			return fmt.Errorf("--frames: %s: %s", reels[i].folder, plainIO(err))
		}
		s := reels[i].motion.Sheet
		// As many a second as make the film exactly as long as the sheet.
		rate := s.Rate.Mul(grammar.Whole(max(1, s.Length.Round()))).Div(s.Length)
		c.print(fmt.Sprintf("%s: %s of %s, %s a second\n", reels[i].folder, report.Count(reels[i].count, "frame"), s.Name, rate))
		_ = c.out.Flush()
	}
	return nil
}

var frameName = regexp.MustCompile(`^\d{5}\.png$`)

// vacant tells why frames can't go to a folder: it has something else than frames in it, which would be lost. With --force
// whatever is called like a frame counts as one.
func (f *reviewFlags) vacant(folder string) error {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return errors.New(plainIO(err))
	}
	for _, entry := range entries {
		if !entry.Type().IsRegular() || !frameName.MatchString(entry.Name()) {
			return fmt.Errorf("it has `%s` in it, which is no frame; name a folder of the frames' own", entry.Name())
		}
		if !f.Force && !isOurFrame(filepath.Join(folder, entry.Name())) {
			return fmt.Errorf("motet did not draw `%s` in it; --force replaces all frames there", entry.Name())
		}
	}
	return nil
}

// shoot draws a film into a new folder, which then takes the place of the one that may be there: of an earlier film nothing
// is left between the frames, and when something fails it is still there.
func (f *reviewFlags) shoot(r *reel) error {
	parent := filepath.Dir(r.folder)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return err
	}
	fresh := temporaryBeside(r.folder)
	if err := unfinished.begin(func() (string, error) { return fresh, os.Mkdir(fresh, 0o777) }); err != nil {
		return folderError(err)
	}
	err := f.draw(r, fresh)
	if err == nil {
		err = f.vacant(r.folder)
	}
	if err != nil {
		_ = unfinished.settle(fresh, nil)
		return err
	}
	return unfinished.settle(fresh, func() error { return swap(fresh, r.folder) })
}

// swap puts a folder in the place of another, or where none is yet; when that fails the other is still there.
func swap(fresh, place string) error {
	old := fresh + ".old"
	replaced := os.Rename(place, old)
	if replaced != nil && !errors.Is(replaced, fs.ErrNotExist) {
		return replaced
	}
	err := os.Rename(fresh, place)
	switch {
	case replaced != nil: // there was none
	case err != nil:
		err = errors.Join(err, os.Rename(old, place))
	default:
		_ = os.RemoveAll(old)
	}
	return err
}

// draw draws all frames of a film, several at once.
func (f *reviewFlags) draw(r *reel, folder string) error {
	wide, tall, err := f.pixels()
	if err != nil {
		return err
	}
	word := f.View
	if word == "" {
		word = r.motion.Sheet.View
	}
	view := draw.Views(word)[0]
	workers := min(runtime.GOMAXPROCS(0), r.count)
	failed := make([]error, workers)
	var working sync.WaitGroup
	for worker := range workers {
		working.Go(func() {
			stage := draw.NewStage(r.motion, view, float64(tall))
			for i := worker; i < r.count && failed[worker] == nil; i += workers {
				var out bytes.Buffer
				if err := stage.Fill(float64(i)*r.step, float64(wide), float64(tall)).PNG(&out, f.scheme(), 1); err != nil {
					failed[worker] = err
					return
				}
				failed[worker] = os.WriteFile(filepath.Join(folder, fmt.Sprintf("%05d.png", i)), markPNG(out.Bytes()), 0o666)
			}
		})
	}
	working.Wait()
	return errors.Join(failed...)
}
