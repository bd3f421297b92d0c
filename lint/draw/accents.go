package draw

import (
	"cmp"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// accents are the moments at which a figure is drawn: the rows of the blocking, but for a closing one, which is the first
// again; and, up to most of both, the extremes of what moves besides: those keys at which a track turns that take the body
// furthest from all other moments. Without blocking, the start takes its place, and without a key that turns, the beats do.
func accents(m *motion.Motion, most int) []moment {
	length := m.Sheet.Length.Float()
	var out []moment
	for _, a := range m.Plain {
		if t := a.Time.Float(); t < length || !m.Sheet.Closed {
			out = append(out, moment{t, a.Pose})
		}
	}
	turns := turningKeys(m)
	switch {
	case len(out) == 0 && len(turns) == 0:
		return beats(m)
	case len(out) == 0:
		out = []moment{{frames: 0}}
	}
	out = append(out, furthest(m, out, turns, most-len(out))...)
	slices.SortStableFunc(out, func(a, b moment) int { return cmp.Compare(a.frames, b.frames) })
	return out
}

// beats are the moments of a motion that has no accents.
func beats(m *motion.Motion) (out []moment) {
	const most = 32 // a strip of more is none
	length := m.Sheet.Length.Float()
	step := m.Sheet.Beat.Float()
	step *= math.Max(1, math.Ceil(length/step/most))
	for t := 0.0; t < length-1e-9; t += step {
		out = append(out, moment{frames: t})
	}
	if !m.Sheet.Closed {
		out = append(out, moment{frames: length})
	}
	return out
}

// mostTurns is how many moments are looked at: of more, as in a baked clip, those of the largest turns.
const mostTurns = 200

// turningKeys are the moments at which a key of a track turns its curve, each named after the channel that turns furthest
// there for its range. Eyes and lids dart when they like, and are left out.
func turningKeys(m *motion.Motion) []moment {
	type turn struct {
		moment
		size float64 // a share of the channel's range
	}
	at := map[float64]turn{}
	for i := range m.Channels {
		channel := &m.Channels[i]
		if part := m.Rig.PartOf(channel.Dial); part == motion.PartEye || part == motion.PartLid {
			continue
		}
		wide := 1.0
		if channel.Dial.HasRange {
			wide = channel.Dial.Range[1] - channel.Dial.Range[0]
		}
		for _, strand := range channel.Strands() {
			for k, size := range strand.Curve.TurnSizes() {
				if size == 0 || strand.Keys[k].From != motion.FromTrack {
					continue
				}
				t := strand.Keys[k].Time
				for round := 0; round < mostTurns && t.Cmp(m.Sheet.Length) < 0; round++ {
					if known, ok := at[t.Float()]; t.Sign() >= 0 && (!ok || size/wide > known.size) {
						at[t.Float()] = turn{moment{t.Float(), channel.Dial.Path}, size / wide}
					}
					t = t.Add(strand.Period)
				}
			}
		}
	}
	var turns []turn
	for _, one := range at {
		turns = append(turns, one)
	}
	slices.SortFunc(turns, func(a, b turn) int {
		return cmp.Or(cmp.Compare(b.size, a.size), cmp.Compare(a.frames, b.frames))
	})
	var out []moment
	for i := range turns[:min(mostTurns, len(turns))] {
		out = append(out, turns[i].moment)
	}
	return out
}

// leastApart is how far a point of the body must be from where it is at all other moments for one more to be worth a
// picture, as a share of the body's height.
const leastApart = 0.05

// furthest gives those of some moments at which the body is furthest from where it is at the chosen ones and at each other,
// the furthest first.
func furthest(m *motion.Motion, chosen, among []moment, most int) (out []moment) {
	if most <= 0 || len(among) == 0 {
		return nil
	}
	player := m.Player()
	bodies := make([][][3]float64, len(among))
	apart := make([]float64, len(among))
	for i := range among {
		bodies[i], apart[i] = body(m.Rig, player, among[i].frames), math.Inf(1)
	}
	near := func(other [][3]float64) {
		for i := range bodies {
			apart[i] = min(apart[i], widest(bodies[i], other))
		}
	}
	for _, c := range chosen {
		near(body(m.Rig, player, c.frames))
	}
	for len(out) < most {
		next := 0
		for i := range apart {
			if apart[i] > apart[next] {
				next = i
			}
		}
		if apart[next] < leastApart*m.Rig.Height {
			break
		}
		out = append(out, among[next])
		near(bodies[next])
	}
	return out
}

// body is where the body is: each joint, and a point in front of it, which shows how it is turned.
func body(rig *motion.Rig, player *motion.Player, frames float64) (out [][3]float64) {
	world := player.Figure(frames).World
	for i := range world {
		out = append(out, world[i].Position(), world[i].Apply([3]float64{0, 0, rig.Height / 15}))
	}
	return out
}

// widest is the way of the point that moves furthest from one moment to another, in cm.
func widest(a, b [][3]float64) (most float64) {
	for i := range a {
		most = max(most, math.Hypot(math.Hypot(a[i][0]-b[i][0], a[i][1]-b[i][1]), a[i][2]-b[i][2]))
	}
	return most
}
