package exchange

import (
	"fmt"
	"math"
)

// report tells a person what an import found and made.
func (f *figure) report(file string, within Within, b beat, r *Result, errors errorReport) []string {
	lines := f.outline(file, within, b, r, errors)
	lines = append(lines, f.document.Notes...)
	lines = append(lines, f.warnings()...)
	for _, c := range r.Channels {
		lines = append(lines, fmt.Sprintf("  %-28s %4d keys of %-5d off by at most %s%s", c.Path, c.Keys, c.Baked, roundUp(c.Worst, 3), c.Unit))
	}
	return lines
}

// outline is the report without what is told of the file and of single channels.
func (f *figure) outline(file string, within Within, b beat, r *Result, errors errorReport) []string {
	lines := []string{
		fmt.Sprintf("%s, clip %q: %d frames at %s (%s s), %s, %d of them moving", file, f.clip.Name, f.time.frames, f.time.rate, number(float64(f.time.frames)/f.time.rate.perSecond(), 3), count(len(f.skeleton.joints), "joint"), f.moving),
		f.loopLine(),
		f.beatLine(b),
	}
	if r.Baked > 0 {
		lines = append(lines, fmt.Sprintf("%s in %s for %d baked ones, 1 in %s", count(r.Keys, "key"), count(len(r.Channels), "channel"), r.Baked, number(float64(r.Baked)/float64(max(1, r.Keys)), 1)))
	}
	lines = append(append(lines, f.plantLines(r)...), f.unplanted...)
	lines = append(lines, f.errorLines(within, errors)...)
	if len(f.shapes) > 0 {
		lines = append(lines, f.shapeLine(errors))
	}
	return lines
}

func (f *figure) loopLine() string {
	g := f.loop.gap
	apart := fmt.Sprintf("its ends are %s° apart at %q and %s cm at %q", roundUp(g.TurnDeg, 3), g.TurnJoint, roundUp(g.MoveCM, 3), g.MoveJoint)
	if g.Weight > noiseWeight {
		apart += fmt.Sprintf(" and %s %% of the morph target %q", roundUp(g.Weight, 2), g.WeightName)
	}
	ordinary := fmt.Sprintf("an ordinary frame's step there is %s° and %s cm", number(f.loop.ordinaryTurnDeg, 3), number(f.loop.ordinaryMoveCM, 3))
	switch f.loop.ending {
	case Closes:
		return "it is a loop: " + apart + ", no more than exporters' rounding; the sheet is a cycle that closes exactly"
	case Joined:
		return "it is a loop: " + apart + ", less than an ordinary frame's step; the last frames are drawn over to the first, and the sheet is a cycle"
	case LacksFrame:
		return "it lacks its closing frame: " + apart + ", about one frame's step; the frame is added, and the sheet is a cycle one frame longer than the clip"
	case Forced:
		return "it is no loop: " + apart + " (" + ordinary + "); written as a cycle as asked, with that gap at its seam"
	}
	return "it is no loop: " + apart + " (" + ordinary + "); written as a span, or choose --cycle to make it a cycle all the same"
}

func (f *figure) beatLine(b beat) string {
	line := fmt.Sprintf("one beat is %s frames (%s bpm)", number(b.frames, 3), number(f.time.rate.perSecond()*60/b.frames, 2))
	if b.swayFrames > 0 {
		line = fmt.Sprintf("the body's main sway takes %s frames; ", number(b.swayFrames, 1)) + line
	}
	return line
}

func (f *figure) errorLines(within Within, e errorReport) []string {
	at := func(w worst) string {
		return fmt.Sprintf("%s, frame %s", f.skeleton.joints[w.joint].name, number(float64(w.step)/stepsPerFrame, 2))
	}
	line := fmt.Sprintf("largest error at the clip's frames: a joint's own turn %s° (%s)", roundUp(e.turnDeg.error, 3), at(e.turnDeg))
	if e.moveCM.error > 0.001 {
		line += fmt.Sprintf(", own move %s cm (%s)", roundUp(e.moveCM.error, 3), at(e.moveCM))
	}
	if e.scalePercent.error > 0.001 {
		line += fmt.Sprintf(", own scale %s%% (%s)", roundUp(e.scalePercent.error, 3), at(e.scalePercent))
	}
	line += fmt.Sprintf("; its place in the world, with all that carries it, %s cm (%s)", roundUp(e.worldCM.error, 3), at(e.worldCM))
	lines := []string{line}
	if e.betweenDeg.error > within.TurnDeg || e.betweenCM.error > within.WorldCM {
		lines = append(lines, fmt.Sprintf("between frames, where the clip goes in straight lines and the sheet in curves: turn %s° (%s), place %s cm (%s)", roundUp(e.betweenDeg.error, 3), at(e.betweenDeg), roundUp(e.betweenCM.error, 3), at(e.betweenCM)))
	}
	if !e.inside() {
		lines = append(lines, fmt.Sprintf("NOT within %s everywhere: the worst error is %s times what is allowed", within, number(e.ratio, 2)))
	}
	return lines
}

// warnings are what the person should know about the clip.
func (f *figure) warnings() []string {
	var lines []string
	if !f.time.even {
		lines = append(lines, fmt.Sprintf("the clip's keys do not lie on whole frames at %s; they are sampled there, or choose another --rate", f.time.rate))
	}
	if f.time.stretch != 1 {
		lines = append(lines, fmt.Sprintf("the clip is %s frames long at %s; the sheet has %d and plays %s%% %s", number(f.time.stretch*float64(f.time.frames), 3), f.time.rate, f.time.frames, number(100*math.Abs(f.time.stretch-1), 2), map[bool]string{true: "faster", false: "slower"}[f.time.stretch > 1]))
	}
	for _, s := range f.series {
		if s.torn {
			lines = append(lines, fmt.Sprintf("%s passes through gimbal lock in every turn order; its turn.%s does not close", f.skeleton.joints[s.joint].name, axesText(s.axes)))
		}
	}
	return lines
}

// A ClipInfo is one line of a list of clips.
type ClipInfo struct {
	Name string // as the file has it
	Word string // by which it can be chosen
	// Seconds from its first to its last key, Frames at the guessed Rate.
	Seconds float64
	Frames  int
	Rate    Rate
	// Even says that the clip's keys lie on frames of the rate.
	Even         bool
	Joints       int
	MovingJoints int
	MovingMorphs int // weights of morph targets, mesh by mesh
	Loop         Ending
	Gap          Gap
	// Problem says why a clip can't be imported; everything after Seconds is then empty.
	Problem string
}

// List looks at all clips of a document.
func List(d *Document) []ClipInfo {
	var out []ClipInfo
	for i := range d.Clips {
		clip := &d.Clips[i]
		info := ClipInfo{Name: clip.Name, Word: d.word(i), Seconds: clip.Seconds()}
		if err := info.look(d, clip); err != nil {
			info.Problem = err.Error()
		}
		out = append(out, info)
	}
	return out
}

func (info *ClipInfo) look(d *Document, clip *Clip) error {
	t, err := timingOf(clip, Rate{})
	if err != nil {
		return err
	}
	s, err := skeletonOf(d, clip, t)
	if err != nil {
		return err
	}
	frames := s.worldPath(stepsPerFrame)
	s.settle(d, stillnessWithin(DefaultWithin(), sizeOf(frames[0])))
	found := findLoop(d, s, frames)
	info.Frames, info.Rate, info.Even, info.Joints = t.frames, t.rate, t.even, len(s.joints)
	info.Loop, info.Gap = found.ending, found.gap
	for _, j := range s.joints {
		if j.stays != [3]bool{true, true, true} {
			info.MovingJoints++
		}
	}
	for i := range s.weights {
		if s.weights[i].moves() {
			info.MovingMorphs++
		}
	}
	return nil
}

// String is the line of a list: the clip's word, length, rate, joints and loop.
func (info ClipInfo) String() string {
	if info.Problem != "" {
		return fmt.Sprintf("%-24s %s", info.Word, info.Problem)
	}
	loop := map[Ending]string{Closes: "closes", Joined: "closes nearly", LacksFrame: "lacks its closing frame", Open: "no loop"}[info.Loop]
	move := fmt.Sprintf("%3d of %d joints move", info.MovingJoints, info.Joints)
	if info.MovingMorphs > 0 {
		move = fmt.Sprintf("%3d of %d joints and %s move", info.MovingJoints, info.Joints, count(info.MovingMorphs, "morph target"))
	}
	return fmt.Sprintf("%-24s %7s s  %4d frames at %-14s %s  %s: %s° at %q, %s cm at %q", info.Word, number(info.Seconds, 3), info.Frames, info.Rate, move, loop, roundUp(info.Gap.TurnDeg, 3), info.Gap.TurnJoint, roundUp(info.Gap.MoveCM, 3), info.Gap.MoveJoint)
}
