package exchange

import (
	"fmt"
	"math"
	"strings"
)

// drives is what a series is in the words of the rig's channels.
func (s *series) drives() string {
	switch s.property {
	case swivels:
		return "goal.swivel"
	case goals:
		return "goal." + axesText(s.axes)
	}
	return [...]string{"move.", "turn.", "scale."}[s.property] + axesText(s.axes)
}

func (s *series) unit() string {
	return map[property]string{moves: "cm", turns: "deg", scales: "%", goals: "cm", swivels: "deg"}[s.property]
}

// goalWord names a goal's channel by the figure's own direction, with plus to the left, up, ahead.
func (f *figure) goalWord(s *series) (name, positive string, sign float64) {
	var v vec3
	v[s.axes[0]] = 1
	return f.directionWord(v, "place-"+axesText(s.axes))
}

// leftAxis is the axis of the world along which the figure's left lies.
func (f *figure) leftAxis() int {
	if math.Abs(f.front.left[0]) > 0.5 {
		return 0
	}
	return 2
}

// swivelWord names the turn of a limb's plane by what points there, with plus outward where the limb has a side.
func (f *figure) swivelWord(s *series) (name, positive string, flips bool, sign float64) {
	l := f.chainOf(s.joint)
	name = "elbow"
	if l.leg {
		name = "knee"
	}
	j := &f.skeleton.joints[l.end]
	line := f.restPlace[l.end].minus(f.restPlace[l.root])
	var bends vec3
	bends[l.bends] = l.way
	out := line.cross(f.restTurn[f.skeleton.joints[l.root].parent].turn(bends)).dot(f.front.left) / math.Max(line.length(), 1e-9)
	if j.mate < 0 || math.Abs(out) < 0.5 {
		return name, "", true, 1
	}
	if j.side == right {
		out = -out
	}
	return name, name + " out", false, out
}

// writeChains writes the rig's chains. A goal goes by the name of the joint that it moves.
func (f *figure) writeChains(p *page) {
	if len(f.limbs) == 0 {
		return
	}
	p.line("")
	p.line("chains")
	p.body("goal", "root", "middle", "end", "bends")
	joints := f.skeleton.joints
	for n := range f.limbs {
		l := &f.limbs[n]
		way := "+"
		if l.way < 0 {
			way = "-"
		}
		p.body(f.goalName(l), joints[l.root].name, joints[l.middle].name, joints[l.end].name, way+axesText([]int{l.bends}))
	}
}

// writePlants writes when ends stand. length is the sheet's, as its header has it.
func (f *figure) writePlants(p *page, length string) {
	first := true
	for n := range f.limbs {
		l := &f.limbs[n]
		for i := range l.plants {
			if first {
				p.line("")
				p.line("plant")
				first = false
			}
			p.body(f.plantWords(l, &l.plants[i], length)...)
		}
	}
}

// plantLines say what the sheet plants, and what that costs or saves.
func (f *figure) plantLines(r *Result) []string {
	if len(r.Plants) == 0 {
		return nil
	}
	var all []string
	for _, p := range r.Plants {
		text := fmt.Sprintf("%s %df..%df", p.Goal, p.From, p.To)
		if p.On != "" {
			text += " on " + p.On
		}
		all = append(all, text)
	}
	line := "planted, since it stands still: " + strings.Join(all, ", ")
	switch saved := r.SavedKeys; {
	case saved > 0:
		line += fmt.Sprintf("; %s fewer than with turns alone", count(saved, "key"))
	case saved < 0:
		line += fmt.Sprintf("; %s more than with turns alone", count(-saved, "key"))
	default:
		line += "; as many keys as with turns alone"
	}
	return []string{line}
}

// plantWords are a plant's row.
func (f *figure) plantWords(l *limb, plant *plant, length string) []string {
	from, to := fmt.Sprintf("%df", plant.from), fmt.Sprintf("%df", plant.to)
	if plant.from == 0 && plant.to == f.time.frames {
		from, to = "0"+length[len(length)-1:], length
	}
	row := []string{f.goalName(l), from + ".." + to}
	if plant.on >= 0 {
		row = append(row, "on", f.skeleton.joints[plant.on].name)
	}
	return row
}
