package lint

import (
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func footHome() *Rule {
	return &Rule{
		Name: "foot-home", Group: CastGroup, Level: Note,
		Limits: []grammar.Limit{{Value: 1, Unit: "cm"}},
		Doc: Doc{
			Reports: "A variant whose planted feet, or whose weight on average, have left the base's place although nobody said where they shall stand.",
			Why:     "Members of a cast are placed by their feet. A person who stands beside the mark because a scale, a swap or a slice of the mirror pulled the hips along floats off the pavement's edge, and steps aside when one clip is cut into another.",
			Decides: "Each planted foot's goal when its plant begins, and the mean over the cycle of the root's place on the ground, each as a departure from its own figure's rest, against the same of the sheet that it is made from. Lengths are taken in the measure of the figures' heights; a whole-body `mirror` mirrors the home too. How low the root is carried is posture and not counted. A channel that the sheet places itself is meant, and left out: by an `offset`, by a track or an `amend` of its own, or by a pose of its own. Without these exceptions the demo had 16 reports in 7 of its 11 variants, all of people who stand elsewhere by design; with them it has none. The limit is 1 cm (common practice).",
			Allow:   "When the drift is wanted as it is; better, write an `offset` that says so.",
			Mends:   "Adds the `offset` that brings the foot or the root home.",
			Bad:     "sheet example\n  from      jetty in \"jetty.motet\"\n\nchange\n  scale     hips/side 160%\n",
			Good:    "sheet example\n  from      jetty in \"jetty.motet\"\n\nchange\n  amplify   hips/side 160%\n",
		},
		Check: checkFootHome,
	}
}

// homing compares where a variant stands with where its base does.
type homing struct {
	m, base  *motion.Motion
	mirrored bool
}

// astray is one channel that takes a foot or the root away from home.
type astray struct {
	channel    *motion.Channel
	here, home float64
	way        [3]float64 // cm of the joint for a cm of the channel
}

func checkFootHome(p *Pass) {
	m := p.Motion
	if m.Base == nil || !p.certain() || !certain(m.Base) {
		return
	}
	h := &homing{m, m.Base, mirroredWhole(m.File)}
	if m.Sheet.Closed && m.Base.Sheet.Closed {
		p.notHome(m.Rig.Joints[0].Name+" stand", " on average", h.astray(isOnGround, meanOf, meanOf))
	}
	told := map[string]bool{}
	for i := range m.Plants {
		plant := &m.Plants[i]
		if plant.Chain < 0 || plant.On >= 0 || m.Rig.Joints[plant.Joint].Part != motion.PartFoot || told[plant.Goal] {
			continue
		}
		told[plant.Goal] = p.notHome(plant.Goal+" stands", " where it is planted", h.nearestPlant(plant))
	}
}

// nearestPlant compares a planted foot with that plant of the base's same foot which it comes nearest to.
func (h *homing) nearestPlant(plant *motion.Plant) (nearest []astray) {
	goal, best := plant.Goal, math.Inf(1)
	if h.mirrored {
		goal = h.base.Rig.Mirrored(goal)
	}
	drives := func(d *motion.Drive) bool { return d.Kind == motion.DrivesGoal && d.Goal == plant.Goal }
	at := func(frames float64) valueOf {
		return func(_ *motion.Motion, c *motion.Channel) float64 { return c.At(frames) }
	}
	for i := range h.base.Plants {
		if there := &h.base.Plants[i]; there.Goal == goal && there.On < 0 {
			list := h.astray(drives, at(plant.From), at(there.From))
			if far := distance(list); far < best {
				nearest, best = list, far
			}
		}
	}
	return nearest
}

type valueOf func(m *motion.Motion, c *motion.Channel) float64

// astray lists the channels that put a joint elsewhere than in the base, in the rig's order, as far as nobody put them
// there.
func (h *homing) astray(drives func(d *motion.Drive) bool, here, there valueOf) (list []astray) {
	for i := range h.m.Channels {
		c := &h.m.Channels[i]
		way, moves := wayOf(c.Dial, drives)
		if !moves || c.Dial.Unit != "cm" || h.m.Sheet.Advance[c.Dial.Path] != 0 || placedHere(h.m, c) {
			continue
		}
		path, sign := c.Dial.Path, 1.0
		if h.mirrored {
			path = h.base.Rig.Mirrored(c.Dial.Control) + "/" + c.Dial.Name
			if c.Dial.Flips {
				sign = -1
			}
		}
		from := h.base.Channel(path)
		if from == nil {
			continue
		}
		home := c.Dial.Rest + sign*h.m.ScaleOf(h.base, c.Dial)*(there(h.base, from)-from.Dial.Rest)
		list = append(list, astray{c, here(h.m, c), home, way})
	}
	return list
}

// wayOf is the way that a channel's drives of a kind take their joint, added up.
func wayOf(dial *motion.Dial, drives func(d *motion.Drive) bool) (way [3]float64, moves bool) {
	for i := range dial.Drives {
		d := &dial.Drives[i]
		if !drives(d) {
			continue
		}
		for axis := range 3 {
			if d.Axes[axis] {
				way[axis] += d.Gain
				moves = true
			}
		}
	}
	return way, moves
}

// isOnGround tells whether a drive moves the root along the ground.
func isOnGround(d *motion.Drive) bool {
	return d.Kind == motion.DrivesMove && d.Joint == 0 && !d.Axes[1]
}

// distance is how far all channels together take the joint from home, in cm.
func distance(list []astray) float64 {
	var sum [3]float64
	for i := range list {
		for axis := range sum {
			sum[axis] += list[i].way[axis] * (list[i].here - list[i].home)
		}
	}
	return apart(sum, [3]float64{})
}

// meanOf is a channel's mean over a round, from 512 even samples.
func meanOf(m *motion.Motion, c *motion.Channel) float64 {
	const samples = 512
	sum := 0.0
	for i := range samples {
		sum += c.At(m.Sheet.Length.Float() * float64(i) / samples)
	}
	return sum / samples
}

// placedHere tells whether the sheet itself says where a channel is: by a track, an amendment, a pose or an offset.
func placedHere(m *motion.Motion, c *motion.Channel) bool {
	own := func(at grammar.Ref) bool { return at.Path() == m.File.Path }
	for _, strand := range c.Strands() {
		for i := range strand.Keys {
			k := &strand.Keys[i]
			if k.From == motion.FromTrack && own(k.At) || k.From != motion.FromTrack && own(k.Pose) {
				return true
			}
			for _, change := range k.Changes {
				if own(change.At) && strings.HasPrefix(change.What, "offset") {
					return true
				}
			}
		}
	}
	return false
}

// mirroredWhole tells whether a sheet's changes mirror the whole body.
func mirroredWhole(f *grammar.File) (mirrored bool) {
	b := f.First(grammar.ChangeBlock)
	if b == nil {
		return false
	}
	for _, stmt := range b.Entries() {
		if line, ok := stmt.(*grammar.MirrorLine); ok && line.Of == nil {
			mirrored = !mirrored
		}
	}
	return mirrored
}

// notHome reports what stands too far from home, at the change that took it there, and tells whether it did.
func (p *Pass) notHome(what, when string, list []astray) bool {
	far := distance(list)
	if far <= p.Limit("cm") {
		return false
	}
	worst := &list[0]
	for i := range list {
		if math.Abs(list[i].here-list[i].home) > math.Abs(worst.here-worst.home) {
			worst = &list[i]
		}
	}
	c := worst.channel
	finding := p.Report(p.lastChange(c), "%s %s cm from home%s: %s is at %s, where %s has %s; bring it home with `offset %s %s`, or say with an `offset` where it shall be", what, number(rounded(far, 1)), when, c.Dial.Path, value(c, rounded(worst.here, 1)), p.Motion.Base.Sheet.Name, value(c, rounded(worst.home, 1)), c.Dial.Path, number(rounded(worst.home-worst.here, 1)))
	b := p.Motion.Base.Sheet.Block
	finding.Related = []motion.Related{{At: b.RefLine(b.Open), Message: "the base"}}
	finding.Mends = p.bringHome(list)
	return true
}

// lastChange is the last line of the sheet's changes that touched a channel's base, or the line that names the base.
func (p *Pass) lastChange(c *motion.Channel) grammar.Ref {
	at := p.Motion.Sheet.At("from")
	if c.Base == nil {
		return at
	}
	for i := range c.Base.Keys {
		for _, change := range c.Base.Keys[i].Changes {
			if change.At.Path() == p.Motion.File.Path && change.At.Block.Kind == grammar.ChangeBlock {
				at = change.At
			}
		}
	}
	return at
}

// bringHome offers the offsets that bring all channels home, where they act on what is inherited: a sheet's own blocking
// comes after its changes.
func (p *Pass) bringHome(list []astray) []motion.Mend {
	f := p.Motion.File
	if f.First(grammar.BlockingBlock) != nil {
		return nil
	}
	var lines []string
	for i := range list {
		if by, path := rounded(list[i].home-list[i].here, 1), list[i].channel.Dial.Path; by != 0 {
			lines = append(lines, "  offset    "+path+spaces(12-runes(path))+number(by))
		}
	}
	text := strings.Join(lines, lineEnd(f))
	title := "bring it home with an `offset`"
	if b := f.First(grammar.ChangeBlock); b != nil {
		return []motion.Mend{{Title: title, Edits: []motion.Edit{behindBlock(f, b, text)}}}
	}
	edit := behindBlock(f, p.Motion.Sheet.Block, lineEnd(f)+"change"+lineEnd(f)+text)
	return []motion.Mend{{Title: title, Edits: []motion.Edit{edit}}}
}
