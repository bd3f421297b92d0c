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

// OntoOptions say which clip to bring back into which sheet.
type OntoOptions struct {
	// Path is the glTF file, and ReadFile how it and its external buffers are read.
	Path     string
	ReadFile func(path string) ([]byte, error)
	// Clip names the animation; left out, it is the only one, or that of the sheet's name.
	Clip string
	// Within bounds what may be off before anything is changed, and afterwards; the zero value means DefaultWithin.
	Within Within
	// Sheet is the file to change, and Trees gives the others of its project.
	Sheet *grammar.File
	Trees motion.Trees
}

// An OntoResult is a sheet that has taken over what a clip has moved.
type OntoResult struct {
	// Text is the sheet's new text; the old one where nothing has moved.
	Text string
	// Report tells in lines for a person what was changed and what is left.
	Report []string
	// Tail are the last lines of the report, which tell what is left.
	Tail []string
	// Changes are those of the channels that moved, in the rig's order.
	Changes []ChannelChange
	// Short counts the channels that are still farther off than they may be, and the whole where a joint is.
	Short int
	// TurnDeg and WorldCM are the largest errors left: of a joint's own turn, and of its place in the world.
	TurnDeg, WorldCM float64
}

// A ChannelChange is what happened to one channel's text.
type ChannelChange struct {
	Path, Unit string
	// Before and After are how far the channel was and is from the clip at worst, in the unit.
	Before, After float64
	// Limit is how far it may be.
	Limit float64
	// Cells changed, keys Added and Removed.
	Cells, Added, Removed int
	// Short says that it is still farther off than it may be.
	Short bool
	// Also says what else was written: poses, offsets, a layer.
	Also []string
}

// mostRounds is how often a sheet is read again after changes: leaders are changed before what follows them, and poses
// before single cells.
const mostRounds = 12

// mostTries is how often one channel is changed before what is left of it stays.
const mostTries = 4

// A retake brings a clip back into a sheet.
type retake struct {
	footage *footage
	gears   *gears
	trees   motion.Trees
	file    *grammar.File
	motion  *motion.Motion
	want    *wanted
	tries   []int
	changes []ChannelChange
	before  []float64
	written map[writtenCell][2]string // what stood in each cell that was written, and what stands there now
	// thorough brings all channels within their limits, since what is left adds up to more than may be in the world.
	thorough bool
}

// Onto reads one clip of a glTF file and changes an existing sheet where the clip moves otherwise, and nothing else of it.
func Onto(o OntoOptions) (*OntoResult, error) {
	d, err := Read(o.Path, o.ReadFile)
	if err != nil {
		return nil, err
	}
	if o.Within == (Within{}) {
		o.Within = DefaultWithin()
	}
	r := &retake{trees: o.Trees, file: o.Sheet}
	r.read()
	if err := checkExportable(r.motion); err != nil {
		return nil, err
	}
	clip, err := d.chooseFor(r.motion, o.Clip)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", o.Path, err)
	}
	if r.footage, err = d.filmed(clip, r.motion); err != nil {
		return nil, fmt.Errorf("%s: clip %q is no take of %s: %w", o.Path, clip.Name, o.Sheet.Path, err)
	}
	r.gears = gearsOf(r.motion.Rig, o.Within)
	if err := r.run(); err != nil {
		return nil, err
	}
	out := r.result()
	head := fmt.Sprintf("%s, clip %q, held against %s at %s", path.Base(toSlash(o.Path)), clip.Name, path.Base(o.Sheet.Path), count(len(r.footage.at), "moment"))
	out.Report = slices.Concat([]string{head}, d.Notes, r.footage.notes, out.Report)
	return out, nil
}

// read resolves the sheet as it stands now.
func (r *retake) read() {
	trees := func(name string) (*grammar.File, error) {
		if name == r.file.Path {
			return r.file, nil
		}
		return r.trees(name)
	}
	r.motion = motion.NewProject(trees).Resolve(r.file)
}

// run changes the sheet until no channel is off that can be helped.
func (r *retake) run() error {
	n := len(r.motion.Channels)
	r.tries, r.changes, r.before = make([]int, n), make([]ChannelChange, n), nil
	r.written = map[writtenCell][2]string{}
	for range mostRounds {
		r.want = r.footage.wants(r.motion, r.gears)
		if r.before == nil {
			r.before = slices.Clone(r.want.worst)
		}
		s := newScribe(r.file, r.motion.Sheet)
		wrote := false
		for _, channel := range r.ready() {
			r.tries[channel]++
			wrote = r.retake(s, channel) || wrote
		}
		if !wrote {
			if len(r.ready()) == 0 {
				if r.thorough || r.footage.apart(r.motion).cm <= r.gears.within.WorldCM {
					break
				}
				r.thorough = true
			}
			continue
		}
		text, err := s.text()
		if err != nil {
			return err
		}
		r.file = grammar.Parse(r.file.Path, text)
		r.read()
		if checkExportable(r.motion) != nil {
			return fmt.Errorf("%s: what the clip asks for can't be written into this sheet; import the clip on its own and compare", r.file.Path)
		}
	}
	r.want = r.footage.wants(r.motion, r.gears)
	return nil
}

// moved tells whether a channel is farther from the clip than it may be, and is worth another try.
func (r *retake) moved(channel int) bool {
	return r.want.worst[channel] > 1 && (r.thorough || r.want.plain[channel]) && r.tries[channel] < mostTries
}

// ready are the channels to change next: those that moved, and follow nothing that has still to change.
func (r *retake) ready() []int {
	var waits func(channel int, trail []int) bool
	waits = func(channel int, trail []int) bool {
		for i := range r.motion.Channels[channel].Follows {
			leader := r.motion.Channels[channel].Follows[i].Leader.Index
			if slices.Contains(trail, leader) {
				continue
			}
			if r.moved(leader) || waits(leader, append(trail, leader)) {
				return true
			}
		}
		return false
	}
	var out []int
	for channel := range r.motion.Channels {
		if r.moved(channel) && !waits(channel, []int{channel}) {
			out = append(out, channel)
		}
	}
	return out
}

// retake changes one channel's text, and tells whether it wrote anything: a pose where all that it gives want the same, an
// offset where a variant is only elsewhere, or else keys where that changes least: in the base, in one of the layers, or
// in one of its own on top of everything.
func (r *retake) retake(s *scribe, channel int) bool {
	c := &r.motion.Channels[channel]
	if r.writtenAlready(s, channel) {
		r.tries[channel]--
		return true
	}
	share := 1.0
	for i := range c.Layers {
		if l := c.Layers[i].Layer; l.Replaces {
			share *= 1 - l.Strength
		}
	}
	if share > leastShare && (r.poses(s, channel) || r.shift(s, channel, share)) {
		return true
	}
	var best *plan
	consider := func(p *plan) {
		if p != nil && (best == nil || p.cost < best.cost) {
			best = p
		}
	}
	if share > leastShare {
		consider(r.rekey(s, channel, c.Base, "", share))
	}
	for i := range c.Layers {
		if seen := r.shareOf(c, i); seen > leastShare {
			consider(r.rekey(s, channel, c.Layers[i].Strand, c.Layers[i].Layer.Name, seen))
		}
	}
	// A layer of its own hides what the sheet says; it is worth that only where it spares the reader a lot.
	if fresh := r.rekey(s, channel, nil, r.freshLayer(c), 1); fresh != nil && (best == nil || freshLayerCost*fresh.cost < best.cost) {
		best = fresh
	}
	if best == nil {
		return false
	}
	best.write()
	if best.layer != "" {
		r.also(channel, "in the layer "+best.layer)
	}
	return true
}

// leastShare is the least part of a curve that must be seen through the layers above it for the curve to be changed.
const leastShare = 0.25

// retouchLayer is the layer for what the sheet's own construction can't carry.
const retouchLayer = "retouch"

// shareOf is how much of what a layer says is seen.
func (r *retake) shareOf(c *motion.Channel, layer int) float64 {
	share := c.Layers[layer].Layer.Strength
	for _, above := range c.Layers[layer+1:] {
		if above.Layer.Replaces {
			share *= 1 - above.Layer.Strength
		}
	}
	return share
}

// freshLayerCost is how many times cheaper a layer of its own must be than the curves that are there.
const freshLayerCost = 3

// A plan is a way to write what a clip wants of a channel.
type plan struct {
	layer string
	cost  float64
	write func()
}

// freshLayer is the name of a layer that adds, on top of all others, in which the channel has no keys.
func (r *retake) freshLayer(c *motion.Channel) string {
	for n := 1; ; n++ {
		name := retouchLayer
		if n > 1 {
			name = fmt.Sprintf("%s-%d", retouchLayer, n)
		}
		i := slices.IndexFunc(r.motion.Layers, func(l *motion.Layer) bool { return l.Name == name })
		if i < 0 {
			return name
		}
		l := r.motion.Layers[i]
		onTop := !slices.ContainsFunc(r.motion.Layers[i:], func(l *motion.Layer) bool { return l.Replaces })
		if onTop && l.Strength == 1 && !slices.ContainsFunc(c.Layers, func(have motion.LayerStrand) bool { return have.Layer == l }) {
			return name
		}
	}
}

// writtenAlready tells whether this round has changed the channel already, through a pose that it shares.
func (r *retake) writtenAlready(s *scribe, channel int) bool {
	return slices.ContainsFunc(s.posed, func(c int) bool { return c == channel })
}

func (r *retake) also(channel int, what string) {
	c := &r.changes[channel]
	if !slices.Contains(c.Also, what) {
		c.Also = append(c.Also, what)
	}
}

// result tells what has been done.
func (r *retake) result() *OntoResult {
	out := &OntoResult{Text: r.file.Text}
	off := r.footage.apart(r.motion)
	out.TurnDeg, out.WorldCM = off.deg, off.cm
	for cell, text := range r.written {
		switch c := &r.changes[cell.channel]; {
		case text[0] == text[1] || text[0] == "" && text[1] == ".":
		case text[0] == "":
			c.Added++
		case text[1] == ".":
			c.Removed++
		default:
			c.Cells++
		}
	}
	for i := range r.changes {
		c, dial := &r.changes[i], &r.motion.Rig.Channels[i]
		if c.Cells+c.Added+c.Removed == 0 && len(c.Also) == 0 && (r.want.worst[i] <= 1 || !r.want.plain[i]) {
			continue
		}
		c.Path, c.Unit, c.Limit = dial.Path, dial.Unit, r.gears.limits[i]
		c.Before, c.After = r.before[i]*c.Limit, r.want.worst[i]*c.Limit
		out.Changes = append(out.Changes, *c)
		if r.want.worst[i] > 1 && r.want.plain[i] {
			c := &out.Changes[len(out.Changes)-1]
			c.Short = true
			out.Short++
		}
	}
	if len(out.Changes) == 0 {
		out.Report = append(out.Report, fmt.Sprintf("nothing has moved: %s keep their text", count(len(r.motion.Channels), "channel")))
	} else {
		out.Report = append(out.Report, fmt.Sprintf("%d of %s moved; the others keep their text", len(out.Changes), count(len(r.motion.Channels), "channel")))
	}
	for i := range out.Changes {
		out.Report = append(out.Report, out.Changes[i].String())
	}
	tail := len(out.Report)
	out.Report = append(out.Report, fmt.Sprintf("left: a joint's own turn is off by at most %s° (%s, frame %s), its place in the world by %s cm (%s, frame %s)", roundUp(off.deg, 3), nameOr(off.degJoint), number(off.degAt, 0), roundUp(off.cm, 3), nameOr(off.cmJoint), number(off.cmAt, 0)))
	if len(r.footage.targets) > 0 {
		left := "; weights are the clip's"
		if off.percent > 0 {
			left = fmt.Sprintf("; the weight of %s by %s%% (frame %s)", off.target, roundUp(off.percent, 3), number(off.percentAt, 0))
		}
		out.Report[len(out.Report)-1] += left
	}
	if within := r.gears.within; off.deg > within.TurnDeg || off.cm > within.WorldCM || off.percent > within.WeightPercent {
		out.Short++
		out.Report = append(out.Report, fmt.Sprintf("that is MORE than %s: the rig has no dial for it, or a chain is held otherwise than in the clip", within))
	}
	for i, lift := range r.want.lifts {
		if math.Abs(lift) > r.gears.limits[i] {
			path := r.motion.Rig.Channels[i].Path
			out.Report = append(out.Report, fmt.Sprintf("the clip gains %s more of %s in a round than the sheet's `advance %s` says; change that line", number(lift, 3), path, path))
		}
	}
	out.Tail = out.Report[tail:]
	return out
}

func nameOr(joint string) string {
	if joint == "" {
		return "everywhere"
	}
	return joint
}

// String tells of a channel in a line.
func (c *ChannelChange) String() string {
	var did []string
	for _, part := range []struct {
		n    int
		what string
	}{{c.Cells, "cell"}, {c.Added, "new key"}, {c.Removed, "key"}} {
		if part.n == 0 {
			continue
		}
		text := count(part.n, part.what)
		switch part.what {
		case "cell":
			text += " changed"
		case "key":
			text += " taken out"
		}
		did = append(did, text)
	}
	did = append(did, c.Also...)
	if len(did) == 0 {
		did = []string{"nothing of its text could be changed"}
	}
	line := fmt.Sprintf("  %-28s %s; was off by %s%s, now by %s%s", c.Path, strings.Join(did, ", "), roundUp(c.Before, 3), c.Unit, roundUp(c.After, 3), c.Unit)
	if c.Short {
		line += fmt.Sprintf(", MORE than the %s%s that are allowed", roundUp(c.Limit, 3), c.Unit)
	}
	return line
}
