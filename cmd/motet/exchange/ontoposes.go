package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// poseTouch is the share of what is allowed by which a pose must be off to be changed: less than the whole, so that single
// keys beside it need not make up for it, and more than a rounded number leaves.
const poseTouch = 0.7

// A posed key is one that a line of a pose gives, and how much more the clip wants there, in the line's own sign.
type posedKey struct {
	channel     int
	more, limit float64
}

// A poseChange is a line of a pose, and how much more it shall say.
type poseChange struct {
	line  grammar.Ref
	entry *grammar.PoseEntry
	by    float64
	keys  []posedKey
}

// poses changes the lines of poses that give a channel its values where everything that they give wants the same change,
// on the other side of a mirrored pose too, and where that alone brings the channel much nearer. It tells whether it
// changed one.
func (r *retake) poses(s *scribe, channel int) bool {
	c := &r.motion.Channels[channel]
	if c.Base == nil {
		return false
	}
	var changes []poseChange
	for i := range c.Base.Keys {
		line, entry := r.poseLine(&c.Base.Keys[i])
		if entry == nil || slices.Contains(s.lines, line) || slices.ContainsFunc(changes, func(p poseChange) bool { return p.line == line }) {
			continue
		}
		if by, ok := r.poseWants(line, entry); ok {
			changes = append(changes, poseChange{line, entry, by, r.posedKeys(line, entry)})
		}
	}
	if len(changes) == 0 || r.posed(channel, changes) > poseGain*r.want.worst[channel] {
		return false
	}
	for _, change := range changes {
		least := math.Inf(1)
		for _, p := range change.keys {
			least = math.Min(least, p.limit)
			if !slices.Contains(s.posed, p.channel) {
				s.posed = append(s.posed, p.channel)
			}
			r.also(p.channel, "pose "+poseName(change.line.Block))
		}
		s.lines = append(s.lines, change.line)
		s.word(change.line.Block.Ref(change.line.Line, change.entry.Value.Where()), shortest(change.entry.Value.Decimal.Value+change.by, least))
	}
	return true
}

// poseGain is how much nearer a change of poses must bring a channel.
const poseGain = 0.5

// posed is how far the channel would be off, in limits, with the poses changed.
func (r *retake) posed(channel int, changes []poseChange) (worst float64) {
	c := &r.motion.Channels[channel]
	knots := slices.Clone(c.Base.Curve.Knots())
	rows := map[int]float64{}
	for i := range c.Base.Keys {
		key := &c.Base.Keys[i]
		for _, change := range changes {
			if line, entry := r.poseLine(key); entry != nil && line == change.line {
				rows[key.Row] = r.poseSign(channel, key, change.entry) * change.by
			}
		}
		if by, ok := rows[key.Row]; ok && key.From != motion.FromTrack && len(knots) == len(c.Base.Keys) {
			knots[i].Value += by
		}
	}
	curve := motion.NewCurve(knots, c.Base.Curve.Extent())
	for k, more := range r.want.more[channel] {
		t := r.footage.at[k] - c.Late.Float()
		if left := math.Abs(more - (curve.At(t) - c.Base.Curve.At(t))); !math.IsNaN(left) {
			worst = math.Max(worst, left/r.gears.limits[channel])
		}
	}
	return worst
}

// poseSign is 1 where a key has the sign of its pose's line, and -1 where it has it mirrored.
func (r *retake) poseSign(channel int, key *motion.Key, entry *grammar.PoseEntry) float64 {
	dial := &r.motion.Rig.Channels[channel]
	written := entry.Value.Decimal.Value
	if math.Abs(key.First-written) > 1e-9 || written == dial.Rest && dial.Flips && entry.Channel.Key() != dial.Path {
		return -1
	}
	return 1
}

func poseName(b *grammar.Block) string {
	if opener, ok := b.Opener.(*grammar.PoseLine); ok {
		return opener.Name.Text
	}
	return "?"
}

// poseLine is the line of one of the file's own poses that gives a key its value as it stands there; nil for none.
func (r *retake) poseLine(key *motion.Key) (grammar.Ref, *grammar.PoseEntry) {
	if key.From != motion.FromBlocking || key.Pose.IsZero() || math.Abs(key.Value-key.First) > 1e-9 {
		return grammar.Ref{}, nil
	}
	if _, here := r.file.Locate(key.Pose); !here || key.Pose.Block.Kind != grammar.PoseBlock {
		return grammar.Ref{}, nil
	}
	entry, _ := key.Pose.Block.Lines[key.Pose.Line].Stmt.(*grammar.PoseEntry)
	return key.Pose, entry
}

// poseWants is how much more the keys that a pose's line gives all want.
func (r *retake) poseWants(line grammar.Ref, entry *grammar.PoseEntry) (by float64, ok bool) {
	keys := r.posedKeys(line, entry)
	low, high := math.Inf(1), math.Inf(-1)
	for _, k := range keys {
		if math.IsNaN(k.more) {
			continue
		}
		low, high = math.Min(low, k.more-k.limit), math.Max(high, k.more+k.limit)
		by += k.more / float64(len(keys))
	}
	for _, k := range keys {
		if math.IsNaN(k.more) || math.Abs(k.more-by) > k.limit || math.Abs(by) <= poseTouch*k.limit {
			return 0, false
		}
	}
	return by, len(keys) > 0
}

// posedKeys are all keys that a pose's line gives.
func (r *retake) posedKeys(line grammar.Ref, entry *grammar.PoseEntry) []posedKey {
	var out []posedKey
	for channel := range r.motion.Channels {
		c := &r.motion.Channels[channel]
		if c.Base == nil || r.want.more[channel] == nil {
			continue
		}
		for i := range c.Base.Keys {
			key := &c.Base.Keys[i]
			if at, e := r.poseLine(key); e == nil || at != line {
				continue
			}
			sign := r.poseSign(channel, key, entry)
			for round := 0.0; round*c.Base.Period.Float() < r.footage.length-1e-6; round++ {
				more := r.moreAt(channel, key.Time.Float()+round*c.Base.Period.Float()+c.Late.Float(), key.Shape == motion.Stay)
				out = append(out, posedKey{channel, sign * more, r.gears.limits[channel]})
			}
		}
	}
	return out
}

// moreAt is how much more the clip wants of a channel at a time in frames; NaN where that doesn't matter.
func (r *retake) moreAt(channel int, t float64, jumps bool) float64 {
	if r.footage.closed {
		t -= r.footage.length * math.Floor(t/r.footage.length)
	}
	extent := motion.Extent{Length: r.footage.length, Closed: r.footage.closed}
	return offAt(r.footage.at, func(k int) float64 { return r.want.more[channel][k] }, t, extent, jumps)
}

// shift writes an offset where a variant's channel is inherited as a whole and only stands elsewhere.
func (r *retake) shift(s *scribe, channel int, share float64) bool {
	c := &r.motion.Channels[channel]
	if r.motion.Sheet.From == nil {
		return false
	}
	if c.Base != nil {
		for i := range c.Base.Keys {
			if _, here := r.file.Locate(c.Base.Keys[i].At); here && c.Base.Keys[i].At.Block.Kind != grammar.ChangeBlock {
				return false
			}
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, more := range r.want.more[channel] {
		if !math.IsNaN(more) {
			low, high = math.Min(low, more/share), math.Max(high, more/share)
		}
	}
	limit := r.gears.limits[channel] / share
	by := (low + high) / 2
	if high-low > 1.8*limit || math.Abs(by) <= touch*limit {
		return false
	}
	r.also(channel, "an offset")
	if b := r.file.First(grammar.ChangeBlock); b != nil {
		for line, stmt := range b.Entries() {
			if have, ok := stmt.(*grammar.OffsetLine); ok && grammar.NameKey(have.Of.Text) == c.Dial.Path {
				s.word(b.Ref(line, have.By.Where()), shortest(have.By.Decimal.Value+by, limit))
				return true
			}
		}
	}
	s.changes = append(s.changes, fmt.Sprintf("  offset %s %s", c.Dial.Path, shortest(by, limit)))
	return true
}

// shortest writes a number with the fewest digits that are near enough.
func shortest(value, limit float64) string {
	for decimals := 0; ; decimals++ {
		if text := number(value, decimals); math.Abs(round(value, decimals)-value) <= shortShare*limit || decimals == 7 {
			return text
		}
	}
}
