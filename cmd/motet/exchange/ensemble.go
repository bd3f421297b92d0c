package exchange

import "math"

// An ensemble is one or several clips over one rig. Its figures have the same joints with the same names and rests, and
// the same series, each over its own clip: so one channel means the same in all their sheets.
type ensemble struct {
	figures []*figure
	// lead is the figure whose file the rig belongs to. It has all joints.
	lead *figure
	// still is what counts as not moving, for all clips.
	still stillness
	// over is the rig that there is already; nil where one is made.
	over *fixed
}

// ensembleOf joins the ends of sampled clips that are loops, names the joints and takes the motion apart into series. The
// first figure of the file that the rig belongs to, the first without a joint that is absent, leads.
func ensembleOf(figures []*figure, o Options) *ensemble {
	e := &ensemble{figures: figures, lead: figures[0]}
	for k := len(figures) - 1; k >= 0; k-- {
		if !figures[k].lacksJoints() {
			e.lead = figures[k]
		}
	}
	e.begin(o)
	e.settleRests()
	e.nameJoints()
	e.takeApart()
	for _, f := range figures {
		f.front = e.lead.front
		f.restPlace, f.restTurn = f.restPlaces(), f.restTurns()
	}
	return e
}

// begin finds out what counts as still, and joins the ends of clips that are loops.
func (e *ensemble) begin(o Options) {
	figures := e.figures
	frames := make([][][]vec3, len(figures))
	size := 0.0
	eachOf(len(figures), func(k int) {
		frames[k] = figures[k].skeleton.worldPath(stepsPerFrame)
	})
	for k := range figures {
		size = math.Max(size, sizeOf(frames[k][0]))
	}
	e.still = stillnessWithin(o.Within, size)
	eachOf(len(figures), func(k int) {
		f := figures[k]
		f.skeleton.settle(f.document, e.still)
		for i := range f.skeleton.joints {
			if f.skeleton.joints[i].stays != [3]bool{true, true, true} {
				f.moving++
			}
		}
		f.joinEnds(o, frames[k])
	})
}

func (f *figure) lacksJoints() bool {
	for i := range f.skeleton.joints {
		if f.skeleton.joints[i].absent {
			return true
		}
	}
	return false
}

// settleRests finds out which properties of the joints stay in all clips and alike. A joint rests at what stays so, and
// for the rest at the transform of the lead's own node.
func (e *ensemble) settleRests() {
	for i := range e.lead.skeleton.joints {
		lead := &e.lead.skeleton.joints[i]
		stays, first := lead.stays, lead.path[0]
		for _, f := range e.figures {
			j := &f.skeleton.joints[i]
			if j.absent {
				continue
			}
			at := j.path[0]
			stays[moves] = stays[moves] && j.stays[moves] && at.move.to(first.move) <= e.still.moveCM
			stays[turns] = stays[turns] && j.stays[turns] && at.turn.angleTo(first.turn) <= e.still.turnDeg
			stays[scales] = stays[scales] && j.stays[scales] && at.scale.to(first.scale) <= e.still.scale
		}
		rest := lead.rest
		own := e.lead.document.nodes[lead.node].own
		if !stays[moves] {
			rest.move = own.move.scaled(lead.fold)
		}
		if !stays[turns] {
			rest.turn = own.turn
		}
		for _, f := range e.figures {
			f.skeleton.joints[i].stays, f.skeleton.joints[i].rest = stays, rest
		}
	}
}

// nameJoints names the joints of all figures as those of the lead.
func (e *ensemble) nameJoints() {
	e.lead.front = e.lead.nameJoints()
	for _, f := range e.figures {
		for i := range f.skeleton.joints {
			from, to := &e.lead.skeleton.joints[i], &f.skeleton.joints[i]
			to.name, to.side, to.mate, to.part = from.name, from.side, from.mate, from.part
		}
	}
}

// present are the figures that have joint i.
func (e *ensemble) present(i int) []*figure {
	var out []*figure
	for _, f := range e.figures {
		if !f.skeleton.joints[i].absent {
			out = append(out, f)
		}
	}
	return out
}
