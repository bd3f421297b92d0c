package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/term"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

const plotHelp = `
motet plot SHEET [PATTERN…] [FLAGS]

Draws a sheet. Time runs down the page, as it does in the sheet, and each
channel that a PATTERN names (hips/*, arm.*/swing) is a strip; without one, the
eight that go through most of their range are drawn. The seam of a cycle is one
line, and the curves go on over it into the next round; what the check finds is
marked where it is.

  motet plot testdata/quay/keeper.motet hips/side 'head/*'
  motet plot testdata/quay/keeper.motet --show figure --view round --out k.png

  --show WHAT      what to draw: curves, figure, poses (the figure at each
                   accent) or leads (who moves how many frames after whom);
                   curves when left out
  --out FILE       write an .svg or a .png; without it, draw in the terminal
  --against OTHER  lay another sheet over it, or an earlier version of this one
                   under git, such as HEAD or main~3 (curves and figure); with
                   main~3..main, lay its version at the one over that at the
                   other
  --at TIME        the figure's moment, such as 3/2b; the start when left out
  --view VIEW      front, side, three-quarter or round; the sheet's own when
                   left out
  --arc JOINT      draw a joint's way through the motion too; may be repeated
  --leader CONTROL whom the others are measured against; that of the rig's first
                   joint when left out
  --dark           for a dark screen
  --scale N        pixels a point of a .png; 2 when left out
  --force          replace any file; without it, only a picture that motet drew
                   and that nobody has changed since

exit codes:
  0  drawn
  1  drawn, but a line of the sheet or of what it rests on could not be read
  2  the sheet could not be read, or there is nothing to draw
`

type plotFlags struct {
	Sheet    string   `arg:""`
	Patterns []string `arg:"" optional:""`
	Show     string   `default:"curves"`
	Out      string
	Against  string
	At       string
	View     string
	Arc      []string
	Leader   string
	Dark     bool
	Scale    float64 `default:"2"`
	Force    bool

	drawn drawn `kong:"-"`
}

func (f *plotFlags) run(c *console) int {
	err := f.plot(c)
	switch {
	case err != nil && c.lost():
		return exitFailed // what is drawn in the terminal fails by its writing alone
	case err != nil:
		c.complain("%s", plainIO(err))
		return exitFailed
	}
	return f.drawn.tell(c)
}

func (f *plotFlags) plot(c *console) error {
	suffix := strings.ToLower(filepath.Ext(f.Out))
	if f.Out != "" && suffix != ".svg" && suffix != ".png" {
		return fmt.Errorf("--out: `%s` ends neither in .svg nor in .png, the forms that are drawn", f.Out)
	}
	if !(f.Scale > 0) || f.Scale > 32 {
		return fmt.Errorf("--scale: `%g` is not above 0 and up to 32", f.Scale)
	}
	if err := f.idle(); err != nil {
		return err
	}
	m, against, err := f.motions()
	if err != nil {
		return err
	}
	if f.Show == "curves" && suffix == "" {
		o, err := f.curves(m, against)
		if err != nil {
			return err
		}
		return draw.CurvesText(c.out, m, o, columnsOf(c))
	}
	if f.Show == "leads" && suffix == "" && len(f.Patterns) == 0 {
		leader, err := f.leads(m)
		if err != nil {
			return err
		}
		return draw.LeadsText(c.out, m, leader, columnsOf(c))
	}
	p, err := f.picture(m, against)
	if err != nil {
		return err
	}
	return f.write(c, p, suffix)
}

// idle tells which flag says something about another kind of picture than the one that is asked for.
func (f *plotFlags) idle() error {
	for _, flag := range []struct {
		name  string
		given bool
		about []string
	}{
		{"--against", f.Against != "", []string{"curves", "figure"}},
		{"--at", f.At != "", []string{"figure"}},
		{"--arc", len(f.Arc) > 0, []string{"figure"}},
		{"--view", f.View != "", []string{"figure", "poses"}},
		{"--leader", f.Leader != "", []string{"leads"}},
	} {
		if flag.given && slices.Contains([]string{"curves", "figure", "poses", "leads"}, f.Show) && !slices.Contains(flag.about, f.Show) {
			return fmt.Errorf("%s says nothing about %s; add --show %s", flag.name, f.Show, strings.Join(flag.about, " or --show "))
		}
	}
	return nil
}

func (f *plotFlags) write(c *console, p *draw.Picture, suffix string) error {
	scheme := draw.Light()
	if f.Dark {
		scheme = draw.Dark()
	}
	if suffix == "" {
		return p.Text(c.out, columnsOf(c))
	}
	var out bytes.Buffer
	var err error
	mark := markPNG
	if suffix == ".svg" {
		mark, err = markSVG, p.SVG(&out, scheme)
	} else {
		err = p.PNG(&out, scheme, f.Scale)
	}
	if err == nil {
		err = writeAtomically(f.Out, string(mark(out.Bytes())), 0, free(f.Out, f.Force, isOurPicture))
	}
	if err != nil {
		return fmt.Errorf("%s: %s", f.Out, plainIO(err))
	}
	c.print("wrote " + f.Out + "\n")
	return nil
}

// columnsOf is how wide to draw: the terminal, or 80 where there is none.
func columnsOf(c *console) int {
	if file, ok := c.raw.(*os.File); ok {
		if wide, _, err := term.GetSize(int(file.Fd())); err == nil && wide >= 40 {
			return min(wide, 200)
		}
	}
	return 80
}

// wholeSheet resolves a sheet that can be drawn.
func (f *plotFlags) wholeSheet(path string) (*motion.Motion, error) {
	m, all, p, err := resolveSheet(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %s", path, plainIO(err))
	case !m.Whole():
		return nil, fmt.Errorf("%s has %s", path, motionless(m, path, "draw"))
	}
	f.drawn.add(m, all.naming(p))
	return m, nil
}

// motions are the sheet that is drawn, and what --against lays over it: nil, a sheet, or a version of this one. With two
// revisions, both are versions.
func (f *plotFlags) motions() (m, against *motion.Motion, err error) {
	_, noFile := os.Stat(f.Against)
	old, now, two := strings.Cut(f.Against, "..")
	if noFile != nil && two && old != "" && now != "" && !strings.HasPrefix(now, ".") {
		if m, err = f.at(now); err == nil {
			against, err = f.at(old)
		}
	} else if m, err = f.wholeSheet(f.Sheet); err != nil {
		return nil, nil, err
	} else if f.Against != "" && noFile == nil {
		against, err = f.wholeSheet(f.Against)
	} else if f.Against != "" {
		against, err = f.at(f.Against)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("--against: %w", err)
	}
	return m, against, nil
}

// at is the sheet as it was at a revision.
func (f *plotFlags) at(revision string) (*motion.Motion, error) {
	m, shown, err := resolveRevision(revision, f.Sheet)
	if errors.Is(err, errNoRepository) {
		return nil, fmt.Errorf("there is no file `%s`, and %w", revision, err)
	}
	if err != nil {
		return nil, err
	}
	if !m.Whole() {
		return nil, fmt.Errorf("%s had no motion to draw at %s", f.Sheet, revision)
	}
	f.drawn.add(m, shown)
	m.Sheet.Name += " at " + revision
	return m, nil
}

func (f *plotFlags) picture(m, against *motion.Motion) (*draw.Picture, error) {
	if f.Show == "curves" {
		o, err := f.curves(m, against)
		if err != nil {
			return nil, err
		}
		return draw.Curves(m, o), nil
	}
	if len(f.Patterns) > 0 {
		return nil, fmt.Errorf("`%s`: only curves are chosen by channel", f.Patterns[0])
	}
	word := f.View
	if word == "" {
		word = m.Sheet.View
	}
	if !slices.Contains([]string{"front", "side", "three-quarter", "round"}, word) {
		return nil, fmt.Errorf("--view: there is no view `%s`; write front, side, three-quarter or round", word)
	}
	switch f.Show {
	case "figure":
		return f.figure(m, against, draw.Views(word))
	case "poses":
		return draw.Poses(m, draw.Views(word)[0], 220, 6), nil
	case "leads":
		leader, err := f.leads(m)
		if err != nil {
			return nil, err
		}
		return draw.LeadChart(m, leader), nil
	}
	return nil, fmt.Errorf("--show: there is nothing called `%s`; write curves, figure, poses or leads", f.Show)
}

func (f *plotFlags) figure(m, against *motion.Motion, views []draw.View) (*draw.Picture, error) {
	o := draw.FigureOptions{Views: views, Height: 320, Against: against}
	if f.At != "" {
		written, ok := grammar.ParseTime(f.At)
		if !ok {
			return nil, fmt.Errorf("--at: `%s` is not a time; write one such as 2b, 3/2b, 36f or 0.75s", f.At)
		}
		o.Frames = written.In(m.Sheet.Rate, m.Sheet.Beat).Float()
	}
	for _, name := range f.Arc {
		joint := m.Rig.JointIndex(grammar.NameKey(name))
		if joint < 0 {
			return nil, fmt.Errorf("--arc: %s", unknownName("joint", name, jointNames(m.Rig), m.Rig))
		}
		o.Arcs = append(o.Arcs, joint)
	}
	return draw.Figure(m, o), nil
}

func jointNames(r *motion.Rig) []string {
	names := make([]string, len(r.Joints))
	for i := range r.Joints {
		names[i] = r.Joints[i].Name
	}
	return names
}

func unknownName(kind, name string, names []string, rig *motion.Rig) string {
	text := fmt.Sprintf("the rig `%s` has no %s `%s`", rig.Name, kind, name)
	if near := grammar.Nearest(name, names); near != "" {
		return text + fmt.Sprintf("; did you mean `%s`?", near)
	}
	return text + fmt.Sprintf("; it has %s", strings.Join(names, " "))
}

// leads is whom the others are measured against.
func (f *plotFlags) leads(m *motion.Motion) (string, error) {
	if !m.Sheet.Closed {
		return "", errors.New("who leads whom is measured round a cycle, and this is a span")
	}
	leader := f.Leader
	if leader == "" {
		leader = m.Rig.Joints[0].Name
	}
	controls := m.Rig.Controls()
	if !slices.Contains(controls, grammar.NameKey(leader)) {
		return "", fmt.Errorf("--leader: %s", unknownName("control", leader, controls, m.Rig))
	}
	return grammar.NameKey(leader), nil
}

// mostUnasked is how many channels are drawn where nobody says which.
const mostUnasked = 8

func (f *plotFlags) curves(m, against *motion.Motion) (draw.CurveOptions, error) {
	if m.Sheet.Length.Float() > mostFrames {
		return draw.CurveOptions{}, fmt.Errorf("%s is longer than %d frames, which is no idle and more than a picture shows; is its `cycle` or `span` right?", f.Sheet, mostFrames)
	}
	o := draw.CurveOptions{Findings: lint.Check(m), Against: against}
	if len(f.Patterns) == 0 {
		o.Channels = busiest(m, mostUnasked)
	}
	for _, pattern := range f.Patterns {
		found := false
		for i := range m.Channels {
			channel := &m.Channels[i]
			if grammar.MatchPattern(grammar.NameKey(pattern), channel.Dial.Path) {
				found = true
				if !slices.Contains(o.Channels, channel) {
					o.Channels = append(o.Channels, channel)
				}
			}
		}
		if !found {
			var paths []string
			for i := range m.Channels {
				paths = append(paths, m.Channels[i].Dial.Path)
			}
			if own := channelsOf(pattern, paths); own != nil {
				return o, fmt.Errorf("`%s` is a control; write `%s/*` for all its channels, or one of %s", pattern, pattern, strings.Join(own, " "))
			}
			return o, errors.New(unknownName("channel", pattern, paths, m.Rig))
		}
	}
	if len(o.Channels) == 0 {
		return o, fmt.Errorf("nothing moves in %s", f.Sheet)
	}
	return o, nil
}

// busiest gives the channels that go through most of their range, in the rig's order.
func busiest(m *motion.Motion, most int) []*motion.Channel {
	share := map[*motion.Channel]float64{}
	var out []*motion.Channel
	sampled := m.SampledByFrame()
	for i := range m.Channels {
		channel := &m.Channels[i]
		if !channel.Moves() {
			continue
		}
		values := sampled.Channel(i).Samples
		wide := 1.0
		if channel.Dial.HasRange {
			wide = channel.Dial.Range[1] - channel.Dial.Range[0]
		}
		if share[channel] = (slices.Max(values) - slices.Min(values)) / wide; share[channel] > 0 {
			out = append(out, channel)
		}
	}
	slices.SortStableFunc(out, func(a, b *motion.Channel) int { return cmp.Compare(share[b], share[a]) })
	out = out[:min(most, len(out))]
	slices.SortFunc(out, func(a, b *motion.Channel) int { return cmp.Compare(a.Index, b.Index) })
	return out
}
