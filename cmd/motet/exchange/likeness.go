package exchange

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// LikenessLimits are how far a clip may be from a motion and still count as it.
type LikenessLimits struct {
	// TurnDeg bounds how far any joint is turned away in the world at any moment, in degrees, and PlaceCM how far it is
	// from its place there, in centimetres. Both hold for the seam too.
	TurnDeg, PlaceCM float64
	// WeightPercent bounds how far the weight of any morph target is off, in per cent.
	WeightPercent float64
	// Frames bounds by how many of its frames the motion may last longer or shorter.
	Frames float64
}

// DefaultLikeness is less than anybody moves a joint on purpose, and more than what an import leaves out, or what a build
// that drops keys at its packer's own tolerance and packs turns into 16 bits makes of a clip. Half a centimetre is the slide
// of a foot that begins to show; turns add up from joint to joint, and a degree is what they come to in the fingers. A morph
// target takes a face by a few centimetres at most (common practice), so that two per cent of one are less than a millimetre.
func DefaultLikeness() LikenessLimits {
	return LikenessLimits{TurnDeg: 1, PlaceCM: 0.5, WeightPercent: 2, Frames: 0.5}
}

// ParseLikeness reads limits such as "1deg,0.5cm,2%,0.5f", in any order; what is left out keeps its default.
func ParseLikeness(text string) (LikenessLimits, error) {
	l := DefaultLikeness()
	_, err := readLimits(text, map[string]*float64{"deg": &l.TurnDeg, "cm": &l.PlaceCM, "%": &l.WeightPercent, "f": &l.Frames}, "1deg,0.5cm (deg, cm, % for weights, f for frames, each above 0)")
	return l, err
}

func (l LikenessLimits) String() string {
	return fmt.Sprintf("%gdeg,%gcm,%g%%,%gf", l.TurnDeg, l.PlaceCM, l.WeightPercent, l.Frames)
}

// A Likeness is how a clip compares to the motion that it should be.
type Likeness struct {
	// Clip is the name of the clip, and OldClip that of the one that it was compared with; empty for a sheet.
	Clip, OldClip string
	// Joints are those of the motion that the clip's file has too, those that carry others first.
	Joints []JointLikeness
	// Missing are joints whose node the file has not. Lost are those among them that move of their own: that motion is gone.
	Missing, Lost []string
	// Weights are the morph targets of the motion that the clip's file has too. MissingTargets are those that it has not, and
	// LostTargets those among them whose weights change.
	Weights                     []WeightLikeness
	MissingTargets, LostTargets []string
	// Respelled are joints, and then the nodes that they found, whose names are the same by their letters and digits only:
	// some programs take points and spaces out of names.
	Respelled [][2]string
	// Seconds is how long the motion lasts, and ClipSeconds how long the clip. They are held against each other over the
	// shorter of the two.
	Seconds, ClipSeconds float64
	// Frame is how many seconds one of the motion's frames is.
	Frame float64
	// Moments is how many were looked at. Rate is that of the clip's own frames, where those are all: a clip whose keys all
	// lie on frames, and which goes in straight lines between. Of such a one Between says how far it is off between them.
	Moments int
	Rate    Rate
	Between BetweenFrames
	// Seam is how much the step from the clip's last moment to its first differs from the motion's; nil where that is no
	// loop.
	Seam *SeamLikeness
	// Beginning tells of a clip that is off because it begins at another moment of the loop; nil for any other.
	Beginning *Beginning
	// Size is how many times as large the clip's file has everything, and Axes which of the motion's axes its x, y and z
	// are, such as "x -z y"; 1 and empty where they are the same. That much is taken off before anything is compared.
	Size float64
	Axes string
	// Sheet is the name of the sheet that it was compared with, and MadeFrom that of the sheet that the clip says it was
	// made from; both empty for clips, and the latter where the clip says nothing.
	Sheet, MadeFrom string
	// Versions tells of the files that the clip was made from, where it says so: first of the sheet's own, then of those
	// that it rests on. They are held to the files of the sheet that it was compared with.
	Versions []SourceVersion
}

// A JointLikeness is how far one joint is off in the world.
type JointLikeness struct {
	Joint string
	// Carrier is the joint that carries it, empty for none, or where the file has no node for that.
	Carrier string
	Place   Departure // in centimetres
	Turn    Departure // in degrees
}

// A Departure is the largest and the mean size of a difference over time, and the seconds from the start at which it is
// largest.
type Departure struct{ Largest, Mean, At float64 }

// A SeamLikeness is the largest difference at a seam: of a joint's place in centimetres, and of its turn in degrees.
type SeamLikeness struct {
	PlaceCM    float64
	PlaceJoint string
	TurnDeg    float64
	TurnJoint  string
	// WeightPercent is the largest difference of a morph target's weight, in per cent.
	WeightPercent float64
	WeightTarget  string
}

// BetweenFrames are the largest departures between the frames of a clip that goes in straight lines there, and the joints
// that they are at, empty for none. They are what sampling costs, and no change of the motion.
type BetweenFrames struct {
	Place, Turn           Departure
	PlaceJoint, TurnJoint string
}

// A SourceVersion tells whether a file that a clip was made from is as it was then.
type SourceVersion struct {
	File string
	// Then and Now are hashes as a clip's note has them; Now is empty where the sheet does not depend on such a file.
	Then, Now string
}

// Same tells whether the file is as it was.
func (v *SourceVersion) Same() bool { return v.Then == v.Now }

// LikenessToSheet compares a clip of a glTF file with a sheet. An empty name stands for the file's only clip, or else for
// the one that has the sheet's name. Joints find their nodes as they do in [Into], or by the letters and digits of their names
// where nothing else has these. It fails where the sheet has no motion, the file no such clip, or a joint's node can't be
// told.
func LikenessToSheet(m *motion.Motion, d *Document, name string) (*Likeness, error) {
	if err := checkExportable(m); err != nil {
		return nil, err
	}
	clip, err := d.chooseFor(m, name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", d.Path, err)
	}
	l, err := d.likeness(performanceOf(m), clip, ownFrames(clip))
	if err != nil {
		return nil, fmt.Errorf("%s: clip %q: %w", d.Path, clip.Name, err)
	}
	l.Sheet, l.Versions = m.Sheet.Name, clip.note.versions(m)
	if clip.note != nil {
		l.MadeFrom = clip.note.Sheet
	}
	return l, nil
}

// LikenessOfClips compares a clip with another one, of the same file or of another. Joints are those of the old one that
// an import would see, and find their nodes by name.
func LikenessOfClips(old *Document, oldName string, d *Document, name string) (*Likeness, error) {
	before, err := old.choose(oldName)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", old.Path, err)
	}
	clip, err := d.choose(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", d.Path, err)
	}
	p, err := old.performance(before)
	if err != nil {
		return nil, fmt.Errorf("%s: clip %q: %w", old.Path, before.Name, err)
	}
	l, err := d.likeness(p, clip, ownFrames(clip))
	if err != nil {
		return nil, fmt.Errorf("%s: clip %q: %w", d.Path, clip.Name, err)
	}
	l.OldClip = before.Name
	return l, nil
}

// chooseFor is choose for a sheet, whose name decides where a file has several clips.
func (d *Document) chooseFor(m *motion.Motion, name string) (*Clip, error) {
	if name == "" && len(d.Clips) > 1 {
		var own []*Clip
		for i := range d.Clips {
			if c := &d.Clips[i]; c.Name == m.Sheet.Name || c.note != nil && c.note.Sheet == m.Sheet.Name {
				own = append(own, c)
			}
		}
		if len(own) == 1 {
			return own[0], nil
		}
	}
	return d.choose(name)
}

// versions holds the files that a clip was made from to those that are there now.
func (n *ClipNote) versions(m *motion.Motion) []SourceVersion {
	if n == nil {
		return nil
	}
	now := map[string]string{}
	for _, file := range sourcesOf(m) {
		now[relativeTo(m.File.Path, file.Path)] = HashOf(file.Text)
	}
	out := []SourceVersion{{File: n.File, Then: n.Hash, Now: HashOf(m.File.Text)}}
	for _, s := range n.Sources {
		out = append(out, SourceVersion{File: s.File, Then: s.Hash, Now: now[s.File]})
	}
	return out
}

// Within tells whether the clip is the motion as far as the limits ask.
func (l *Likeness) Within(limits LikenessLimits) bool {
	if len(l.Lost)+len(l.LostTargets) > 0 || !l.Lasts(limits) || l.Seam != nil && !l.Seam.within(limits) {
		return false
	}
	for i := range l.Joints {
		if l.Joints[i].Share(limits) > 1 {
			return false
		}
	}
	for i := range l.Weights {
		if l.Weights[i].Weight.Largest > limits.WeightPercent {
			return false
		}
	}
	return true
}

// Lasts tells whether the clip is as long as the motion, as far as the limits ask.
func (l *Likeness) Lasts(limits LikenessLimits) bool {
	// A thousandth of a frame is what 32 bits make of a time.
	return math.Abs(l.ClipSeconds-l.Seconds) <= (limits.Frames+1e-3)*l.Frame
}

func (s *SeamLikeness) within(limits LikenessLimits) bool {
	return s.PlaceCM <= limits.PlaceCM && s.TurnDeg <= limits.TurnDeg && s.WeightPercent <= limits.WeightPercent
}

// Share is the larger of a joint's two departures as a share of its limit: above 1 it is off too far.
func (j *JointLikeness) Share(limits LikenessLimits) float64 {
	return math.Max(j.Place.Largest/limits.PlaceCM, j.Turn.Largest/limits.TurnDeg)
}

// Largest are the largest departures of all joints; the names are those of the joints, empty where no joint is off.
func (l *Likeness) Largest() (place, turn Departure, placeJoint, turnJoint string) {
	for i := range l.Joints {
		j := &l.Joints[i]
		if j.Place.Largest > place.Largest {
			place, placeJoint = j.Place, j.Joint
		}
		if j.Turn.Largest > turn.Largest {
			turn, turnJoint = j.Turn, j.Joint
		}
	}
	return place, turn, placeJoint, turnJoint
}

const (
	// momentsAFrame is how many moments a frame of the motion are looked at.
	momentsAFrame = 4
	// mostStandings bounds joints × moments; of a longer motion fewer moments are looked at.
	mostStandings = 2_000_000
	// behindFrame is how many frames behind each moment the joints are asked for, so that both sides of a jump are told
	// apart in 32 bits too.
	behindFrame = 1e-3
	// leastOwnRate is from how many frames a second on a clip is looked at on its own frames: of fewer, the way between
	// them is what one sees.
	leastOwnRate = 20
)

// ownFrames is the rate of a clip that goes in straight lines from frame to frame, but that it may end between two; none
// for any other.
func ownFrames(clip *Clip) Rate {
	if !clip.movesSomething() {
		return Rate{}
	}
	for _, tracks := range [][]track{clip.tracks, clip.weights} {
		for i := range tracks {
			if tracks[i].kind == gltf.InterpolationCubicSpline {
				return Rate{}
			}
		}
	}
	times := keyTimes(clip)
	times = times[:max(1, len(times)-1)]
	for _, r := range usualRates() {
		if _, worst := worstMisfit(times, clip.Start, r); worst < nearFrame && r.perSecond() >= leastOwnRate {
			return r
		}
	}
	return Rate{}
}

// likeness holds a clip of the file against a motion: on frames of a rate, or for none at several moments a frame.
func (d *Document) likeness(p *performance, clip *Clip, rate Rate) (*Likeness, error) {
	if !clip.movesSomething() {
		return nil, fmt.Errorf("the clip moves no node; choose another")
	}
	l := &Likeness{Clip: clip.Name, Seconds: p.seconds, ClipSeconds: clip.Seconds(), Frame: p.frame, Rate: rate, Size: 1}
	nodes, err := l.findNodes(p, d)
	if err != nil {
		return nil, err
	}
	there := 0
	for _, n := range nodes {
		if n >= 0 {
			there++
		}
	}
	if there == 0 {
		return nil, fmt.Errorf("the file has none of the joints, such as %q; compare the clip with what it was made from", p.joints[0].known.name)
	}
	// What is empty before the first key is no motion, unless the clip would be too short without it.
	if own := *clip; math.Abs(own.End-p.seconds) < math.Abs(own.Seconds()-p.seconds) {
		own.Start = 0
		clip, l.ClipSeconds = &own, own.End
	}
	h := &holding{l: l, motion: p, clip: d.played(clip, nodes), nodes: nodes}
	if h.blend, err = l.findTargets(p, d, clip); err != nil {
		return nil, err
	}
	h.asked, h.played = make([]standing, len(nodes)), make([]standing, len(nodes))
	h.findFrame()
	if err := h.measure(); err != nil {
		return nil, err
	}
	if h.measureSeam(); l.Seam != nil && !finite(l.Seam.PlaceCM+l.Seam.TurnDeg+l.Seam.WeightPercent) {
		return nil, fmt.Errorf("its end is beyond all numbers; scales of many nodes on one another multiply, export the file with smaller ones")
	}
	for i := range p.joints {
		if nodes[i] >= 0 {
			l.Joints = append(l.Joints, h.found[i])
		}
	}
	l.Weights = h.blend.told(p)
	h.findBeginning()
	return l, nil
}

// findNodes finds the nodes of the joints, -1 where there is none, and notes what is missing and what is spelled otherwise.
func (l *Likeness) findNodes(p *performance, d *Document) ([]int, error) {
	nodes := make([]int, len(p.joints))
	taken := map[int]bool{}
	for i := range p.joints {
		var err error
		if nodes[i], err = findNode(&p.joints[i].known, d.nodes); err != nil {
			return nil, fmt.Errorf("joint `%s`: %w", p.joints[i].name, err)
		}
		taken[nodes[i]] = true
	}
	bySpelling := map[string][]int{}
	for n := range d.nodes {
		if spelling := lettersOf(d.nodes[n].name); spelling != "" && !taken[n] {
			bySpelling[spelling] = append(bySpelling[spelling], n)
		}
	}
	for i := range p.joints {
		if nodes[i] >= 0 {
			continue
		}
		if like := bySpelling[lettersOf(p.joints[i].known.name)]; len(like) == 1 && !taken[like[0]] {
			nodes[i], taken[like[0]] = like[0], true
			l.Respelled = append(l.Respelled, [2]string{p.joints[i].name, d.nodes[like[0]].name})
			continue
		}
		l.Missing = append(l.Missing, p.joints[i].name)
		if p.joints[i].moves {
			l.Lost = append(l.Lost, p.joints[i].name)
		}
	}
	return nodes, nil
}

// lettersOf is a name's letters and digits, in small letters.
func lettersOf(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}
