package motion

import (
	"slices"
	"sort"

	"github.com/motet-sheet/motet/grammar"
)

// weave makes the curves: one channel's keys from all blocks, sorted, one a moment.
func (r *resolver) weave() {
	if r.Motion.Rig == nil || r.Sheet.Length.Sign() <= 0 {
		return
	}
	strands := r.material.strandsOf(r)
	r.Channels = make([]Channel, len(r.Motion.Rig.Channels))
	for i := range r.Channels {
		dial := &r.Motion.Rig.Channels[i]
		c := &r.Channels[i]
		c.Dial, c.Index = dial, i
		c.Late, c.LateAt = r.material.lateness(dial.Control)
		c.Base = r.weaveStrand(strands[strandKey{i, ""}], r.Sheet.Advance[dial.Path], r.before(dial.Path, ""))
		for _, layer := range r.Layers {
			if s := r.weaveStrand(strands[strandKey{i, layer.Name}], 0, r.before(dial.Path, layer.Name)); s != nil {
				c.Layers = append(c.Layers, LayerStrand{layer, s})
				c.over = append(c.over, overlay{layer: layer, strand: s})
			}
		}
	}
	r.weaveFollows()
	r.weaveWaves()
	for i := range r.Channels {
		over := r.Channels[i].over
		slices.SortStableFunc(over, func(a, b overlay) int { return slices.Index(r.Layers, a.layer) - slices.Index(r.Layers, b.layer) })
	}
	r.voices()
	r.weavePlants()
	r.wholes()
}

// weaveStrand makes one curve, or takes over an earlier one that has the same keys.
func (r *resolver) weaveStrand(parts []strandPart, gain float64, before *Strand) *Strand {
	if len(parts) == 0 {
		return nil
	}
	s := &Strand{Period: r.Sheet.Length, closed: r.Sheet.Closed}
	if one := onePeriod(parts); one.Sign() > 0 {
		s.Period = one
		// Repeated material in a span wraps round like that of a cycle.
		s.closed = s.closed || one != r.Sheet.Length
	}
	for _, part := range parts {
		keys := part.keys
		if part.period != s.Period {
			keys = unrolled(keys, part.period, s.Period)
		}
		if len(s.Keys) == 0 {
			s.Keys = keys
			continue
		}
		s.Keys = mergeSources(append(s.Keys[:len(s.Keys):len(s.Keys)], keys...))
	}
	if len(s.Keys) == 0 {
		return nil
	}
	extent := Extent{Length: s.Period.Float(), Closed: s.closed, Gain: gain * s.Period.Div(r.Sheet.Length).Float()}
	if s.same(before, extent) {
		return before
	}
	if s.alike(before, extent) {
		s.Curve = before.Curve
		return s
	}
	r.knots = s.appendKnots(r.knots[:0])
	s.Curve = NewCurve(r.knots, extent)
	if before != nil {
		s.Curve.known.before.Store(before.Curve)
		before.Curve.known.before.Store(nil) // of all versions no more than the last two are kept
	}
	return s
}

// onePeriod is the period that all parts share; 0 where they differ.
func onePeriod(parts []strandPart) grammar.Rat {
	period := parts[0].period
	for _, part := range parts {
		if part.period != period {
			return grammar.Rat{}
		}
	}
	return period
}

// oneAMoment sorts one block's keys of a channel and reports two at one exact time; the later written counts.
func (r *resolver) oneAMoment(keys []Key) []Key {
	if rising(keys) { // nearly always: rows stand in time order
		return keys
	}
	sort.SliceStable(keys, func(i, j int) bool { return keys[i].Time.Cmp(keys[j].Time) < 0 })
	var out []Key
	for _, k := range keys {
		if n := len(out); n > 0 && out[n-1].Time == k.Time {
			r.sameTime(out[n-1], k)
			out[n-1] = k
			continue
		}
		out = append(out, k)
	}
	return out
}

func rising(keys []Key) bool {
	for i := 1; i < len(keys); i++ {
		if keys[i-1].Time.Cmp(keys[i].Time) >= 0 {
			return false
		}
	}
	return true
}

func (r *resolver) sameTime(earlier, later Key) {
	problem := r.add(ruleSameTime, later.At, "the channel already has a key at this exact time, frame %s; keep one of the two", later.Time)
	problem.Related = []Related{{earlier.At, "the other key"}}
	problem.Mends = []Mend{{Title: "drop the earlier key", Edits: []Edit{{earlier.At, "."}}}}
}

// unrolled repeats a block's keys over a longer period. At the border of two rounds the first row of the next one
// counts, since only one key can stand at a moment.
func unrolled(keys []Key, period, length grammar.Rat) []Key {
	var out []Key
	startsAtZero := len(keys) > 0 && keys[0].Time.IsZero()
	for from := (grammar.Rat{}); from.Cmp(length) < 0; from = from.Add(period) {
		last := from.Add(period).Cmp(length) >= 0
		for _, k := range keys {
			if k.Time.Cmp(period) == 0 && startsAtZero && !last {
				continue
			}
			k.Time = k.Time.Add(from)
			out = append(out, k)
		}
	}
	return out
}

// mergeSources sorts keys and keeps one a moment where blocking and track meet: the track's.
func mergeSources(keys []Key) []Key {
	sort.SliceStable(keys, func(i, j int) bool { return keys[i].Time.Cmp(keys[j].Time) < 0 })
	out := keys[:0]
	for _, k := range keys {
		if n := len(out); n > 0 && out[n-1].Time == k.Time {
			over := out[n-1].Over || k.Over || (out[n-1].From == FromTrack) != (k.From == FromTrack)
			if out[n-1].From != FromTrack || k.From == FromTrack {
				out[n-1] = k
			}
			out[n-1].Over = over
			continue
		}
		out = append(out, k)
	}
	return out
}

func (s *Strand) appendKnots(knots []Knot) []Knot {
	for i := range s.Keys {
		k := &s.Keys[i]
		knots = append(knots, Knot{
			Time: k.Time.Float(), Value: k.Value, Shape: k.Shape, SlopeIn: k.In, SlopeOut: k.Out, Marked: k.Marked, Ease: k.Ease,
		})
	}
	return knots
}
