package exchange

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// BaseOptions say which clip to import as a variant of which sheet.
type BaseOptions struct {
	// Path is the glTF file, and ReadFile how it and its external buffers are read.
	Path     string
	ReadFile func(path string) ([]byte, error)
	// Clip names the animation; it may be left out when the file has only one.
	Clip string
	// Within bounds the error; the zero value means DefaultWithin.
	Within Within
	// Base is the sheet that the clip is a variant of, Rig the file of the variant's own rig or nil for the base's, and
	// Trees gives the files of their project.
	Base, Rig *grammar.File
	Trees     motion.Trees
	// Folder is where the variant will stand: its path from the project's folder, with slashes, `.` for that itself.
	Folder string
}

// A BaseResult is a variant that an import has made.
type BaseResult struct {
	SheetName, SheetFile, Text string
	// Report tells in lines for a person what was found, and how much of the motion each line explains.
	Report []string
	// Lines are those of `change`, in their order.
	Lines []ChangeLine
	// BaseShare, and with all its lines ChangeShare, is how much of the motion the base explains: 1 less the sum of the
	// squares of what is left, each channel in its limits, as a share of those of its departures from rest.
	BaseShare, ChangeShare float64
	// Changes are what had to be written besides.
	Changes []ChannelChange
	Short   int
	// TurnDeg and WorldCM are the largest errors left: of a joint's own turn, and of its place in the world.
	TurnDeg, WorldCM float64
}

// A ChangeLine is a line of a variant's `change`, and how much more of the motion the sheet explains with it.
type ChangeLine struct {
	Text  string
	Share float64
}

// A basing looks for the variant of a sheet that a clip is.
type basing struct {
	options BaseOptions
	base    *motion.Motion
	clip    *Clip
	footage *footage
	gears   *gears
	name    string
	file    string // path of the variant from the project's folder
	head    []string
	// want is what the clip has of each channel at each moment: NaN where that doesn't matter, nil for a channel that
	// moves nothing.
	want  [][]float64
	lines []string
	// plants are the rows of a plant of the variant's own.
	plants []string
}

// ImportBase reads one clip of a glTF file and makes a variant of a sheet of it: a tempo, the lines of `change` that
// explain most of it, and amended cells for what is left.
func ImportBase(o BaseOptions) (*BaseResult, error) {
	d, err := Read(o.Path, o.ReadFile)
	if err != nil {
		return nil, err
	}
	if o.Within == (Within{}) {
		o.Within = DefaultWithin()
	}
	b := &basing{options: o}
	b.base = motion.NewProject(o.Trees).Resolve(o.Base)
	if err := checkExportable(b.base); err != nil {
		return nil, err
	}
	if b.clip, err = d.choose(o.Clip); err != nil {
		return nil, fmt.Errorf("%s: %w", o.Path, err)
	}
	for i := range d.Clips {
		if &d.Clips[i] == b.clip {
			b.name = d.word(i)
		}
	}
	if b.name == b.base.Sheet.Name {
		b.name += "-variant"
	}
	b.file = path.Join(o.Folder, b.name+".motet")
	if b.file == o.Base.Path {
		b.name += "-variant"
		b.file = path.Join(o.Folder, b.name+".motet")
	}
	rounds, err := b.chooseLength(d)
	if err != nil {
		return nil, fmt.Errorf("%s: clip %q is no variant of %s: %w", o.Path, b.clip.Name, o.Base.Path, err)
	}
	if b.holdEnds(b.resolve(nil)); len(b.plants) > 0 {
		b.target(b.resolve(nil)) // the turns of planted limbs don't matter any more
	}
	b.look()
	b.lines = b.merged(inKindOrder(b.lines))
	return b.result(d, rounds)
}

// text is the variant with some lines of change.
func (b *basing) text(lines []string) string {
	var p page
	comment := fmt.Sprintf("Imported from %s, clip %s, as a variant of %s, within %s of it.", strings.Trim(quoted(baseName(b.options.Path)), `"`), quoted(b.clip.Name), b.base.Sheet.Name, b.options.Within)
	p.line("# " + comment)
	p.line("sheet " + b.name)
	p.body("from", b.base.Sheet.Name+" in "+quoted(relativeTo(b.file, b.options.Base.Path)))
	for _, line := range b.head {
		p.body(line)
	}
	if len(lines) > 0 {
		p.line("")
		p.line("change")
		for _, line := range lines {
			p.body(line)
		}
	}
	if len(b.plants) > 0 {
		p.line("")
		p.line("plant")
		for _, line := range b.plants {
			p.body(line)
		}
	}
	return p.text(b.file)
}

// resolve is the motion of the variant with some lines of change.
func (b *basing) resolve(lines []string) *motion.Motion {
	file := grammar.Parse(b.file, b.text(lines))
	return motion.NewProject(func(name string) (*grammar.File, error) {
		if name == b.file {
			return file, nil
		}
		return b.options.Trees(name)
	}).Resolve(file)
}

// roundCost is how much more alike the channels must move for each round more, and tempoCost for a tempo e times as fast.
const (
	roundCost = 0.03
	tempoCost = 0.15
)

// mostRoundsOfBase is how often a variant is taken to go through its base at most.
const mostRoundsOfBase = 4

// chooseLength finds the tempo and the number of the base's rounds with which the clip is most like the base, and reads
// the clip for them. The base's own tempo wins where it fits as well.
func (b *basing) chooseLength(d *Document) (rounds int, err error) {
	s := b.base.Sheet
	seconds := b.clip.Seconds()
	base := s.Length.Float() / s.Rate.Float()
	most := 1
	if s.Closed {
		most = mostRoundsOfBase
	}
	least := math.Inf(1)
	var best basing
	for n := 1; n <= most; n++ {
		ratio := seconds / (float64(n) * base)
		same := math.Abs(ratio-1) < 1e-3/math.Max(1, s.Length.Float()) || math.Abs(ratio-1)*base*float64(n)*s.Rate.Float() < 0.05
		if !same && (!b.inBeats() || ratio > 2.5 || ratio < 0.4) {
			continue
		}
		try := *b
		try.head = b.header(n, ratio, same)
		m := try.resolve(nil)
		if !m.Whole() {
			continue
		}
		if try.footage, err = d.filmed(b.clip, m); err != nil {
			continue
		}
		try.gears = gearsOf(m.Rig, b.options.Within)
		try.target(m)
		// The variant's own changes make a base unlike its clip; what tells the rounds apart is how alike they move.
		score := try.unlikeness(m) + roundCost*float64(n-1)
		if !same {
			score += tempoCost * math.Abs(math.Log(ratio))
		}
		if score < least {
			least, best, rounds = score, try, n
		}
	}
	if math.IsInf(least, 1) {
		if err == nil {
			err = fmt.Errorf("it lasts %s s and the base %s (%s frames), which no tempo makes up for; import the clip on its own", number(seconds, 3), number(base, 3), number(s.Length.Float(), 3))
		}
		return 0, err
	}
	*b = best
	return rounds, nil
}

// inBeats tells whether the base's length is in beats alone, so that a tempo changes it.
func (b *basing) inBeats() bool {
	for _, word := range []string{"cycle", "span"} {
		at, ok := b.base.Sheet.Lines[word]
		if !ok {
			continue
		}
		var length grammar.Time
		switch line := at.Block.Lines[at.Line].Stmt.(type) {
		case *grammar.CycleLine:
			length = line.Length.Time
		case *grammar.SpanLine:
			length = line.Length.Time
		}
		return !length.Beats.IsZero() && length.Frames.IsZero() && length.Seconds.IsZero()
	}
	return b.base.Base != nil // inherited; a wrong guess is seen by the clip's length
}

// header is what the variant's header says besides its base: its rig, tempo and length.
func (b *basing) header(rounds int, ratio float64, same bool) []string {
	var out []string
	s := b.base.Sheet
	if b.options.Rig != nil {
		if rig := b.options.Rig.First(grammar.RigBlock); rig != nil {
			if opener, ok := rig.Opener.(*grammar.RigLine); ok {
				out = append(out, "rig "+opener.Name.Text+" in "+quoted(relativeTo(b.file, b.options.Rig.Path)))
			}
		}
	}
	beats := s.Beats(s.Length).Float() * float64(rounds)
	if !same {
		bpm := 60 * s.Rate.Float() / s.Beat.Float() / ratio
		for decimals := 0; decimals < 7; decimals++ {
			rounded := round(bpm, decimals)
			if off := beats * 60 / rounded * s.Rate.Float(); math.Abs(off-b.clip.Seconds()*s.Rate.Float()) < 0.02 || decimals == 6 {
				out = append(out, "tempo "+number(bpm, decimals)+" bpm")
				break
			}
		}
	}
	if rounds > 1 {
		word := "cycle "
		if b.inBeats() {
			out = append(out, word+number(beats, 6)+"b")
		} else {
			out = append(out, word+number(s.Length.Float()*float64(rounds), 6)+"f")
		}
	}
	return out
}

// target reads off what the clip has of each channel.
func (b *basing) target(m *motion.Motion) {
	w := b.footage.wants(m, b.gears)
	b.want = w.more
	for i, more := range b.want {
		for k := range more {
			more[k] += m.Channels[i].At(b.footage.at[k])
		}
	}
}

// known are the moments at which it matters what a channel does.
func (b *basing) known(channel int) []int {
	var out []int
	for k, v := range b.want[channel] {
		if !math.IsNaN(v) {
			out = append(out, k)
		}
	}
	return out
}

// squares are the sums over all channels of the squares of what is left of a motion, each channel in its limits, and of
// the clip's own departures from rest.
func (b *basing) squares(m *motion.Motion) (left, all float64) {
	for i := range b.want {
		for _, k := range b.known(i) {
			l := b.gears.limits[i]
			left += squareOf((b.want[i][k] - m.Channels[i].At(b.footage.at[k])) / l)
			all += squareOf((b.want[i][k] - m.Channels[i].Dial.Rest) / l)
		}
	}
	return left, all
}

func squareOf(x float64) float64 { return x * x }

// unlikeness is how little the channels move as those of a motion do: the mean over all that move of the share of a
// channel's movement that the motion's own, of any size, at any lag and either way up, leaves unexplained.
func (b *basing) unlikeness(m *motion.Motion) float64 {
	left, voices := 0.0, 0.0
	correlator := motion.NewCorrelator(len(b.footage.at))
	for i := range b.want {
		if len(b.known(i)) < len(b.footage.at) || rangeOf(b.want[i]) < 4*b.gears.limits[i] {
			continue
		}
		have := make([]float64, len(b.footage.at))
		for k, t := range b.footage.at {
			have[k] = m.Channels[i].At(t)
		}
		voices++
		if !b.footage.closed || !b.footage.even {
			left += 1 - squareOf(correlation(have, b.want[i]))
			continue
		}
		is, wants := inLimits(have, 1), inLimits(b.want[i], 1)
		r := correlator.BestLag(correlator.Spectrum(is), correlator.Spectrum(wants)).Correlation
		opposite := correlator.BestLag(correlator.Spectrum(is.Negated()), correlator.Spectrum(wants)).Correlation
		left += 1 - squareOf(math.Max(0, math.Max(r, opposite)))
	}
	if voices == 0 {
		return 0
	}
	return left / voices
}

// leastMoments is how many moments of a channel must matter for its delay and size to be found.
const leastMoments = 8

// result writes the variant, with what no line explains as cells of its own.
func (b *basing) result(d *Document, rounds int) (*BaseResult, error) {
	out := &BaseResult{SheetName: b.name, SheetFile: path.Base(b.file)}
	before, all := b.squares(b.resolve(nil))
	all = math.Max(all, 1e-12)
	out.BaseShare = 1 - before/all
	for i, line := range b.lines {
		left, _ := b.squares(b.resolve(b.lines[:i+1]))
		out.Lines = append(out.Lines, ChangeLine{line, (before - left) / all})
		before = left
	}
	out.ChangeShare = 1 - before/all

	r := &retake{trees: b.options.Trees, file: grammar.Parse(b.file, b.text(b.lines)), footage: b.footage, gears: b.gears}
	r.read()
	if err := r.run(); err != nil {
		return nil, err
	}
	made := r.result()
	after, _ := b.squares(r.motion)
	out.Text, out.Changes, out.Short, out.TurnDeg, out.WorldCM = made.Text, made.Changes, made.Short, made.TurnDeg, made.WorldCM

	out.Report = append(out.Report, fmt.Sprintf("%s, clip %q, as a variant of %s: %s frames, %s", baseName(b.options.Path), b.clip.Name, b.base.Sheet.Name, number(b.footage.length, 3), b.lengthText(r.motion, rounds)))
	out.Report = append(out.Report, d.Notes...)
	out.Report = append(out.Report, b.footage.notes...)
	out.Report = append(out.Report, fmt.Sprintf("  %-40s %7s of the motion", "the base as it is", percent(out.BaseShare)))
	for _, line := range out.Lines {
		out.Report = append(out.Report, fmt.Sprintf("  %-40s %7s", strings.Join(strings.Fields(line.Text), " "), signed(line.Share)))
	}
	for _, row := range b.plants {
		out.Report = append(out.Report, "  planted, which the base leaves free: "+row)
	}
	if out.ChangeShare < littleShare {
		out.Report = append(out.Report, fmt.Sprintf("the base explains little of this clip; `motet import %s` alone makes a sheet that reads better", baseName(b.options.Path)))
	}
	if len(out.Changes) > 0 {
		out.Report = append(out.Report, fmt.Sprintf("  %-40s %7s", fmt.Sprintf("what is written besides, in %s", count(len(out.Changes), "channel")), signed((before-after)/all)))
	}
	for i := range out.Changes {
		out.Report = append(out.Report, "  "+out.Changes[i].String())
	}
	out.Report = append(out.Report, made.Tail...)
	return out, nil
}

// littleShare is the share of a motion below which a base explains too little of it to be worth one.
const littleShare = 0.5

func (b *basing) lengthText(m *motion.Motion, rounds int) string {
	text := fmt.Sprintf("%s bpm", number(60*m.Sheet.Rate.Float()/m.Sheet.Beat.Float(), 3))
	if rounds > 1 {
		text += fmt.Sprintf(", %d rounds of the base", rounds)
	}
	return text
}

func percent(share float64) string { return number(100*share, 2) + "%" }

func signed(share float64) string {
	if share >= 0 {
		return "+" + percent(share)
	}
	return percent(share)
}

// inKindOrder puts the lines of change into their order: what is swapped, what is late, what is larger, what stands
// elsewhere.
func inKindOrder(lines []string) []string {
	rank := func(line string) int {
		return slices.Index([]string{"mirror", "reverse", "start", "delay", "amplify", "scale", "offset"}, strings.Fields(line)[0])
	}
	out := slices.Clone(lines)
	slices.SortStableFunc(out, func(x, y string) int { return rank(x) - rank(y) })
	return out
}
