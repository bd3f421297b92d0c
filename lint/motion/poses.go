package motion

import (
	"slices"

	"github.com/motet-sheet/motet/grammar"
)

// Pose is a named set of channel values, mirrors and inherited values worked out.
type Pose struct {
	Name   string
	Block  *grammar.Block
	At     grammar.Ref // its name
	Values []PoseValue
	OfRig  bool // written under the rig, for all its sheets
	Used   bool

	inherited bool
	anew      bool          // inherited, but made from one that this sheet has replaced
	other     *grammar.Name // that it mirrors or comes from
	flips     bool
	state     uint8 // 0 to be worked out, 1 being worked out, 2 done
}

// PoseValue is one channel's value in a pose.
type PoseValue struct {
	Channel int // index into Rig.Channels
	Value   float64
	At      grammar.Ref // the line that gives it, in this pose or in the one it comes from
}

// Value gives a channel's value, and false where the pose leaves the channel at rest.
func (p *Pose) Value(channel int) (PoseValue, bool) {
	for _, v := range p.Values {
		if v.Channel == channel {
			return v, true
		}
	}
	return PoseValue{}, false
}

// poses reads the rig's poses and then the sheet's own, which stand in for those of the same name.
func (r *resolver) poses() {
	r.poseOf = map[string]*Pose{}
	if r.Base != nil && r.Motion.Rig != nil {
		r.inheritPoses(r.Base)
	}
	if rig := r.Motion.Rig; rig != nil {
		for _, b := range rig.Poses {
			r.pose(b, true)
		}
	}
	for _, b := range r.blocks {
		if b.Kind == grammar.PoseBlock && (r.Motion.Rig == nil || !slices.Contains(r.Motion.Rig.Poses, b)) {
			r.pose(b, false)
		}
	}
	for _, p := range slices.Concat(r.Poses, r.second) {
		r.workOut(p, nil)
	}
	for r.deriveAnew() {
	}
}

// deriveAnew makes inherited poses again that mirror or come from one that this sheet has replaced, and tells whether it
// found any. What they say themselves they keep.
func (r *resolver) deriveAnew() (found bool) {
	for _, p := range r.Poses {
		if !p.inherited || p.anew || p.other == nil {
			continue
		}
		other := r.poseOf[p.other.Key()]
		if other == nil || !other.replaces() {
			continue
		}
		own := p.Values
		p.anew, p.Values, found = true, nil, true
		r.fromOther(p, nil)
		for _, stmt := range p.Block.Entries() {
			channel := r.Motion.Rig.DialIndex(stmt.(*grammar.PoseEntry).Channel.Key())
			for _, v := range own {
				if v.Channel == channel {
					p.set(v)
				}
			}
		}
	}
	return found
}

// replaces tells whether a pose may stand in the inherited blocking in place of what the base had under its name.
func (p *Pose) replaces() bool { return !p.inherited && !p.OfRig || p.anew }

func (r *resolver) pose(b *grammar.Block, ofRig bool) {
	opener, ok := b.Opener.(*grammar.PoseLine)
	if !ok {
		return
	}
	p := &Pose{Name: opener.Name.Key(), Block: b, At: b.Ref(b.Open, opener.Name.Where()), OfRig: ofRig, other: opener.From}
	if opener.Mirrors != nil {
		p.other, p.flips = opener.Mirrors, true
	}
	before := r.poseOf[p.Name]
	switch {
	case before == nil:
		r.Poses = append(r.Poses, p)
	case before.inherited:
		if ofRig {
			return // the base's poses stand before those of the rig, as they did there
		}
		r.Poses[slices.Index(r.Poses, before)] = p
	case before.OfRig == ofRig:
		r.reportTwice(p, before)
		return
	default:
		r.Poses[slices.Index(r.Poses, before)] = p
	}
	r.poseOf[p.Name] = p
}

func (r *resolver) reportTwice(p, before *Pose) {
	if p.OfRig && r.Motion.Rig.File != r.File {
		return // it is reported where the rig is checked
	}
	problem := r.add(ruleRepeatedName, p.At, "the pose `%s` is already there; give this one another name", p.Name)
	problem.Related = []Related{{before.At, "the first one"}}
	r.second = append(r.second, p)
}

// workOut gives a pose its values; trail is the poses that lead to it.
func (r *resolver) workOut(p *Pose, trail []*Pose) {
	if p.state == 2 {
		return
	}
	p.state = 1
	if p.other != nil {
		r.fromOther(p, append(trail, p))
	}
	seen := map[int]grammar.Ref{}
	for i, stmt := range p.Block.Entries() {
		entry := stmt.(*grammar.PoseEntry)
		at := p.Block.Ref(i, entry.Channel.Where())
		channel := r.poseChannel(p, entry.Channel.Key(), at)
		if channel < 0 {
			continue
		}
		if before, twice := seen[channel]; twice {
			problem := r.add(ruleRepeatedName, at, "the pose already gives `%s` a value; leave one of the two out", entry.Channel.Key())
			problem.Related = []Related{{before, "the first one"}}
			continue
		}
		seen[channel] = at
		p.set(PoseValue{channel, entry.Value.Decimal.Value, p.Block.RefLine(i)})
	}
	p.state = 2
}

// poseChannel finds a channel; a rig's pose that names an unknown one is reported where the rig is checked.
func (r *resolver) poseChannel(p *Pose, path string, at grammar.Ref) int {
	if p.OfRig && r.Motion.Rig.File != r.File {
		return r.Motion.Rig.DialIndex(path)
	}
	return r.channelIndex(path, at)
}

func (p *Pose) set(v PoseValue) {
	for i := range p.Values {
		if p.Values[i].Channel == v.Channel {
			p.Values[i] = v
			return
		}
	}
	p.Values = append(p.Values, v)
}

func (r *resolver) fromOther(p *Pose, trail []*Pose) {
	at := p.Block.Ref(p.Block.Open, p.other.Where())
	other := r.poseOf[p.other.Key()]
	if other == nil {
		r.noPose(at, p.other.Key())
		return
	}
	other.Used = true
	if other.state == 1 {
		from := slices.Index(trail, other)
		var names []string
		for _, t := range trail[max(from, 0):] {
			names = append(names, t.Name)
		}
		r.add(ruleRing, at, "the pose is made from itself: %s; let one of them stand alone", arrows(append(names, other.Name)))
		return
	}
	r.workOut(other, trail)
	for _, v := range other.Values {
		if p.flips {
			v = r.mirrored(v)
		}
		if v.Channel >= 0 {
			p.set(v)
		}
	}
}

// mirrored is a value on the other side: of the other control of a pair, its sign turned where the rig says so.
func (r *resolver) mirrored(v PoseValue) PoseValue {
	rig := r.Motion.Rig
	dial := &rig.Channels[v.Channel]
	if dial.Flips {
		v.Value = 2*dial.Rest - v.Value
	}
	v.Channel = rig.DialIndex(rig.Mirrored(dial.Control) + "/" + dial.Name)
	return v
}

// noPose reports a pose that is not there.
func (r *resolver) noPose(at grammar.Ref, name string) {
	if !r.unread(grammar.PoseBlock, name) {
		r.unknown(at, name, r.poseNames(), "there is no pose `%s`", name)
	}
}

func (r *resolver) poseNames() []string {
	names := make([]string, len(r.Poses))
	for i, p := range r.Poses {
		names[i] = p.Name
	}
	return names
}
