package exchange

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/qmuntal/gltf"

	"github.com/motet-sheet/motet/lint/motion"
)

// A Take is a sheet's motion as tracks of keys, ready to be written into a glTF file.
type Take struct {
	// Motion is the sheet that it is a take of.
	Motion *motion.Motion
	// Name is the clip's name.
	Name string
	// Keys are all keys of all tracks, and Exact those of tracks that hold the sheet's own cubics.
	Keys, Exact int
	// Joints are how many joints move, and Morphs how many morph targets.
	Joints, Morphs int
	// Off is how far the tracks are from the sheet at worst, on a grid of at least four moments a frame.
	Off Within
	// Seconds is how long the take is.
	Seconds float64

	named   bool    // by a wish
	uneven  string  // a joint whose node has a scale that differs by axis, which the rig does not hold; empty for none
	carries bool    // the texts of the sheet and of what it depends on
	tracks  []track // of joints, in the rig's units; times in seconds
	weights []track // of the rig's morph targets, which are their nodes, as fractions
}

// A TakeWish says how a take is wanted.
type TakeWish struct {
	// Name of the clip; the sheet's when empty.
	Name string
	// Within bounds how far the tracks may lead from the sheet; the zero value means ExportWithin. WorldCM holds for the
	// places of all joints in the world.
	Within Within
	// Bake asks for a key of every track at this rate, straight lines between; the zero value for as few keys as keep
	// the motion within the limits.
	Bake Rate
	// Bare leaves the texts of the sheet and its rig out of the clip's extras.
	Bare bool
	// Stop is asked before each joint and after each round of fitting, by several goroutines at once: its error ends the
	// work, and is what NewTake gives. Nil is never.
	Stop func() error
}

func (w *TakeWish) stopped() error {
	if w.Stop == nil {
		return nil
	}
	return w.Stop()
}

// ExportWithin is what an export keeps to unless it is told otherwise: no joint's place in the world is off by more than
// a tenth of a millimetre.
func ExportWithin() Within {
	return Within{TurnDeg: 0.05, MoveCM: 0.01, ScalePercent: 0.01, WeightPercent: 0.05, WorldCM: 0.01}
}

// NewTake works a sheet out into tracks. It fails where the sheet has no motion, is too long, or can't be kept within
// the limits; errors name the file.
func NewTake(m *motion.Motion, wish TakeWish) (*Take, error) {
	if err := checkExportable(m); err != nil {
		return nil, err
	}
	t := &Take{Motion: m, Name: wish.Name, named: wish.Name != "", carries: !wish.Bare, Seconds: m.Sheet.Length.Float() / m.Sheet.Rate.Float()}
	if t.Name == "" {
		t.Name = m.Sheet.Name
	}
	if wish.Within == (Within{}) {
		wish.Within = ExportWithin()
	}
	s, err := sampleSheet(m)
	if err != nil {
		return nil, err
	}
	if err := wish.stopped(); err != nil {
		return nil, err
	}
	reels := s.reels()
	if wish.Bake != (Rate{}) {
		if err := t.bake(s, wish.Bake); err != nil {
			return nil, err
		}
		t.measureWorld(s, reels)
	} else {
		if err := t.fit(s, reels, &wish); err != nil {
			return nil, err
		}
		t.fitWeights(s, wish.Within)
	}
	t.measureOwn(reels)
	if err := t.sum(); err != nil {
		return nil, err
	}
	return t, t.measureUneven()
}

// measureUneven finds out how far the joints are from their places where the rig was read from nodes with scales that
// differ by axis. An import today writes such scales as channels; before, rigs held them only nearly.
func (t *Take) measureUneven() error {
	joints := t.Motion.Rig.Joints
	known := modelOf(t.Motion.Rig)
	for i := range joints {
		if up := joints[i].Parent; up >= 0 && !nearlyEqual(known[up].scale) {
			t.uneven = joints[up].Name
		}
	}
	if t.uneven == "" {
		return nil
	}
	data, err := WriteGLB([]*Take{t})
	if err != nil {
		return err
	}
	d, err := Read(t.Name, func(string) ([]byte, error) { return data, nil })
	if err != nil {
		return err
	}
	if len(d.Clips[0].tracks) == 0 {
		return nil
	}
	l, err := d.likeness(performanceOf(t.Motion), &d.Clips[0], ownFrames(&d.Clips[0]))
	if err != nil {
		return err
	}
	place, _, _, _ := l.Largest()
	t.Off.WorldCM = math.Max(t.Off.WorldCM, place.Largest)
	return nil
}

// sum counts the keys, those of weights as the clip has them that stands alone.
func (t *Take) sum() error {
	moving := map[int]bool{}
	for i := range t.tracks {
		t.Keys += len(t.tracks[i].times)
		if t.tracks[i].exact {
			t.Exact += len(t.tracks[i].times)
		}
		moving[t.tracks[i].node] = true
	}
	t.Joints, t.Morphs = len(moving), len(t.weights)
	held := len(t.rootsHeld())
	t.Keys, t.Exact = t.Keys+held, t.Exact+held
	alone := standInsOf(t.Motion.Rig, modelOf(t.Motion.Rig))
	weights, err := t.weightTracks(alone.blends, alone.nodes)
	if err != nil {
		return fmt.Errorf("%s: %w", t.Motion.File.Path, err)
	}
	exact := !slices.ContainsFunc(t.weights, func(w track) bool { return !w.exact })
	for i := range weights {
		t.Keys += len(weights[i].times)
		if exact {
			t.Exact += len(weights[i].times)
		}
	}
	return nil
}

// rootsHeld are one key a root at rest, for a clip that stands alone and moves nothing but weights: without any the joints
// would be no part of it, and whoever reads it would take the meshes' nodes for the body.
func (t *Take) rootsHeld() (held []track) {
	if len(t.tracks) > 0 || len(t.weights) == 0 {
		return nil
	}
	for i := range t.Motion.Rig.Joints {
		if j := &t.Motion.Rig.Joints[i]; j.Parent < 0 {
			rest := restLocal(j).move
			held = append(held, track{node: i, property: moves, kind: gltf.InterpolationLinear, times: []float64{0}, values: rest[:], width: 3, exact: true})
		}
	}
	return held
}

// Report tells in a line for a person what the take is.
func (t *Take) Report() string {
	s := t.Motion.Sheet
	kind := "a span"
	if s.Closed {
		kind = "a cycle"
	}
	moves, said := count(t.Joints, "joint"), ""
	if t.Morphs > 0 {
		moves += " and " + count(t.Morphs, "morph target")
		said = fmt.Sprintf(", weights %s%%", roundUp(t.Off.WeightPercent, 4))
	}
	if t.uneven != "" {
		said += fmt.Sprintf(", since the node of `%s` has a scale that differs by axis, which the rig holds only nearly; import it anew to hold it", t.uneven)
	}
	return fmt.Sprintf("%s: %s of %s frames at %s fps (%s s), %s on %s; off by at most %s° and %s cm, in the world %s cm%s",
		t.Name, kind, s.Length, s.Rate, number(t.Seconds, 3), count(t.Keys, "key"), moves,
		roundUp(t.Off.TurnDeg, 4), roundUp(t.Off.MoveCM, 4), roundUp(t.Off.WorldCM, 4), said)
}

// fittingRounds is how often tracks are fitted anew, closer, when the errors of several joints add up.
const fittingRounds = 12

// worldPart is how much of the world's limit one joint may use to begin with, before it is shared among those in a row
// that carry each other: their errors seldom point the same way.
const worldPart = 0.9

// gridPart is how much of the world's limit a joint may use at the moments that are looked at where a sheet is dense: its
// curves follow a capture's noise, and between the moments they are off by up to half as much again. Dense is a sheet whose
// moving channels have a corner in every denseFrames frames, as fifteen of the sixteen real clips have: all but the idle, with
// one in 24.
const gridPart, denseFrames = 0.65, 14

// dense tells whether the sheet has as many keys as a capture.
func (s *sampled) dense() bool {
	corners, moving := 0, 0
	for i := range s.corners {
		if n := len(s.corners[i].Times); 0 < n {
			corners, moving = corners+n, moving+1
		}
	}
	return 0 < moving && denseFrames*float64(corners) > s.motion.Sheet.Length.Float()*float64(moving)
}

// fit chooses the tracks, and then looks at where they lead in the world: what carries a joint that is off too far is
// fitted closer.
func (t *Take) fit(s *sampled, reels []*reel, wish *TakeWish) error {
	within := wish.Within
	if s.dense() {
		within.WorldCM *= gridPart
	}
	share, turned := make([]float64, len(reels)), s.turnedAbove(reels)
	lever := levers(s.motion.Rig)
	t.tracks = make([]track, len(reels))
	inParallel(len(reels), func(i int) {
		if wish.stopped() != nil {
			return
		}
		r := reels[i]
		share[i] = worldPart / math.Sqrt(math.Max(1, turned[r.joint]))
		t.tracks[i] = r.track(r.tolerance(within, share[i], lever))
	})
	for range fittingRounds {
		if err := wish.stopped(); err != nil {
			return err
		}
		worst := t.measureWorld(s, reels)
		closer := map[int]bool{}
		for joint, off := range worst {
			if off <= within.WorldCM {
				continue
			}
			for j := joint; j >= 0; j = s.motion.Rig.Joints[j].Parent {
				closer[j] = true
			}
		}
		if len(closer) == 0 {
			return nil
		}
		inParallel(len(reels), func(i int) {
			if r := reels[i]; closer[r.joint] && !t.tracks[i].exact && wish.stopped() == nil {
				share[i] *= 0.6
				t.tracks[i] = r.track(r.tolerance(within, share[i], lever))
			}
		})
	}
	if t.measureWorld(s, reels); t.Off.WorldCM <= wish.Within.WorldCM {
		return nil
	}
	return fmt.Errorf("%s: the motion can't be kept within %g cm in the world (%.3g cm is what 32 bits and a grid of moments allow); ask for less with --within", s.motion.File.Path, wish.Within.WorldCM, t.Off.WorldCM)
}

// inParallel does n things, as many at a time as there are processors.
func inParallel(n int, do func(i int)) {
	var group sync.WaitGroup
	var next atomic.Int64
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	group.Wait()
}

// reels are all properties that move, joint by joint.
func (s *sampled) reels() []*reel {
	all := make([]*reel, 3*len(s.motion.Rig.Joints))
	inParallel(len(all), func(i int) { all[i] = s.reelOf(i/3, property(i%3)) })
	var out []*reel
	for joint := range s.motion.Rig.Joints {
		for p := moves; p <= scales; p++ {
			r := all[3*joint+int(p)]
			if r == nil || s.solved[joint] != nil && r.still() && p.apart(r.path[0], restLocal(&s.motion.Rig.Joints[joint]).of(p)) < exactly {
				continue
			}
			out = append(out, r)
		}
	}
	return out
}

// turnedAbove counts for each joint the turning joints in the longest row through it, those that carry it and those that
// it carries.
func (s *sampled) turnedAbove(reels []*reel) []float64 {
	joints := s.motion.Rig.Joints
	above, below, own := make([]float64, len(joints)), make([]float64, len(joints)), make([]float64, len(joints))
	for _, r := range reels {
		if r.property == turns {
			own[r.joint] = 1
		}
	}
	for i := range joints {
		if up := joints[i].Parent; up >= 0 {
			above[i] = above[up] + own[up]
		}
	}
	for i := len(joints) - 1; i >= 0; i-- {
		if up := joints[i].Parent; up >= 0 {
			below[up] = math.Max(below[up], below[i]+own[i])
		}
	}
	for i := range own {
		own[i] += above[i] + below[i]
	}
	return own
}

// tolerance is what a reel's fit may be off: radians, centimetres or a ratio.
func (r *reel) tolerance(within Within, share float64, lever []float64) float64 {
	world := share * within.WorldCM
	// A little is left for the rounding of times to 32 bits.
	turn := 0.98 * within.TurnDeg / degrees
	switch r.property {
	case moves:
		return math.Min(0.98*within.MoveCM, world)
	case turns:
		if lever[r.joint] > 0 {
			return math.Min(turn, world/lever[r.joint])
		}
		return turn
	}
	if lever[r.joint] > 0 {
		return math.Min(0.98*within.ScalePercent/100, world/lever[r.joint])
	}
	return 0.98 * within.ScalePercent / 100
}

// measureWorld holds the tracks against the sheet at the moments of the grid, and gives the farthest that each joint is
// from its place in the world, in centimetres.
func (t *Take) measureWorld(s *sampled, reels []*reel) []float64 {
	joints := s.motion.Rig.Joints
	parts := runtime.GOMAXPROCS(0)
	worst := make([][]float64, parts)
	inParallel(parts, func(part int) {
		sheet, written := newStage(joints), newStage(joints)
		for _, r := range reels {
			sheet.reels[r.joint][r.property] = r
		}
		for i := range t.tracks {
			written.heads[t.tracks[i].node][t.tracks[i].property] = &head{track: &t.tracks[i]}
		}
		worst[part] = make([]float64, len(joints))
		rate := s.motion.Sheet.Rate.Float()
		for k := part * len(s.at) / parts; k < (part+1)*len(s.at)/parts; k++ {
			if s.besideJump(k) {
				continue
			}
			sheet.stand(k, 0)
			written.stand(k, s.at[k]/rate)
			for i := range joints {
				worst[part][i] = math.Max(worst[part][i], sheet.move[i].to(written.move[i]))
			}
		}
	})
	out := make([]float64, len(joints))
	for _, own := range worst {
		for i, off := range own {
			out[i] = math.Max(out[i], off)
		}
	}
	t.Off.WorldCM = largest(out)
	return out
}

// measureOwn fills in how far the joints' own turns, moves and scales are off.
func (t *Take) measureOwn(reels []*reel) {
	byJoint := map[[2]int]*reel{}
	for _, r := range reels {
		byJoint[[2]int{r.joint, int(r.property)}] = r
	}
	worst := make([]float64, len(t.tracks))
	inParallel(len(t.tracks), func(i int) {
		track := &t.tracks[i]
		r := byJoint[[2]int{track.node, int(track.property)}]
		if r == nil {
			return
		}
		s := r.sampled
		rate := s.motion.Sheet.Rate.Float()
		player := head{track: track}
		for k := range r.path {
			if !s.besideJump(k) {
				worst[i] = math.Max(worst[i], track.property.apart(player.at(s.at[k]/rate), r.path[k]))
			}
		}
	})
	for i, off := range worst {
		p := t.tracks[i].property
		into, unit := [...]*float64{&t.Off.MoveCM, &t.Off.TurnDeg, &t.Off.ScalePercent}[p], [...]float64{1, degrees, 100}[p]
		*into = math.Max(*into, unit*off)
	}
}

// besideJump tells whether a moment of the grid is beside a jump or at the very end, where the nearest moment of 32 bits
// may lie on the other side.
func (s *sampled) besideJump(k int) bool {
	return k > 0 && s.at[k] == s.at[k-1] || k+1 == len(s.at) || s.at[k] == s.at[k+1]
}

// bake writes a key at every moment of a rate, and one at the very end.
func (t *Take) bake(s *sampled, rate Rate) error {
	m := s.motion
	step := m.Sheet.Rate.Float() / rate.perSecond()
	length := m.Sheet.Length.Float()
	if length/step*float64(len(m.Rig.Joints)) > mostSamples {
		return fmt.Errorf("%s: %.0f keys for each of %s are more than is written at once; bake at a lower rate", m.File.Path, length/step, count(len(m.Rig.Joints), "joint"))
	}
	var at []float64
	for k := 0; float64(k)*step < length-closestMoments; k++ {
		at = append(at, float64(k)*step)
	}
	baked := &sampled{motion: m, at: append(at, length), corners: s.corners}
	baked.asked = append(append([]float64(nil), at...), length-besideJump)
	baked.readAll()
	for _, r := range baked.reels() {
		t.tracks = append(t.tracks, r.everyMoment())
	}
	t.bakeWeights(s, baked)
	return nil
}
